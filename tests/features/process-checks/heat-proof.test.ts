/**
 * Signing for heat by a check. Minutes at 90 °C are the minutes of a series that stays at 90 °C, by definition of the target; at 84 °C none
 * count, whatever the sum says (Fernandez and Peck 1997, as the data tells it).
 */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { recomputeShelfLife } from '../../../src/features/shelf-life/index.ts';
import { heatProof, type HeatCheck } from '../../../src/domain/process-checks/heat-proof.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

/** The published target of 90 °C for 10 minutes, by its code. */
const PASTEURISE = {
  code: 'pasteurise',
  label: 'Pasteurised',
  stage: 'cook',
  kind: 'lethality',
  limit: { target: 'botulinum-90' },
  per: 'load',
  requiredFor: 'release',
  critical: true,
  repeatable: true,
};

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  await givePlan('by-hand');
});
afterAll(() => service.stop());

const givePlan = (release: 'by-hand' | 'automatic') =>
  kitchen.post('quality', `/v1/recipes/${world.recipeId}/process-plans`, {
    release,
    twoPeople: false,
    points: [PASTEURISE],
  });
const at = (minutes: number) => new Date(NOON_MS + minutes * 60_000).toISOString();
const flat = (temperatureC: number, minutes: number) =>
  Array.from({ length: minutes + 1 }, (_, minute) => ({ minute, temperatureC }));
const heated = (lotId: string, temperatureC: number, minutes: number, more: object = {}) => ({
  siteId: world.ckId,
  stage: 'cook',
  kind: 'lethality',
  controlPoint: 'pasteurise',
  about: { kind: 'lot', id: lotId },
  series: flat(temperatureC, minutes),
  ...more,
});
const take = async (body: object): Promise<string> =>
  (await kitchen.post('kitchen', '/v1/process-checks', body)).checkId;
const sign = (batchId: string, body: object, status = 201): Promise<Json> =>
  kitchen.post(
    'quality',
    `/v1/batches/${batchId}/control-factors`,
    { factor: 'heat', signedBy: 'Nora Pell', ...body },
    status,
  );
const whyNot = async (batchId: string, body: object) => {
  const { code, errors } = await sign(batchId, body, 422);
  return [code, errors[0].pointer, errors[0].detail];
};
async function cooked(loads = 1): Promise<{ batchId: string; loads: string[] }> {
  const made = await kitchen.stew(await kitchen.shin(10_000), 10_000, 4_000);
  const lots = [made.lotId];
  while (lots.length < loads) {
    const load = { placeId: world.ckChillerId, quantity: 4_000, unit: 'g', cookEndedAt: at(0) };
    const out = await kitchen.post('kitchen', `/v1/batches/${made.batchId}/outputs`, { loads: [load] });
    lots.push(out.lots.map((lot: Json) => lot.lotId).find((lotId: string) => !lots.includes(lotId)));
  }
  return { batchId: made.batchId, loads: lots };
}
async function tenDays(lotId: string): Promise<Json> {
  const parts = { db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') };
  await recomputeShelfLife(parts).run({ groupId: service.groupId });
  const life = await kitchen.get('quality', `/v1/lots/${lotId}/shelf-life`);
  return life.parts[0].limits.find((limit: Json) => limit.code === 'vacuum-pack-10-days');
}

test('a check that shows the heat lifts the ten days once a person has signed; a correction of it brings them back', async () => {
  const { batchId, loads } = await cooked();
  const [load = ''] = loads;
  const packs = await kitchen.pack(batchId, load, 3_000, 10);
  const before = (await tenDays(packs)).endsAt;
  expect(before).not.toBeNull();
  const checkId = await take(heated(load, 90, 12));
  expect((await tenDays(packs)).endsAt).toBe(before);
  const signed = await sign(batchId, { checkId });
  expect(signed).toMatchObject({ factor: 'heat', value: 90, minutes: 12, checkId, lifts: true, whyNot: null });
  expect((await tenDays(packs)).endsAt).toBeNull();

  service.clock.set(NOON_MS + 60_000);
  const wrong = { ...heated(load, 90, 4), reason: 'The probe had slipped out' };
  await kitchen.post('kitchen', `/v1/process-checks/${checkId}/corrections`, wrong);
  expect((await tenDays(packs)).endsAt).toBe(before);
  expect((await whyNot(batchId, { checkId }))[2]).toContain('that stands');
});

test('of one load of several, every load needs one and the least counts', async () => {
  const { batchId, loads } = await cooked(2);
  const first = await take(heated(loads[0] ?? '', 90, 15));
  expect((await whyNot(batchId, { checkId: first }))[2]).toContain('1 of the 2 loads');
  await take(heated(loads[1] ?? '', 90, 11));
  expect(await sign(batchId, { checkId: first })).toMatchObject({ minutes: 11, lifts: true });
});

test('what does not show it is refused, or signed and lifts nothing', async () => {
  const { batchId, loads } = await cooked();
  const [load = ''] = loads;
  const short = await take(heated(load, 90, 9));
  expect(await whyNot(batchId, { checkId: short })).toEqual(['rule-broken', '#/checkId', 'The check failed.']);
  // 60 minutes at 84 °C sum up to 60 × 10^(-6/9) = 12.9 minutes, and none of them from 85 °C up
  const low = await take(heated(load, 84, 60));
  expect(await sign(batchId, { checkId: low })).toMatchObject({ minutes: 0, lifts: false });
  const site = await take({ ...heated(load, 75, 5), controlPoint: undefined });
  expect((await whyNot(batchId, { checkId: site }))[2]).toContain('another target');
  const good = await take(heated(load, 90, 12));
  expect((await whyNot(batchId, { checkId: good, value: 90 }))[1]).toBe('#/value');
  expect((await whyNot(batchId, { checkId: good, minutes: 10 }))[1]).toBe('#/minutes');
  expect((await whyNot(batchId, { factor: 'ph', checkId: good }))[1]).toBe('#/factor');
  expect((await whyNot(batchId, {}))[1]).toBe('#/value');
  const other = await cooked();
  expect((await whyNot(other.batchId, { checkId: good }))[2]).toContain('no lethality check of this batch');
});

async function newProbe(code: string) {
  const probe = { siteId: world.ckId, code, name: code, kind: 'probe' };
  const { equipmentId } = await kitchen.post('operations', '/v1/equipment', probe);
  const calibrate = (minutes: number, measuredC: number): Promise<Json> =>
    kitchen.post('kitchen', `/v1/equipment/${equipmentId}/calibrations`, {
      occurredAt: at(minutes),
      method: 'boiling-point',
      measuredC,
    });
  return { probeId: equipmentId as string, calibrate };
}

test('a check by a probe that is found to measure wrongly shows nothing', async () => {
  service.clock.set(NOON_MS);
  const { batchId, loads } = await cooked();
  const { probeId, calibrate } = await newProbe('PROBE-7');
  await calibrate(-600, 100);
  const checkId = await take(heated(loads[0] ?? '', 90, 12, { instrumentId: probeId, occurredAt: at(-300) }));
  const bad = await calibrate(-60, 103);
  expect((await whyNot(batchId, { checkId }))[2]).toContain('measure wrongly');
  // told late: it was good in between, so the check is not in doubt
  await calibrate(-200, 100);
  expect(await sign(batchId, { checkId })).toMatchObject({ lifts: true });
  expect((await kitchen.get('quality', `/v1/calibrations/${bad.calibrationId}`)).suspectChecks).toEqual([]);
});

test('food does not leave by itself on a check by such a probe; on one by another it does', async () => {
  await givePlan('automatic');
  const { batchId, loads } = await cooked();
  const [load = ''] = loads;
  const { probeId, calibrate } = await newProbe('PROBE-8');
  await calibrate(-600, 100);
  await calibrate(-60, 103);
  const ready = async () => (await kitchen.get('quality', `/v1/batches/${batchId}/release-readiness`)).lots[0];
  await take(heated(load, 90, 12, { instrumentId: probeId, occurredAt: at(-10) }));
  expect(await ready()).toMatchObject({ checks: 'complete', state: 'awaiting-release', releasesByItself: false });
  expect((await ready()).why).toEqual([
    'Pasteurised: the probe that it was checked with was found to measure wrongly.',
  ]);
  await take(heated(load, 90, 12, { occurredAt: at(-5) }));
  expect((await ready()).state).toBe('released');
});

test('the best check of each load counts, one of the whole batch stands alone', () => {
  const one = (checkId: string, lotId: string | null, minutes: number, more: Partial<HeatCheck> = {}): HeatCheck => ({
    checkId,
    lotId,
    minutes,
    result: 'passed',
    targetCode: 'botulinum-90',
    inDoubt: false,
    ...more,
  });
  const checks = [one('a', 'L1', 12), one('b', 'L1', 14), one('c', 'L2', 13), one('d', null, 11)];
  expect(heatProof('a', checks, ['L1', 'L2'])).toEqual({ minutes: 13 });
  expect(heatProof('d', checks, ['L1', 'L2'])).toEqual({ minutes: 11 });
  // Heat of the whole batch beside a load that did not get it: another oven, another probe.
  const cold = [one('c', 'L2', 2, { result: 'failed' }), one('d', null, 11)];
  expect(heatProof('d', cold, ['L1', 'L2'])).toEqual({ whyNot: '1 of the 2 loads have no such check that passed.' });
  expect(heatProof('d', [...cold, one('e', 'L2', 10.5)], ['L1', 'L2'])).toEqual({ minutes: 10.5 });
  const doubted = [...checks.slice(0, 2), one('c', 'L2', 13, { inDoubt: true })];
  expect(heatProof('a', doubted, ['L1', 'L2'])).toEqual({ whyNot: '1 of the 2 loads have no such check that passed.' });
});
