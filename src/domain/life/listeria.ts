/**
 * Growth of Listeria monocytogenes by temperature: the exponential growth rate at 5 °C (EGR5, log10 per day), carried to another
 * temperature by the square-root relation. Without lag and without a level to stop at: both err to more growth.
 *
 * Source: FDA/FSIS/CDC 2003, Quantitative Assessment ... Listeria monocytogenes, appendix 8 table 1 (rows read). The minimum of -1.18 °C
 * is not in its text; it gives 19 of its 22 rows. EFSA's data on sweetcorn (EFSA Journal 2020;18(4):6092, table 14) go with about -3.7 °C. So
 * the minimum belongs to the product. A colder one means more growth below the temperature that the rate was measured at, and less above.
 */
import { integratedOver, type Piece } from './exposure.ts';
import { squareRootFactor } from './relative-rates.ts';

/** Recomputed from FDA/FSIS/CDC 2003, not read. */
export const LISTERIA_USUAL_MIN_TEMPERATURE_C = -1.18;
/** The temperature of EGR5. */
export const LISTERIA_REFERENCE_C = 5;
/** Regulation (EC) 2073/2005, as tabulated in EFSA Journal 2023;21(12):8442 table 30 (read). */
export const LISTERIA_LIMIT_CFU_PER_G = 100;

/** EGR5 from a growth seen at another temperature, log10 per day. */
export function growthAt5CLog10PerDay(
  seen: { readonly log10PerDay: number; readonly temperatureC: number },
  minTemperatureC: number,
): number {
  return seen.log10PerDay * squareRootFactor(LISTERIA_REFERENCE_C, seen.temperatureC, minTemperatureC);
}

/** Increase over the pieces, log10. */
export function listeriaLog10Increase(
  pieces: readonly Piece[],
  { at5CLog10PerDay, minTemperatureC }: { readonly at5CLog10PerDay: number; readonly minTemperatureC: number },
): number {
  const perH = at5CLog10PerDay / 24;
  return integratedOver(
    pieces,
    (temperatureC) => perH * squareRootFactor(temperatureC, LISTERIA_REFERENCE_C, minTemperatureC),
  );
}

/** The most there may have been at the start, cfu/g, for the limit to hold after that increase (EFSA Journal 2020;18(4):6092 table 14). */
export function highestInitialCfuPerG(log10Increase: number, limitCfuPerG = LISTERIA_LIMIT_CFU_PER_G): number {
  return limitCfuPerG / 10 ** log10Increase;
}
