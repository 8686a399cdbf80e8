/** Process plans over HTTP: versions, a batch's own copy, drafts, and what a site says in place of its jurisdiction. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { findSiteLimit, getSeparation } from '../../../src/features/process-checks/index.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let plansPath: string;
let policyPath: string;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  plansPath = `/v1/recipes/${world.recipeId}/process-plans`;
  policyPath = `/v1/sites/${world.ckId}/process-policy`;
});
afterAll(() => service.stop());

const ofLoad = { per: 'load', requiredFor: 'release', critical: true, repeatable: false };
const cook = { ...ofLoad, code: 'cook', label: 'Core', stage: 'cook', kind: 'core-temperature', repeatable: true };
const chill = { ...ofLoad, code: 'chill', label: 'Chilling', stage: 'chill', kind: 'cooling' };
const openBatch = async (): Promise<string> =>
  (await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId })).batchId;
const planOf = (batchId: string, status = 200): Promise<Json> =>
  kitchen.get('kitchen', `/v1/batches/${batchId}/process-plan`, status);
const pointOf = (plan: Json, code: string): Json => plan.points.find((point: Json) => point.code === code);

test('a batch keeps the plan that it was opened with: without one, of the first version, of the second', async () => {
  const before = await openBatch();
  const first = await kitchen.post('quality', plansPath, { release: 'automatic', twoPeople: false, points: [cook] });
  expect(first).toMatchObject({
    version: 1,
    recipeId: world.recipeId,
    points: [{ limit: { form: 'default' }, source: null }],
  });
  const opened = await openBatch();
  const body = {
    release: 'by-hand',
    twoPeople: true,
    points: [{ ...cook, limit: { atLeast: 80 }, source: 'Own trials' }, chill],
  };
  const second = await kitchen.post('quality', plansPath, body);
  expect(second.version).toBe(2);
  const later = await openBatch();

  await planOf(before, 404);
  const old = await planOf(opened);
  expect(old).toMatchObject({ planId: first.planId, planVersion: 1, release: 'automatic', twoPeople: false });
  // England: 75 °C for 30 seconds counts like 70 °C for 2 minutes (FSA's advice to kitchens, second-hand)
  expect(old.points).toHaveLength(1);
  expect(old.points[0]).toMatchObject({
    limit: { form: 'value', atLeast: 75, atMost: null },
    source: { basis: 'second-hand' },
  });
  const plan = await planOf(later);
  expect(plan).toMatchObject({ planId: second.planId, planVersion: 2, release: 'by-hand', twoPeople: true });
  expect(pointOf(plan, 'cook')).toMatchObject({
    limit: { atLeast: 80 },
    source: { source: 'Own trials', basis: 'common-practice' },
  });
  // Department of Health 1989: 3 °C within 90 minutes; from memory, so nobody has confirmed it here
  expect(pointOf(plan, 'chill').limit.rule.points).toMatchObject([{ fromC: null, toC: 3, withinMinutes: 90 }]);
  expect(plan.cautions.join(' ')).toMatch(/Chilling: a number is from memory/);

  const listed = await kitchen.get('kitchen', `${plansPath}?limit=1`);
  expect(listed.items.map((one: Json) => one.version)).toEqual([2]);
  const rest = await kitchen.get('kitchen', `${plansPath}?limit=1&cursor=${listed.nextCursor}`);
  expect(rest).toMatchObject({ items: [{ version: 1 }], nextCursor: null });
  expect((await kitchen.get('kitchen', `/v1/process-plans/${first.planId}`)).points).toEqual(first.points);
});

test('a plan that makes no sense is refused and nothing is kept', async () => {
  const plans = async () => (await kitchen.get('kitchen', plansPath)).items.length;
  const were = await plans();
  for (const points of [
    [cook, cook],
    [{ ...chill, repeatable: true }],
    [{ ...cook, kind: 'lethality', limit: { target: 'nothing-known' } }],
  ]) {
    const problem = await kitchen.post('quality', plansPath, { release: 'by-hand', twoPeople: false, points }, 422);
    expect(problem.type).toMatch(/rule-broken$/);
  }
  await kitchen.post('kitchen', plansPath, { release: 'by-hand', twoPeople: false, points: [cook] }, 403);
  const nobodys = `/v1/recipes/${randomUUID()}/process-plans`;
  await kitchen.post('quality', nobodys, { release: 'by-hand', twoPeople: false, points: [cook] }, 404);
  expect(await plans()).toBe(were);
});

test('two versions written at one time get two numbers', async () => {
  const send = () => kitchen.post('quality', plansPath, { release: 'by-hand', twoPeople: false, points: [cook] });
  const versions = (await Promise.all([send(), send(), send()])).map((plan) => plan.version as number);
  expect(new Set(versions).size).toBe(3);
});

test("a draft from the recipe's steps can be sent back as it is", async () => {
  const draft = await kitchen.get(
    'quality',
    `/v1/recipes/${world.recipeId}/suggested-process-plan?siteId=${world.ckId}`,
  );
  expect(draft.plan.points.map((point: Json) => point.code)).toEqual(['cook', 'chill', 'core-before-vacuum', 'seal']);
  expect(draft.resolved.map((one: Json) => one.limit.form)).toEqual(['value', 'cooling', 'value', 'sample']);
  expect(draft.jurisdiction).toBe('GB-ENG');
  const kept = await kitchen.post('quality', plansPath, draft.plan);
  expect(kept.points.every((point: Json) => point.limit.form === 'default')).toBe(true);
});

test("a site's own policy counts in place of its jurisdiction's, as a whole and until the next one", async () => {
  const before = await kitchen.get('kitchen', policyPath);
  expect(before).toMatchObject({
    policy: null,
    rawOnPacker: { value: 'refuse', basis: 'published' },
    twoPeople: { value: false },
  });
  const body = { rawOnPacker: 'hold', allergenChangeover: 'refuse', twoPeople: true, confirmedBy: 'Nora Pell' };
  const looser = { stage: 'cook', kind: 'core-temperature', atLeast: 60, source: 'Plan of the house, chapter 2' };
  const storage = { stage: 'storage', kind: 'temperature', atMost: 4, source: 'Plan of the house, chapter 4' };
  const said = await kitchen.post('quality', policyPath, { ...body, limits: [looser, storage] });
  expect(said).toMatchObject({ policy: { version: 1, confirmedBy: 'Nora Pell' }, rawOnPacker: { value: 'hold' } });
  const marks = said.limits.filter((limit: Json) => limit.own).map((limit: Json) => [limit.stage, limit.looser]);
  // 60 °C asks less than 75; 4 °C asks more than the law's 8
  expect(marks).toEqual([
    ['cook', true],
    ['storage', false],
  ]);
  expect(said.cautions[0]).toMatch(/core-temperature at the stage cook asks less/);

  await service.db.inGroup(service.groupId, 'read', async (tx) => {
    expect(await getSeparation(tx, world.ckId)).toMatchObject({
      rawOnPacker: 'hold',
      allergenChangeover: 'refuse',
      twoPeople: true,
    });
    expect(await getSeparation(tx, world.w3Id)).toMatchObject({ rawOnPacker: 'refuse', twoPeople: false });
    const limit = async (siteId: string) => (await findSiteLimit(tx, siteId, 'storage', 'temperature'))?.limit;
    expect(await limit(world.ckId)).toEqual({ form: 'value', atLeast: null, atMost: 4 });
    // SI 2013/2996 Schedule 4
    expect(await limit(world.w3Id)).toEqual({ form: 'value', atLeast: null, atMost: 8 });
    expect(await findSiteLimit(tx, world.ckId, 'cleaning', 'cooling')).toBeNull();
  });
  await kitchen.post('quality', plansPath, { release: 'by-hand', twoPeople: false, points: [cook] });
  const opened = await openBatch();
  const warned = await planOf(opened);
  const about = { kind: 'batch', id: opened };
  const taken = { siteId: world.ckId, stage: 'cook', kind: 'core-temperature', about, temperatureC: 61 };
  for (const controlPoint of [{ controlPoint: 'cook' }, {}]) {
    const told = await kitchen.post('kitchen', '/v1/process-checks', { ...taken, ...controlPoint });
    expect([told.result, told.remarks.join(' ')]).toEqual([
      'passed',
      expect.stringMatching(/asks less than the default/),
    ]);
  }
  const chiller = { siteId: world.ckId, stage: 'storage', kind: 'temperature', temperatureC: 3 };
  const told = await kitchen.post('kitchen', '/v1/process-checks', {
    ...chiller,
    about: { kind: 'place', id: world.ckChillerId },
  });
  expect(told.remarks.join(' ')).not.toMatch(/asks less/);
  expect(pointOf(warned, 'cook').limit.atLeast).toBe(60);
  expect(warned.cautions[0]).toMatch(/Core: the limit asks less than the default/);

  const again = await kitchen.post('quality', policyPath, body);
  expect(again.policy.version).toBe(2);
  expect(again.limits.some((limit: Json) => limit.own)).toBe(false);
  const refused = await kitchen.post('quality', policyPath, { ...body, limits: [storage, storage] }, 422);
  expect(refused.errors[0].pointer).toBe('#/limits/1');
});

test('another site sees none of it', async () => {
  const ward = service.as('quality', world.w3Id);
  expect((await ward.get(policyPath)).status).toBe(404);
  const body = {
    id: randomUUID(),
    rawOnPacker: 'hold',
    allergenChangeover: 'hold',
    twoPeople: false,
    confirmedBy: 'Nobody',
  };
  expect((await ward.post(policyPath, body)).status).toBe(404);
  expect((await ward.get(`/v1/batches/${await openBatch()}/process-plan`)).status).toBe(404);
  const draft = `/v1/recipes/${world.recipeId}/suggested-process-plan?siteId=${world.ckId}`;
  expect((await ward.get(draft)).status).toBe(404);
});
