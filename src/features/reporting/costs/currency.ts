/** Minor units of currencies by ISO 4217 (list one, as the package `currency-codes` carries it). Not CLDR's, which rounds to how cash is paid. */
import currencies from 'currency-codes';

/** @returns digits after the point: 2 for GBP, 0 for JPY, 3 for KWD; 2 where the list has none (common practice) */
export function minorDigitsOf(currency: string): number {
  return currencies.code(currency)?.digits ?? 2;
}
