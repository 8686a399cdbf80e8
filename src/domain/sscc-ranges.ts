/**
 * Serial Shipping Container Codes (GS1 General Specifications, AI (00)): extension digit, company prefix, serial reference, check digit:
 * 18 digits in all, so that prefix and serial reference share 16. Pure.
 */
import { Refused } from './errors.ts';
import { checkDigit } from './gs1/index.ts';

export interface SsccRange {
  readonly rangeId: string;
  /** 4 to 12 digits */
  readonly companyPrefix: string;
  readonly extensionDigit: number;
  /** the highest serial reference that was given; one below the first when none was */
  readonly lastSerial: number;
}

const BODY_DIGITS = 16;

/** The highest serial reference that fits beside a company prefix: twelve nines beside four digits, four beside twelve. */
export const highestSerial = (companyPrefix: string): number => 10 ** (BODY_DIGITS - companyPrefix.length) - 1;

/** @throws RangeError when the serial reference does not fit beside the prefix */
export function ssccOf({ companyPrefix, extensionDigit }: Omit<SsccRange, 'rangeId' | 'lastSerial'>, serial: number) {
  if (!Number.isSafeInteger(serial) || serial < 0 || serial > highestSerial(companyPrefix))
    throw new RangeError(`serial reference ${serial} does not fit beside company prefix ${companyPrefix}`);
  const body = `${extensionDigit}${companyPrefix}${String(serial).padStart(BODY_DIGITS - companyPrefix.length, '0')}`;
  return body + checkDigit(body);
}

export interface Allocation {
  readonly ssccs: readonly string[];
  /** ranges that numbers were taken from, with their last serial references now */
  readonly ranges: readonly Pick<SsccRange, 'rangeId' | 'lastSerial'>[];
}

/**
 * The next numbers, of the ranges in their order: one is used up before the next begins.
 * Refusals: `no-company-prefix` when there is no range, `sscc-used-up` when there are fewer numbers left than asked for.
 */
export function allocateSsccs(ranges: readonly SsccRange[], count: number): Allocation {
  if (ranges.length === 0)
    throw new Refused(
      'no-company-prefix',
      'There is no company prefix to make SSCCs of: a range has to be added first.',
    );
  const ssccs: string[] = [];
  const taken: Pick<SsccRange, 'rangeId' | 'lastSerial'>[] = [];
  for (const range of ranges) {
    const lastSerial = Math.min(highestSerial(range.companyPrefix), range.lastSerial + count - ssccs.length);
    if (lastSerial === range.lastSerial) continue;
    for (let serial = range.lastSerial + 1; serial <= lastSerial; serial += 1) ssccs.push(ssccOf(range, serial));
    taken.push({ rangeId: range.rangeId, lastSerial });
  }
  if (ssccs.length < count)
    throw new Refused('sscc-used-up', `${ssccs.length} numbers are left and ${count} were asked for; none was given.`);
  return { ssccs, ranges: taken };
}

/** Two ranges that can come to the same number: same extension digit, and one prefix begins with the other. */
export function rangesOverlap(
  a: Pick<SsccRange, 'companyPrefix' | 'extensionDigit'>,
  b: Pick<SsccRange, 'companyPrefix' | 'extensionDigit'>,
): boolean {
  return (
    a.extensionDigit === b.extensionDigit &&
    (a.companyPrefix.startsWith(b.companyPrefix) || b.companyPrefix.startsWith(a.companyPrefix))
  );
}
