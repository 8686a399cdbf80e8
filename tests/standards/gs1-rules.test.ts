import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import own from '../../shared/scan-vectors.json' with { type: 'json' };
import {
  bracketed,
  bwipText,
  checkDigit,
  digitalLink,
  elementString,
  type Gs1Element,
  interpretScan,
  isValidSscc,
  lotCandidates,
  netWeightElement,
  readBracketed,
  readDigitalLink,
  readElementString,
  requireLabelElements,
  rereadWith,
  ScanUnreadable,
  sscc,
} from '../../src/domain/gs1/index.ts';

const READ_ON = own.readOn;
const GTIN = '09521234000013';

type OwnVector = Omit<(typeof own.vectors)[number], 'scan'> & { scan: string | { repeat: string; times: number } };

function outcome({ scan }: OwnVector): Record<string, unknown> {
  const text = typeof scan === 'string' ? scan : scan.repeat.repeat(scan.times);
  try {
    const reading = interpretScan(text, READ_ON);
    return {
      ...reading,
      elements: reading.elements.map(({ ai, value }) => [ai, value]),
      warnings: reading.warnings.map(({ code }) => code),
      useBy: reading.useBy?.date ?? null,
      useByTime: reading.useBy?.time ?? null,
      lotCandidates: lotCandidates(reading.lotCode ?? ''),
    };
  } catch (error) {
    if (!(error instanceof ScanUnreadable)) throw error;
    expect(error.reason).toMatch(/\.$/);
    return { refusedAt: error.position };
  }
}

describe('our own vectors', () => {
  test.each(own.vectors as OwnVector[])('$rule', (vector) => {
    const { rule, scan, ...expected } = vector;
    expect(rule.length + JSON.stringify(scan).length).toBeGreaterThan(0);
    expect(outcome(vector)).toMatchObject(expected);
  });
});

const CHARACTERS_82 = [...'!"%&\'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz'];
const text82 = (most: number): fc.Arbitrary<string> =>
  fc.array(fc.constantFrom(...CHARACTERS_82), { minLength: 1, maxLength: most }).map((list) => list.join(''));
const anyGtin = fc.stringMatching(/^[0-9]{13}$/).map((body) => body + checkDigit(body));
/** One pack label in any order: article, use-by, weight, serial, lot. */
const anyPack = fc
  .record({
    gtin: anyGtin,
    lot: text82(20),
    serial: text82(20),
    grams: fc.integer({ min: 1, max: 999_999 }),
    month: fc.integer({ min: 1, max: 12 }),
    shuffle: fc.array(fc.nat(), { minLength: 5, maxLength: 5 }),
  })
  .map(({ gtin, lot, serial, grams, month, shuffle }) => {
    const elements: Gs1Element[] = [
      { ai: '01', value: gtin },
      { ai: '17', value: `27${String(month).padStart(2, '0')}00` },
      netWeightElement(grams),
      { ai: '21', value: serial },
      { ai: '10', value: lot },
    ];
    return elements
      .map((element, index) => ({ element, key: shuffle[index] ?? 0 }))
      .sort((a, b) => a.key - b.key)
      .map(({ element }) => element);
  });
const sorted = (elements: readonly Gs1Element[]): string[] => elements.map(({ ai, value }) => `${ai} ${value}`).sort();

describe('round trips', () => {
  test('what is written is read back, in every form and any order', () => {
    fc.assert(
      fc.property(anyPack, (elements) => {
        expect(readElementString(elementString(elements)).elements).toEqual(elements);
        expect(readBracketed(bracketed(elements))).toEqual(elements);
        expect(sorted(readDigitalLink(digitalLink(elements, 'https://dishes.example')))).toEqual(sorted(elements));
        const symbol = elementString(elements, { lotLast: true });
        expect(symbol).toMatch(/^01/);
        expect(readElementString(`]d2${symbol}`).elements.at(-1)?.ai).toBe('10');
        // predefined lengths first, then the serial with the only separator, then the lot
        expect(symbol.split('\u001d')).toHaveLength(2);
        expect(interpretScan(symbol, READ_ON).gtin).toBe(elements.find(({ ai }) => ai === '01')?.value);
      }),
    );
  });

  test('no scan of any characters throws anything but a refusal with a place in it', () => {
    const pieces = fc.constantFrom(
      ']d2',
      ']C1',
      '01',
      GTIN,
      '10',
      '\u001d',
      '(',
      ')',
      'https://a/01/',
      '/',
      '?17=',
      '17',
      '261231',
      '%2F',
      '\u0000',
      'é',
    );
    const anyText = fc.array(fc.oneof(pieces, fc.string({ maxLength: 6 }))).map((list) => list.join(''));
    fc.assert(
      fc.property(anyText, (text) => {
        try {
          interpretScan(text, READ_ON);
        } catch (error) {
          expect(error).toBeInstanceOf(ScanUnreadable);
          const { position } = error as ScanUnreadable;
          expect(position >= 0 && position <= text.length).toBe(true);
        }
      }),
      { numRuns: 500 },
    );
  });

  test('of any lot with its separator missing, the lot is among the candidates', () => {
    fc.assert(
      fc.property(text82(12), (lot) => {
        const reading = interpretScan(`]d201${GTIN}10${lot}17261231`, READ_ON);
        expect(lotCandidates(reading.lotCode ?? '')).toContain(lot);
        const again = rereadWith(reading, '10', lot, READ_ON);
        expect([again.lotCode, again.useBy?.date, again.warnings[0]?.code]).toEqual([
          lot,
          '2026-12-31',
          'separator-missing',
        ]);
      }),
    );
  });
});

describe('labels that we make', () => {
  test.each([
    ['(01)09521234000014', 'a wrong check digit'],
    ['(10)STEW-1', 'a lot without its article'],
    ['(01)09521234000013(3103)001750(3102)000175', 'two weights'],
    ['(01)09521234000013(10)A(10)B', 'two lots'],
    ['(01)09521234000013(17)261301', 'no such month'],
    ['(01)09521234000013(10)A B', 'a space'],
  ])('%s: %s is an error', (text) => {
    const elements = [...text.matchAll(/\((\d+)\)([^(]*)/g)].map(([, ai = '', value = '']) => ({ ai, value }));
    expect(() => {
      requireLabelElements(elements);
    }).toThrow(RangeError);
  });

  test('a whole pack label passes, and brackets reach the symbol library by their number', () => {
    const elements = [
      { ai: '01', value: GTIN },
      { ai: '10', value: 'A(1)' },
    ];
    requireLabelElements(elements);
    expect(bwipText(elements)).toBe('(01)09521234000013(10)A^0401^041');
  });

  test('a net weight is whole grams, above zero, below a tonne', () => {
    expect(netWeightElement(750)).toEqual({ ai: '3103', value: '000750' });
    for (const grams of [0, -1, 0.5, 1_000_000, Number.NaN]) expect(() => netWeightElement(grams)).toThrow(RangeError);
  });

  test('serial shipping container codes: right by hand, used up loudly', () => {
    // 1 9521234 000000042: 3*(1+5+1+3+0+0+0+0+2) + (9+2+2+4+0+0+0+4) = 36 + 21 = 57, 3 to the next ten
    expect(sscc('9521234', 1, 42n)).toBe('195212340000000423');
    expect(isValidSscc(sscc('9521', 0, 999_999_999_999n))).toBe(true);
    expect(() => sscc('9521234', 1, 1_000_000_000n)).toThrow(RangeError);
    for (const prefix of ['', '952', '9521234567890', '95x1']) expect(() => sscc(prefix, 0, 1n)).toThrow(RangeError);
    expect(() => sscc('9521234', 10, 1n)).toThrow(RangeError);
  });
});
