/**
 * Growth of microbes under a temperature that varies, by Baranyi & Roberts 1994 and by the three-phase model. Counts are log10 cfu/g,
 * rates per hour in natural logarithms (1/h), as in the papers; `toNaturalRate` turns log10 per hour into that. Mixing the two is the
 * usual mistake.
 *
 * The equations (Baranyi & Roberts): d ln N/dt = mu(T) q/(1+q) (1 - N/Nmax), dq/dt = mu(T) q, q(0) = 1/(exp(h0) - 1). With h0 and Nmax
 * that do not depend on temperature, time enters only through the work W = ∫ mu(T(t)) dt. So W is integrated over the temperatures with
 * steps that adapt (exposure.ts), and the count follows from W exactly. More warmth makes more work and so never a smaller count; a solver
 * that steps through the pair itself could only promise that up to its error.
 *
 * Sources: explicit form as printed in Korean J. Food Preserv. 26(2):135 Table 1 (read); q0 from h0 in kosfaj 37(4):579 Table 4 (read).
 * Three-phase parameters for L. monocytogenes at 37 °C: PMC4619785 Table 8 (read).
 */
import { integratedOver, type Piece } from './exposure.ts';

interface Culture {
  readonly initialLog10: number;
  readonly maxLog10: number;
  /** h0, the work to be done before growth begins: mu times lag, no unit; 0 is no lag and the cautious choice */
  readonly lagWork: number;
}

/** Natural logarithms per hour from log10 per hour. */
export function toNaturalRate(log10PerH: number): number {
  return log10PerH * Math.LN10;
}

/** W, no unit. @param naturalRatePerH mu of a temperature in °C, 1/h; never falling with temperature */
export function growthWork(pieces: readonly Piece[], naturalRatePerH: (temperatureC: number) => number): number {
  return integratedOver(pieces, naturalRatePerH);
}

/** ln q0 of a lag work above zero: the state of the cells at the start. */
export function lnInitialState(lagWork: number): number {
  return -Math.log(Math.expm1(lagWork));
}

/** Count after that work, log10 cfu/g, by Baranyi & Roberts. Error: that of the work. */
export function baranyiLog10({ initialLog10, maxLog10, lagWork }: Culture, work: number): number {
  // A = W + ln(exp(-W) + exp(-h0) - exp(-W-h0)) with W drawn in: neither much work nor a long lag overflows.
  const adjusted = Math.log1p(Math.exp(work - lagWork) - Math.exp(-lagWork));
  const room = (maxLog10 - initialLog10) * Math.LN10;
  // y0 + A - ln(1 + (exp(A) - 1) / exp(room)), likewise.
  const grown = -Math.log(Math.exp(-adjusted) - Math.expm1(-adjusted) * Math.exp(-room));
  return initialLog10 + grown / Math.LN10;
}

/** Count after that work, log10 cfu/g: nothing until the lag work is done, then straight up, then level. */
export function threePhaseLog10({ initialLog10, maxLog10, lagWork }: Culture, work: number): number {
  return Math.min(maxLog10, initialLog10 + Math.max(0, work - lagWork) / Math.LN10);
}
