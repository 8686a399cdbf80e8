/**
 * The label of a crate, roll cage or pallet: where it goes and the SSCC for scanners, the earliest use-by and what is in it for
 * people. The two are apart, as on GS1 logistic labels: words above, bars at the bottom.
 *
 * Throws RangeError when the code is no SSCC, a date is none, or what must be there has no room. Lines of contents that have no room
 * are counted, not dropped in silence.
 */
import type { CrateLabelContent, CrateLine } from './content.ts';
import type { LabelLayout } from './layouts.ts';
import { MM } from '../../../platform/pdf/fonts.ts';
import { area, bold, dotMm, drawBox, drawRule, inset, regular, write, writeShort } from './sketch.ts';
import type { Area, Board, Dpi, Sketch } from './sketch.ts';
import { drawSscc } from './symbol.ts';
import { SMALLEST_PT } from './parts.ts';
import type { Meter } from './text-fit.ts';
import { dayMonthYear, wordsOf } from './texts.ts';

const MARGIN_MM = 3;
const LEAST_MM = 90;
/** Bars of 31.75 mm with a hair of room. */
const BARS_MM = 32;
const HRI_MM = 5;
const ROW_MM = { most: 8, least: 3.4 };

/** `(00) 0 9521000 000000001 9` would need the length of the prefix; the digits stay together as printed by common practice. */
const ssccText = (sscc: string): string => `(00)${sscc}`;

function drawWay(board: Board, label: CrateLabelContent, at: Area): void {
  const { crate: words } = wordsOf(label);
  const fromMm = at.heightMm * 0.27;
  const sizes = { maxPt: 9, minPt: SMALLEST_PT };
  const dispatchMm = label.dispatchCode === null ? 0 : at.widthMm * 0.4;
  writeShort(
    board,
    regular(`${words.from}: ${label.fromName}`),
    area(at.xMm, at.yMm, at.widthMm - dispatchMm, fromMm),
    { sizes },
  );
  if (label.dispatchCode !== null) {
    const code = area(at.xMm + at.widthMm - dispatchMm, at.yMm, dispatchMm, fromMm);
    write(board, 'dispatch code', [[regular(words.dispatch), bold(label.dispatchCode)]], code, {
      sizes,
      align: 'right',
    });
  }
  const toMm = at.heightMm - fromMm;
  const head = area(at.xMm, at.yMm + fromMm, 9, toMm * 0.62);
  write(board, 'destination', [[regular(label.toName === null ? '' : `${words.to}:`)]], head, { sizes });
  const name = area(at.xMm + 9, at.yMm + fromMm, at.widthMm - 9, toMm * 0.62);
  if (label.toName !== null) writeShort(board, bold(label.toName), name, { sizes: { maxPt: 20, minPt: 8 } });
  const address = area(at.xMm + 9, at.yMm + fromMm + toMm * 0.62, at.widthMm - 9, toMm * 0.38);
  if (label.toAddress)
    writeShort(board, regular(label.toAddress), address, { sizes: { maxPt: 9, minPt: SMALLEST_PT } });
}

function drawEarliest(board: Board, label: CrateLabelContent, at: Area): void {
  const words = wordsOf(label);
  if (label.earliestUseBy === null) return;
  drawBox(board, at, 'black');
  const inner = inset(at, 2, 0.8);
  const headMm = inner.heightMm * 0.3;
  const head = area(inner.xMm, inner.yMm, inner.widthMm, headMm);
  write(board, 'heading', [[bold(words.crate.earliestUseBy)]], head, {
    sizes: { maxPt: 9, minPt: 6 },
    colour: 'white',
  });
  const date = area(inner.xMm, inner.yMm + headMm, inner.widthMm, inner.heightMm - headMm);
  const run = { text: dayMonthYear(label.earliestUseBy, words.language), font: 'wideBold' } as const;
  write(board, 'use-by', [[run]], date, { sizes: { maxPt: 24, minPt: 8 }, colour: 'white' });
}

/** Lines as a table: what, lot, use-by, how much. */
function drawLine(board: Board, line: CrateLine, at: Area, language: string): void {
  const sizes = { maxPt: 9, minPt: SMALLEST_PT };
  const shares = [0.4, 0.25, 0.19, 0.16];
  const lefts = shares.map((_, index) => shares.slice(0, index).reduce((sum, share) => sum + share, 0) * at.widthMm);
  const cell = (index: number): Area =>
    area(at.xMm + (lefts[index] ?? 0), at.yMm, (shares[index] ?? 0) * at.widthMm - 1, at.heightMm);
  // Low enough that codes and dates stay on one line.
  const flat = (index: number): Area => inset(cell(index), 0, Math.max(0, (at.heightMm - 3.9) / 2));
  writeShort(board, bold(line.itemName), cell(0), { sizes });
  write(board, 'lot code', [[regular(line.lotCode)]], flat(1), { sizes: { maxPt: 8, minPt: 3.5 } });
  if (line.useBy !== null) {
    // A date without its time would stand for the whole of its day. With one it may take two lines.
    const dated = line.useBy.length > 10;
    const date = [[regular(dayMonthYear(line.useBy, language))]];
    write(board, 'use-by', date, dated ? cell(2) : flat(2), { sizes: { maxPt: 8, minPt: dated ? 3.5 : SMALLEST_PT } });
  }
  write(board, 'quantity', [[bold(line.quantity)]], area(cell(3).xMm, at.yMm, cell(3).widthMm + 1, at.heightMm), {
    sizes: { maxPt: 10, minPt: SMALLEST_PT },
    align: 'right',
  });
}

function drawContents(board: Board, label: CrateLabelContent, at: Area): void {
  const words = wordsOf(label);
  const inner = label.innerSsccs ?? [];
  const rows: (CrateLine | string)[] = [
    ...(inner.length === 0 ? [] : [words.crate.holds.replace('{n}', String(inner.length)), ...inner.map(ssccText)]),
    ...label.lines,
  ];
  const headMm = 4;
  write(
    board,
    'heading',
    [[regular(words.crate.contents)]],
    { ...at, heightMm: headMm },
    { sizes: { maxPt: 7.5, minPt: 5 } },
  );
  drawRule(board, at.xMm, at.yMm + headMm, at.widthMm, 0.2);
  const roomMm = at.heightMm - headMm - 0.6;
  const rowMm = Math.min(ROW_MM.most, Math.max(ROW_MM.least, roomMm / Math.max(rows.length, 1)));
  const fitting = Math.floor(roomMm / rowMm + 1e-9);
  const shown = rows.length <= fitting ? rows : rows.slice(0, fitting - 1);
  const rowAt = (index: number): Area => area(at.xMm, at.yMm + headMm + 0.6 + index * rowMm, at.widthMm, rowMm);
  const sizes = { maxPt: 8, minPt: SMALLEST_PT };
  shown.forEach((row, index) => {
    if (typeof row === 'string') writeShort(board, bold(row), rowAt(index), { sizes });
    else drawLine(board, row, rowAt(index), words.language);
  });
  if (shown.length < rows.length) {
    const more = words.crate.more.replace('{n}', String(rows.length - shown.length));
    writeShort(board, bold(more), rowAt(shown.length), { sizes });
  }
}

function drawNotes(board: Board, label: CrateLabelContent, at: Area): void {
  const words = [label.boxType, label.storageInstruction]
    .filter((text) => text !== null)
    .map((text) => [regular(text)]);
  const sizes = { maxPt: 9, minPt: SMALLEST_PT };
  if (words.length > 0) write(board, 'storage', words, at, { sizes });
}

/** @throws RangeError when the size is too small for bars, and what is said above */
export function sketchCrate(label: CrateLabelContent, layout: LabelLayout, dpi: Dpi, meter: Meter): Sketch {
  const { widthMm, heightMm } = layout;
  if (widthMm < LEAST_MM || heightMm < LEAST_MM) {
    throw new RangeError(`A crate's label is at least ${LEAST_MM} mm wide and high, not ${widthMm} x ${heightMm} mm`);
  }
  const board: Board = { meter, dotMm: dotMm(dpi), marks: [] };
  const across = widthMm - 2 * MARGIN_MM;
  let topMm = MARGIN_MM;
  const take = (mm: number, gapMm = 1): Area => {
    const taken = area(MARGIN_MM, topMm, across, mm);
    topMm += mm + gapMm;
    return taken;
  };
  const large = heightMm >= 120;
  drawWay(board, label, take(large ? 21 : 15));
  drawRule(board, MARGIN_MM, topMm - 0.4, across);
  const middle = take(large ? 14 : 11, 1.2);
  const dateMm = label.earliestUseBy === null ? 0 : across * 0.62;
  drawEarliest(board, label, { ...middle, widthMm: dateMm });
  const besideMm = dateMm === 0 ? 0 : dateMm + 2;
  drawNotes(board, label, { ...middle, xMm: middle.xMm + besideMm, widthMm: across - besideMm });
  if (label.heldNote !== null) {
    const note = take(7);
    drawBox(board, note, null, 0.5);
    write(board, 'hold', [[bold(label.heldNote)]], inset(note, 1.5, 0.4), { sizes: { maxPt: 11, minPt: SMALLEST_PT } });
  }
  const barsTopMm = heightMm - MARGIN_MM - HRI_MM - BARS_MM;
  drawContents(board, label, area(MARGIN_MM, topMm, across, barsTopMm - 2.4 - topMm));
  drawRule(board, MARGIN_MM, barsTopMm - 1.6, across);
  drawSscc(board, label.sscc, area(0, barsTopMm, widthMm, BARS_MM));
  const hri = area(MARGIN_MM, barsTopMm + BARS_MM, across, HRI_MM);
  write(board, 'SSCC', [[regular(ssccText(label.sscc))]], hri, {
    sizes: { maxPt: (HRI_MM * MM) / 1.2, minPt: 8 },
    align: 'center',
  });
  return { widthMm, heightMm, marks: board.marks };
}
