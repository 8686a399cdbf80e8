/**
 * Sizes of labels: rolls as sold for thermal printers, and A4 sheets of sticky labels. The sheets' measures are those of the common
 * 8-, 21/24- and 4-to-a-sheet grids (from memory; held against a ruler before a kitchen buys a carton).
 */

/** Where the labels of a sheet stand, in mm from the paper's left top corner. */
export interface SheetGrid {
  readonly paperWidthMm: number;
  readonly paperHeightMm: number;
  readonly columns: number;
  readonly rows: number;
  readonly leftMm: number;
  readonly topMm: number;
  /** From the left edge of one label to that of the next. */
  readonly acrossMm: number;
  readonly downMm: number;
}

export interface LabelLayout {
  readonly code: string;
  readonly title: string;
  readonly widthMm: number;
  readonly heightMm: number;
  /** Null for a roll: one label a page. */
  readonly sheet: SheetGrid | null;
}

const A4 = { paperWidthMm: 210, paperHeightMm: 297 };

const roll = (widthMm: number, heightMm: number): LabelLayout => ({
  code: `roll-${widthMm}x${heightMm}`,
  title: `Roll, ${widthMm} x ${heightMm} mm`,
  widthMm,
  heightMm,
  sheet: null,
});

/** A grid in the middle of the paper with `gapMm` between the columns and none between the rows. */
function a4(columns: number, rows: number, widthMm: number, heightMm: number, gapMm: number): LabelLayout {
  return {
    code: `a4-${columns}x${rows}`,
    title: `A4 sheet of ${columns * rows}, ${widthMm} x ${heightMm} mm`,
    widthMm,
    heightMm,
    sheet: {
      ...A4,
      columns,
      rows,
      leftMm: (A4.paperWidthMm - columns * widthMm - (columns - 1) * gapMm) / 2,
      topMm: (A4.paperHeightMm - rows * heightMm) / 2,
      acrossMm: widthMm + gapMm,
      downMm: heightMm,
    },
  };
}

export const LAYOUTS = {
  'roll-100x60': roll(100, 60),
  'roll-100x50': roll(100, 50),
  'roll-60x40': roll(60, 40),
  'roll-100x150': roll(100, 150),
  'a4-2x4': a4(2, 4, 99.1, 67.7, 2.6),
  'a4-3x8': a4(3, 8, 63.5, 33.9, 2.5),
  'a4-2x2': a4(2, 2, 99.1, 139, 2.5),
} as const satisfies Readonly<Record<string, LabelLayout>>;

export type LayoutCode = keyof typeof LAYOUTS;

/** What a roll of one's own may measure, in mm. */
const ROLL_MM = { width: { least: 58, most: 110 }, height: { least: 33, most: 200 } } as const;

/**
 * A roll that is not in the list.
 * @throws RangeError outside 58 to 110 mm by 33 to 200 mm
 */
export function customRoll(widthMm: number, heightMm: number): LabelLayout {
  const within = (mm: number, { least, most }: { least: number; most: number }): boolean => mm >= least && mm <= most;
  if (!within(widthMm, ROLL_MM.width) || !within(heightMm, ROLL_MM.height)) {
    throw new RangeError(`A roll is 58 to 110 mm wide and 33 to 200 mm high, not ${widthMm} x ${heightMm} mm`);
  }
  return roll(widthMm, heightMm);
}
