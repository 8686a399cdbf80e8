/**
 * Batches of stew whose yields are tenths of a percent of 10 kg. Expected limits by hand: mean 85.0, moving ranges 1 2 1 1 2 1 0 (mean 8/7), so
 * 85 ± 3 x (8/7) / 1.128 = 81.96 to 88.04.
 */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { findYieldsThatStandOut } from '../../../src/features/reporting/index.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const PATH = '/v1/reports/yields?fromDate=2026-11-01&toDate=2026-11-30';
const EIGHT = [850, 840, 860, 850, 840, 860, 850, 850];

let service: TestService;
let world: World;
let kitchen: Kitchen;
let shin: string;
beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-11-02T08:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  shin = await kitchen.shin(900_000, { priceMinor: 900_000 });
});
afterAll(() => service.stop());

const sweep = () => findYieldsThatStandOut(service).run({ groupId: service.groupId });
const atDay = (day: number) => `2026-11-${String(day).padStart(2, '0')}T10:00:00Z`;
const input = (batchId: string, quantity: number): Promise<Json> =>
  kitchen.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, {
    lotId: shin,
    placeId: world.ckChillerId,
    quantity,
    unit: 'g',
    occurredAt: new Date(service.clock.nowMs()).toISOString(),
  });

/** 10 kg in, `tenths` x 10 g out, completed on a day of November. */
async function cook(recipeId: string, tenths: number, day: number, losses: object[] = []): Promise<Json> {
  const batch = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
  const path = `/v1/batches/${batch.batchId}`;
  await input(batch.batchId as string, 10_000);
  const load = { placeId: world.ckChillerId, quantity: tenths * 10, unit: 'g', cookEndedAt: atDay(2) };
  const out = await kitchen.post('kitchen', `${path}/outputs`, { loads: [load] });
  await kitchen.post('kitchen', `${path}/completion`, { losses, completedAt: atDay(day) });
  return { batchId: batch.batchId, code: batch.code, loadId: out.lots[0].lotId };
}

const findings = async (status = 'open'): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/findings?kind=yield-stands-out&status=${status}`)).items;

async function recipe(code: string): Promise<string> {
  const made = await kitchen.post('admin', '/v1/recipes', {
    itemId: world.beefStewId,
    code,
    name: code,
    expectedYieldPpm: 850_000,
    steps: ['prepare', 'cook', 'chill', 'pack'],
    killStep: true,
    inputs: [{ itemId: world.beefShinId, quantity: 10_000, unit: 'g' }],
  });
  return made.recipeId as string;
}

test('a ninth batch below the limits is a finding in plain words; an input undone clears it, and put back opens it again', async () => {
  service.clock.set(Date.parse('2026-11-20T12:00:00Z'));
  for (const [at, tenths] of EIGHT.entries()) await cook(world.recipeId, tenths, 3 + at);
  await sweep();
  expect(await findings()).toEqual([]);
  const before = service.clock.nowMs();
  service.clock.set(before + 60_000);

  const ninth = await cook(world.recipeId, 850, 12, [
    { kind: 'trim', massG: 400 },
    { kind: 'cooking-loss', massG: 1_200 },
  ]);
  await sweep();
  expect(await findings()).toEqual([]);
  // 8,500 g of 10,600 g are 80.2 %; 85 % of them would be 9,010 g
  const late = await input(ninth.batchId, 600);
  await sweep();
  const [finding] = await findings();
  expect(finding).toMatchObject({ siteId: world.ckId, status: 'open' });
  expect(finding.detail).toMatchObject({
    batchId: ninth.batchId,
    side: 'below',
    yieldPercent: 80.2,
    lowerPercent: 82,
    upperPercent: 88,
    awayG: -510,
  });
  expect(finding.detail.text).toContain('80.2 % came out, below the usual 82 % to 88 %. That is 510 g less');
  expect(finding.detail.text).toContain('8 earlier batches');

  const { recipes } = await kitchen.get('finance', PATH);
  expect(recipes).toHaveLength(1);
  // (1 - 0.85) x 10,600 = 1,590 g were allowed; 1,600 g were written down; 10,600 - 8,500 - 1,600 = 500 g nobody explained
  expect(recipes[0].batches.at(-1)).toMatchObject({
    batchId: ninth.batchId,
    inputG: 10_600,
    outputG: 8_500,
    plannedLossG: 1_590,
    recordedWasteG: 10,
    unexplainedG: 500,
    // one minor unit a gram: 10,600 x (1 - 8,500 / 9,010) are lost beyond the plan
    costMinor: 10_600,
    abnormalLossMinor: 600,
    standsOut: true,
    side: 'below',
    usualRange: { mean: 85, lower: 82, upper: 88, n: 8, basis: 'same-version' },
  });
  expect(recipes[0]).toMatchObject({ standOuts: 1, median: 85, lowest: 80.2, highest: 86 });
  // as it was known before the ninth
  const then = await kitchen.get('finance', `${PATH}&recordedAt=${new Date(before).toISOString()}`);
  expect(then.recipes[0]).toMatchObject({ standOuts: 0, spread: { mean: 85, lower: 82, upper: 88, n: 8 } });
  expect(then.recipes[0].batches).toHaveLength(8);

  const undone = await kitchen.post('quality', '/v1/reversals', { entryId: late.entryId, reason: 'Weighed twice' });
  expect(undone.entryId).toBeDefined();
  await sweep();
  expect(await findings()).toEqual([]);
  expect((await findings('cleared')).map(({ detail }: Json) => detail.batchId)).toEqual([ninth.batchId]);
  await input(ninth.batchId, 600);
  await sweep();
  expect((await findings()).map(({ findingId }: Json) => findingId)).toEqual([finding.findingId]);
});

test('the same facts in any order, looked at after each or at the end, are the same finding', async () => {
  const facts: [tenths: number, day: number][] = [
    ...EIGHT.map((tenths, at): [number, number] => [tenths, 3 + at]),
    [790, 12],
  ];
  const tell = async (code: string, order: readonly number[], after: (no: number) => boolean) => {
    const recipeId = await recipe(code);
    for (const [no, at] of order.entries()) {
      const [tenths, day] = facts[at] ?? [0, 0];
      await cook(recipeId, tenths, day);
      if (after(no)) await sweep();
    }
    await sweep();
    const found = (await findings()).filter(({ detail }: Json) => detail.recipeId === recipeId);
    return found.map(({ detail }: Json) => ({
      ...detail,
      text: detail.text.replace(detail.batchCode, 'CODE'),
      batchId: null,
      factId: null,
      batchCode: null,
      recipeId: null,
    }));
  };
  const inOrder = await tell('ORDER-1', [0, 1, 2, 3, 4, 5, 6, 7, 8], () => true);
  expect(inOrder).toMatchObject([{ side: 'below', yieldPercent: 79, lowerPercent: 82 }]);
  expect(await tell('ORDER-2', [8, 0, 1, 2, 3, 4, 5, 6, 7], () => true)).toEqual(inOrder);
  expect(await tell('ORDER-3', [3, 8, 7, 0, 5, 2, 1, 6, 4], (no) => no === 8)).toEqual(inOrder);
});

test('the picture names the batch that stands out, and a picture of no recipe is refused', async () => {
  const [{ recipeId, batches }] = (await kitchen.get('finance', PATH)).recipes;
  const picture = await service.as('finance').get(`${PATH}&recipeId=${recipeId}`, { accept: 'image/svg+xml' });
  expect(picture.status).toBe(200);
  expect(picture.headers['content-type']).toContain('image/svg+xml');
  expect(picture.text).toContain(`${batches.at(-1).code}: 80.2 %`);
  expect(picture.text).toContain('expected 85 %');
  expect((await service.as('finance').get(`${PATH}&format=svg`)).body.code).toBe('rule-broken');
});

test('at most twelve months, in order, on the calendar, at sites that are there', async () => {
  const code = async (query: string) => (await service.as('finance').get(`/v1/reports/yields?${query}`)).body.code;
  expect(await code('fromDate=2025-11-01&toDate=2026-11-01')).toBe('period-too-long');
  expect(await code('fromDate=2025-11-01&toDate=2026-10-31')).toBe(undefined);
  expect(await code('fromDate=2026-11-02&toDate=2026-11-01')).toBe('rule-broken');
  expect(await code('fromDate=2026-02-30&toDate=2026-03-01')).toBe('rule-broken');
  expect(await code('fromDate=2026-11-01&toDate=2026-11-02&site=NOWHERE')).toBe('not-found');
  expect(await code('fromDate=2026-11-01&toDate=2026-11-02&site=CK,W3')).toBe(undefined);
  const own = await service.as('kitchen', world.ckId).get('/v1/reports/yields?fromDate=2026-11-01&toDate=2026-11-02');
  expect(own.body.code).toBe('rule-broken');
});
