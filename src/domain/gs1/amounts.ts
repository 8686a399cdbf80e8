/**
 * Weights, measures, prices and temperatures of a symbol. All are whole numbers; the last digit of the identifier says how many of the
 * digits are decimals (31nn to 36nn, 39nn), and temperatures (4330 to 4333) are hundredths with a hyphen behind when below zero. Text
 * in, text out: a float would lose the last digit of a weight.
 */
import { identifierNamed } from './identifiers.ts';

const WITH_DECIMALS = /^3[1-6]..$|^39[0-3].$|^395.$/;
const WITH_CURRENCY = /^39[13].$/;
const TEMPERATURE = /^433[0-3]$/;
const TEMPERATURE_DECIMALS = 2;
const CURRENCY_DIGITS = 3;
const GRAMS_DECIMALS = 3;
const MOST_GRAMS = 999_999;

/** `digits` with `decimals` behind the point, without needless zeros in front. */
function pointed(digits: string, decimals: number): string {
  const padded = digits.replace(/^0+/, '').padStart(decimals + 1, '0');
  return decimals === 0 ? padded : `${padded.slice(0, -decimals)}.${padded.slice(-decimals)}`;
}

/** An amount as a decimal text and its unit: kg, lb, m, l … as in the data title; `°C`, `°F`, or a currency's number. */
export interface SymbolAmount {
  readonly decimal: string;
  readonly unit: string | null;
}

/**
 * What the value of an identifier with decimals means.
 * @returns null for an identifier that has no decimals
 */
export function decimalOf(ai: string, value: string): SymbolAmount | null {
  if (TEMPERATURE.test(ai)) {
    const below = value.endsWith('-');
    const degrees = pointed(below ? value.slice(0, -1) : value, TEMPERATURE_DECIMALS);
    return { decimal: below ? `-${degrees}` : degrees, unit: ai === '4331' || ai === '4333' ? '°C' : '°F' };
  }
  if (!WITH_DECIMALS.test(ai)) return null;
  const decimals = Number(ai.charAt(3));
  if (WITH_CURRENCY.test(ai)) {
    return { decimal: pointed(value.slice(CURRENCY_DIGITS), decimals), unit: value.slice(0, CURRENCY_DIGITS) };
  }
  const unit = /\((.+)\)/.exec(identifierNamed(ai)?.title ?? '')?.[1] ?? null;
  return { decimal: pointed(value, decimals), unit };
}

/** Whole grams of a net weight in kilograms (3100 to 3105); null when it is none or has parts of a gram. */
export function gramsOf(ai: string, value: string): number | null {
  if (!/^310[0-5]$/.test(ai)) return null;
  const decimals = Number(ai.charAt(3));
  if (decimals <= GRAMS_DECIMALS) return Number(value) * 10 ** (GRAMS_DECIMALS - decimals);
  const beyond = 10 ** (decimals - GRAMS_DECIMALS);
  return Number(value) % beyond === 0 ? Number(value) / beyond : null;
}

/**
 * The net weight element of a pack, in grams: (3103) up to 999.999 kg.
 * @param grams whole grams, above zero
 * @throws RangeError when the weight is not whole, not above zero, or too heavy for the element
 */
export function netWeightElement(grams: number): { ai: string; value: string } {
  if (!Number.isSafeInteger(grams) || grams <= 0 || grams > MOST_GRAMS) {
    throw new RangeError(`A net weight on a label is 1 to ${MOST_GRAMS} whole grams, not ${grams}`);
  }
  return { ai: '3103', value: String(grams).padStart(6, '0') };
}
