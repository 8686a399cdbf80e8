import { describe, expect, test } from 'vitest';
import { moneyOfProcess } from '../../src/domain/costing/process.ts';
import { reckonCosts } from '../../src/domain/costing/reckon.ts';
import {
  FINE_PER_MINOR,
  type CostLot,
  type CostProcess,
  type CostTaking,
  type ProcessCost,
} from '../../src/domain/costing/shapes.ts';

/** `grams` of something bought for `minor`; null: no price. */
function bought(lotId: string, grams: number, minor: number | null): CostLot {
  const price = minor === null ? null : { minor: BigInt(minor), perQuantity: BigInt(grams) };
  return {
    lotId,
    quantity: grams,
    massMg: grams * 1000,
    packaging: false,
    source: 'bought',
    price,
    processId: null,
    madeBy: null,
    stands: 0,
  };
}

function made(lotId: string, processId: string, grams: number, stands = grams): CostLot {
  return { ...bought(lotId, grams, null), source: 'made', processId, madeBy: 'batch', stands };
}

function packs(lotId: string, processId: string, count: number, gramsEach: number): CostLot {
  return { ...made(lotId, processId, count), massMg: count * gramsEach * 1000, madeBy: 'packing' };
}

const pouches = (lotId: string, count: number, minor: number): CostLot => ({
  ...bought(lotId, count, minor),
  massMg: count * 5000,
  packaging: true,
});

const water = (lotId: string): CostLot => ({ ...bought(lotId, 1, null), source: 'free' });

function batch(processId: string, expectedYieldPpm: number, more: Partial<CostProcess> = {}): CostProcess {
  return {
    processId,
    kind: 'batch',
    expectedYieldPpm,
    gainsMg: 0,
    perBatchMinor: 0n,
    perKgMinor: 0n,
    ...more,
  };
}

let seq = 0;
const takes = (processId: string, lotId: string, quantity: number): CostTaking => ({
  processId,
  lotId,
  quantity,
  firstSeq: (seq += 1),
});

function reckon(all: CostLot[], processes: CostProcess[], takings: CostTaking[]) {
  const lots = reckonCosts(all, processes, takings, new Map());
  const unitFineOf = (lotId: string) => lots.get(lotId)?.unitFine ?? 0n;
  const money = processes.map((process): [string, ProcessCost] => {
    const puts = takings.filter((taking) => taking.processId === process.processId);
    const outputs = all.filter((lot) => lot.processId === process.processId);
    return [process.processId, moneyOfProcess(process, puts, outputs, unitFineOf)];
  });
  return { lots, processes: new Map(money) };
}

const minorOf = (fine: bigint) => Number(fine) / Number(FINE_PER_MINOR);

describe('edible portion', () => {
  test('G. Wall, Trade Calculations: Yield and Cost of Edible Product (2007), examples 1-3: 5.2 kg at 11.95 a kg, of which 4.6 kg is usable: 13.51 a kg', () => {
    // 5.2 x 11.95 = 62.14; 62.14 / 4.6 = 13.5087
    const yieldPpm = Math.floor((4.6 / 5.2) * 1e6);
    const { lots, processes } = reckon(
      [bought('whole', 5200, 6214), made('usable', 'trim', 4600)],
      [batch('trim', yieldPpm)],
      [takes('trim', 'whole', 5200)],
    );
    expect((minorOf(lots.get('usable')?.unitFine ?? 0n) * 1000) / 100).toBeCloseTo(13.51, 2);
    expect(processes.get('trim')?.restFine).toBeLessThan(4600n);
  });

  test('tutorial on as-purchased and edible-portion cost: 0.99 at 36 % is 2.75', () => {
    const { lots } = reckon(
      [bought('bought', 1000, 99), made('edible', 'trim', 360)],
      [batch('trim', 360_000)],
      [takes('trim', 'bought', 1000)],
    );
    // 99 / 360 minor a gram, exactly: 0.275
    expect(lots.get('edible')?.unitFine).toBe((275n * FINE_PER_MINOR) / 1000n);
  });
});

describe('normal and abnormal loss, ACCA course, "Losses in process costing", example 1 (examw.com/acca/fudao/415626)', () => {
  // 1,000 units at 4,500; normal loss 10 %: 4,500 / 900 = 5 a unit
  const process = (out: number) =>
    reckon([bought('in', 1000, 4500), made('out', 'p', out)], [batch('p', 900_000)], [takes('p', 'in', 1000)]);

  test('860 units out: 4,300 carried at 5 each, 40 units lost beyond the plan are 200', () => {
    const { lots, processes } = process(860);
    expect(lots.get('out')?.unitFine).toBe(5n * FINE_PER_MINOR);
    expect(processes.get('p')?.carriedFine).toBe(4300n * FINE_PER_MINOR);
    expect(processes.get('p')?.restFine).toBe(200n * FINE_PER_MINOR);
  });

  test('920 units out: unlike there, no gain is booked; the 4,500 that went in are carried, and no more', () => {
    const { lots, processes } = process(920);
    expect(lots.get('out')?.unitFine).toBe((4500n * FINE_PER_MINOR) / 920n);
    expect(processes.get('p')?.restFine).toBeLessThan(920n);
  });
});

describe('several levels with rework, by hand', () => {
  // 10,000 g shin for 60.00; 4,000 g stock (no loss planned) from 1,000 g bones for 2.00 and water
  // stew: 10,000 g shin + 2,000 g stock (1.00) -> planned 75 % of 12,000 g = 9,000 g; out 8,100 g (90 % of plan)
  //   pool 61.00, carried 54.90, abnormal loss 6.10; 54.90 / 8,100 = 0.0067777... a gram
  // soup: 900 g of the stew left over (6.10) + the other 2,000 g of stock (1.00) -> planned all of 2,900 g; out 2,900 g
  //   pool 7.10
  // packs: 6,000 g of stew (40.666...) + 20 pouches of 0.05 (1.00) -> 20 packs of 300 g
  //   pool 41.6666..., a pack 2.08333...
  const lots = [
    bought('shin', 10_000, 6000),
    bought('bones', 1000, 200),
    water('water'),
    pouches('pouches', 100, 500),
    made('stock', 'boil', 4000),
    made('stew', 'braise', 8100),
    made('soup', 'rework', 2900),
    packs('packs', 'seal', 20, 300),
  ];
  const takings = [
    takes('boil', 'bones', 1000),
    takes('boil', 'water', 3000),
    takes('braise', 'shin', 10_000),
    takes('braise', 'stock', 2000),
    takes('rework', 'stew', 900),
    takes('rework', 'stock', 2000),
    takes('seal', 'stew', 6000),
    takes('seal', 'pouches', 20),
  ];
  const processes = [
    batch('seal', 0, { kind: 'packing' }),
    batch('rework', 1_000_000),
    batch('braise', 750_000),
    batch('boil', 1_000_000),
  ];
  const { lots: costs, processes: money } = reckon(lots, processes, takings);
  const fineOf = (lotId: string) => costs.get(lotId)?.unitFine;

  test('planned loss is carried by the good output, what is lost beyond it is not', () => {
    expect(fineOf('stock')).toBe((5n * FINE_PER_MINOR) / 100n);
    expect(fineOf('stew')).toBe((5490n * FINE_PER_MINOR) / 8100n);
    const stew = money.get('braise');
    expect(stew?.poolFine).toBe(6100n * FINE_PER_MINOR);
    expect(minorOf(stew?.restFine ?? 0n)).toBeCloseTo(610, 9);
  });

  test('rework takes its worth along, packs carry their pouches', () => {
    // 900 x 5490/8100 = 610 exactly but for the floor of the stew's unit
    expect(minorOf(fineOf('soup') ?? 0n) * 2900).toBeCloseTo(710, 9);
    expect(minorOf(fineOf('packs') ?? 0n)).toBeCloseTo(208.333333333, 6);
  });

  test('what was paid is in lots, or was lost beyond the plan, to the last fine unit', () => {
    const paid = [
      ['shin', 10_000n],
      ['bones', 1000n],
      ['pouches', 100n],
    ] as const;
    const paidFine = paid.reduce((sum, [lotId, quantity]) => sum + quantity * (fineOf(lotId) ?? 0n), 0n);
    const left: [string, bigint][] = [
      ['pouches', 80n],
      ['stew', 1200n],
      ['soup', 2900n],
      ['packs', 20n],
    ];
    const standsFine = left.reduce((sum, [lotId, quantity]) => sum + quantity * (fineOf(lotId) ?? 0n), 0n);
    const restFine = [...money.values()].reduce((sum, process) => sum + process.restFine, 0n);
    expect(standsFine + restFine).toBe(paidFine);
  });

  test('bought mass: losses take their share, water and pouches are none of it', () => {
    // stock: 1,000 g of bones in 4,000 g: 250,000 micrograms a gram
    expect(costs.get('stock')?.boughtUgPerUnit).toBe(250_000n);
    // stew: 10,000 g shin + 2,000 x 0.25 = 10,500 g bought went in, x 8,100/12,000 is in 8,100 g: 0.875 a gram
    expect(costs.get('stew')?.boughtUgPerUnit).toBe(875_000n);
    // packs: 6,000 x 0.875 / 20 = 262.5 g
    expect(costs.get('packs')?.boughtUgPerUnit).toBe(262_500_000n);
  });
});

describe('rates', () => {
  test('for the batch in the pool, for a kg with what came out', () => {
    // pool 10.00 + 5.00; half of the plan came out: 7.50 carried; 0.40 a kg x 0.5 kg = 0.20 carried whole
    const { lots, processes } = reckon(
      [bought('in', 1000, 1000), made('out', 'cook', 500)],
      [batch('cook', 1_000_000, { perBatchMinor: 500n, perKgMinor: 40n })],
      [takes('cook', 'in', 1000)],
    );
    expect(lots.get('out')?.unitFine).toBe((770n * FINE_PER_MINOR) / 500n);
    expect(processes.get('cook')).toMatchObject({
      poolFine: 1520n * FINE_PER_MINOR,
      addedFine: 520n * FINE_PER_MINOR,
      carriedFine: 770n * FINE_PER_MINOR,
      restFine: 750n * FINE_PER_MINOR,
    });
  });
});

describe('what has no price', () => {
  test('is known in all that was made of it, by mass', () => {
    const { lots } = reckon(
      [bought('paid', 3000, 300), bought('unpaid', 1000, null), made('mix', 'b', 4000), made('next', 'c', 4000)],
      [batch('b', 1_000_000), batch('c', 1_000_000)],
      [takes('b', 'paid', 3000), takes('b', 'unpaid', 1000), takes('c', 'mix', 4000)],
    );
    expect(lots.get('unpaid')).toMatchObject({
      unitFine: 0n,
      uncosted: true,
      reason: 'no-price',
      unpricedPpm: 1_000_000,
    });
    const expected = { uncosted: true, reason: 'uncosted-input', unpricedPpm: 250_000 };
    expect(lots.get('mix')).toMatchObject({ ...expected, unitFine: (300n * FINE_PER_MINOR) / 4000n });
    expect(lots.get('next')).toMatchObject(expected);
  });

  test('food that became its own origin: the last taking of the circle counts as unpriced', () => {
    const first = takes('b', 'paid', 1000);
    const onward = takes('c', 'mix', 1000);
    const late = takes('b', 'soup', 500);
    const { lots, processes } = reckon(
      [bought('paid', 1000, 1000), made('mix', 'b', 1000), made('soup', 'c', 1000)],
      [batch('b', 1_000_000), batch('c', 1_000_000)],
      [late, onward, first],
    );
    // 1,500 g went in, 1,000 g came out: two thirds of 10.00 is carried
    expect(lots.get('mix')).toMatchObject({ reason: 'made-from-itself', unitFine: (FINE_PER_MINOR * 2n) / 3n });
    expect(lots.get('soup')).toMatchObject({ reason: 'uncosted-input', uncosted: true });
    const soup = lots.get('soup')?.unitFine ?? 0n;
    expect(processes.get('b')?.poolFine).toBe(1000n * FINE_PER_MINOR + 500n * soup);
  });

  test('what nothing stands of costs nothing', () => {
    const { lots, processes } = reckon(
      [bought('in', 1000, 1000), made('undone', 'b', 900, 0)],
      [batch('b', 900_000)],
      [takes('b', 'in', 1000)],
    );
    expect(lots.get('undone')).toMatchObject({ unitFine: 0n, uncosted: false });
    expect(processes.get('b')?.restFine).toBe(1000n * FINE_PER_MINOR);
  });

  test('what was used of it all the same has no price', () => {
    const { lots } = reckon(
      [bought('in', 1000, 1000), made('undone', 'b', 900, 0), made('soup', 'c', 900)],
      [batch('b', 900_000), batch('c', 1_000_000)],
      [takes('b', 'in', 1000), takes('c', 'undone', 900)],
    );
    expect(lots.get('soup')).toMatchObject({ reason: 'uncosted-input', unpricedPpm: 1_000_000 });
  });
});
