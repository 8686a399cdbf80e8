/**
 * A scan as any reader sends it: with or without the symbology identifier of ISO/IEC 15424 in front, an element string, a Digital Link,
 * brackets typed by hand, a bare GTIN, or a plain lot code of ours (LOT or LOT/SERIAL).
 *
 * Without a symbology identifier nothing says that a text is GS1's. Then it is an element string when it has a GS in it, or when it
 * reads as one whose first element is a GTIN, an SSCC or a content GTIN with a right check digit; a GS in front (some readers send the
 * first FNC1) is dropped. Everything else is a lot code if it can be one.
 */
import { isLotCode, isValidGtin } from './check-digits.ts';
import { isWebAddress, readDigitalLink } from './digital-links.ts';
import { elementsFrom, GS, readBracketed } from './element-strings.ts';
import type { Gs1Element } from './identifiers.ts';
import { readingOf, type ScanReading } from './readings.ts';
import { ScanUnreadable } from './unreadable.ts';

/** Longest scan that is looked at; GS1's largest symbols hold fewer characters (General Specifications 5.6: 2,335 in Data Matrix, from memory). */
const LONGEST_SCAN = 4096;
const SYMBOLOGY_LENGTH = 3;
const GS1_SYMBOLS = ['C1', 'd2', 'Q3', 'e0', 'J1'];
const PLAIN_SYMBOLS = ['C0', 'd1', 'Q1', 'J0', 'A0', 'G0'];
/** symbology identifier → digits of its GTIN */
const GTIN_SYMBOLS: Readonly<Record<string, number>> = { E0: 13, E4: 8, I0: 14, I1: 14 };
const GTIN_DIGITS = 14;
const COMPOSITE = '|]e0';
const FIRST_UNSAID = /^0[012][0-9]{14}/;
/** which of them a lot has is for whoever knows the lot */
const SERIAL = /^[0-9]{1,20}$/;

/** A GTIN symbol, possibly with a composite component that carries elements. */
function readGtin(scan: string, digits: number, readOn: string): ScanReading {
  const bar = scan.indexOf(COMPOSITE);
  const number = scan.slice(SYMBOLOGY_LENGTH, bar < 0 ? undefined : bar);
  const foreign = number.search(/[^0-9]/);
  if (foreign >= 0) throw new ScanUnreadable(SYMBOLOGY_LENGTH + foreign, 'Only digits can stand in this symbol.');
  if (number.length !== digits) {
    throw new ScanUnreadable(SYMBOLOGY_LENGTH + Math.min(number.length, digits), `This symbol has ${digits} digits.`);
  }
  if (!isValidGtin(number)) throw new ScanUnreadable(SYMBOLOGY_LENGTH + digits - 1, 'The check digit is wrong.');
  const gtin: Gs1Element = { ai: '01', value: number.padStart(GTIN_DIGITS, '0') };
  const more = bar < 0 ? [] : elementsFrom(scan, bar + COMPOSITE.length);
  return readingOf('gtin', scan.slice(0, SYMBOLOGY_LENGTH), [gtin, ...more], readOn);
}

/** LOT or LOT/SERIAL as our plain labels write it. */
function readPlain(text: string, symbology: string | null, at: number, readOn: string): ScanReading {
  const slash = text.indexOf('/');
  const lotCode = slash < 0 ? text : text.slice(0, slash);
  const serial = slash < 0 ? null : text.slice(slash + 1);
  if (!isLotCode(lotCode)) {
    const foreign = lotCode.search(/[^!"&'()*+,\-.0-9:;<=>?A-Z_a-z]/);
    const reason = foreign < 0 ? 'A lot code has 1 to 20 characters.' : 'This character cannot stand in a lot code.';
    throw new ScanUnreadable(at + (foreign < 0 ? Math.min(lotCode.length, 20) : foreign), reason);
  }
  if (serial !== null && !SERIAL.test(serial)) {
    throw new ScanUnreadable(at + slash + 1, 'After the slash comes the number of the pack.');
  }
  const plain = { ...readingOf('lot-code', symbology, [], readOn), lotCode, serial };
  if (serial !== null || !isValidGtin(text)) return plain;
  const text14 = text.padStart(GTIN_DIGITS, '0');
  return {
    ...plain,
    gtin: text14,
    warnings: [{ code: 'gtin-or-lot', text: `These digits may be the article ${text14} or a lot code.` }],
  };
}

/** The text of a symbol that does not say that it is GS1's. */
function readUnsaid(scan: string, symbology: string | null, at: number, readOn: string): ScanReading {
  const text = at === 0 ? scan : scan.slice(at);
  const moved = (error: unknown): unknown =>
    error instanceof ScanUnreadable ? new ScanUnreadable(error.position + at, error.reason) : error;
  if (isWebAddress(text)) {
    try {
      return readingOf('digital-link', symbology, readDigitalLink(text), readOn);
    } catch (error) {
      throw moved(error);
    }
  }
  if (text.startsWith('(')) {
    try {
      return readingOf('bracketed', symbology, readBracketed(text), readOn);
    } catch (error) {
      throw moved(error);
    }
  }
  return readPlain(text, symbology, at, readOn);
}

/** Without a symbology identifier: elements when the text shows it, or null. */
function unsaidElements(scan: string): Gs1Element[] | null {
  const at = scan.startsWith(GS) ? 1 : 0;
  if (at > 0 || scan.includes(GS)) return elementsFrom(scan, at);
  if (!FIRST_UNSAID.test(scan)) return null;
  try {
    return elementsFrom(scan, 0);
  } catch (error) {
    // a text too long for a lot code can only be a damaged element string: its own reason is the better one
    if (error instanceof ScanUnreadable && !isLotCode(scan)) throw error;
    return null;
  }
}

/** Without the CR, LF or tab that readers which act as a keyboard send behind a code; they are the reader's, not the label's. */
export const withoutReaderEnd = (scan: string): string => scan.replace(/[\t\n\r]+$/, '');

/**
 * What a scan says.
 * @param sent as the reader sent it; FNC1 between elements is GS (0x1D)
 * @param readOn the day of reading at the place, `YYYY-MM-DD`
 * @throws ScanUnreadable with the position in `sent`, from 0, and the reason
 */
export function interpretScan(sent: string, readOn: string): ScanReading {
  const scan = withoutReaderEnd(sent);
  if (scan.length > LONGEST_SCAN) {
    throw new ScanUnreadable(LONGEST_SCAN, `A scan has at most ${LONGEST_SCAN} characters.`);
  }
  if (!scan.startsWith(']')) {
    if (scan === '') throw new ScanUnreadable(0, 'The scan is empty.');
    const elements = unsaidElements(scan);
    return elements === null ? readUnsaid(scan, null, 0, readOn) : readingOf('element-string', null, elements, readOn);
  }
  const symbol = scan.slice(1, SYMBOLOGY_LENGTH);
  if (GS1_SYMBOLS.includes(symbol)) {
    return readingOf('element-string', `]${symbol}`, elementsFrom(scan, SYMBOLOGY_LENGTH), readOn);
  }
  const digits = GTIN_SYMBOLS[symbol];
  if (digits !== undefined) return readGtin(scan, digits, readOn);
  if (PLAIN_SYMBOLS.includes(symbol)) return readUnsaid(scan, `]${symbol}`, SYMBOLOGY_LENGTH, readOn);
  throw new ScanUnreadable(1, 'This symbology identifier is none that food and logistics use.');
}

/**
 * Where a value could really end if a separator is missing behind it: the whole value first, then every shorter beginning whose rest
 * reads as elements, longest first. Syntax cannot tell which it is; whoever knows the lots can.
 * @param value of (10) or (21) as the scan gave it
 */
export function lotCandidates(value: string): string[] {
  const candidates = [value];
  for (let length = value.length - 1; length > 0; length -= 1) {
    if (restOf(value, length) !== null) candidates.push(value.slice(0, length));
  }
  return candidates;
}

function restOf(value: string, length: number): Gs1Element[] | null {
  try {
    return elementsFrom(value, length);
  } catch {
    return null;
  }
}

/**
 * The reading again with the separator where it was missing: the value of `ai` ends with `end`, and what followed it are elements.
 * @param end one of `lotCandidates`; the whole value changes nothing
 * @throws RangeError when the rest does not read as elements
 */
export function rereadWith(reading: ScanReading, ai: string, end: string, readOn: string): ScanReading {
  const elements = reading.elements.flatMap((element) => {
    if (element.ai !== ai || element.value === end || !element.value.startsWith(end)) return [element];
    const rest = restOf(element.value, end.length);
    if (rest === null) throw new RangeError(`What follows ${end} is no element string`);
    return [{ ai, value: end }, ...rest];
  });
  const again = readingOf(reading.form, reading.symbologyIdentifier, elements, readOn);
  return elements.length === reading.elements.length
    ? again
    : {
        ...again,
        warnings: [
          { code: 'separator-missing', ai, text: `The separator behind (${ai}) ${end} is missing; the lot is known.` },
          ...again.warnings,
        ],
      };
}
