/**
 * The label on a sealed pack, black on white for thermal printers. Why it looks as it does: the use-by is read at arm's length in
 * a cold room, so it is the largest thing; dates are day, month, year and uncoded (Regulation (EU) No 1169/2011 Annex X);
 * allergens are emphasised within the list (Art. 21(1)(b), number from memory); texture and diets stand apart in boxes, because
 * a wrong one harms. Two compositions: wide ones have the words across the whole width, small ones beside the barcode.
 *
 * Throws RangeError when a date is none, or safety words or the barcode do not fit: no label is better than one that leaves out
 * an allergen. Only the name of the dish and the line of who packed it give way.
 */
import type { LabelContent } from './content.ts';
import type { LabelLayout } from './layouts.ts';
import * as part from './parts.ts';
import { area, bold, drawRule, dotMm, regular, write, writeShort } from './sketch.ts';
import type { Area, Board, Dpi, Sketch } from './sketch.ts';
import { drawSymbol, leastSideMm, matrixOf } from './symbol.ts';
import type { Meter } from './text-fit.ts';
import { madeText, netWeight, readable, wordsOf } from './texts.ts';

type Size = Pick<LabelLayout, 'widthMm' | 'heightMm'>;

/** A barcode may grow to this when it holds much; beyond it words would lose too much room. */
const MOST_SYMBOL_MM = 30;

const within = (value: number, least: number, most: number): number => Math.min(most, Math.max(least, value));

/** How large things are, as a multiple of those on 100 x 60 mm. */
const scaleOf = (size: Size): number => within(size.heightMm / 60, 0.75, 1.5);

function drawWeight(board: Board, label: LabelContent, at: Area, maxPt: number): void {
  if (label.netWeightG === null) return;
  const runs = [[bold(netWeight(label.netWeightG, wordsOf(label).language))]];
  write(board, 'net weight', runs, at, { sizes: { maxPt, minPt: 6 }, align: 'right' });
}

/** From the bottom upwards: who packed it, what the barcode says, lot and weight, a rule. Answers the height taken. */
function drawFoot(board: Board, label: LabelContent, at: Area, scale: number): number {
  const { xMm, widthMm } = at;
  const bottomMm = at.yMm + at.heightMm;
  const rowMm = {
    made: 3.6 * within(scale, 0.85, 1.3),
    codes: 4.6 * within(scale, 0.85, 1.4),
    text: 2.6 * within(scale, 0.9, 1.2),
  };
  const text = readable(label);
  let topMm = bottomMm - rowMm.made;
  const made = area(xMm, topMm, widthMm, rowMm.made);
  writeShort(board, regular(madeText(label)), made, {
    sizes: { maxPt: 7 * within(scale, 0.9, 1.3), minPt: part.SMALLEST_PT },
  });
  if (text !== null) {
    topMm -= rowMm.text;
    const sizes = { maxPt: 6 * within(scale, 0.9, 1.2), minPt: 4 };
    writeShort(board, regular(text), area(xMm, topMm, widthMm, rowMm.text), { sizes });
  }
  topMm -= 0.2;
  const netMm = label.netWeightG === null ? 0 : 26 * within(scale, 0.9, 1.3);
  const codes = { heightsMm: [rowMm.codes, 4.6], maxPt: 10 * within(scale, 0.9, 1.3) };
  topMm -= part.drawCodes(board, label, { xMm, bottomMm: topMm, widthMm: widthMm - netMm }, codes);
  drawWeight(board, label, area(xMm + widthMm - netMm, topMm, netMm, rowMm.codes), 10.5 * within(scale, 0.9, 1.3));
  topMm -= 0.5;
  drawRule(board, xMm, topMm, widthMm);
  return bottomMm - topMm;
}

/** The row of texture and diets across the label. */
function drawMarks(board: Board, label: LabelContent, at: Area): void {
  const both = part.hasTexture(label) && part.hasDiets(label);
  const textureMm = both ? at.widthMm * 0.48 : at.widthMm;
  if (part.hasTexture(label)) part.drawTexture(board, label, { ...at, widthMm: textureMm });
  const dietsMm = both ? at.widthMm - textureMm - 1 : at.widthMm;
  if (part.hasDiets(label))
    part.drawDiets(board, label, { ...at, xMm: at.xMm + at.widthMm - dietsMm, widthMm: dietsMm });
}

function composeWide(board: Board, label: LabelContent, size: Size): void {
  const scale = scaleOf(size);
  const marginMm = size.heightMm < 56 ? 2.2 : 2.8;
  const widthMm = size.widthMm - 2 * marginMm;
  const symbol = matrixOf(part.symbolOf(label));
  const symbolMm = within(leastSideMm(symbol, board.dotMm), 20 * scale, MOST_SYMBOL_MM);
  const handlingMm = 5 * within(scale, 0.92, 1.4);
  const gapMm = 0.9;
  const topMm = symbolMm + gapMm + handlingMm;
  const dateMm = topMm * 0.51;
  const leftMm = widthMm - symbolMm - 2;
  const dish = area(marginMm, marginMm, leftMm, topMm - dateMm - gapMm);
  writeShort(board, bold(label.dish), dish, { sizes: { maxPt: 18 * scale, minPt: 8 } });
  const rightMm = marginMm + widthMm - symbolMm;
  drawSymbol(board, symbol, area(rightMm, marginMm, symbolMm, symbolMm));
  part.drawDate(board, label, area(marginMm, marginMm + topMm - dateMm, leftMm, dateMm));
  const handlingAt = { xMm: rightMm, yMm: marginMm + topMm - handlingMm, widthMm: symbolMm };
  part.drawHandling(board, label, handlingAt, [handlingMm]);
  let bodyMm = marginMm + topMm + 1.1;
  if (part.hasTexture(label) || part.hasDiets(label)) {
    const marksMm = 6.4 * within(scale, 0.85, 1.6);
    drawMarks(board, label, area(marginMm, bodyMm, widthMm, marksMm));
    bodyMm += marksMm + 0.9;
  }
  const inner = area(marginMm, marginMm, widthMm, size.heightMm - 2 * marginMm);
  const footMm = drawFoot(board, label, inner, scale);
  const leftOverMm = size.heightMm - marginMm - footMm - 0.5 - bodyMm;
  part.drawBody(board, label, area(marginMm, bodyMm, widthMm, leftOverMm), 8.5 * within(scale, 1, 1.4));
}

/**
 * Heights of the dish's name, the date and the texture on small labels, as shares of the label's, and of the barcode as a share of its
 * column; the second where words need the room.
 */
const SMALL_SHARES = [
  { dish: 0.18, date: 0.25, texture: 0.18, symbol: 1 },
  { dish: 0.13, date: 0.2, texture: 0.12, symbol: 0.85 },
] as const;

/** Small labels: barcode, handling and diets in a column on the right, words and texture on the left, codes and weight across the foot. */
function composeSmall(board: Board, label: LabelContent, size: Size, shares: (typeof SMALL_SHARES)[number]): void {
  const marginMm = size.heightMm < 36 ? 1.5 : 2;
  const acrossMm = size.widthMm - 2 * marginMm;
  const heightMm = size.heightMm - 2 * marginMm;
  const symbol = matrixOf(part.symbolOf(label));
  const usualMm = within(heightMm * 0.42, 14.8, 20);
  const columnMm = within(leastSideMm(symbol, board.dotMm), usualMm, MOST_SYMBOL_MM);
  const leftMm = acrossMm - columnMm - 1.2;
  const rightMm = size.widthMm - marginMm - columnMm;

  const madeMm = 2.2;
  const madeTopMm = marginMm + heightMm - madeMm;
  const sizes = { maxPt: 6, minPt: part.SMALLEST_PT };
  writeShort(board, regular(madeText(label)), area(marginMm, madeTopMm, acrossMm, madeMm), { sizes });
  const netMm = label.netWeightG === null ? 0 : columnMm;
  drawWeight(board, label, area(rightMm, madeTopMm - 3.4, columnMm, 3.4), 10);
  const codesAt = { xMm: marginMm, bottomMm: madeTopMm, widthMm: acrossMm - netMm };
  const footMm = madeTopMm - 0.2 - part.drawCodes(board, label, codesAt, { heightsMm: [3.2, 4.2], maxPt: 8 });
  drawRule(board, marginMm, footMm, acrossMm, 0.2);

  const symbolMm = Math.max(leastSideMm(symbol, board.dotMm), columnMm * shares.symbol);
  drawSymbol(board, symbol, area(rightMm, marginMm, columnMm, symbolMm));
  const handlingAt = { xMm: rightMm, yMm: marginMm + symbolMm + 0.4, widthMm: columnMm };
  const handlingMm = part.drawHandling(board, label, handlingAt, [3.2, 4.4]);
  const dietsTopMm = handlingAt.yMm + handlingMm + 0.6;
  if (part.hasDiets(label)) {
    part.drawDiets(board, label, area(rightMm, dietsTopMm, columnMm, within(footMm - 0.6 - dietsTopMm, 1, 12)));
  }

  const dishMm = heightMm * shares.dish;
  const dateMm = heightMm * shares.date;
  const dish = area(marginMm, marginMm, leftMm, dishMm);
  writeShort(board, bold(label.dish), dish, { sizes: { maxPt: 14, minPt: 6 } });
  part.drawDate(board, label, area(marginMm, marginMm + dishMm + 0.4, leftMm, dateMm));
  let bodyMm = marginMm + dishMm + dateMm + 0.9;
  if (part.hasTexture(label)) {
    const textureMm = within(heightMm * shares.texture, 4.6, 9);
    part.drawTexture(board, label, area(marginMm, bodyMm, leftMm, textureMm));
    bodyMm += textureMm + 0.5;
  }
  part.drawBody(board, label, area(marginMm, bodyMm, leftMm, footMm - 0.4 - bodyMm), 7.5);
}

function composeSmallest(board: Board, label: LabelContent, size: Size): void {
  const [usual, tight] = SMALL_SHARES;
  const trial: Board = { ...board, marks: [] };
  try {
    composeSmall(trial, label, size, usual);
    board.marks.push(...trial.marks);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    composeSmall(board, label, size, tight);
  }
}

/** @throws RangeError when something that must be there has no room, or is no date or weight */
export function sketchPack(label: LabelContent, layout: LabelLayout, dpi: Dpi, meter: Meter): Sketch {
  const { widthMm, heightMm } = layout;
  const board: Board = { meter, dotMm: dotMm(dpi), marks: [] };
  const compose = widthMm >= 90 && heightMm >= 48 ? composeWide : composeSmallest;
  compose(board, label, layout);
  return { widthMm, heightMm, marks: board.marks };
}
