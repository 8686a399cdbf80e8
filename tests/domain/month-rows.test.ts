/** Rows of a month, printed: expected values added up by hand. */
import { describe, expect, test } from 'vitest';
import { roundTogether } from '../../src/domain/exact.ts';
import { lineOf, type Line, type MoneyLine } from '../../src/domain/month/lines.ts';
import { inGrams, inMoney, inUnits } from '../../src/domain/month/printed.ts';
import { tallyFlows, type Flow, type Tally } from '../../src/domain/month/tally.ts';
import { wasteRows } from '../../src/domain/month/waste.ts';

const SITE = 'ward';
const FINE = 10n ** 18n;

/** Packs of one lot: 40 weighing 12.1 kg, so 302.5 g each. */
const heavy = { itemId: 'pack', perUnit: [302_500n, 1n] as const, unitFine: 0n };
/** Packs of another: 10 of 300 g. */
const plain = { itemId: 'pack', perUnit: [300_000n, 1n] as const, unitFine: 0n };

interface Lot {
  readonly itemId: string;
  /** milligrams over units */
  readonly perUnit: readonly [bigint, bigint];
  readonly unitFine: bigint;
}

/** How a kitchen would say it: what, how much, from where to where. */
function flow(lot: Lot, quantity: number, from: string, to: string, more: Partial<Flow> = {}): Flow {
  const side = (kind: string) => ({ kind, book: kind === 'place' ? SITE : null });
  return {
    bucket: 'in',
    itemId: lot.itemId,
    entryKind: '',
    from: side(from),
    to: side(to),
    reason: null,
    destination: null,
    material: null,
    quantity,
    massNumerator: BigInt(quantity) * lot.perUnit[0],
    massDenominator: lot.perUnit[1],
    fine: BigInt(quantity) * lot.unitFine,
    uncosted: 0,
    ...more,
  };
}
const now = (lot: Lot, quantity: number): Flow => flow(lot, quantity, '', 'place', { bucket: 'now' });

const only = (flows: readonly Flow[]): Tally => {
  const [tally] = tallyFlows(flows, () => true).items.values();
  if (!tally) throw new Error('no row');
  return tally;
};

/** Added up as a clerk would: what was there and came, against what went and is left. */
function sides(row: Record<Line, number>): [number, number] {
  return [
    row.opening + row.received + row.produced + row.returnedIn + row.transferIn + row.adjusted,
    row.consumed +
      row.served +
      row.servedDerived +
      row.staffMeals +
      row.donated +
      row.tasted +
      row.sampled +
      row.wasted +
      row.transferOut +
      row.returnedToSupplier +
      row.closing,
  ];
}

const packMonth: Flow[] = [
  flow(heavy, 40, 'produced', 'place'),
  flow(plain, 10, 'produced', 'place'),
  flow(heavy, 20, 'place', 'served'),
  flow(plain, 2, 'place', 'served'),
  flow(heavy, 1, 'served', 'place', { entryKind: '' }),
  flow(heavy, 3, 'place', 'waste', { reason: 'past-use-by' }),
  flow(heavy, 1, 'place', 'variance', { entryKind: 'stock-count' }),
  // 16 there today, one used since the month's end
  now(heavy, 16),
  flow(heavy, 1, 'place', 'served', { bucket: 'after' }),
  now(plain, 8),
];

describe('the month of an item', () => {
  test('adds up in units and in grams, rounded once', () => {
    const tally = only(packMonth);
    expect(inUnits(tally)).toMatchObject({
      opening: 0,
      produced: 50,
      returnedIn: 1,
      adjusted: -1,
      served: 22,
      wasted: 3,
      closing: 25,
    });
    // Exact: 15 100; 302.5 back; -302.5 found missing; 6 050 + 600 served; 907.5 wasted; 17 x 302.5 + 8 x 300 = 7 542.5 left.
    // Signed floors sum to -2, so the first two of the equal halves are raised: 303 back and -302 missing.
    const grams = inGrams(tally);
    expect(grams).toMatchObject({
      produced: 15_100,
      returnedIn: 303,
      adjusted: -302,
      served: 6_650,
      wasted: 908,
      closing: 7_543,
    });
    expect(sides(inUnits(tally))).toEqual([50, 50]);
    expect(sides(grams)).toEqual([15_101, 15_101]);
  });

  test('opening follows from what is left: thirds of a gram on both sides of the month', () => {
    // three pieces of 1 g together: a third of a gram each; two were there, one was served, one is left
    const third: Lot = { itemId: 'crumb', perUnit: [1_000n, 3n], unitFine: 0n };
    const tally = only([flow(third, 1, 'place', 'served'), now(third, 1)]);
    expect(inUnits(tally)).toMatchObject({ opening: 2, served: 1, closing: 1 });
    // 2/3, -1/3, -1/3: floors 0, -1, -1 need two more; remainders are all 2/3, so the opening and the served line are raised
    expect(inGrams(tally)).toMatchObject({ opening: 1, served: 0, closing: 1 });
    expect(JSON.stringify(inGrams(tally))).not.toContain('-0');
  });

  test('money adds up too, with what later prices changed on the left', () => {
    // 3 pieces for 1.00: a third of a minor hundred each, 33 1/3 minor units; 3 bought, 1 served, 2 left
    const third: Lot = { itemId: 'crumb', perUnit: [1n, 1n], unitFine: (100n * FINE) / 3n };
    const bought = inMoney(
      only([flow(third, 3, 'supplier', 'place'), flow(third, 1, 'place', 'served'), now(third, 2)]),
      0n,
    );
    // exact to 10^-18: 100 - 33.33 = 66.67. Floors 99 (3 x floor(100/3) is a hair under 100), -34, -67 sum to -2; received and served go up
    expect([bought.received, bought.served, bought.closing]).toEqual([100, 33, 67]);
    // 40 kg of 100.00 the 100 kg left, price corrected to 120.00: 40.00 + 8.00 = 48.00
    const beef: Lot = { itemId: 'beef', perUnit: [1n, 1n], unitFine: 120n * FINE };
    const money = inMoney(only([flow(beef, 30, 'place', 'served'), now(beef, 10)]), 40n * 20n * FINE);
    const wanted: Partial<Record<MoneyLine, number>> = { opening: 4_000, revalued: 800, served: 3_600, closing: 1_200 };
    expect(money).toMatchObject(wanted);
  });

  test('an item that was not there and did nothing is left out; an account that is none is a fault', () => {
    const { items } = tallyFlows([now(plain, 5), flow(plain, 5, 'supplier', 'place', { bucket: 'after' })], () => true);
    expect([...items]).toEqual([]);
    expect(() =>
      lineOf(
        { entryKind: '', from: { kind: 'moon', book: null }, to: { kind: 'place', book: SITE }, reason: null },
        true,
      ),
    ).toThrow(RangeError);
  });

  test.each([
    ['staff-meal', 'staffMeals'],
    ['donation', 'donated'],
    ['tasting', 'tasted'],
    ['laboratory', 'sampled'],
    [null, 'served'],
  ] as const)('what was used as %s stands under %s', (reason, line) => {
    const used = flow(plain, 2, 'place', 'served', { reason });
    expect(inUnits(only([used, now(plain, 1)]))).toMatchObject({ opening: 3, [line]: 2, closing: 1 });
  });

  test('between two sites: a transfer of each, and no line of both together', () => {
    const sent = flow(plain, 4, 'place', 'place', { to: { kind: 'place', book: 'other' } });
    const { items, books } = tallyFlows([sent, now(plain, 1)], () => true);
    expect(inUnits([...items.values()][0] as Tally)).toMatchObject({
      opening: 1,
      transferIn: 0,
      transferOut: 0,
      closing: 1,
    });
    expect(inUnits(books.get(SITE)?.get('pack') as Tally)).toMatchObject({ opening: 5, transferOut: 4, closing: 1 });
    expect(inUnits(books.get('other')?.get('pack') as Tally)).toMatchObject({ opening: -4, transferIn: 4, closing: 0 });
  });
});

describe('waste', () => {
  test('rows of an item sum to what is printed as its waste', () => {
    const bin = (reason: string) => flow(heavy, 1, 'place', 'waste', { reason, destination: 'composting' });
    const flows = [bin('damaged'), bin('trim'), bin('recall')];
    // three of 302.5 g: 907.5, printed 908 of the item; halves are equal, so the first two by name are raised
    const rows = wasteRows(
      flows,
      () => true,
      () => ({ grams: 908, valueMinor: 0 }),
    );
    expect(rows.map((row) => [row.reason, row.grams])).toEqual([
      ['damaged', 303],
      ['recall', 303],
      ['trim', 302],
    ]);
  });

  test('largest remainder with a given sum', () => {
    // 1/3 three times: to 1, to 0, to 3; never more than one each
    expect(roundTogether([1n, 1n, 1n], 3n)).toEqual([1n, 0n, 0n]);
    expect(roundTogether([1n, 1n, 1n], 3n, 0n)).toEqual([0n, 0n, 0n]);
    expect(roundTogether([-1n, 1n, 1n], 3n, 1n)).toEqual([0n, 1n, 0n]);
    expect(() => roundTogether([1n, 1n, 1n], 3n, 4n)).toThrow(RangeError);
  });
});
