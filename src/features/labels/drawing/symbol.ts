/**
 * Barcodes as paths of whole modules. The library refuses what the GS1 rules refuse (check digits, dates, lengths, characters,
 * elements that need or exclude one another), so a label that breaks them is never drawn.
 *
 * Sizes: a module (X-dimension) is a whole number of the printer's dots and between 0.375 and 0.99 mm for two-dimensional
 * symbols, 0.495 and 0.94 mm for GS1-128 on logistic labels, which is at least 31.75 mm high (GS1 General Specifications, symbol
 * specification tables, from memory). White around it: 1 module for Data Matrix, 4 for QR, 10 on both sides of GS1-128 (the last
 * GS1 General Specifications 5.4.4.2, 2018 edition; the others ISO/IEC 16022 and 18004, from memory).
 */
import bwip from 'bwip-js/node';
import { bwipText } from '../../../domain/gs1/index.ts';
import type { SymbolContent } from './content.ts';
import { drawBox, type Area, type Board } from './sketch.ts';

const MATRIX_MM = { least: 0.375, most: 0.99 };
const LINEAR_MM = { least: 0.495, most: 0.94 };
const QUIET_MODULES = { datamatrix: 1, qrcode: 4, linear: 10 };
const LINEAR_HEIGHT_MM = 31.75;
/** A length short of a whole number of dots by less than this is rounding. */
const ROUNDING = 1e-6;

/** Units of the path to a module, as the library draws at scale 1. */
const UNITS = 2;

/** A two-dimensional symbol before it has a size. */
export interface Matrix {
  readonly path: string;
  readonly modules: number;
  readonly quietModules: number;
}

function optionsOf(symbol: SymbolContent): { bcid: string; text: string; parse?: boolean; eclevel?: string } {
  switch (symbol.kind) {
    case 'gs1datamatrix':
      return { bcid: 'gs1datamatrix', text: bwipText(symbol.elements), parse: true };
    case 'gs1qrcode':
      return { bcid: 'gs1qrcode', text: bwipText(symbol.elements), parse: true, eclevel: 'M' };
    case 'gs1qrcode-digital-link':
      return { bcid: 'gs1dlqrcode', text: symbol.uri, eclevel: 'M' };
    case 'datamatrix':
      return { bcid: 'datamatrix', text: symbol.text };
  }
}

/** @throws RangeError when the elements break the rules of GS1 */
export function matrixOf(symbol: SymbolContent): Matrix {
  let svg: string;
  try {
    svg = bwip.toSVG({ ...optionsOf(symbol), scale: 1 });
  } catch (error) {
    // The library's messages name the element and the rule.
    throw new RangeError(`The barcode cannot hold this: ${(error as Error).message}`, { cause: error });
  }
  const units = Number(/viewBox="0 0 ([\d.]+) /.exec(svg)?.[1]);
  const path = [...svg.matchAll(/<path d="([^"]+)"/g)].map(([, d]) => d).join('');
  const modules = units / UNITS;
  if (!Number.isInteger(modules) || path === '') throw new Error('The barcode library drew nothing');
  return {
    path,
    modules,
    quietModules: symbol.kind.startsWith('gs1qr') ? QUIET_MODULES.qrcode : QUIET_MODULES.datamatrix,
  };
}

/** The widest module of whole dots, within the limits, with which `modules` stand in `roomMm`. */
function moduleMm(roomMm: number, modules: number, dotMm: number, limits: { least: number; most: number }): number {
  const dots = Math.floor(Math.min(roomMm / modules, limits.most) / dotMm + ROUNDING);
  const mm = dots * dotMm;
  if (mm < limits.least - ROUNDING) {
    throw new RangeError('The label has no room for its barcode: its modules would be too small to scan');
  }
  return mm;
}

const onDot = (mm: number, dotMm: number): number => Math.round(mm / dotMm) * dotMm;

/** The least side of a square for the symbol, quiet zone included. */
export function leastSideMm({ modules, quietModules }: Matrix, dotMm: number): number {
  return (modules + 2 * quietModules) * Math.ceil(MATRIX_MM.least / dotMm - ROUNDING) * dotMm;
}

/**
 * Draws a two-dimensional symbol in the middle of a square, quiet zone included.
 * @throws RangeError when it has no room
 */
export function drawSymbol(board: Board, { path, modules, quietModules }: Matrix, at: Area): void {
  const mm = moduleMm(Math.min(at.widthMm, at.heightMm), modules + 2 * quietModules, board.dotMm, MATRIX_MM);
  drawBox(board, at, 'white');
  const xMm = onDot(at.xMm + (at.widthMm - modules * mm) / 2, board.dotMm);
  const yMm = onDot(at.yMm + (at.heightMm - modules * mm) / 2, board.dotMm);
  board.marks.push({ kind: 'symbol', path, xMm, yMm, mmPerUnit: mm / UNITS });
}

/**
 * An SSCC as GS1-128 in the middle of an area, bars 31.75 mm high or what the area has if that is more.
 * @throws RangeError when the code is no SSCC or the bars have no room
 */
export function drawSscc(board: Board, sscc: string, at: Area): void {
  let bars: readonly number[];
  try {
    const [raw] = bwip.raw({ bcid: 'gs1-128', text: `(00)${sscc}` }) as unknown as [{ sbs: readonly number[] }];
    bars = [...raw.sbs];
  } catch (error) {
    throw new RangeError(`The barcode cannot hold this: ${(error as Error).message}`, { cause: error });
  }
  const modules = bars.reduce((sum, bar) => sum + bar, 0);
  const mm = moduleMm(at.widthMm, modules + 2 * QUIET_MODULES.linear, board.dotMm, LINEAR_MM);
  if (at.heightMm < LINEAR_HEIGHT_MM) throw new RangeError('The label has no room for bars of 31.75 mm');
  const startMm = onDot(at.xMm + (at.widthMm - modules * mm) / 2, board.dotMm);
  const yMm = onDot(at.yMm, board.dotMm);
  const heightMm = Math.ceil(LINEAR_HEIGHT_MM / board.dotMm - ROUNDING) * board.dotMm;
  let path = '';
  let atModule = 0;
  bars.forEach((bar, index) => {
    if (index % 2 === 0) path += `M${atModule} 0H${atModule + bar}V${heightMm / mm}H${atModule}Z`;
    atModule += bar;
  });
  board.marks.push({ kind: 'symbol', path, xMm: startMm, yMm, mmPerUnit: mm });
}
