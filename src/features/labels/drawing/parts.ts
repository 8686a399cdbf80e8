/** Parts that every size of pack label has, each drawn into the area that its composer found for it. */
import type { LabelContent, SymbolContent } from './content.ts';
import { area, bold, drawBox, fit, inset, place, regular, write, type Area, type Board } from './sketch.ts';
import { heightOf, type FittedText, type TextSizes } from './text-fit.ts';
import { contentsOf, dayMonthYear, keepingOf, wordsOf } from './texts.ts';
import { MM } from '../../../platform/pdf/fonts.ts';

/** Smallest size of safety words: x-height 0.9 mm, the least for small packs (1169/2011 Art. 13(3), from memory). */
export const SMALLEST_PT = 4.75;
/** Words of at least this are not made larger by running them together: x-height 1.1 mm. */
const EASY_PT = 5.75;

/** LOT or LOT/SERIAL: everything else can change after printing and is looked up. */
export function symbolOf(label: LabelContent): SymbolContent {
  const text = label.serial === null ? label.lotCode : `${label.lotCode}/${label.serial}`;
  return label.symbol ?? { kind: 'datamatrix', text };
}

/** White on black, the largest thing on the label: it is read at arm's length in a cold room. */
export function drawDate(board: Board, label: LabelContent, at: Area): void {
  const words = wordsOf(label);
  drawBox(board, at, 'black');
  const padMm = Math.min(2, at.heightMm * 0.15);
  const inner = inset(at, padMm, at.heightMm * 0.06);
  const [heading, line] = label.quarantine
    ? [words.doNotUse, words.quarantine]
    : [words.useBy, dayMonthYear(label.useBy, words.language)];
  const headMm = Math.max(2.05, inner.heightMm * 0.29);
  const head = area(inner.xMm, inner.yMm, inner.widthMm, headMm);
  const rest = area(inner.xMm, inner.yMm + headMm, inner.widthMm, inner.heightMm - headMm);
  write(board, 'heading', [[bold(heading)]], head, { sizes: { maxPt: 14, minPt: 4.75 }, colour: 'white' });
  const sizes = { maxPt: 40, minPt: 6 };
  write(board, 'use-by', [[{ text: line, font: 'wideBold' }]], rest, { sizes, colour: 'white' });
}

/** In the first of the heights that has room; answers the height taken. */
export function drawHandling(
  board: Board,
  label: LabelContent,
  at: { readonly xMm: number; readonly yMm: number; readonly widthMm: number },
  heightsMm: readonly number[],
): number {
  const words = wordsOf(label);
  const raw = label.handling === 'raw';
  // What nobody may use invites nobody to eat; that it is raw still says where it may stand.
  if (label.quarantine && !raw) return 0;
  const sizes = { maxPt: raw ? 14 : 9, minPt: SMALLEST_PT };
  for (const heightMm of heightsMm) {
    const box = area(at.xMm, at.yMm, at.widthMm, heightMm);
    const inner = inset(box, 0.6, 0.2);
    const text = fit(board, [[bold(raw ? words.raw : words.readyToEat)]], inner, sizes);
    if (!text) continue;
    drawBox(board, box, raw ? 'black' : null, 0.28);
    place(board, text, inner, { align: 'center', colour: raw ? 'white' : 'black' });
    return heightMm;
  }
  throw new RangeError('The label has no room for its handling at a readable size');
}

export const hasTexture = (label: LabelContent): boolean => (label.textureLevel ?? null) !== null;
export const hasDiets = (label: LabelContent): boolean => (label.diets ?? []).length > 0;

/** The level as a large figure with its name beside it: who thickens and who feeds must not mistake it. */
export function drawTexture(board: Board, label: LabelContent, at: Area): void {
  const level = label.textureLevel ?? -1;
  const name = wordsOf(label).textures[level];
  if (name === undefined) throw new RangeError(`Not a texture level: ${level}`);
  drawBox(board, at, null, 0.28);
  const figureMm = Math.min(at.heightMm * 1.1, at.widthMm * 0.3);
  const figure = area(at.xMm, at.yMm, figureMm, at.heightMm);
  drawBox(board, figure, 'black');
  write(board, 'texture level', [[{ text: String(level), font: 'wideBold' }]], figure, {
    sizes: { maxPt: 30, minPt: 8 },
    align: 'center',
    colour: 'white',
  });
  const beside = inset(
    area(at.xMm + figureMm, at.yMm, at.widthMm - figureMm, at.heightMm),
    at.widthMm < 25 ? 0.4 : 1,
    0.3,
  );
  write(board, 'texture', [[bold('IDDSI'), bold(name)]], beside, { sizes: { maxPt: 11, minPt: SMALLEST_PT } });
}

export function drawDiets(board: Board, label: LabelContent, at: Area): void {
  drawBox(board, at, null, 0.28);
  const diets = label.diets ?? [];
  const runs = diets.map((diet, index) => bold(index < diets.length - 1 ? `${diet},` : diet));
  write(board, 'diets', [runs], inset(at, at.widthMm < 25 ? 0.35 : 1, 0.15), {
    sizes: { maxPt: 13, minPt: SMALLEST_PT },
    align: 'center',
  });
}

/** Each on lines of its own while there is room for a size that reads well, else one behind the other. */
function fitWords(board: Board, label: LabelContent, at: Area, sizes: TextSizes): FittedText | null {
  const contents = contentsOf(label);
  const keeping = keepingOf(label);
  const apart = fit(board, [...contents, ...keeping], at, { ...sizes, minPt: Math.max(EASY_PT, sizes.minPt) });
  const joined = [...contents, ...keeping].flatMap((runs, index) => (index === 0 ? runs : [regular('·'), ...runs]));
  return apart ?? fit(board, [joined], at, sizes);
}

interface Body {
  readonly note: FittedText | null;
  readonly noteMm: number;
  readonly words: FittedText;
}

/** Shares of the body that a hold's note may take; it gives way first, to one line. */
const NOTE_MM = [6.6, 3.6, 2.2];

/**
 * The hold's note and the words below it. The note gives way first: on two lines while the words have room, else on one.
 * @throws RangeError when they do not fit
 */
function fitBody(board: Board, label: LabelContent, at: Area, maxPt: number): Body {
  const { heldNote } = label;
  const sizes = { maxPt, minPt: SMALLEST_PT };
  for (const heightMm of heldNote === null ? [0] : NOTE_MM) {
    const noteAt = area(at.xMm, at.yMm, at.widthMm - 3, heightMm);
    const note = heldNote === null ? null : fit(board, [[bold(heldNote)]], noteAt, sizes);
    if (heldNote !== null && !note) continue;
    const noteMm = note ? heightOf(note) / MM + 1 : 0;
    const leftMm = at.heightMm - (note ? noteMm + 0.8 : 0);
    const words = leftMm > 0 ? fitWords(board, label, { ...at, heightMm: leftMm }, sizes) : null;
    if (words) return { note, noteMm, words };
  }
  throw new RangeError('The label has no room for its allergens, storage and hold at a readable size');
}

export function drawBody(board: Board, label: LabelContent, at: Area, maxPt: number): void {
  const { note, noteMm, words } = fitBody(board, label, at, maxPt);
  let topMm = at.yMm;
  if (note) {
    drawBox(board, area(at.xMm, topMm, at.widthMm, noteMm), null, 0.4);
    place(board, note, area(at.xMm + 1.5, topMm, at.widthMm - 3, noteMm));
    topMm += noteMm + 0.8;
  }
  place(board, words, area(at.xMm, topMm, at.widthMm, at.yMm + at.heightMm - topMm), { upright: 'top' });
}

/**
 * Lot and serial side by side while that stays easy to read, else one below the other, in the first of the heights that has room.
 * Stands on `bottomMm`; answers the height taken.
 */
export function drawCodes(
  board: Board,
  label: LabelContent,
  at: { readonly xMm: number; readonly bottomMm: number; readonly widthMm: number },
  { heightsMm, maxPt }: { readonly heightsMm: readonly number[]; readonly maxPt: number },
): number {
  const words = wordsOf(label);
  const lot = [regular(words.lot), bold(label.lotCode)];
  const serial = label.serial === null ? [] : [regular(words.serial), bold(label.serial)];
  const beside = [...lot, ...(label.serial === null ? [] : [regular('·')]), ...serial];
  for (const heightMm of heightsMm) {
    const rows = area(at.xMm, at.bottomMm - heightMm, at.widthMm, heightMm);
    const oneLine = fit(
      board,
      [beside],
      { ...rows, heightMm: Math.min(heightMm, (maxPt * 1.2) / MM) },
      { maxPt, minPt: 6.5 },
    );
    const text =
      (oneLine?.lines.length === 1 ? oneLine : null) ??
      fit(board, [lot, serial], rows, { maxPt: 6.5, minPt: SMALLEST_PT });
    if (!text) continue;
    place(board, text, rows);
    return heightMm;
  }
  throw new RangeError('The label has no room for its lot code at a readable size');
}
