/**
 * Sheets for the wall and the clipboard: A4, black on white, tables whose heading is repeated on every page, boxes to write
 * into, codes to scan. Why our own layout: the PDF library's tables neither repeat a heading nor hold a symbol. Refusals: none.
 */
import { buffer } from 'node:stream/consumers';
import { setImmediate } from 'node:timers/promises';
import PDFDocument from 'pdfkit';
import { drawCell, heightOfCell, type Cell } from './cells.ts';
import { drawDataMatrix } from './data-matrix.ts';
import { MM, registerFonts, type Doc } from './fonts.ts';

export type { Cell };

export interface Column {
  readonly title: string;
  /** share of the page's width */
  readonly share: number;
  readonly align?: 'left' | 'right';
}

export interface Section {
  readonly heading: string;
  /** one line of what to do */
  readonly note?: string;
  readonly columns: readonly Column[];
  readonly rows: readonly (readonly Cell[])[];
  /** said when there are no rows */
  readonly none?: string;
  /** least height of a row, for writing by hand */
  readonly rowMm?: number;
  /** size of its letters where many columns stand side by side; 9 if left out */
  readonly textPt?: number;
}

/** Something drawn, as wide as the page lets it and never higher than a page. */
export interface Drawing {
  /** left out when it has one of its own */
  readonly heading?: string;
  readonly note?: string;
  /** of the drawing's own units */
  readonly width: number;
  readonly height: number;
  /** share of a page's height that it takes at most; all of it if left out */
  readonly mostShare?: number;
  readonly draw: (doc: Doc) => void;
}

export interface Sheet {
  /** across the head of every page, white on black: what must not be overlooked */
  readonly banner?: string;
  /** its colour, dark; black if left out */
  readonly bannerInk?: string;
  readonly title: string;
  readonly subtitle: string;
  /** one bold sentence below them */
  readonly lead?: { readonly text: string; readonly ink: string };
  /** a symbol beside the title */
  readonly code?: string;
  readonly sections: readonly (Section | Drawing)[];
  /** at the foot of every page */
  readonly foot: string;
  /** what the file says of its making: the same sheet gives the same bytes */
  readonly madeAtMs: number;
  readonly landscape?: boolean;
}

const MARGIN_MM = 14;
const FOOT_MM = 10;
const TEXT_PT = 9;
const BANNER_MM = 9;

interface Pen {
  readonly doc: Doc;
  readonly sheet: Sheet;
  readonly leftPt: number;
  readonly widthPt: number;
  readonly bottomPt: number;
  yPt: number;
}

/** Where a page's content begins; the banner is drawn when all pages are there. */
const topOf = ({ banner }: Sheet): number => (MARGIN_MM + (banner === undefined ? 0 : BANNER_MM)) * MM;

function newPage(pen: Pen): void {
  pen.doc.addPage();
  pen.yPt = topOf(pen.sheet);
}

interface Grid {
  readonly columns: readonly Column[];
  /** in points */
  readonly widths: readonly number[];
  readonly textPt: number;
  /** before a text that follows a number, so that the two do not read as one */
  readonly indents: readonly number[];
}

const INDENT_PT = 8;

function gridOf(pen: Pen, { columns, textPt = TEXT_PT }: Section): Grid {
  const whole = columns.reduce((sum, column) => sum + column.share, 0);
  const widths = columns.map((column) => (pen.widthPt * column.share) / whole);
  const after = (at: number): boolean => columns[at - 1]?.align === 'right' && columns[at]?.align !== 'right';
  return { columns, widths, textPt, indents: columns.map((_, at) => (after(at) ? INDENT_PT : 0)) };
}

function heightOfRow(pen: Pen, row: readonly Cell[], { widths, textPt, indents }: Grid, leastPt: number): number {
  const heights = row.map((cell, at) => heightOfCell(pen.doc, cell, (widths[at] ?? 0) - (indents[at] ?? 0), textPt));
  return Math.max(leastPt, ...heights);
}

function drawRow(pen: Pen, row: readonly Cell[], { columns, widths, textPt, indents }: Grid, rowPt: number) {
  const { doc, yPt } = pen;
  let xPt = pen.leftPt;
  for (const [at, cell] of row.entries()) {
    const widthPt = widths[at] ?? 0;
    const indentPt = cell === null ? 0 : (indents[at] ?? 0);
    const box = { xPt: xPt + indentPt, yPt, widthPt: widthPt - indentPt, heightPt: rowPt };
    drawCell(doc, cell, box, textPt, columns[at]?.align ?? 'left');
    xPt += widthPt;
  }
  pen.yPt += rowPt;
  doc
    .moveTo(pen.leftPt, pen.yPt)
    .lineTo(pen.leftPt + pen.widthPt, pen.yPt)
    .lineWidth(0.4)
    .stroke('#999');
}

function drawHeadings(pen: Pen, grid: Grid): void {
  if (grid.columns.every((column) => column.title === '')) return;
  const row = grid.columns.map((column) => ({ bold: column.title }));
  const heightPt = heightOfRow(pen, row, grid, 0);
  pen.doc.rect(pen.leftPt, pen.yPt, pen.widthPt, heightPt).fill('#e8e8e8');
  drawRow(pen, row, grid, heightPt);
}

/** A heading never stands at the foot of a page without a row below it, unless the row is as good as a page itself. */
function leastPtOf(pen: Pen, section: Section, grid: Grid): number {
  const [first] = section.rows;
  const firstPt = first === undefined ? 0 : heightOfRow(pen, first, grid, (section.rowMm ?? 0) * MM);
  return Math.max(26 * MM, Math.min(20 * MM + firstPt, (pen.bottomPt - topOf(pen.sheet)) / 2));
}

async function drawSection(pen: Pen, section: Section): Promise<void> {
  const grid = gridOf(pen, section);
  if (pen.yPt + leastPtOf(pen, section, grid) > pen.bottomPt) newPage(pen);
  drawHeading(pen, section.heading, section.rows.length === 0 ? (section.none ?? section.note) : section.note);
  if (section.rows.length === 0) return;
  drawHeadings(pen, grid);
  for (const row of section.rows) {
    const rowPt = heightOfRow(pen, row, grid, (section.rowMm ?? 0) * MM);
    if (pen.yPt + rowPt > pen.bottomPt) {
      newPage(pen);
      drawHeadings(pen, grid);
      // A long sheet must not keep other requests waiting.
      await setImmediate();
    }
    drawRow(pen, row, grid, rowPt);
  }
}

/** Rather so much smaller than a page that is left half empty. */
const STILL_READABLE = 0.8;

/** Smaller where it must be, never larger than a third above its own size. */
function drawDrawing(pen: Pen, drawing: Drawing): void {
  const { doc } = pen;
  const headPt = (drawing.heading === undefined ? 3 : 12) * MM;
  const wholePt = (pen.bottomPt - topOf(pen.sheet)) * (drawing.mostShare ?? 1) - headPt;
  const best = Math.min(pen.widthPt / drawing.width, wholePt / drawing.height, 1.3);
  const here = (pen.bottomPt - pen.yPt - headPt) / drawing.height;
  const scale = here < best && here >= best * STILL_READABLE ? here : best;
  if (scale > here) newPage(pen);
  if (drawing.heading !== undefined) drawHeading(pen, drawing.heading, drawing.note);
  doc
    .save()
    .translate(pen.leftPt, pen.yPt + 2 * MM)
    .scale(scale);
  drawing.draw(doc);
  doc.restore();
  pen.yPt += drawing.height * scale + 4 * MM;
}

function drawHeading(pen: Pen, heading: string, note: string | undefined): void {
  const { doc } = pen;
  pen.yPt += 3 * MM;
  if (heading === '') return;
  doc.font('bold').fontSize(12).fillColor('black').text(heading, pen.leftPt, pen.yPt, { width: pen.widthPt });
  pen.yPt = doc.y + 1;
  if (note === undefined) return;
  doc.font('regular').fontSize(TEXT_PT).text(note, pen.leftPt, pen.yPt, { width: pen.widthPt });
  pen.yPt = doc.y + 3;
}

function drawTitle(pen: Pen): void {
  const { doc, sheet } = pen;
  const symbolPt = sheet.code === undefined ? 0 : 20 * MM;
  const width = pen.widthPt - symbolPt;
  if (sheet.code !== undefined)
    drawDataMatrix(doc, sheet.code, { xPt: pen.leftPt + width, yPt: pen.yPt, sideMm: 20, quietMm: 1 });
  doc.font('bold').fontSize(18).fillColor('black').text(sheet.title, pen.leftPt, pen.yPt, { width });
  doc
    .font('regular')
    .fontSize(11)
    .text(sheet.subtitle, pen.leftPt, doc.y + 1, { width });
  if (sheet.lead !== undefined) {
    const { text, ink } = sheet.lead;
    doc.font('bold').fontSize(10).fillColor(ink);
    doc.text(text, pen.leftPt, doc.y + 4, { width });
    doc.fillColor('black');
  }
  pen.yPt = Math.max(doc.y, pen.yPt + symbolPt);
}

function drawBanner({ doc, sheet, leftPt, widthPt }: Pen, banner: string): void {
  const yPt = (MARGIN_MM - 4) * MM;
  doc.rect(leftPt, yPt, widthPt, BANNER_MM * MM).fill(sheet.bannerInk ?? 'black');
  doc.font('wideBold').fontSize(12).fillColor('white');
  doc.text(banner, leftPt, yPt + 2.2 * MM, { width: widthPt, align: 'center', lineBreak: false });
  doc.fillColor('black');
}

/** The sheet as a PDF. */
export async function renderSheet(sheet: Sheet): Promise<Buffer> {
  const doc = new PDFDocument({
    size: 'A4',
    layout: sheet.landscape === true ? 'landscape' : 'portrait',
    margin: 0,
    bufferPages: true,
    info: { Title: sheet.title, CreationDate: new Date(sheet.madeAtMs) },
  });
  registerFonts(doc);
  const bytes = buffer(doc);
  const pen: Pen = {
    doc,
    sheet,
    leftPt: MARGIN_MM * MM,
    widthPt: doc.page.width - 2 * MARGIN_MM * MM,
    bottomPt: doc.page.height - (MARGIN_MM + FOOT_MM) * MM,
    yPt: topOf(sheet),
  };
  drawTitle(pen);
  for (const section of sheet.sections) {
    if ('draw' in section) drawDrawing(pen, section);
    else await drawSection(pen, section);
  }
  const { count } = doc.bufferedPageRange();
  for (let page = 0; page < count; page += 1) {
    doc.switchToPage(page);
    if (sheet.banner !== undefined) drawBanner(pen, sheet.banner);
    const yPt = doc.page.height - (MARGIN_MM + 4) * MM;
    const width = pen.widthPt - 30 * MM;
    doc.font('regular').fontSize(7.5).fillColor('black').text(sheet.foot, pen.leftPt, yPt, { width, lineBreak: true });
    doc.text(`Page ${page + 1} of ${count}`, pen.leftPt + width, yPt, {
      width: 30 * MM,
      align: 'right',
      lineBreak: false,
    });
  }
  doc.end();
  return bytes;
}
