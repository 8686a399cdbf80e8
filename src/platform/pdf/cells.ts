/** What stands in one cell of a sheet: how high it is, and drawing it. */
import { drawDataMatrix } from './data-matrix.ts';
import { MM, type Doc } from './fonts.ts';

interface CellLine {
  readonly text: string;
  readonly bold?: boolean;
  /** four fifths of the size of the others */
  readonly small?: boolean;
  readonly struck?: boolean;
  /** its colour, `#rrggbb`; black if left out */
  readonly ink?: string;
}

/** Text; text that stands out; lines below each other; an empty box to write into; or a symbol with its text beside it. */
export type Cell =
  string | { readonly bold: string } | { readonly lines: readonly CellLine[] } | null | { readonly code: string };

interface Box {
  readonly xPt: number;
  readonly yPt: number;
  readonly widthPt: number;
  readonly heightPt: number;
}

const PAD_PT = 2.6;
const SYMBOL_MM = 11;
const SMALL = 0.82;

const isSymbol = (cell: Cell): boolean => cell !== null && typeof cell === 'object' && 'code' in cell;

function linesOf(cell: Cell): readonly CellLine[] {
  if (cell === null) return [];
  if (typeof cell === 'string') return [{ text: cell }];
  if ('lines' in cell) return cell.lines;
  return 'bold' in cell ? [{ text: cell.bold, bold: true }] : [{ text: cell.code }];
}

function setFont(doc: Doc, { bold, small }: CellLine, textPt: number): Doc {
  return doc.font(bold === true ? 'bold' : 'regular').fontSize(small === true ? textPt * SMALL : textPt);
}

/** @param widthPt of the column, without what it is indented by */
export function heightOfCell(doc: Doc, cell: Cell, widthPt: number, textPt: number): number {
  const symbolPt = isSymbol(cell) ? SYMBOL_MM * MM : 0;
  const width = widthPt - 2 * PAD_PT - symbolPt;
  const lines = linesOf(cell);
  const words = (lines.length === 0 ? [{ text: ' ' }] : lines).map((line) =>
    setFont(doc, line, textPt).heightOfString(line.text || ' ', { width }),
  );
  return Math.max(
    words.reduce((sum, height) => sum + height, 2 * PAD_PT),
    symbolPt,
  );
}

export function drawCell(doc: Doc, cell: Cell, box: Box, textPt: number, align: 'left' | 'right'): void {
  const { xPt, yPt, widthPt, heightPt } = box;
  if (cell === null) {
    doc
      .rect(xPt + 1, yPt + 1, widthPt - 2, heightPt - 2)
      .lineWidth(0.6)
      .stroke('#666');
    return;
  }
  const symbolPt = isSymbol(cell) ? SYMBOL_MM * MM : 0;
  if (symbolPt > 0) {
    const [line] = linesOf(cell);
    drawDataMatrix(doc, line?.text ?? '', { xPt, yPt, sideMm: SYMBOL_MM, quietMm: 1 });
  }
  const width = widthPt - 2 * PAD_PT - symbolPt;
  let linePt = yPt + PAD_PT;
  for (const line of linesOf(cell)) {
    const high = setFont(doc, line, textPt).heightOfString(line.text || ' ', { width });
    doc
      .fillColor(line.ink ?? 'black')
      .text(line.text, xPt + PAD_PT + symbolPt, linePt, { width, align, strike: line.struck === true });
    linePt += high;
  }
  doc.fillColor('black');
}
