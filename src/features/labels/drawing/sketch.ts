/**
 * A label as marks on a rectangle, in mm from its left top corner: what every pen (PDF, SVG, PNG) draws alike. A sketch is made
 * for a printer's dots, because a barcode's modules must be whole dots wide.
 */
import { MM } from '../../../platform/pdf/fonts.ts';
import { fitOrShorten, fitText, heightOf } from './text-fit.ts';
import type { FittedText, Meter, Paragraphs, TextRun, TextSizes } from './text-fit.ts';

/** Dots to the inch of the usual printers. 203 stands for 8 dots to the mm. */
export type Dpi = 203 | 300 | 600;

export function dotMm(dpi: Dpi): number {
  return dpi === 203 ? 0.125 : 25.4 / dpi;
}

export interface Area {
  readonly xMm: number;
  readonly yMm: number;
  readonly widthMm: number;
  readonly heightMm: number;
}

type Colour = 'black' | 'white';

export type Mark =
  | { readonly kind: 'box'; readonly area: Area; readonly fill: Colour | null; readonly lineMm: number }
  | {
      readonly kind: 'words';
      readonly text: FittedText;
      readonly xMm: number;
      readonly yMm: number;
      readonly widthMm: number;
      readonly align: Align;
      readonly colour: Colour;
    }
  /** A filled path (even-odd) whose units are `mmPerUnit` long. */
  | {
      readonly kind: 'symbol';
      readonly path: string;
      readonly xMm: number;
      readonly yMm: number;
      readonly mmPerUnit: number;
    };

type Align = 'left' | 'center' | 'right';

interface Placing {
  readonly align?: Align;
  /** Where the lines stand in the area; the middle if left out. */
  readonly upright?: 'top' | 'middle' | 'bottom';
  readonly colour?: Colour;
}

export interface Sketch {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly marks: readonly Mark[];
}

/** What composers draw with. */
export interface Board {
  readonly meter: Meter;
  readonly dotMm: number;
  readonly marks: Mark[];
}

export const regular = (text: string): TextRun => ({ text, font: 'regular' });
export const bold = (text: string): TextRun => ({ text, font: 'bold' });
export const area = (xMm: number, yMm: number, widthMm: number, heightMm: number): Area => ({
  xMm,
  yMm,
  widthMm,
  heightMm,
});
/** The area with `mm` taken off each side. */
export const inset = (at: Area, mm: number, downMm = mm): Area =>
  area(at.xMm + mm, at.yMm + downMm, at.widthMm - 2 * mm, at.heightMm - 2 * downMm);

const boxOf = (at: Area): { widthPt: number; heightPt: number } => ({
  widthPt: at.widthMm * MM,
  heightPt: at.heightMm * MM,
});

export function drawBox(board: Board, at: Area, fill: Colour | null, lineMm = 0): void {
  board.marks.push({ kind: 'box', area: at, fill, lineMm });
}

export function drawRule(board: Board, xMm: number, yMm: number, widthMm: number, lineMm = 0.25): void {
  drawBox(board, area(xMm, yMm - lineMm / 2, widthMm, lineMm), 'black');
}

export function place(board: Board, text: FittedText, at: Area, placing: Placing = {}): void {
  const { align = 'left', upright = 'middle', colour = 'black' } = placing;
  const spareMm = at.heightMm - heightOf(text) / MM;
  const share = { top: 0, middle: 0.5, bottom: 1 }[upright];
  const { xMm, widthMm } = at;
  board.marks.push({ kind: 'words', text, xMm, yMm: at.yMm + spareMm * share, widthMm, align, colour });
}

export function fit(board: Board, paragraphs: Paragraphs, at: Area, sizes: TextSizes): FittedText | null {
  return fitText(board.meter, paragraphs, boxOf(at), sizes);
}

/** Words that may not be left out. */
export function write(
  board: Board,
  what: string,
  paragraphs: Paragraphs,
  at: Area,
  { sizes, ...placing }: Placing & { readonly sizes: TextSizes },
): void {
  const text = fit(board, paragraphs, at, sizes);
  if (!text) throw new RangeError(`The label has no room for its ${what} at a readable size`);
  place(board, text, at, placing);
}

/** Words that give way to an ellipsis. */
export function writeShort(
  board: Board,
  run: TextRun,
  at: Area,
  { sizes, ...placing }: Placing & { readonly sizes: TextSizes },
): void {
  place(board, fitOrShorten(board.meter, run, boxOf(at), sizes), at, placing);
}
