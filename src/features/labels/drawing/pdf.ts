/**
 * The pen that draws sketches as one PDF, piece by piece: however many labels there are, one page at a time is in memory. Rolls have
 * a page for each label, sheets are filled row by row.
 */
import { setImmediate } from 'node:timers/promises';
import PDFDocument from 'pdfkit';
import { MM, registerFonts, type Doc } from '../../../platform/pdf/fonts.ts';
import type { LabelLayout, SheetGrid } from './layouts.ts';
import type { Mark, Sketch } from './sketch.ts';

const SHARE = { left: 0, center: 0.5, right: 1 };

function drawWords(doc: Doc, mark: Extract<Mark, { kind: 'words' }>): void {
  const { text, align } = mark;
  doc.fillColor(mark.colour).fontSize(text.sizePt);
  text.lines.forEach((line, row) => {
    const xPt = mark.xMm * MM + (mark.widthMm * MM - line.widthPt) * SHARE[align];
    const yPt = mark.yMm * MM + row * text.lineHeightPt;
    for (const word of line.words) doc.font(word.font).text(word.text, xPt + word.xPt, yPt, { lineBreak: false });
  });
}

function drawMark(doc: Doc, mark: Mark): void {
  if (mark.kind === 'words') return drawWords(doc, mark);
  if (mark.kind === 'symbol') {
    doc
      .save()
      .translate(mark.xMm * MM, mark.yMm * MM)
      .scale(mark.mmPerUnit * MM);
    doc.path(mark.path).fill('black', 'even-odd').restore();
    return;
  }
  const { xMm, yMm, widthMm, heightMm } = mark.area;
  doc.rect(xMm * MM, yMm * MM, widthMm * MM, heightMm * MM);
  if (mark.lineMm === 0) doc.fill(mark.fill ?? 'white');
  else if (mark.fill === null) doc.lineWidth(mark.lineMm * MM).stroke('black');
  else doc.lineWidth(mark.lineMm * MM).fillAndStroke(mark.fill, 'black');
}

/** Where the label of a place stands on its sheet; place 0 is at the left top. */
function cornerOf(grid: SheetGrid, placeNo: number): { xMm: number; yMm: number } {
  const column = placeNo % grid.columns;
  const row = Math.floor(placeNo / grid.columns);
  return { xMm: grid.leftMm + column * grid.acrossMm, yMm: grid.topMm + row * grid.downMm };
}

export interface PdfPage {
  readonly title: string;
  /** Written into the file: the same labels with the same moment give the same bytes. */
  readonly createdAt: Date;
  /** First place used on the first sheet, from 1: the rest of a sheet that was begun. */
  readonly startAt: number;
}

/** @throws RangeError when the start is not on the sheet, or what a sketch throws */
export async function* sketchesPdf(
  sketches: AsyncIterable<Sketch>,
  layout: LabelLayout,
  { title, createdAt, startAt }: PdfPage,
): AsyncGenerator<Buffer> {
  const { sheet } = layout;
  const places = sheet ? sheet.columns * sheet.rows : 1;
  if (!Number.isInteger(startAt) || startAt < 1 || startAt > places) {
    throw new RangeError(`A sheet has the places 1 to ${places}, not ${startAt}`);
  }
  const [paperWidthMm, paperHeightMm] = sheet
    ? [sheet.paperWidthMm, sheet.paperHeightMm]
    : [layout.widthMm, layout.heightMm];
  const size: [number, number] = [paperWidthMm * MM, paperHeightMm * MM];
  const doc = new PDFDocument({
    autoFirstPage: false,
    size,
    margin: 0,
    info: { Title: title, CreationDate: createdAt },
  });
  registerFonts(doc);
  let placeNo = startAt - 1;
  let pages = 0;
  for await (const sketch of sketches) {
    if (pages === 0 || placeNo === places) {
      if (pages > 0) placeNo = 0;
      doc.addPage();
      pages += 1;
      yield* readyPieces(doc);
    }
    const corner = sheet ? cornerOf(sheet, placeNo) : { xMm: 0, yMm: 0 };
    doc.save().translate(corner.xMm * MM, corner.yMm * MM);
    for (const mark of sketch.marks) drawMark(doc, mark);
    doc.restore();
    placeNo += 1;
    // A long run must not keep other requests waiting.
    await setImmediate();
  }
  if (pages === 0) throw new RangeError('There is no label to print');
  doc.end();
  for await (const piece of doc) yield piece as Buffer;
}

function* readyPieces(doc: Doc): Generator<Buffer> {
  for (let piece = doc.read() as Buffer | null; piece !== null; piece = doc.read() as Buffer | null) yield piece;
}
