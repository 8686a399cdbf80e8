/**
 * Advisory time until psychrotrophic (non-proteolytic) Clostridium botulinum could have made toxin: log10(days) = 0.65 - 0.0525 T + 2.74/T.
 *
 * FROM MEMORY. The paper (Skinner & Larkin 1998, J. Food Prot. 61(9):1154-1160) is known by its abstract; the coefficients were not found in
 * its text. A second line in circulation (0.974 - 0.042 T + 2.74/T) allows longer than toxin was actually seen and must not be used. What
 * holds this one is that it stays under every earliest observation below (read). So it warns; it never drives a date, a relabel or a hold,
 * and never lengthens anything. Below 3 °C it says nothing (FSA 2008, read: no growth below 3 °C; the line itself bends up there).
 */
import { integratedOver, type Piece } from './exposure.ts';

/** FSA factsheet 'Vacuum packed chilled foods', 2008 (read). US tables say 3.3 °C; the lower one counts. */
export const TOXIN_LOWEST_C = 3;
const HOURS_PER_DAY = 24;

/**
 * Hours to possible toxin at a constant temperature; null below 3 °C, where the line is not used. Falls as the temperature rises; beyond the
 * warmest observation (30 °C) it is carried on, which errs to less time.
 */
export function timeToToxinH(temperatureC: number): number | null {
  if (!(temperatureC >= TOXIN_LOWEST_C)) return null;
  return HOURS_PER_DAY * 10 ** (0.65 - 0.0525 * temperatureC + 2.74 / temperatureC);
}

/** Share of the time to possible toxin that the pieces took; from 1 on the line no longer excludes toxin. */
export function usedOfToxinTime(pieces: readonly Piece[]): number {
  return integratedOver(pieces, (temperatureC) => {
    const hours = timeToToxinH(temperatureC);
    return hours === null ? 0 : 1 / hours;
  });
}
