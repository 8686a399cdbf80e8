import { existsSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  checkDigit,
  isCharset82,
  isLotCode,
  isValidGln,
  isValidGtin,
  isValidSscc,
} from '../../src/domain/gs1/index.ts';

/** A bench of published and independently generated cases that stands beside the repository where there is one. */
const benchUrl = new URL('../../../shared/reference/standards/vectors.json', import.meta.url);
const benchIsThere = existsSync(benchUrl);
if (!benchIsThere) console.warn('gs1.test: SKIPPED the shared standards vectors, they are not beside this checkout');

interface Vector {
  id: string;
  kind: string;
  title: string;
  input: string;
  expected: { checkDigit: string; full: string } | null;
  valid: boolean;
}
const bench = benchIsThere ? (JSON.parse(readFileSync(benchUrl, 'utf8')) as Vector[]) : [];
const validatorOf = (title: string): ((code: string) => boolean) =>
  title === 'GLN' ? isValidGln : title === 'SSCC' ? isValidSscc : isValidGtin;

describe('check digit', () => {
  test("GS1 General Specifications' worked example: 629104150021 gives 3", () => {
    expect(checkDigit('629104150021')).toBe('3');
    expect(isValidGtin('6291041500213')).toBe(true);
  });

  // Sums written out by hand with weights 3, 1, 3, 1 ... from the right.
  test.each([
    ['9521823', '6', '3*3+1*2+3*8+1*1+3*2+1*5+3*9 = 74'],
    ['13372522149', '5', '3*9+1*4+3*1+1*2+3*2+1*5+3*2+1*7+3*3+1*3+3*1 = 75'],
    ['000000000000', '0', 'nothing is missing to the next ten'],
    ['5', '5', '3*5 = 15'],
  ])('%s gives %s (%s)', (body, expected) => {
    expect(checkDigit(body)).toBe(expected);
  });

  test.each(['', 'abc', '12 4', '１２３', '12\n', '-1'])('%j is no number to compute it over', (body) => {
    expect(() => checkDigit(body)).toThrow(RangeError);
  });

  test('every single wrong digit is caught', () => {
    const body = fc.stringMatching(/^[0-9]{17}$/);
    fc.assert(
      fc.property(body, fc.nat(17), fc.integer({ min: 1, max: 9 }), (digits, at, by) => {
        const right = digits + checkDigit(digits);
        const wrong = right.slice(0, at) + String((Number(right.charAt(at)) + by) % 10) + right.slice(at + 1);
        expect(isValidSscc(right)).toBe(true);
        expect(isValidSscc(wrong)).toBe(false);
      }),
    );
  });
});

describe('identifiers', () => {
  test('lengths are fixed: a right check digit on a wrong length is not enough', () => {
    expect(isValidGtin('95218236')).toBe(true); // 8
    expect(isValidGtin('133725221495')).toBe(true); // 12
    expect(isValidGtin('9521166677079')).toBe(true); // 13
    expect(isValidGtin('19526840808975')).toBe(true); // 14
    expect(isValidGtin('0095218236')).toBe(false); // 10 digits, check digit right
    expect(isValidGln('9526837201874')).toBe(true);
    expect(isValidGln('95218236')).toBe(false);
    expect(isValidSscc('495290650137140794')).toBe(true);
    expect(isValidSscc('9526837201874')).toBe(false);
  });

  test.each(['', ' 95218236', '95218236 ', '9521823６', '9521823x', '95218237'])('%j is no GTIN', (code) => {
    expect(isValidGtin(code)).toBe(false);
  });
});

describe('character set 82 and lot codes', () => {
  const set82 = `!"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz`;

  test('the set has 82 characters and no other ASCII character passes', () => {
    expect(set82.length).toBe(82);
    const passing = Array.from({ length: 128 }, (_, code) => String.fromCharCode(code)).filter(isCharset82);
    expect(passing.join('')).toBe(set82);
  });

  test.each(['L', 'STEW-261124-01', 'a.b_c:d', 'X'.repeat(20), '(10)ABC'])('%j is a lot code', (code) => {
    expect(isLotCode(code)).toBe(true);
  });

  test.each(['', 'X'.repeat(21), 'A%B', 'A/B', 'A B', 'Ä1', 'A#1', 'A\n', '~'])('%j is no lot code', (code) => {
    expect(isLotCode(code)).toBe(false);
  });
});

describe.skipIf(!benchIsThere)('shared standards vectors', () => {
  const computed = bench.filter((vector) => vector.kind === 'gs1.check-digit');
  const verified = bench.filter((vector) => vector.kind === 'gs1.check-digit.verify');

  test('the bench holds both kinds', () => {
    expect(computed.length).toBeGreaterThan(0);
    expect(verified.length).toBeGreaterThan(0);
  });

  test.each(computed)('$id $title $input', ({ title, input, expected }) => {
    expect(checkDigit(input)).toBe(expected?.checkDigit);
    expect(validatorOf(title)(expected?.full ?? '')).toBe(true);
  });

  test.each(verified)('$id $title $input', ({ title, input, valid }) => {
    expect(validatorOf(title)(input)).toBe(valid);
  });
});
