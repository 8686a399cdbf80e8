import { afterAll, describe, expect, test } from 'vitest';
import { decimalOf } from '../../src/domain/gs1/amounts.ts';
import { associationWarnings } from '../../src/domain/gs1/associations.ts';
import { linkDecoded, linkEncoded } from '../../src/domain/gs1/digital-links.ts';
import { identifierNamed } from '../../src/domain/gs1/identifiers.ts';
import {
  bracketed,
  digitalLink,
  elementString,
  type Gs1Element,
  interpretScan,
  readBracketed,
  readDigitalLink,
  readElementString,
  resolveDate,
  ScanUnreadable,
  type ScanReading,
} from '../../src/domain/gs1/index.ts';
import { checkFault, valueFault } from '../../src/domain/gs1/values.ts';
import { kindsUnder, type Vector, vectorsAreThere, vectorsOf } from './vectors.ts';

/** Every scan of the vectors carries its date in the years around this day. */
const READ_ON = '2026-11-25';
const GS = '\u001d';
const counted = new Map<string, number>();
const skipped = new Map<string, number>();

const pairs = (elements: readonly { ai: string; value: string }[]): string[][] => elements.map((e) => [e.ai, e.value]);
const toRaw = (elements: readonly Gs1Element[]): string => `^${elementString(elements).replaceAll(GS, '^')}`;

/** The answer, or null when it was refused for a reason. Anything else that is thrown is a fault of ours. */
function orNull<Answer>(read: () => Answer): Answer | null {
  try {
    return read();
  } catch (error) {
    if (error instanceof ScanUnreadable || error instanceof RangeError) return null;
    throw error;
  }
}

/** Runs every vector of a kind and answers the ids of those that come out otherwise. */
function failing(
  kind: string,
  agrees: (vector: Vector) => boolean,
  leaveOut: (vector: Vector) => boolean = () => false,
): string[] {
  const vectors = vectorsOf(kind);
  const taken = vectors.filter((vector) => !leaveOut(vector));
  counted.set(kind, taken.length);
  if (taken.length < vectors.length) skipped.set(kind, vectors.length - taken.length);
  expect(taken.length).toBeGreaterThan(0);
  return taken.filter((vector) => !agrees(vector)).map(({ id }) => id);
}

/** Read without a refusal and without a broken association: what GS1's engine calls valid with all checks on. */
const strictly = (reading: ScanReading | null): ScanReading | null => (reading?.warnings.length === 0 ? reading : null);

const sameElements = (elements: readonly Gs1Element[] | null, expected: unknown): boolean =>
  JSON.stringify(elements && pairs(elements)) === JSON.stringify(expected);

const CHECKS: Readonly<Record<string, string>> = {
  csum: 'check-digit',
  yymmdd: 'day',
  yymmd0: 'day-or-month',
  hhmi: 'hour-minute',
  hh: 'hour',
  mi: 'minute',
  ss: 'second',
  pcenc: 'percent-encoded',
  hyphen: 'minus',
  yesno: 'zero-or-one',
  iso3166: 'country',
  iso3166999: 'country-or-999',
  pieceoftotal: 'piece-of-total',
};

const hasConfig = ({ config }: Vector): boolean => config !== undefined;

describe.skipIf(!vectorsAreThere)('published GS1 vectors', () => {
  afterAll(() => {
    const lines = [...counted].map(
      ([kind, count]) => `${kind} ${count}${skipped.has(kind) ? ` (left out ${skipped.get(kind) ?? 0})` : ''}`,
    );
    const total = [...counted.values()].reduce((sum, count) => sum + count, 0);
    console.log(`GS1 vectors run: ${total}\n${lines.join('\n')}`);
  });

  test('every rule on one value', () => {
    const outside = kindsUnder('gs1.linter.').filter((kind) => kind !== 'gs1.linter.cset82');
    for (const kind of outside) {
      const check = CHECKS[kind.slice('gs1.linter.'.length)] ?? '';
      expect(failing(kind, ({ input, valid }) => (checkFault(check, String(input)) === '') === valid)).toEqual([]);
    }
    const internal = identifierNamed('91');
    if (!internal) throw new Error('(91) is not in the table');
    // the empty text has no wrong character; that a value is missing is another rule
    const agrees = ({ input, valid }: Vector): boolean => (valueFault(internal, String(input)) === null) === valid;
    expect(failing('gs1.linter.cset82', agrees, ({ input }) => input === '')).toEqual([]);
  });

  test('element strings by their syntax', () => {
    const agrees = ({ input, valid, strict }: Vector): boolean => {
      const raw = String(input);
      const elements = raw.startsWith('^')
        ? orNull(() => readElementString(raw.slice(1).replaceAll('^', GS)).elements)
        : null;
      if (valid && strict?.ais && !sameElements(elements, strict.ais)) return false;
      return (elements !== null) === valid;
    };
    // one vector of the collection is the signature of a function, no text
    expect(failing('gs1.raw-parse', agrees, ({ input }) => typeof input !== 'string')).toEqual([]);
  });

  test('brackets to symbol', () => {
    const agrees = ({ input, expected }: Vector): boolean => {
      const raw = orNull(() => toRaw(readBracketed(String(input))));
      return raw === ((expected as { raw: string } | null)?.raw ?? null);
    };
    expect(failing('gs1.bracketed-to-raw', agrees)).toEqual([]);
  });

  test('what must and must not stand together', () => {
    for (const kind of kindsUnder('gs1.association.')) {
      const agrees = ({ input, valid }: Vector): boolean => {
        const elements = orNull(() => readBracketed(String(input)));
        return (elements !== null && associationWarnings(elements).length === 0) === valid;
      };
      // the engine was told to allow identifiers that are not published; we never do
      const unpublished = ({ input }: Vector): boolean => /\((89|3338)\)/.test(String(input));
      expect(failing(kind, agrees, unpublished)).toEqual([]);
    }
  });

  test('food: element strings', () => {
    const agrees = ({ input, expected, valid }: Vector): boolean => {
      const reading = strictly(orNull(() => interpretScan(String(input), READ_ON)));
      if (!valid) return reading === null || reading.form === 'lot-code';
      const { raw, scanDataMatrix, scanQR, ais, dl } = expected as Record<string, unknown>;
      if (!reading || !sameElements(reading.elements, ais)) return false;
      const scans = [scanDataMatrix, scanQR].map((scan) => interpretScan(String(scan), READ_ON));
      return (
        toRaw(reading.elements) === raw &&
        scans.every((scan) => sameElements(scan.elements, ais)) &&
        orNull(() => digitalLink(reading.elements, 'https://example.com')) === (dl ?? null) &&
        bracketed(reading.elements) === input
      );
    };
    expect(failing('gs1.food.element-string', agrees)).toEqual([]);
  });

  test('food: scans', () => {
    const agrees = ({ input, expected, valid }: Vector): boolean => {
      const reading = strictly(orNull(() => interpretScan(String(input), READ_ON)));
      if (!valid) return reading === null || reading.elements.length === 0;
      const { ais, dl, gtin14 } = expected as Record<string, unknown>;
      if (gtin14 !== undefined) return reading?.gtin === gtin14;
      if (!reading || !sameElements(reading.elements, ais)) return false;
      return orNull(() => digitalLink(reading.elements, 'https://example.com')) === (dl ?? null);
    };
    // readers that send no symbology identifier are common, so ours reads without; the engine does not
    expect(failing('gs1.food.scan', agrees, ({ title }) => title === 'no symbology identifier')).toEqual([]);
    for (const { input } of vectorsOf('gs1.food.scan').filter(({ title }) => title === 'no symbology identifier')) {
      expect(interpretScan(String(input), READ_ON).elements).toEqual(
        interpretScan(`]d2${String(input)}`, READ_ON).elements,
      );
    }
  });

  test('food: Digital Links', () => {
    const agrees = ({ input, expected, valid }: Vector): boolean => {
      const reading = strictly(orNull(() => interpretScan(String(input), READ_ON)));
      if (!valid) return reading === null || reading.elements.length === 0;
      const { ais, canonical } = expected as Record<string, unknown>;
      return reading !== null && sameElements(reading.elements, ais) && reading.digitalLink === canonical;
    };
    expect(failing('gs1.food.digital-link', agrees)).toEqual([]);
  });

  test('scans as readers transmit them', () => {
    const agrees = ({ input, valid, strict }: Vector): boolean => {
      const reading = orNull(() => interpretScan(String(input), READ_ON));
      if (!valid) return reading === null;
      if (!strict?.ais) return reading === null || reading.form === 'lot-code' || reading.form === 'gtin';
      const elements = reading?.form === 'gtin' ? reading.elements.slice(1) : (reading?.elements ?? []);
      return sameElements(elements, strict.ais);
    };
    expect(failing('gs1.scan-parse', agrees)).toEqual([]);
  });

  test('what a symbol of these elements sends', () => {
    const prefixes: Readonly<Record<string, string>> = {
      QR: ']Q3',
      DM: ']d2',
      DotCode: ']J1',
      GS1_128_CCA: ']C1',
      DataBarExpanded: ']e0',
    };
    const inputOf = (vector: Vector): { symbology: string; data: string } =>
      vector.input as { symbology: string; data: string };
    const agrees = (vector: Vector): boolean => {
      const { symbology, data } = inputOf(vector);
      const { scan } = vector.expected as { scan: string };
      // a separator at the end is tolerated when read and never written
      const elements = readElementString(data.slice(1).replaceAll('^', GS)).elements;
      return `${prefixes[symbology] ?? ''}${elementString(elements)}` === scan.replace(/\u001d$/, '');
    };
    // plain text, and composite components, which no label of ours has, are not written by us
    const notOurs = (vector: Vector): boolean => !/^\^[^|]*$/.test(inputOf(vector).data);
    expect(failing('gs1.scan-generate', agrees, notOurs)).toEqual([]);
  });

  test('Digital Links read', () => {
    const agrees = ({ input, expected, valid }: Vector): boolean => {
      const elements = orNull(() => readDigitalLink(String(input)));
      return valid
        ? elements !== null &&
            toRaw(elements).replaceAll('^', '') === (expected as { raw: string }).raw.replaceAll('^', '')
        : elements === null;
    };
    // switches that we do not have (GTINs without their zeros) and names instead of numbers, which are deprecated
    const notOurs = (vector: Vector): boolean => hasConfig(vector) || (vector.valid && vector.strict?.valid === false);
    expect(failing('gs1.dl-parse', agrees, notOurs)).toEqual([]);
  });

  test('Digital Links written, escaped and unescaped', () => {
    const written = ({ input, expected }: Vector): boolean => {
      const { stem, elementString: text } = input as { stem: string; elementString: string };
      const uri = orNull(() => digitalLink(readBracketed(text), stem));
      return uri === ((expected as { uri: string } | null)?.uri ?? null);
    };
    expect(failing('gs1.dl-generate', written)).toEqual([]);
    const both =
      (turn: (text: string, where: 'path' | 'query') => string) =>
      ({ input, expected }: Vector): boolean =>
        JSON.stringify({ path: turn(String(input), 'path'), query: turn(String(input), 'query') }) ===
        JSON.stringify(expected);
    expect(failing('gs1.dl-escape', both(linkEncoded))).toEqual([]);
    expect(failing('gs1.dl-unescape', both(linkDecoded))).toEqual([]);
  });

  test('dates and decimals', () => {
    const dated = ({ input, expected }: Vector): boolean => {
      const { yymmdd, today } = input as Record<string, string>;
      return resolveDate(yymmdd ?? '', today ?? '') === (expected as { date: string }).date;
    };
    expect(failing('gs1.date-resolve', dated)).toEqual([]);
    const decimal = ({ input, expected }: Vector): boolean => {
      const { ai, value } = input as Record<string, string>;
      const amount = decimalOf(ai ?? '', value ?? '');
      const wanted = expected as { decimal: string; unit: string };
      return amount?.decimal === wanted.decimal && wanted.unit.startsWith(amount.unit ?? '?');
    };
    expect(failing('gs1.decimal', decimal)).toEqual([]);
  });
});
