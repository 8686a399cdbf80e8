import fc from 'fast-check';
import Fraction from 'fraction.js';
import { describe, expect, test } from 'vitest';
import { chainOf, type LotFate, type MadeLot } from '../../src/domain/yields/chain.ts';
import { embeddedMasses, type WalkedLot, type WalkedProcess } from '../../src/domain/yields/embedded.ts';
import { periodFigures, savedAgainst, type PeriodMasses } from '../../src/domain/yields/savings.ts';

const G = 1000n;
/** A lot in grams, of 1,000 mg each. */
const lot = (lotId: string, grams: number, more: Partial<WalkedLot> = {}): WalkedLot => ({
  lotId,
  quantity: BigInt(grams),
  massMg: BigInt(grams) * G,
  food: true,
  bought: more.madeBy === undefined,
  madeBy: null,
  producedQuantity: more.madeBy === undefined ? 0n : BigInt(grams),
  ...more,
});
const packs = (lotId: string, count: number, eachG: number, madeBy: string): WalkedLot => ({
  ...lot(lotId, count, { madeBy }),
  massMg: BigInt(count * eachG) * G,
});
const process = (
  kind: WalkedProcess['kind'],
  takings: readonly (readonly [string, number])[],
  more: Partial<WalkedProcess> = {},
): WalkedProcess => ({
  kind,
  steps: [],
  trimMg: 0n,
  takings: takings.map(([lotId, quantity]) => ({ lotId, quantity: BigInt(quantity) })),
  ...more,
});
const byId = <T extends { lotId: string }>(lots: readonly T[]) => new Map(lots.map((one) => [one.lotId, one]));
const made = (walked: WalkedLot, itemName: string, portionsPerUnit: number | null = 1): MadeLot => ({
  ...walked,
  itemId: itemName,
  itemName,
  portionsPerUnit,
});
const fate = (lotId: string, kind: LotFate['fate'], quantity: number): LotFate => ({
  lotId,
  fate: kind,
  quantity: BigInt(quantity),
});

describe('from raw to plate, by hand', () => {
  test('rice: 10 kg bought, 15 kg of water taken up, 24 kg cooked, 120 packs of 200 g, 100 served: 10 portions a kilogram bought', () => {
    const dry = lot('dry', 10_000);
    const boiled = lot('boiled', 24_000, { madeBy: 'boil' });
    const sealed = packs('sealed', 120, 200, 'seal');
    const embedded = embeddedMasses(
      byId([dry, boiled, sealed]),
      new Map([
        ['boil', process('batch', [['dry', 10_000]], { steps: ['cook', 'chill', 'pack'] })],
        ['seal', process('packing', [['boiled', 24_000]])],
      ]),
    );
    const fates = [
      fate('boiled', 'packedOn', 24_000),
      fate('sealed', 'served', 100),
      fate('sealed', 'wasted', 10),
      fate('sealed', 'stock', 10),
    ];
    const rows = chainOf({
      made: [made(boiled, 'Rice', null), made(sealed, 'Rice, 200 g')],
      fates,
      convertedFrom: new Map(),
      embedded,
    });
    expect(rows).toEqual([
      {
        itemId: 'Rice, 200 g',
        itemName: 'Rice, 200 g',
        boughtG: 10_000,
        preparedG: 10_000,
        cookedG: 24_000,
        packedG: 24_000,
        servedG: 20_000,
        otherUseG: 0,
        wastedG: 2_000,
        madeOnG: 0,
        stockG: 2_000,
        differenceG: 0,
        portionsServed: 100,
        portionsPerKgBought: 10,
        servedPercentOfBought: 200,
      },
    ]);
  });

  test('beef: 40 kg trimmed to 36, cooked with 4 kg of tap water to 30 kg, 27 kg of it packed; an opened pack counts as served', () => {
    const beef = lot('beef', 50_000);
    const water = lot('water', 1_000_000, { bought: false });
    const trimmed = lot('trimmed', 36_000, { madeBy: 'trim' });
    const stew = lot('stew', 30_000, { madeBy: 'cook' });
    const sealed = packs('sealed', 90, 300, 'seal');
    const opened = lot('opened', 290, { madeBy: 'open' });
    const embedded = embeddedMasses(
      byId([beef, water, trimmed, stew, sealed]),
      new Map([
        ['trim', process('batch', [['beef', 40_000]], { steps: ['prepare'], trimMg: 4_000n * 1000n })],
        [
          'cook',
          process(
            'batch',
            [
              ['trimmed', 36_000],
              ['water', 4_000],
            ],
            { steps: ['cook', 'chill', 'pack'] },
          ),
        ],
        ['seal', process('packing', [['stew', 27_000]])],
      ]),
    );
    const fates = [
      fate('stew', 'packedOn', 27_000),
      fate('stew', 'wasted', 1_000),
      fate('stew', 'madeOn', 2_000),
      fate('sealed', 'served', 80),
      fate('sealed', 'stock', 9),
      fate('opened', 'served', 290),
    ];
    const rows = chainOf({
      made: [made(stew, 'Stew', null), made(sealed, 'Stew, 300 g', 2)],
      fates,
      convertedFrom: new Map([['sealed', [opened]]]),
      embedded,
    });
    // what was not packed is a tenth: 4 kg of beef, (36 + 4) / 10 prepared
    expect(rows[0]).toMatchObject({
      itemName: 'Stew',
      boughtG: 4_000,
      preparedG: 4_000,
      cookedG: 3_000,
      packedG: 3_000,
    });
    expect(rows[0]).toMatchObject({ servedG: 0, wastedG: 1_000, madeOnG: 2_000, stockG: 0, portionsServed: null });
    // 80 packs and 290 g; the pack weighed 300 g, so 10 g are the difference
    expect(rows[1]).toMatchObject({ boughtG: 36_000, preparedG: 36_000, cookedG: 27_000, packedG: 27_000 });
    expect(rows[1]).toMatchObject({ servedG: 24_290, stockG: 2_700, differenceG: 10 });
    // 24,290 / 300 x 2 = 161.93 portions of 36 kg
    expect(rows[1]).toMatchObject({ portionsServed: 161.93, portionsPerKgBought: 4.5, servedPercentOfBought: 67.5 });
  });

  test('a tray of packaging is no food; two loads share by mass', () => {
    const raw = lot('raw', 9_000);
    const pouch = lot('pouch', 100, { food: false, bought: false });
    const one = lot('one', 2_000, { madeBy: 'cook' });
    const two = lot('two', 4_000, { madeBy: 'cook' });
    const embedded = embeddedMasses(
      byId([raw, pouch, one, two]),
      new Map([
        [
          'cook',
          process(
            'batch',
            [
              ['raw', 9_000],
              ['pouch', 50],
            ],
            { steps: ['cook'] },
          ),
        ],
      ]),
    );
    expect(embedded.get('one')?.bought.mul(2_000n).equals(3_000_000)).toBe(true);
    expect(embedded.get('two')?.bought.mul(4_000n).equals(6_000_000)).toBe(true);
  });

  test("yesterday's soup in today's, 3,000 days long, and a lot that went into its own origin: an answer all the same", () => {
    const days = Array.from({ length: 3_000 }, (_, day) => lot(`soup-${day}`, 1_000, { madeBy: `day-${day}` }));
    const lots = byId([lot('beef', 1_000), ...days]);
    const processes = new Map(
      days.map((_, day) => [
        `day-${day}`,
        process('batch', day === 0 ? [['beef', 1_000]] : [[`soup-${day - 1}`, 1_000]], { steps: ['cook'] }),
      ]),
    );
    expect(embeddedMasses(lots, processes).get('soup-2999')?.bought.equals(1_000)).toBe(true);

    const round = byId([lot('a', 100, { madeBy: 'x' }), lot('b', 100, { madeBy: 'y' }), lot('raw', 100)]);
    const circle = new Map([
      [
        'x',
        process(
          'batch',
          [
            ['b', 50],
            ['raw', 100],
          ],
          { steps: ['cook'] },
        ),
      ],
      ['y', process('batch', [['a', 100]], { steps: ['cook'] })],
    ]);
    const embedded = embeddedMasses(round, circle);
    // a comes first, so what b takes of a closes the circle and brings nothing
    expect(embedded.get('a')?.bought.mul(100n).equals(100_000)).toBe(true);
    expect(embedded.get('b')?.bought.equals(0)).toBe(true);
  });
});

describe('bought mass by paths', () => {
  /** Layers of batches; each takes grams of lots of the layer before and gives lots of equal weight. Sizes in grams. */
  const layers = fc.array(
    fc.array(fc.record({ loads: fc.integer({ min: 1, max: 3 }), loadG: fc.integer({ min: 1, max: 900 }) }), {
      minLength: 1,
      maxLength: 3,
    }),
    { minLength: 1, maxLength: 4 },
  );

  test('requirement by path sums (Vazsonyi, The Use of Mathematics in Production and Inventory Control, 1954; from memory), apart from the walk', () => {
    fc.assert(
      fc.property(layers, fc.infiniteStream(fc.integer({ min: 1, max: 400 })), (plan, grams) => {
        const next = () => BigInt(grams.next().value as number);
        const lots = new Map<string, WalkedLot>();
        const processes = new Map<string, WalkedProcess>();
        let before = ['raw-0', 'raw-1'];
        for (const lotId of before) lots.set(lotId, lot(lotId, 5_000));
        for (const [depth, batches] of plan.entries()) {
          const made: string[] = [];
          for (const [no, { loads, loadG }] of batches.entries()) {
            const key = `p${depth}-${no}`;
            const takings = before.map((lotId) => ({ lotId, quantity: next() }));
            processes.set(key, { kind: 'batch', steps: ['cook'], trimMg: 0n, takings });
            for (let load = 0; load < loads; load += 1) {
              const lotId = `l${depth}-${no}-${load}`;
              lots.set(lotId, lot(lotId, loadG, { madeBy: key }));
              made.push(lotId);
            }
          }
          before = made;
        }
        /** Every path from a gram of this lot up to what was bought, each with its own product. */
        const byPaths = (lotId: string, share: Fraction): Fraction => {
          const one = lots.get(lotId);
          const process = processes.get(one?.madeBy ?? '');
          if (!one || !process) return share.mul(1_000n);
          const siblings = BigInt([...lots.values()].filter(({ madeBy }) => madeBy === one.madeBy).length);
          return process.takings.reduce(
            (sum, taken) => sum.add(byPaths(taken.lotId, share.mul(taken.quantity).div(siblings * one.quantity))),
            new Fraction(0n),
          );
        };
        const embedded = embeddedMasses(lots, processes);
        for (const lotId of before)
          expect(embedded.get(lotId)?.bought.equals(byPaths(lotId, new Fraction(1n)))).toBe(true);
      }),
      { numRuns: 60 },
    );
  });
});

describe('savings, by hand', () => {
  const kg = (value: number): Fraction => new Fraction(value).mul(1_000_000n);
  const period = (
    boughtKg: number,
    servedKg: number,
    wastedKg: number,
    pricedKg: number,
    minor: number,
  ): PeriodMasses => ({
    // as much was used up as was bought, so that the hand's figures are of one number
    boughtMg: kg(boughtKg),
    usedUpMg: kg(boughtKg),
    servedBoughtMg: kg(servedKg),
    wastedBoughtMg: kg(wastedKg),
    pricedMg: kg(pricedKg),
    pricedMinor: new Fraction(minor),
  });
  const before = period(1_000, 700, 100, 1_000, 500_000);

  test('10 % wasted of 1,000 kg then, 7.5 % of 800 kg now at 4.00 a kilogram: 20 kg and 80.00 saved', () => {
    const now = period(800, 600, 60, 400, 160_000);
    expect(savedAgainst(before, now)).toEqual({ wastePoints: 2.5, servedPoints: 5, savedG: 20_000, savedMinor: 8_000 });
    expect(periodFigures(now)).toEqual({
      boughtG: 800_000,
      servedBoughtG: 600_000,
      wastedBoughtG: 60_000,
      usedUpG: 800_000,
      servedPercentOfUsedUp: 75,
      wastedPercentOfUsedUp: 7.5,
      pricedG: 400_000,
      boughtMinor: 160_000,
      averageMinorPerKg: 400,
    });
  });

  test('more wasted than then is below zero; without prices there is no money; of nothing bought there is no share', () => {
    expect(savedAgainst(before, period(500, 300, 75, 0, 0))).toEqual({
      wastePoints: -5,
      servedPoints: -10,
      savedG: -25_000,
      savedMinor: null,
    });
    expect(savedAgainst(before, period(0, 10, 10, 0, 0))).toBe(null);
    expect(periodFigures(period(0, 0, 0, 0, 0))).toMatchObject({
      wastedPercentOfUsedUp: null,
      averageMinorPerKg: null,
    });
  });
});
