/**
 * The label on a sealed pack: 100 x 60 mm, one page each, black on white for thermal printers. Why it looks as it does: the
 * use-by is read at arm's length in a cold room, so it is the largest thing; dates are day, month, year and uncoded
 * (Regulation (EU) No 1169/2011 Annex X); allergens are emphasised within the list (Art. 21(1)(b), number from memory); the
 * barcode holds only LOT or LOT/SERIAL, because everything else can change after printing and is looked up.
 *
 * Refusals: none that a client can see; what comes in was checked. A use-by that is no date, or safety words that do not
 * fit at a readable size, throw RangeError: no label is better than one that leaves out an allergen.
 */
import { buffer } from 'node:stream/consumers';
import { setImmediate } from 'node:timers/promises';
import bwip from 'bwip-js/node';
import { DateTime } from 'luxon';
import PDFDocument from 'pdfkit';
import { drawDataMatrix } from '../../platform/pdf/data-matrix.ts';
import { MM, registerFonts, type Doc } from '../../platform/pdf/fonts.ts';
import { drawText, fitOrShorten, fitText, heightOf, type FittedText, type TextBox, type TextRun } from './text-fit.ts';

export type Deed =
  | 'Packed'
  | 'Made'
  | 'Received'
  | 'In stock'
  | 'Opened'
  | 'Decanted'
  | 'Portioned'
  | 'Regenerated'
  | 'Cooked'
  | 'Frozen'
  | 'Thawed'
  | 'Sample taken';

/** What one label says. Texts are as printed; dates are the site's. */
export interface PackLabel {
  dish: string;
  /** Null where nobody packed: food that was made, or bought. */
  packer: string | null;
  /** What happened on `packedOn`; Packed if left out. */
  deed?: Deed;
  /** YYYY-MM-DD. */
  packedOn: string;
  /** `2026-11-29`, or with a time, `2026-11-29 14:30`; whatever follows the time is printed after it. */
  useBy: string;
  storageInstruction: string;
  /** Words to print, in the order to print them. */
  allergens: string[];
  mayContain: string[];
  lotCode: string;
  serial: string | null;
  /** Whole grams, above zero; null when no weight is declared. */
  netWeightG: number | null;
  siteName: string;
  handling: 'raw' | 'ready-to-eat';
  /** Words for a hold in force at printing, or null. */
  heldNote: string | null;
}

const PAGE = { width: 100, height: 60 };
/** Smallest size of safety words: x-height 0.9 mm, the least for small packs (1169/2011 Art. 13(3), from memory). */
const SMALLEST_PT = 4.75;
const BARCODE_MM = 20;
/** White around the symbol on each side; more than the one module that a Data Matrix needs. */
const QUIET_MM = 1.6;
/** Between the use-by above and the foot below. */
const MIDDLE = { topMm: 29.6, heightMm: 19.6 };

const regular = (text: string): TextRun => ({ text, font: 'regular' });
const bold = (text: string): TextRun => ({ text, font: 'bold' });
const box = (widthMm: number, heightMm: number): TextBox => ({ widthPt: widthMm * MM, heightPt: heightMm * MM });

/** What the barcode holds: the lot code, and the serial after a slash where the pack has one. */
export function packBarcodeText(lotCode: string, serial: string | null): string {
  return serial === null ? lotCode : `${lotCode}/${serial}`;
}

/** The barcode alone as a PNG with its quiet zone, for screens and tests. */
export function packBarcodePng(text: string): Promise<Buffer> {
  return bwip.toBuffer({
    bcid: 'datamatrix',
    text,
    scale: 6,
    paddingwidth: 8,
    paddingheight: 8,
    backgroundcolor: 'FFFFFF',
  });
}

/** `2026-11-29` as `29 NOV 2026`; a time and what follows it stay behind. */
function dayMonthYear(text: string): string {
  const match = /^(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}.*))?$/.exec(text);
  const date = DateTime.fromISO(match?.[1] ?? '', { zone: 'utc', locale: 'en-GB' });
  if (!match || !date.isValid) throw new RangeError(`Not a date to print on a label: ${text}`);
  // luxon's en-GB writes SEPT; every month gets three letters here.
  const month = date.setLocale('en-US').toFormat('LLL').toUpperCase();
  return [date.toFormat('d'), month, date.toFormat('yyyy'), match[2]].filter(Boolean).join(' ');
}

function netWeight(netWeightG: number): string {
  if (!Number.isInteger(netWeightG) || netWeightG <= 0) throw new RangeError(`Not a net weight: ${netWeightG} g`);
  return netWeightG < 1000 ? `${netWeightG} g` : `${(netWeightG / 1000).toFixed(3)} kg`;
}

function mustFit(what: string, text: FittedText | null): FittedText {
  if (!text) throw new RangeError(`The label has no room for its ${what} at a readable size`);
  return text;
}

/** A list of words in bold behind its heading; commas between. */
function listed(heading: string, words: readonly string[]): TextRun[] {
  return [regular(heading), ...words.map((word, index) => bold(index < words.length - 1 ? `${word},` : word))];
}

function drawUseBy(doc: Doc, useBy: string): void {
  doc.rect(3 * MM, 15 * MM, 72 * MM, 13.5 * MM).fill('black');
  const heading = mustFit('heading', fitText(doc, [[bold('USE BY')]], box(30, 4), { maxPt: 8, minPt: 8 }));
  drawText(doc, heading, { xPt: 5 * MM, yPt: 15.7 * MM, widthPt: 30 * MM, colour: 'white' });
  const run = { text: dayMonthYear(useBy), font: 'wideBold' };
  const date = mustFit('use-by', fitText(doc, [[run]], box(68, 9.6), { maxPt: 23, minPt: 8 }));
  const yPt = 18.6 * MM + (9.6 * MM - heightOf(date)) / 2;
  drawText(doc, date, { xPt: 5 * MM, yPt, widthPt: 68 * MM, colour: 'white' });
}

function drawHandling(doc: Doc, handling: PackLabel['handling']): void {
  const raw = handling === 'raw';
  doc.rect(77 * MM, 23.5 * MM, BARCODE_MM * MM, 5 * MM);
  if (raw) doc.fill('black');
  else doc.lineWidth(0.8).stroke('black');
  const run = bold(raw ? 'RAW' : 'READY TO EAT');
  const text = mustFit('handling', fitText(doc, [[run]], box(18.6, 4.6), { maxPt: raw ? 10 : 7.5, minPt: 6 }));
  const yPt = 23.5 * MM + (5 * MM - heightOf(text)) / 2;
  const colour = raw ? 'white' : 'black';
  drawText(doc, text, { xPt: 77.7 * MM, yPt, widthPt: 18.6 * MM, align: 'center', colour });
}

interface Middle {
  note: FittedText | null;
  noteHeightMm: number;
  words: FittedText;
}

/**
 * The hold's note and the words below it, in the middle of the label. The note gives way first: on two lines while
 * the words have room, else on one.
 */
function fitMiddle(doc: Doc, label: PackLabel): Middle {
  const paragraphs = [
    label.allergens.length > 0 ? listed('Contains:', label.allergens) : listed('Allergens:', ['none recorded']),
    label.mayContain.length > 0 ? listed('May contain:', label.mayContain) : [],
    [regular(label.storageInstruction)],
  ];
  const sizes = { maxPt: 8.5, minPt: SMALLEST_PT };
  const { heldNote } = label;
  for (const noteMm of heldNote === null ? [0] : [6.6, 3.6, 2.2]) {
    const note = heldNote === null ? null : fitText(doc, [[bold(heldNote)]], box(91, noteMm), sizes);
    if (heldNote !== null && !note) continue;
    const noteHeightMm = note ? heightOf(note) / MM + 1.2 : 0;
    const leftMm = MIDDLE.heightMm - (note ? noteHeightMm + 0.9 : 0);
    const words = fitText(doc, paragraphs, box(94, leftMm), sizes);
    if (words) return { note, noteHeightMm, words };
  }
  throw new RangeError('The label has no room for its allergens, storage and hold at a readable size');
}

function drawMiddle(doc: Doc, label: PackLabel): void {
  const { note, noteHeightMm, words } = fitMiddle(doc, label);
  let topMm = MIDDLE.topMm;
  if (note) {
    doc
      .rect(3 * MM, topMm * MM, 94 * MM, noteHeightMm * MM)
      .lineWidth(1.2)
      .stroke('black');
    drawText(doc, note, { xPt: 4.5 * MM, yPt: (topMm + 0.6) * MM, widthPt: 91 * MM });
    topMm += noteHeightMm + 0.9;
  }
  drawText(doc, words, { xPt: 3 * MM, yPt: topMm * MM, widthPt: 94 * MM });
}

function drawFoot(doc: Doc, label: PackLabel): void {
  doc
    .moveTo(3 * MM, 49.7 * MM)
    .lineTo(97 * MM, 49.7 * MM)
    .lineWidth(0.6)
    .stroke('black');
  const netMm = label.netWeightG === null ? 0 : 26;
  const lot = [regular('Lot'), bold(label.lotCode)];
  const serial = label.serial === null ? [] : [regular('Serial'), bold(label.serial)];
  const codeBox = box(94 - netMm, 4.6);
  // Side by side while that stays easy to read, else one below the other.
  const sideBySide = [...lot, ...(label.serial === null ? [] : [regular('·')]), ...serial];
  const code = mustFit(
    'lot code',
    fitText(doc, [sideBySide], codeBox, { maxPt: 10, minPt: 6.5 }) ??
      fitText(doc, [lot, serial], codeBox, { maxPt: 6.5, minPt: SMALLEST_PT }),
  );
  drawText(doc, code, { xPt: 3 * MM, yPt: 50.4 * MM, widthPt: codeBox.widthPt });
  if (label.netWeightG !== null) {
    const run = bold(netWeight(label.netWeightG));
    const weight = mustFit('net weight', fitText(doc, [[run]], box(25, 4.6), { maxPt: 10.5, minPt: 7 }));
    drawText(doc, weight, { xPt: 72 * MM, yPt: 50.3 * MM, widthPt: 25 * MM, align: 'right' });
  }
  const by = label.packer === null ? '' : ` by ${label.packer}`;
  const packed = [regular(`${label.deed ?? 'Packed'} ${dayMonthYear(label.packedOn)}${by}, ${label.siteName}`)];
  const line = mustFit('packer and site', fitText(doc, [packed], box(94, 3.9), { maxPt: 7, minPt: 3 }));
  drawText(doc, line, { xPt: 3 * MM, yPt: 54.9 * MM, widthPt: 94 * MM });
}

function drawLabel(doc: Doc, label: PackLabel): void {
  const dishBox = box(72, 11.2);
  const dish = fitOrShorten(doc, bold(label.dish), dishBox, { maxPt: 18, minPt: 8 });
  const dishPt = 2.8 * MM + (dishBox.heightPt - heightOf(dish)) / 2;
  drawText(doc, dish, { xPt: 3 * MM, yPt: dishPt, widthPt: dishBox.widthPt });
  const symbol = { xPt: 77 * MM, yPt: 2.4 * MM, sideMm: BARCODE_MM, quietMm: QUIET_MM };
  drawDataMatrix(doc, packBarcodeText(label.lotCode, label.serial), symbol);
  drawUseBy(doc, label.useBy);
  drawHandling(doc, label.handling);
  drawMiddle(doc, label);
  drawFoot(doc, label);
}

/**
 * One PDF with a page of 100 x 60 mm for each label, in order. The same labels give the same bytes.
 * @throws RangeError when there is no label, a date is none, or safety words do not fit
 */
export async function renderPackLabels(labels: PackLabel[]): Promise<Buffer> {
  const [first] = labels;
  if (!first) throw new RangeError('There is no label to print');
  const doc = new PDFDocument({
    autoFirstPage: false,
    size: [PAGE.width * MM, PAGE.height * MM],
    margin: 0,
    // The packing day, not the moment of printing: a reprint is the same file.
    info: { Title: 'Pack labels', CreationDate: DateTime.fromISO(first.packedOn, { zone: 'utc' }).toJSDate() },
  });
  registerFonts(doc);
  const bytes = buffer(doc);
  for (const label of labels) {
    doc.addPage();
    drawLabel(doc, label);
    // A long run must not keep other requests waiting.
    await setImmediate();
  }
  doc.end();
  return bytes;
}
