/**
 * Food that must not leave although some check of it passed, one way after another. What is expected is said by the rules in words: a check
 * shows only what it was taken of; what failed stops what it may be about, before and after the release; what no longer stands lets
 * nothing go.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Answer } from '../support/service.ts';
import type { Json } from '../support/kitchen.ts';
import { POINTS, type Code } from '../support/oracle/process-release.ts';
import { startKit, type Kit } from './kit.ts';

let kit: Kit;
beforeAll(async () => {
  kit = await startKit();
});
afterAll(() => kit.stop());

const TWO = 2;
async function recipe(codes: readonly Code[], steps = ['prepare', 'cook', 'chill', 'pack']): Promise<string> {
  const { world } = kit;
  const code = randomUUID().slice(0, 12);
  const { recipeId } = await kit.post('admin', '/v1/recipes', {
    ...{ itemId: world.beefStewId, code, name: code, expectedYieldPpm: 850_000, killStep: true, steps },
    inputs: [{ itemId: world.beefShinId, quantity: 40_000, unit: 'g' }],
  });
  const points = codes.map((one) => ({ ...POINTS[one].plan, source: 'This test' }));
  const plan = { release: 'automatic', twoPeople: false, points };
  await kit.post('quality', `/v1/recipes/${recipeId}/process-plans`, plan);
  return recipeId as string;
}

interface Made {
  readonly batchId: string;
  readonly loads: readonly string[];
  readonly lotId: string;
}
async function make(codes: readonly Code[], loads = 1, from?: string): Promise<Made> {
  const { world } = kit;
  const recipeId = await recipe(codes);
  const { batchId } = await kit.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
  const lotId = from ?? (await kit.shin(10_000));
  const input = { lotId, placeId: world.ckChillerId, quantity: 500, unit: 'g' };
  await kit.post('kitchen', `/v1/batches/${batchId}/inputs`, input);
  const load = { placeId: world.ckChillerId, quantity: 900, unit: 'g', cookEndedAt: kit.now() };
  const out = await kit.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: Array(loads).fill(load) });
  const lotIds = (out.lots as Json[]).map((lot) => lot.lotId as string);
  kit.after(10);
  return { batchId, loads: lotIds, lotId: lotIds[0] ?? '' };
}

const bodyOf = (code: Code, kind: string, id: string, measured: object) => ({
  ...{ siteId: kit.world.ckId, stage: POINTS[code].plan.stage, kind: POINTS[code].plan.kind, controlPoint: code },
  ...{ about: { kind, id }, ...measured },
});
const passes = (code: Code, id: string, kind = 'lot', more: object = {}): Promise<Json> =>
  kit.post('kitchen', '/v1/process-checks', bodyOf(code, kind, id, { ...POINTS[code].passing, ...more }));
const fails = (code: Code, id: string, kind = 'lot'): Promise<Json> =>
  kit.post('kitchen', '/v1/process-checks', bodyOf(code, kind, id, POINTS[code].failing));

async function leaving(lotId: string, unit = 'g'): Promise<Answer> {
  const { world } = kit;
  const lines = [{ lotId, placeId: world.ckChillerId, quantity: 1, unit }];
  const plan = await kit.post('kitchen', '/v1/dispatches', { fromSiteId: world.ckId, toSiteId: world.w3Id, lines });
  return kit.try('driver', `/v1/dispatches/${plan.dispatchId as string}/departure`, {});
}
async function stays(lotId: string, unit = 'g'): Promise<void> {
  const answer = await leaving(lotId, unit);
  expect([answer.status, answer.body.code]).toEqual([409, 'on-hold']);
}
async function goes(lotId: string): Promise<void> {
  const answer = await leaving(lotId);
  expect(answer.status, answer.text).toBeLessThan(300);
}
const cooling = (...points: [number, number][]) => ({
  series: points.map(([minute, temperatureC]) => ({ minute, temperatureC })),
});

test('a probe put into food that is cold already shows no cooling', async () => {
  for (const series of [cooling([0, 4], [50, 2]), cooling([0, 40], [50, 2]), cooling([0, 3], [50, 2])]) {
    const { lotId } = await make(['chill']);
    const told = await kit.post('kitchen', '/v1/process-checks', bodyOf('chill', 'lot', lotId, series));
    expect(told.result).toBe('failed');
    await stays(lotId);
  }
});

test('a check dated before the batch was opened lets nothing go by itself', async () => {
  const { lotId } = await make(['cook']);
  const occurredAt = new Date(kit.service.clock.nowMs() - 30 * 86_400_000).toISOString();
  const early = bodyOf('cook', 'lot', lotId, { ...POINTS.cook.passing, occurredAt });
  await kit.try('kitchen', '/v1/process-checks', early);
  await stays(lotId);
});

test('of several loads, one reading of the batch lets no load go, and a failed one stops each until it is closed', async () => {
  const { batchId, loads } = await make(['cook'], TWO);
  const [one, other] = loads as [string, string];
  await passes('cook', batchId, 'batch');
  await stays(one);
  const failed = await fails('cook', batchId, 'batch');
  kit.after(1);
  for (const lotId of loads) await passes('cook', lotId);
  await stays(one);
  await stays(other);
  const path = `/v1/process-checks/${failed.checkId as string}/corrective-actions`;
  await kit.post('quality', path, { action: 'Each load was probed again', closes: true });
  await goes(one);
  await goes(other);
});

test('what is too cold in the packs was too cold in their load', async () => {
  const { batchId, lotId } = await make(['cook']);
  const packs = await kit.pack(batchId, lotId, 600, TWO, { serialised: false });
  await fails('cook', packs);
  kit.after(1);
  await passes('cook', lotId);
  await stays(packs, 'piece');
});

test('food rejected for rework goes on only where a check shows heat', async () => {
  const bad = await make(['chill']);
  await fails('chill', bad.lotId);
  await kit.post('quality', `/v1/batches/${bad.batchId}/rejection`, { disposition: 'rework', reason: 'Too slow' });
  await stays(bad.lotId);
  const unheated = await make(['ph'], 1, bad.lotId);
  await passes('ph', unheated.lotId);
  await stays(unheated.lotId);
  const again = await make(['chill'], 1, (await rejected(unheated)).lotId);
  await passes('chill', again.lotId);
  await stays(again.lotId);
  const heated = await make(['cook', 'chill'], 1, (await rejected(again)).lotId);
  await passes('chill', heated.lotId);
  await stays(heated.lotId);
  await passes('cook', heated.lotId);
  await goes(heated.lotId);
});
async function rejected(batch: Made): Promise<Made> {
  await kit.post('quality', `/v1/batches/${batch.batchId}/rejection`, { disposition: 'rework', reason: 'Once more' });
  return batch;
}

test('a check that turns out to be of something else lets go nothing any more', async () => {
  const { lotId, loads } = await make(['cook'], TWO);
  const check = await passes('cook', lotId);
  await goes(lotId);
  const correction = {
    ...bodyOf('cook', 'lot', loads[1] ?? '', POINTS.cook.passing),
    reason: 'It was the other trolley',
  };
  await kit.post('kitchen', `/v1/process-checks/${check.checkId as string}/corrections`, correction);
  await stays(lotId);
  expect(await kit.findings(lotId)).toContain('released-on-changed-check');
  await goes(loads[1] ?? '');
});

test('a check of the whole batch that fails stops what was released on an earlier one', async () => {
  const { lotId, loads } = await make(['cook', 'ph'], TWO);
  await passes('ph', lotId);
  await passes('cook', lotId);
  await goes(lotId);
  await fails('ph', loads[1] ?? '');
  await stays(lotId);
  await passes('cook', loads[1] ?? '');
  await stays(loads[1] ?? '');
});

test('what is too cold in packs that were released stops the rest of their load as well', async () => {
  const { batchId, lotId } = await make(['cook', 'ph'], TWO);
  const packs = await kit.pack(batchId, lotId, 600, TWO, { serialised: false });
  await passes('ph', lotId);
  await passes('cook', lotId);
  await goes(lotId);
  kit.after(1);
  await fails('cook', packs);
  await stays(packs, 'piece');
  await stays(lotId);
});

test('packs need what the plan of their own food asks of a run, whichever batch they are packed with', async () => {
  const sealed = await make(['cook', 'seal']);
  await passes('cook', sealed.lotId);
  const other = await make(['cook']);
  const packs = await kit.pack(other.batchId, sealed.lotId, 600, TWO, { serialised: false });
  await stays(packs, 'piece');
});

test('what was rejected for rework does not join food that was released before', async () => {
  const bad = await make(['chill']);
  await fails('chill', bad.lotId);
  await kit.post('quality', `/v1/batches/${bad.batchId}/rejection`, { disposition: 'rework', reason: 'Too slow' });
  const input = { lotId: bad.lotId, placeId: kit.world.ckChillerId, quantity: 100, unit: 'g' };
  const asked = await make(['ph']);
  await passes('ph', asked.lotId);
  await kit.try('kitchen', `/v1/batches/${asked.batchId}/inputs`, input);
  const told = await make(['ph']);
  await passes('ph', told.lotId);
  await kit.post('kitchen', `/v1/batches/${told.batchId}/recorded-inputs`, { ...input, occurredAt: kit.now() });
  await stays(told.lotId);
  const isIn = (await kit.get('quality', `/v1/batches/${asked.batchId}`)).inputs as Json[];
  if (isIn.some((one) => one.lotId === bad.lotId)) await stays(asked.lotId);
  else await goes(asked.lotId);
});

test('nothing more is put into a batch of which a load is released; what went in already is recorded', async () => {
  const { batchId, lotId } = await make(['ph'], TWO);
  const lot = await kit.shin(10_000);
  const input = { lotId: lot, placeId: kit.world.ckChillerId, quantity: 100, unit: 'g' };
  await kit.post('kitchen', `/v1/batches/${batchId}/inputs`, input);
  await passes('ph', lotId);
  const { status, body } = await kit.try('kitchen', `/v1/batches/${batchId}/inputs`, input);
  expect([status, body.code]).toEqual([409, 'wrong-state']);
  await kit.post('kitchen', `/v1/batches/${batchId}/recorded-inputs`, { ...input, occurredAt: kit.now() });
});

test('a reason of blanks is none', async () => {
  const { batchId } = await make(['ph']);
  for (const reason of [' ', '\n \t'])
    expect((await kit.try('quality', `/v1/batches/${batchId}/rejection`, { reason })).status).toBe(400);
  await kit.post('quality', `/v1/batches/${batchId}/rejection`, { reason: ' Burnt' });
});
