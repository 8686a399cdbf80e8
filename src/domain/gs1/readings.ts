/**
 * What the elements of a scan mean: article, lot, serial, dates as whole dates, weight in grams. Two different values under one
 * identifier, or two weights, mean nothing: the field stays empty and a warning says so.
 */
import { gramsOf, decimalOf } from './amounts.ts';
import { associationWarnings, type ScanWarning } from './associations.ts';
import { resolveDate } from './dates.ts';
import { linkOf } from './digital-links.ts';
import { bracketed } from './element-strings.ts';
import { type Gs1Element, identifierNamed } from './identifiers.ts';
import { ScanUnreadable } from './unreadable.ts';

export type ScanForm = 'element-string' | 'digital-link' | 'bracketed' | 'gtin' | 'lot-code';

/** A use-by as the symbol has it; `time` is HH:MM by the clock where it was packed, only with (7003). */
interface SymbolUseBy {
  readonly date: string;
  readonly time: string | null;
  readonly ai: string;
}

export interface ScanReading {
  readonly form: ScanForm;
  /** as `]d2`; null when the reader sent none */
  readonly symbologyIdentifier: string | null;
  readonly elements: readonly { readonly ai: string; readonly value: string; readonly title: string }[];
  readonly warnings: readonly ScanWarning[];
  /** 14 digits */
  readonly gtin: string | null;
  readonly lotCode: string | null;
  readonly serial: string | null;
  readonly sscc: string | null;
  /** from (17) or (7003); the earlier one when both are there */
  readonly useBy: SymbolUseBy | null;
  /** dates are `YYYY-MM-DD` */
  readonly bestBefore: string | null;
  readonly productionDate: string | null;
  readonly packedOn: string | null;
  /** whole grams; null also when the symbol has parts of a gram */
  readonly netWeightG: number | null;
  /** kilograms, as a decimal text, exactly as the symbol has it */
  readonly netWeightKg: string | null;
  /** pieces in this thing (30), or of the contained article in a crate (37) */
  readonly count: number | null;
  /** the place itself (414) */
  readonly gln: string | null;
  /** where a crate is to go (410) */
  readonly shipToGln: string | null;
  /** the article inside a crate (02), 14 digits */
  readonly contentGtin: string | null;
  /** canonical Digital Link, when the elements have one */
  readonly digitalLink: string | null;
  readonly bracketed: string | null;
}

function useByOf(
  expiry: string | null,
  expiryTime: string | null,
  dateOf: (text: string) => string,
): SymbolUseBy | null {
  const day = expiry === null ? null : { date: dateOf(expiry), time: null, ai: '17' };
  if (expiryTime === null) return day;
  const time = `${expiryTime.slice(6, 8)}:${expiryTime.slice(8, 10)}`;
  const minute = { date: dateOf(expiryTime), time, ai: '7003' };
  return day !== null && day.date < minute.date ? day : minute;
}

/**
 * The reading of elements that were read already.
 * @param readOn the day of reading, `YYYY-MM-DD`: two-digit years are told by it
 * @throws ScanUnreadable when a date does not exist in the century that the day of reading gives
 */
export function readingOf(
  form: ScanForm,
  symbologyIdentifier: string | null,
  elements: readonly Gs1Element[],
  readOn: string,
): ScanReading {
  const values = new Map<string, string | null>();
  for (const { ai, value } of elements) {
    const before = values.get(ai);
    values.set(ai, before === undefined || before === value ? value : null);
  }
  const valueOf = (ai: string): string | null => values.get(ai) ?? null;
  const dateOf = (text: string): string => {
    try {
      return resolveDate(text, readOn);
    } catch {
      throw new ScanUnreadable(0, `There is no such day: ${text.slice(0, 6)}.`);
    }
  };
  const dated = (ai: string): string | null => {
    const value = valueOf(ai);
    return value === null ? null : dateOf(value);
  };
  const weights = [...values.keys()].filter((ai) => ai.startsWith('310'));
  const weightAi = weights.length === 1 ? (weights[0] ?? '') : '';
  const weight = valueOf(weightAi);
  const count = valueOf('30') ?? valueOf('37');
  return {
    form,
    symbologyIdentifier,
    elements: elements.map(({ ai, value }) => ({ ai, value, title: identifierNamed(ai)?.title ?? '' })),
    warnings: associationWarnings(elements),
    gtin: valueOf('01'),
    lotCode: valueOf('10'),
    serial: valueOf('21'),
    sscc: valueOf('00'),
    useBy: useByOf(valueOf('17'), valueOf('7003'), dateOf),
    bestBefore: dated('15'),
    productionDate: dated('11') ?? dated('8008'),
    packedOn: dated('13'),
    netWeightG: weight === null ? null : gramsOf(weightAi, weight),
    netWeightKg: weight === null ? null : (decimalOf(weightAi, weight)?.decimal ?? null),
    count: count === null ? null : Number(count),
    gln: valueOf('414'),
    shipToGln: valueOf('410'),
    contentGtin: valueOf('02'),
    digitalLink: linkOf(elements),
    bracketed: elements.length === 0 ? null : bracketed(elements),
  };
}
