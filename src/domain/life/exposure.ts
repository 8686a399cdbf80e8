/**
 * What food has been through, as pieces of time with a temperature each, and the sum of a rate over them. Hours and °C throughout.
 *
 * Every rate here rises with temperature and a piece's temperature only rises or only falls, so the rate is largest at one of a piece's
 * ends: nothing that matters can hide between the points that the integration looks at.
 */

/** A stretch of time: constant when both ends are the same, else a straight line from one to the other. */
export interface Piece {
  /** above zero */
  readonly durationH: number;
  readonly fromC: number;
  readonly toC: number;
}

/**
 * What is taken to hold between two readings: `step` the earlier one, `line` a straight line between them, `warmer-end` the warmer of the
 * two all the time. The last never gives more life than either of the others.
 */
export type BetweenReadings = 'step' | 'line' | 'warmer-end';

export interface TimedTemperature {
  readonly atMs: number;
  readonly temperatureC: number;
}

const MS_PER_H = 3_600_000;
/** Halvings of one piece; a jump in the rate is found to a billionth of the piece. */
const MOST_HALVINGS = 30;
/** Relative to the piece with its larger end held all the time, which no piece exceeds. */
const TOLERANCE = 1e-10;

/**
 * Pieces from readings in ascending order of time; n readings make n - 1 pieces. What comes after the last reading is not in them.
 * @throws RangeError when a reading is not later than the one before
 */
export function piecesBetween(readings: readonly TimedTemperature[], rule: BetweenReadings): Piece[] {
  return readings.slice(1).map((next, at) => {
    const { atMs, temperatureC } = readings[at] as TimedTemperature;
    const durationH = (next.atMs - atMs) / MS_PER_H;
    if (!(durationH > 0)) throw new RangeError('Readings are not in ascending order of time');
    if (rule === 'line') return { durationH, fromC: temperatureC, toC: next.temperatureC };
    const heldC = rule === 'step' ? temperatureC : Math.max(temperatureC, next.temperatureC);
    return { durationH, fromC: heldC, toC: heldC };
  });
}

export function warmestC({ fromC, toC }: Piece): number {
  return Math.max(fromC, toC);
}

export function totalH(pieces: readonly Piece[]): number {
  return pieces.reduce((sum, { durationH }) => sum + durationH, 0);
}

/**
 * The integral of a rate over a piece: rate per hour in, a plain number out. Exact for a constant temperature; along a line adaptive
 * Simpson's rule (halve the stretch until both halves agree with the whole), to 1e-10 of the piece held at its warmer end.
 * @param ratePerH of a temperature in °C; zero or above, never falling with temperature
 */
export function integrated({ durationH, fromC, toC }: Piece, ratePerH: (temperatureC: number) => number): number {
  const start = ratePerH(fromC);
  if (fromC === toC) return durationH * start;
  const end = ratePerH(toC);
  const largest = Math.max(start, end);
  if (largest === 0) return 0;
  const rateAt = (share: number): number => ratePerH(fromC + share * (toC - fromC));
  const middle = rateAt(0.5);
  const whole = simpson(1, start, middle, end);
  return durationH * halved(rateAt, { from: 0, width: 1, start, middle, end, whole }, TOLERANCE * largest, 0);
}

interface Stretch {
  readonly from: number;
  readonly width: number;
  readonly start: number;
  readonly middle: number;
  readonly end: number;
  readonly whole: number;
}

function simpson(width: number, start: number, middle: number, end: number): number {
  return (width / 6) * (start + 4 * middle + end);
}

function halved(rateAt: (share: number) => number, stretch: Stretch, tolerance: number, depth: number): number {
  const { from, width, start, middle, end, whole } = stretch;
  const half = width / 2;
  const first = rateAt(from + half / 2);
  const second = rateAt(from + half + half / 2);
  const left = simpson(half, start, first, middle);
  const right = simpson(half, middle, second, end);
  const off = left + right - whole;
  // Richardson: the error of both halves is a fifteenth of what halving changed. The first halvings are never trusted.
  if (depth >= MOST_HALVINGS || (depth >= 2 && Math.abs(off) <= 15 * tolerance)) return left + right + off / 15;
  const next = depth + 1;
  return (
    halved(rateAt, { from, width: half, start, middle: first, end: middle, whole: left }, tolerance / 2, next) +
    halved(
      rateAt,
      { from: from + half, width: half, start: middle, middle: second, end, whole: right },
      tolerance / 2,
      next,
    )
  );
}

/** The integral over all pieces. */
export function integratedOver(pieces: readonly Piece[], ratePerH: (temperatureC: number) => number): number {
  return pieces.reduce((sum, piece) => sum + integrated(piece, ratePerH), 0);
}
