/**
 * A closed month stays what it was, byte for byte, whatever is told about it later; and what is told stands in the open month, nowhere else.
 * The sums are kept here, fact by fact, in grams of one item: a use counts on its line in the month that was open when it was told, and an
 * undone one counts against the line of what it undoes. `npm run prove` tells a thousand late facts.
 */
import { randomUUID } from 'node:crypto';
import canonicalizeModule from 'canonicalize';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { makeMonthFiles } from '../../src/features/reporting/closes/files-job.ts';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { startService, type TestService } from '../support/service.ts';
import { buildWorld, type World } from '../support/world.ts';

const canonicalize = canonicalizeModule as unknown as (value: unknown) => string;
const FACTS = Number(process.env['SEALTRAIL_PROVE_RUNS'] ?? 0) < 50 ? 200 : 1_000;
const SEED = Number(process.env['SEALTRAIL_PROVE_SEED'] ?? 20_261_031);

const accept = ['open-batches', 'unreceived-dispatches', 'negative-balances', 'uncosted-lots'].map((check) => ({
  check,
  reason: 'Known',
}));
/** Lines on which a fact of this test can stand, and which side of the sum they are on. */
const LINES = { received: 1, served: -1, staffMeals: -1, donated: -1, wasted: -1, returnedToSupplier: -1 } as const;
type Line = keyof typeof LINES;
type Sums = Record<Line, number>;
const nothing = (): Sums => ({ received: 0, served: 0, staffMeals: 0, donated: 0, wasted: 0, returnedToSupplier: 0 });

type Step =
  | {
      readonly kind: 'take';
      readonly line: Exclude<Line, 'received'>;
      readonly lot: number;
      readonly grams: number;
      readonly day: number;
      readonly late: boolean;
    }
  | { readonly kind: 'deliver'; readonly grams: number; readonly day: number; readonly late: boolean }
  | { readonly kind: 'undo'; readonly which: number }
  | { readonly kind: 'price'; readonly lot: number; readonly minor: number };

const grams = fc.integer({ min: 1, max: 4_000 });
const day = fc.integer({ min: 6, max: 28 });
const late = fc.constantFrom(true, true, true, false);
const step: fc.Arbitrary<Step> = fc.oneof(
  {
    weight: 6,
    arbitrary: fc.record({
      kind: fc.constant('take' as const),
      line: fc.constantFrom(
        'served' as const,
        'staffMeals' as const,
        'donated' as const,
        'wasted' as const,
        'returnedToSupplier' as const,
      ),
      lot: fc.nat(),
      grams,
      day,
      late,
    }),
  },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('deliver' as const), grams, day, late }) },
  { weight: 2, arbitrary: fc.record({ kind: fc.constant('undo' as const), which: fc.nat() }) },
  {
    weight: 1,
    arbitrary: fc.record({
      kind: fc.constant('price' as const),
      lot: fc.nat(),
      minor: fc.integer({ min: 1, max: 90_000 }),
    }),
  },
);

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-10-05T06:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

interface Told {
  readonly entryId: string;
  readonly line: Line;
  readonly grams: number;
  readonly month: string;
}

const lots: string[] = [];
const standing: Told[] = [];
/** what was told after the first close, by the month in which it happened */
const since: Record<string, Sums> = { '2026-10': nothing(), '2026-11': nothing() };
let lateFacts = 0;

const instant = (month: string, dayOfMonth: number) => `${month}-${String(dayOfMonth).padStart(2, '0')}T09:00:00Z`;
const MORE: Readonly<Record<Exclude<Line, 'received'>, readonly [string, object]>> = {
  served: ['/v1/uses', {}],
  staffMeals: ['/v1/uses', { purpose: 'staff-meal' }],
  donated: ['/v1/uses', { purpose: 'donation', recipient: 'The soup kitchen' }],
  wasted: ['/v1/discards', { reason: 'trim', destination: 'anaerobic-digestion' }],
  returnedToSupplier: ['/v1/returns', { direction: 'to-supplier', reason: 'Torn bag' }],
};

async function deliver(month: string, dayOfMonth: number, quantity: number): Promise<void> {
  const lot = { lotId: randomUUID(), itemId: world.beefShinId, placeId: world.ckChillerId, quantity, unit: 'g' };
  const receipt = { siteId: world.ckId, supplierId: world.supplierId, lines: [lot] };
  await kitchen.post('kitchen', '/v1/goods-receipts', { ...receipt, occurredAt: instant(month, dayOfMonth) });
  lots.push(lot.lotId);
}

async function take(
  line: Exclude<Line, 'received'>,
  at: { lot: number; month: string; day: number },
  quantity: number,
) {
  const [path, more] = MORE[line];
  const lotId = lots[at.lot % lots.length];
  const body = {
    lotId,
    placeId: world.ckChillerId,
    quantity,
    unit: 'g',
    occurredAt: instant(at.month, at.day),
    ...more,
  };
  const { entryId } = await kitchen.post('kitchen', path, body);
  standing.push({ entryId, line, grams: quantity, month: at.month });
}

function count(month: string, line: Line, quantity: number): void {
  const sums = since[month];
  if (!sums) throw new Error(`nothing is told about ${month}`);
  sums[line] += quantity;
  if (month === '2026-10') lateFacts += 1;
}

async function tell(one: Step): Promise<void> {
  switch (one.kind) {
    case 'take': {
      const month = one.late ? '2026-10' : '2026-11';
      await take(one.line, { lot: one.lot, month, day: one.day }, one.grams);
      return count(month, one.line, one.grams);
    }
    case 'deliver': {
      const month = one.late ? '2026-10' : '2026-11';
      await deliver(month, one.day, one.grams);
      return count(month, 'received', one.grams);
    }
    case 'undo': {
      const [undone] = standing.splice(one.which % standing.length, 1);
      if (!undone) return;
      await kitchen.post('kitchen', '/v1/reversals', { entryId: undone.entryId, reason: 'Wrong lot' });
      return count(undone.month, undone.line, -undone.grams);
    }
    case 'price':
      await kitchen.post('finance', '/v1/prices', { lotId: lots[one.lot % lots.length], priceMinor: one.minor });
  }
}

const close = async (month: string): Promise<string> => {
  const { closeId } = await kitchen.post('finance', '/v1/month-closes', { month, accept });
  await makeMonthFiles({ db: service.db, clock: service.clock }).run({ groupId: service.groupId });
  return closeId;
};
const report = (month: string, more = ''): Promise<Json> =>
  kitchen.get('finance', `/v1/reports/waste-and-yield?month=${month}${more}`);
const stored = async (closeId: string): Promise<string> =>
  (await service.as('finance').get(`/v1/month-closes/${closeId}/files/json`)).text;
const lineSums = (sums: Json): Sums => {
  const names = Object.keys(LINES) as Line[];
  return Object.fromEntries(names.map((name) => [name, sums[name]])) as unknown as Sums;
};

test(
  `a month stays as it was closed after ${FACTS} late facts, which stand in the next one and are told apart`,
  async () => {
    for (const quantity of [90_000, 60_000, 30_000]) await deliver('2026-10', 5, quantity);
    service.clock.set(Date.parse('2026-10-30T20:00:00Z'));
    await kitchen.post('finance', '/v1/prices', { lotId: lots[0], priceMinor: 72_000 });
    for (const [at, line] of (['served', 'wasted', 'donated', 'served', 'staffMeals'] as const).entries()) {
      await take(line, { lot: at, month: '2026-10', day: 10 + at }, 5_000 + at);
    }
    service.clock.set(Date.parse('2026-11-29T12:00:00Z'));
    const october = await close('2026-10');
    const asClosed = await stored(october);
    expect(JSON.parse(asClosed).totals.inGrams).toMatchObject({
      opening: 0,
      received: 180_000,
      closing: 180_000 - 25_010,
    });

    const [steps = []] = fc.sample(fc.array(step, { minLength: FACTS, maxLength: FACTS, size: 'max' }), {
      numRuns: 1,
      seed: SEED,
    });
    for (const one of steps) await tell(one);

    // made again from the ledger, at a later cut
    expect(canonicalize(await report('2026-10'))).toBe(asClosed);
    expect(await stored(october)).toBe(asClosed);

    const told = { october: since['2026-10'] ?? nothing(), november: since['2026-11'] ?? nothing() };
    const november = await report('2026-11');
    const lateSums = nothing();
    for (const row of november.late as Json[]) {
      expect([row.month, row.itemId]).toEqual(['2026-10', world.beefShinId]);
      if (row.kind !== 'revalued') lateSums[row.line as Line] += row.quantity;
    }
    expect(lateSums).toEqual(told.october);
    const both = nothing();
    for (const name of Object.keys(LINES) as Line[]) both[name] = told.october[name] + told.november[name];
    expect(lineSums(november.totals.inGrams)).toEqual(both);
    expect(november.totals.inGrams.opening).toBe(180_000 - 25_010);

    const restated = await kitchen.get('finance', '/v1/months/2026-10/restated');
    const differences: Json = { ...nothing() };
    for (const row of restated.rows) if (row.line in LINES) differences[row.line] = row.difference.quantity;
    expect(differences).toEqual(told.october);
    const closing = (Object.keys(LINES) as Line[]).reduce((sum, name) => sum + LINES[name] * told.october[name], 0);
    expect(restated.totals.find((row: Json) => row.line === 'closing').difference.grams).toBe(closing);
    const money = restated.totals.map((row: Json) => [row.line, row.difference.valueMinor] as const);
    const ins = ['opening', 'received', 'produced', 'returnedIn', 'transferIn', 'adjusted', 'revalued'];
    // what came in differs by as much as what went out and what is left
    expect(
      money.reduce((sum: number, [line, minor]: [string, number]) => sum + (ins.includes(line) ? minor : -minor), 0),
    ).toBe(0);
    const prices = new Set(steps.filter((one) => one.kind === 'price'));
    expect(restated.factsInAll).toBeGreaterThanOrEqual(lateFacts);
    expect(restated.factsInAll).toBeLessThanOrEqual(lateFacts + prices.size);

    service.clock.set(Date.parse('2026-12-05T12:00:00Z'));
    const next = await close('2026-11');
    expect(canonicalize(await report('2026-10'))).toBe(asClosed);
    expect(canonicalize(await report('2026-11'))).toBe(await stored(next));
    const december = await report('2026-12');
    expect(december.late).toEqual([]);
    expect(december.totals.inGrams.opening).toBe(november.totals.inGrams.closing);
  },
  120_000 + FACTS * 300,
);
