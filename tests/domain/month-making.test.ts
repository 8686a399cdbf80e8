import { describe, expect, test } from 'vitest';
import { batchesFine, makingOf, type MakingFine, type MakingFlow } from '../../src/domain/month/making.ts';

const FINE = 10n ** 18n;
const nothing: MakingFine = { opening: 0n, revalued: 0n, consumed: 0n, added: 0n, produced: 0n, closing: 0n };

describe('batches over months', () => {
  const flow = (side: MakingFlow['side'], period: string, quantity: number): MakingFlow => ({
    batchId: 'b',
    siteId: 'k',
    lotId: side,
    side,
    period,
    completedPeriod: null,
    quantity,
    lotQuantity: 10_000,
    lotMassMg: 10_000_000,
  });
  const prices = { unitFineOf: () => FINE, ratesOf: () => ({ perBatchMinor: 500n, perKgMinor: 100n }) };
  const of = (flows: readonly MakingFlow[], before: string, throughMonth: string) =>
    batchesFine(flows, prices, prices, { before, throughMonth }).get('k');

  test('what was all undone carries no rate: what was added is taken off where it is undone', () => {
    const undone = [flow('input', '2026-09', 4_000), flow('input', '2026-10', -4_000)];
    expect(of(undone, '2026-08', '2026-09')).toEqual({
      opening: 0n,
      revalued: 0n,
      added: 500n * FINE,
      closing: 4_500n * FINE,
    });
    expect(of(undone, '2026-09', '2026-10')).toEqual({
      opening: 4_500n * FINE,
      revalued: 0n,
      added: -500n * FINE,
      closing: 0n,
    });
  });

  test('what came out in two months is rated in each: 2 kg and 3 kg at 1.00', () => {
    const made = [flow('input', '2026-09', 8_000), flow('output', '2026-09', 2_000), flow('output', '2026-10', 3_000)];
    expect(of(made, '2026-08', '2026-09')?.added).toBe(700n * FINE);
    expect(of(made, '2026-09', '2026-10')?.added).toBe(300n * FINE);
    expect(of(made, '2026-08', '2026-10')?.added).toBe(1_000n * FINE);
  });
});

describe('losses of sites, printed', () => {
  const sites = (...lost: readonly bigint[]) =>
    new Map(lost.map((consumed, at): [string, MakingFine] => [String(at), { ...nothing, consumed }]));
  const printed = (consumed: number, ...lost: readonly bigint[]) => {
    const { making, lossOf } = makingOf({ consumed, produced: 0 }, sites(...lost));
    return [making.abnormalLoss, making.abnormalLossAtNoSite, ...lossOf.values()];
  };

  test('sum to the loss of all: of 1.4, 1.4 and 0.2 the larger remainders go up', () => {
    expect(printed(3, (14n * FINE) / 10n, (14n * FINE) / 10n, FINE / 5n)).toEqual([3, 0, 2, 1, 0]);
    expect(printed(4, (14n * FINE) / 10n, (14n * FINE) / 10n, FINE / 5n)).toEqual([4, 0, 2, 2, 0]);
  });

  test('a site that lost nothing, or what floors leave over, stays at nothing; what is left is said', () => {
    expect(printed(1, 0n, 3n, -3n)).toEqual([1, 1, 0, 0, 0]);
    expect(printed(9, 5n * FINE, FINE / 2n)).toEqual([9, 3, 5, 1]);
  });
});
