import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  minorUnits,
  partOf,
  shareOut,
  worthOfLots,
  type Taking,
  type ValueEdge,
  type ValueLot,
} from '../../src/domain/purchase-value.ts';

const lot = (lotId: string, quantity: number, more: Partial<ValueLot> = {}): ValueLot => ({
  lotId,
  quantity,
  massMg: quantity * 1000,
  stands: quantity,
  bought: false,
  priceMinor: null,
  ...more,
});
const edge = (parentLotId: string, childLotId: string, processId: string): ValueEdge => ({
  parentLotId,
  childLotId,
  processId,
});

describe('what food is worth at purchase prices', () => {
  // 40 kg of shin for 300.00 and 10 kg of carrots without a price. 20 kg and 5 kg go into a batch of two loads of 12 kg and 8 kg;
  // 9 kg of the first load are packed as 30 packs.
  const lots = [
    lot('shin', 40_000, { bought: true, priceMinor: 30_000 }),
    lot('carrots', 10_000, { bought: true }),
    lot('load-1', 12_000),
    lot('load-2', 8_000),
    lot('packs', 30, { massMg: 9_000_000 }),
  ];
  const takings: Taking[] = [
    { lotId: 'shin', processId: 'batch', quantity: 20_000 },
    { lotId: 'carrots', processId: 'batch', quantity: 5_000 },
    { lotId: 'load-1', processId: 'run', quantity: 9_000 },
  ];
  const edges = [
    edge('shin', 'load-1', 'batch'),
    edge('shin', 'load-2', 'batch'),
    edge('carrots', 'load-1', 'batch'),
    edge('carrots', 'load-2', 'batch'),
    edge('load-1', 'packs', 'run'),
  ];
  const told = (lotId: string, quantity: bigint, from = 0n, of = lots) => {
    const one = of.find((other) => other.lotId === lotId);
    const worth = worthOfLots(of, takings, edges).get(lotId);
    if (!one || !worth) throw new Error(lotId);
    const part = partOf(worth, one, quantity, from);
    return [minorUnits([part.fine])[0], Number(part.unpricedMg)];
  };

  test('by hand: the price goes along, loss costs nothing of its own, what has no price stays without', () => {
    expect(told('shin', 20_000n, 20_000n)).toEqual([15_000, 0]);
    expect(told('load-1', 12_000n)).toEqual([9_000, 3_000_000]);
    expect(told('load-2', 8_000n)).toEqual([6_000, 2_000_000]);
    // 9 of 12 kg: three quarters; a pack of 30 is 2.25
    expect(told('packs', 30n)).toEqual([6_750, 2_250_000]);
    expect(told('packs', 10n)).toEqual([2_250, 750_000]);
    expect(told('carrots', 5_000n, 5_000n)).toEqual([0, 5_000_000]);
  });

  test('an output that was undone has no share', () => {
    const undone = lots.map((one) => (one.lotId === 'load-2' ? { ...one, stands: 0 } : one));
    expect(told('load-1', 12_000n, 0n, undone)).toEqual([15_000, 5_000_000]);
  });

  test('rounds once, by largest remainder: a pound in three', () => {
    const thirds = shareOut(100n * 1_000_000_000n, 3n, [1n, 1n, 1n]);
    expect(minorUnits(thirds).sort()).toEqual([33, 33, 34]);
    expect(shareOut(5n, 0n, [1n])).toEqual([0n]);
  });

  test('a lot cannot be made from itself', () => {
    const circle = [edge('load-1', 'packs', 'a'), edge('packs', 'load-1', 'b')];
    expect(() => worthOfLots(lots, [], circle)).toThrow(RangeError);
  });

  test('nothing is lost or doubled in any history: what was paid is where the food is', () => {
    const history = fc.array(
      fc.record({
        price: fc.integer({ min: 0, max: 100_000 }),
        quantity: fc.integer({ min: 1, max: 5_000 }),
        // of earlier lots, by position, and how many hundredths of what is left of them go in
        from: fc.array(fc.tuple(fc.nat(), fc.integer({ min: 1, max: 100 })), { maxLength: 3 }),
        outputs: fc.integer({ min: 1, max: 3 }),
      }),
      { minLength: 1, maxLength: 12 },
    );
    fc.assert(
      fc.property(history, (steps) => {
        const all: ValueLot[] = [];
        const left = new Map<string, number>();
        const went: Taking[] = [];
        const links: ValueEdge[] = [];
        steps.forEach((step, at) => {
          const parents = new Map(
            all.length === 0 ? [] : step.from.map(([n, part]) => [all[n % all.length]?.lotId ?? '', part]),
          );
          const inputs = [...parents].flatMap(([lotId, part]) => {
            const quantity = Math.floor(((left.get(lotId) ?? 0) * part) / 100);
            return quantity > 0 ? [{ lotId, processId: `p${at}`, quantity }] : [];
          });
          for (const input of inputs) left.set(input.lotId, (left.get(input.lotId) ?? 0) - input.quantity);
          went.push(...inputs);
          const count = inputs.length === 0 ? 1 : step.outputs;
          for (let n = 0; n < count; n += 1) {
            const bought = inputs.length === 0;
            const made = lot(`l${at}-${n}`, step.quantity + n, { bought, priceMinor: bought ? step.price : null });
            all.push(made);
            left.set(made.lotId, made.quantity);
            links.push(...inputs.map((input) => edge(input.lotId, made.lotId, input.processId)));
          }
        });
        const worths = worthOfLots(all, went, links);
        const paid = all.reduce((sum, one) => sum + BigInt(one.priceMinor ?? 0), 0n);
        const there = all.reduce((sum, one) => {
          const rest = BigInt(left.get(one.lotId) ?? 0);
          const worth = worths.get(one.lotId) ?? { fine: 0n, unpricedMg: 0n };
          return sum + partOf(worth, one, rest, BigInt(one.quantity) - rest).fine;
        }, 0n);
        expect(there).toBe(paid * 1_000_000_000n);
      }),
      { numRuns: 200 },
    );
  });
});
