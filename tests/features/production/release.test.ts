/**
 * Release, rejection and rework on the checks of a batch. What is expected follows from the domain's rules (a hold says what it blocks; a lot
 * can be released when all its ancestors can; rework goes only where it is made safe), told step by step here.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const own = { source: 'Trials in this kitchen', basis: 'common-practice' };
const per = { load: { per: 'load', requiredFor: 'release' }, run: { per: 'packing-run', requiredFor: 'release' } };
const cook = {
  ...{ code: 'cook', label: 'Core after cooking', stage: 'cook', kind: 'core-temperature', limit: { atLeast: 75 } },
  ...{ ...per.load, critical: true, repeatable: true, ...own },
};
const chilled = { points: [{ label: 'To 3 °C', fromC: null, toC: 3, withinMinutes: 90 }] };
const chill = {
  ...{ code: 'chill', label: 'Chilling', stage: 'chill', kind: 'cooling', limit: { coolingRule: chilled } },
  ...{ ...per.load, critical: true, repeatable: false, ...own },
};
const ph = {
  ...{ code: 'ph', label: 'pH of the gravy', stage: 'cook', kind: 'ph', limit: { atMost: 6.2 } },
  ...{ per: 'batch', requiredFor: 'release', critical: false, repeatable: false, ...own },
};
const seal = {
  ...{ code: 'seal', label: 'Seals', stage: 'pack', kind: 'seal-test', limit: { leastTested: 2, mostFailed: 0 } },
  ...{ ...per.run, critical: false, repeatable: false, ...own },
};

/** A recipe for stew like the world's, with a plan of its own. */
async function recipeWith(points: readonly object[], more: object = {}, killStep = true): Promise<string> {
  const code = randomUUID().slice(0, 8);
  const recipe = {
    ...{ itemId: world.beefStewId, code, name: code, expectedYieldPpm: 850_000, killStep },
    ...{ steps: ['cook', 'chill', 'pack'], inputs: [{ itemId: world.beefShinId, quantity: 40_000, unit: 'g' }] },
  };
  const { recipeId } = await kitchen.post('operations', '/v1/recipes', recipe);
  const plan = { points, release: 'automatic', twoPeople: false, ...more };
  if (points.length > 0) await kitchen.post('quality', `/v1/recipes/${recipeId}/process-plans`, plan);
  return recipeId as string;
}

interface Made {
  readonly batchId: string;
  readonly lotIds: readonly string[];
  readonly lotId: string;
}

const chiller = (lotId: string, quantity: number) => ({ lotId, placeId: world.ckChillerId, quantity, unit: 'g' });
const open = async (recipeId: string): Promise<string> =>
  (await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId })).batchId;

async function make(recipeId: string, fromLotId?: string, loads = 1, quantity = 900): Promise<Made> {
  const batchId = await open(recipeId);
  const from = fromLotId ?? (await kitchen.shin(10_000));
  await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, chiller(from, quantity));
  const load = {
    placeId: world.ckChillerId,
    quantity: 900,
    unit: 'g',
    cookEndedAt: new Date(service.clock.nowMs()).toISOString(),
  };
  const out = await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: Array(loads).fill(load) });
  const lotIds = (out.lots as Json[]).map((lot) => lot.lotId as string);
  return { batchId, lotIds, lotId: lotIds[0] ?? '' };
}

const about = { cook: { stage: 'cook', kind: 'core-temperature' }, chill: { stage: 'chill', kind: 'cooling' } };
const ofLot = (id: string) => ({ about: { kind: 'lot', id } });
const ofPoint: Readonly<Record<string, object>> = {
  ...about,
  ph: { stage: 'cook', kind: 'ph' },
  seal: { stage: 'pack', kind: 'seal-test' },
};
/** 80 °C to 2 °C in 60 minutes, or in 180: the rule asks for 3 °C within 90. */
const series = (minutes: number) => [
  { minute: 0, temperatureC: 80 },
  { minute: minutes, temperatureC: 2 },
];
const check = (point: string, kind: string, id: string, measured: object, role = 'kitchen'): Promise<Json> =>
  kitchen.post(role, '/v1/process-checks', {
    siteId: world.ckId,
    controlPoint: point,
    about: { kind, id },
    ...ofPoint[point],
    ...measured,
  });

async function passAll(batch: Made): Promise<void> {
  for (const lotId of batch.lotIds) {
    await check('cook', 'lot', lotId, { temperatureC: 78 });
    await check('chill', 'lot', lotId, { series: series(60) });
  }
}

const batchOf = (batchId: string): Promise<Json> => kitchen.get('quality', `/v1/batches/${batchId}`);
const states = async (batchId: string) => ((await batchOf(batchId)).lots as Json[]).map((lot) => lot.state as string);
const holdsOf = async (lotId: string): Promise<string[]> =>
  ((await kitchen.get('quality', `/v1/lots/${lotId}`)).holds as Json[]).map((hold) => hold.kind as string).sort();
const release = (batchId: string, body: object = {}, status = 201): Promise<Json> =>
  kitchen.post('quality', `/v1/batches/${batchId}/release`, body, status);
const reject = (batchId: string, body: object, status = 201): Promise<Json> =>
  kitchen.post('quality', `/v1/batches/${batchId}/rejection`, body, status);
const readiness = (batchId: string): Promise<Json> =>
  kitchen.get('kitchen', `/v1/batches/${batchId}/release-readiness`);

describe('by itself', () => {
  test('each load with its last check, packs with that of their run; the kitchen decides nothing', async () => {
    const batch = await make(await recipeWith([cook, chill, ph, seal]), undefined, 2);
    const [first, second] = batch.lotIds as [string, string];
    const packs = await kitchen.pack(batch.batchId, first, 600, 2);
    expect(await holdsOf(packs)).toEqual(['awaiting-release', 'awaiting-release']);
    await check('cook', 'lot', first, { temperatureC: 78 });
    await check('chill', 'lot', first, { series: series(60) });
    const before = (await readiness(batch.batchId)).lots[0];
    expect(before).toMatchObject({
      lotId: first,
      state: 'awaiting-release',
      checks: 'missing',
      releasesByItself: true,
    });
    expect(before.missing).toEqual(['pH of the gravy has not been checked.']);
    await check('ph', 'batch', batch.batchId, { value: 5.8 });
    const after = await batchOf(batch.batchId);
    expect(after.lots.map((lot: Json) => [lot.state, lot.checks])).toEqual([
      ['released', 'complete'],
      ['awaiting-release', 'missing'],
      ['awaiting-release', 'missing'],
    ]);
    expect(after.processPlan).toMatchObject({ version: 1, release: 'automatic', twoPeople: false });
    await check('seal', 'lot', packs, { tested: 3, failed: 0 });
    expect(await holdsOf(packs)).toEqual([]);
    const { decisions } = await batchOf(batch.batchId);
    const byItself = { outcome: 'released', automatic: true, decidedBy: exampleId('person/kitchen'), accepted: [] };
    expect(decisions).toMatchObject([
      { ...byItself, lotIds: [first] },
      { ...byItself, lotIds: [packs] },
    ]);
    // Two of the last checks of one load at the same time: whichever comes second releases.
    await Promise.all([
      check('cook', 'lot', second, { temperatureC: 78 }),
      check('chill', 'lot', second, { series: series(60) }),
    ]);
    expect(await holdsOf(second)).toEqual([]);
  });

  test('not while food before it waits; then with it', async () => {
    const recipeId = await recipeWith([cook]);
    const gravy = await make(recipeId);
    const stew = await make(recipeId, gravy.lotId);
    await check('cook', 'lot', stew.lotId, { temperatureC: 80 });
    expect(await states(stew.batchId)).toEqual(['awaiting-release']);
    await check('cook', 'lot', gravy.lotId, { temperatureC: 80 });
    expect([await states(gravy.batchId), await states(stew.batchId)]).toEqual([['released'], ['released']]);
  });

  test('not under another hold, nor while what was done about a failure is open; a repeated check passes', async () => {
    const batch = await make(await recipeWith([cook]));
    const failed = await check('cook', 'lot', batch.lotId, { temperatureC: 71 });
    expect(failed).toMatchObject({ result: 'failed' });
    expect(await holdsOf(batch.lotId)).toEqual(['awaiting-release']);
    service.clock.set(service.clock.nowMs() + 60_000);
    await check('cook', 'lot', batch.lotId, { temperatureC: 76 });
    expect((await readiness(batch.batchId)).lots[0]).toMatchObject({ checks: 'deviation-open' });
    const hold = { kind: 'quality', lotId: batch.lotId, note: 'Smells odd' };
    const { holdId } = await kitchen.post('quality', '/v1/holds', hold);
    const done = { action: 'Cooked on for ten minutes', closes: true };
    await kitchen.post('kitchen', `/v1/process-checks/${failed.checkId}/corrective-actions`, done);
    const [lot] = (await readiness(batch.batchId)).lots;
    expect(lot).toMatchObject({ checks: 'complete', releasesByItself: false });
    expect(lot.why).toEqual(['It is on hold (quality); whoever decides about that hold decides first.']);
    await kitchen.post('quality', `/v1/holds/${holdId}/lift`, { note: 'It was the bin' });
    expect((await readiness(batch.batchId)).lots[0]).toMatchObject({
      releasesByItself: false,
      why: ['What stood against it is over, and every check has passed: a person releases it.'],
    });
    await release(batch.batchId);
    expect(await holdsOf(batch.lotId)).toEqual([]);
  });
});

describe('what a check does not show', () => {
  test('a cooling series that is nowhere hot', async () => {
    const batch = await make(await recipeWith([chill]));
    const cold = [
      { minute: 0, temperatureC: 4 },
      { minute: 50, temperatureC: 2 },
    ];
    expect(await check('chill', 'lot', batch.lotId, { series: cold })).toMatchObject({ result: 'failed' });
    expect(await states(batch.batchId)).toEqual(['awaiting-release']);
  });

  test('a check dated before the batch began: taken, and a person decides', async () => {
    const batch = await make(await recipeWith([cook]));
    const occurredAt = new Date(service.clock.nowMs() - 30 * 86_400_000).toISOString();
    const taken = await check('cook', 'lot', batch.lotId, { temperatureC: 80, occurredAt });
    expect(taken).toMatchObject({ result: 'passed', released: [] });
    expect(taken.remarks.join()).toContain('before the batch began');
    const [lot] = (await readiness(batch.batchId)).lots;
    expect(lot).toMatchObject({ state: 'awaiting-release', checks: 'complete', releasesByItself: false });
    expect(lot.why).toEqual(['Core after cooking: its check is dated well before the batch began.']);
  });

  test('one check of the whole batch shows nothing of each load: released when no further load can come', async () => {
    const recipeId = await recipeWith([cook]);
    const one = await make(recipeId);
    await check('cook', 'batch', one.batchId, { temperatureC: 80 });
    expect(await states(one.batchId)).toEqual(['awaiting-release']);
    expect((await readiness(one.batchId)).lots[0].why[0]).toContain('name the load, or complete the batch');
    await kitchen.post('kitchen', `/v1/batches/${one.batchId}/completion`, { losses: [] });
    expect(await states(one.batchId)).toEqual(['released']);
    const two = await make(recipeId, undefined, 2);
    await check('cook', 'batch', two.batchId, { temperatureC: 80 });
    await kitchen.post('kitchen', `/v1/batches/${two.batchId}/completion`, { losses: [] });
    expect(await states(two.batchId)).toEqual(['awaiting-release', 'awaiting-release']);
  });

  test('a failure of the whole batch, or of packs, stays open for every load; closed, they are released and that is said', async () => {
    const batch = await make(await recipeWith([cook]), undefined, 2);
    const packs = await kitchen.pack(batch.batchId, batch.lotId, 300, 1);
    const ofBatch = await check('cook', 'batch', batch.batchId, { temperatureC: 60 });
    const ofPacks = await check('cook', 'lot', packs, { temperatureC: 61 });
    service.clock.set(service.clock.nowMs() + 60_000);
    for (const lotId of batch.lotIds) await check('cook', 'lot', lotId, { temperatureC: 80 });
    expect((await batchOf(batch.batchId)).lots.map((lot: Json) => lot.checks)).toEqual([
      'deviation-open',
      'deviation-open',
      'complete',
    ]);
    const close = (checkId: string) =>
      kitchen.post('quality', `/v1/process-checks/${checkId}/corrective-actions`, {
        action: 'Cooked on',
        closes: true,
      });
    const second = batch.lotIds[1];
    expect((await close(ofBatch.checkId)).released.map((lot: Json) => lot.lotId)).toEqual([second]);
    const codes = (await batchOf(batch.batchId)).lots.map((lot: Json) => lot.lotCode);
    const { released } = await close(ofPacks.checkId);
    expect(released.map((lot: Json) => lot.lotCode)).toEqual([codes[0]]);
    expect(await holdsOf(packs)).toEqual([]);
  });

  test('a failure that no point of the plan asks for stays open as well', async () => {
    const batch = await make(await recipeWith([cook]));
    const odd = { stage: 'cook', kind: 'core-temperature', temperatureC: 50 };
    const body = { siteId: world.ckId, about: { kind: 'batch', id: batch.batchId }, ...odd };
    await kitchen.post('kitchen', '/v1/process-checks', body);
    expect((await check('cook', 'lot', batch.lotId, { temperatureC: 80 })).released).toEqual([]);
    const [lot] = (await readiness(batch.batchId)).lots;
    expect(lot).toMatchObject({ state: 'awaiting-release', checks: 'complete' });
    expect(lot.why).toEqual([
      'A check that the plan does not ask for has failed: what was done about it is not closed.',
    ]);
  });
});

describe('after a release', () => {
  test('a correction that takes the check from a load holds it, whatever the check becomes', async () => {
    const recipeId = await recipeWith([cook]);
    const fridge = { stage: 'storage', kind: 'temperature', temperatureC: 3 };
    const becomes = {
      'of another load': (other: string) => ({
        ...about.cook,
        controlPoint: 'cook',
        ...ofLot(other),
        temperatureC: 80,
      }),
      'of no batch': () => ({ ...fridge, about: { kind: 'place', id: world.ckChillerId } }),
      'of no point': (_: string, same: string) => ({ ...about.cook, ...ofLot(same), temperatureC: 80 }),
    };
    for (const [what, bodyOf] of Object.entries(becomes)) {
      const batch = await make(recipeId, undefined, 2);
      const [first, second] = batch.lotIds as [string, string];
      const wrong = await check('cook', 'lot', first, { temperatureC: 80 });
      expect(wrong.released).toMatchObject([{ lotId: first }]);
      const body = { siteId: world.ckId, reason: 'It was something else', ...bodyOf(second, first) };
      const right = await kitchen.post('kitchen', `/v1/process-checks/${wrong.checkId}/corrections`, body);
      expect(right, what).toMatchObject({ result: 'passed', held: [{ lotId: first }] });
      expect(right.findings, what).toMatchObject([{ kind: 'released-on-changed-check', lotId: first }]);
      expect(right.released.map((lot: Json) => lot.lotId)).toEqual(what === 'of another load' ? [second] : []);
      expect(await holdsOf(first), what).toEqual(['failed-check']);
      // measured anew, and lifted by a person
      expect(await check('cook', 'lot', first, { temperatureC: 79 })).toMatchObject({ result: 'passed', released: [] });
      await kitchen.post('quality', `/v1/holds/${right.held[0].holdId}/lift`, { note: 'Measured again' });
      expect(await holdsOf(first)).toEqual([]);
    }
  });

  test('a check that fails in the same moment is heard, whichever comes first, and holds the load', async () => {
    const recipeId = await recipeWith([cook, chill]);
    for (const target of ['lot', 'batch'] as const) {
      const batch = await make(recipeId);
      const id = target === 'lot' ? batch.lotId : batch.batchId;
      await check('chill', 'lot', batch.lotId, { series: series(60) });
      const [, slow] = await Promise.all([
        check('cook', 'lot', batch.lotId, { temperatureC: 80 }),
        check('chill', target, id, { series: series(180) }),
      ]);
      expect(slow.result).toBe('failed');
      expect(await holdsOf(batch.lotId)).toContain('failed-check');
    }
  });

  test('completed as well: one that passes changes nothing and is refused; one that fails says what was released', async () => {
    const batch = await make(await recipeWith([cook]));
    await check('cook', 'lot', batch.lotId, { temperatureC: 80 });
    expect(await check('cook', 'lot', batch.lotId, { temperatureC: 79 })).toMatchObject({ released: [], held: [] });
    await kitchen.post('kitchen', `/v1/batches/${batch.batchId}/completion`, { losses: [] });
    const sent = { id: randomUUID(), siteId: world.ckId, ...about.cook, controlPoint: 'cook', ...ofLot(batch.lotId) };
    const again = await service.as('kitchen').post('/v1/process-checks', { ...sent, temperatureC: 81 });
    expect([again.status, again.body.code]).toEqual([409, 'batch-closed']);
    const cold = await check('cook', 'lot', batch.lotId, { temperatureC: 60 });
    expect(cold).toMatchObject({
      held: [{ lotId: batch.lotId }],
      findings: [{ kind: 'check-failed' }, { kind: 'released-on-changed-check' }],
    });
    expect(cold.remarks.join()).toContain('was released before');
  });

  test('a correction that dates it before the batch is one that takes it away', async () => {
    const batch = await make(await recipeWith([cook]));
    const wrong = await check('cook', 'lot', batch.lotId, { temperatureC: 80 });
    const occurredAt = new Date(service.clock.nowMs() - 35 * 86_400_000).toISOString();
    const measured = { ...about.cook, ...ofLot(batch.lotId), controlPoint: 'cook', temperatureC: 80, occurredAt };
    const body = { siteId: world.ckId, reason: 'It was last month', ...measured };
    const right = await kitchen.post('kitchen', `/v1/process-checks/${wrong.checkId}/corrections`, body);
    expect(right.held).toMatchObject([{ lotId: batch.lotId }]);
  });

  test('what is told to have gone in after the heat was shown holds the load; before it, not', async () => {
    const batch = await make(await recipeWith([cook]));
    await check('cook', 'lot', batch.lotId, { temperatureC: 80 });
    const cookedAtMs = service.clock.nowMs();
    service.clock.set(cookedAtMs + 60_000);
    const slow = await make(await recipeWith([cook]));
    const path = `/v1/batches/${batch.batchId}/recorded-inputs`;
    const input = (lotId: string, atMs: number) => ({
      ...chiller(lotId, 100),
      occurredAt: new Date(atMs).toISOString(),
    });
    await kitchen.post('kitchen', path, input(await kitchen.shin(100), cookedAtMs - 60_000));
    expect(await holdsOf(batch.lotId)).toEqual([]);
    await reject(slow.batchId, { disposition: 'rework', reason: 'Too slow' });
    service.clock.set(cookedAtMs + 120_000);
    const told = await kitchen.post('kitchen', path, input(slow.lotId, cookedAtMs + 120_000));
    expect(told.findings.map((one: Json) => one.kind)).toContain('used-while-held');
    expect(await holdsOf(batch.lotId)).toEqual(['quality']);
  });

  test('packs of a load that another batch packs wait for what the plan of the load asks of a run', async () => {
    const batch = await make(await recipeWith([cook, seal]));
    await check('cook', 'lot', batch.lotId, { temperatureC: 80 });
    const other = await make(await recipeWith([cook]));
    const packs = await kitchen.pack(other.batchId, batch.lotId, 300, 1);
    expect(await holdsOf(packs)).toEqual(['awaiting-release']);
  });

  test('what a point of the whole batch shows, it takes back for every load, wherever it was measured', async () => {
    const batch = await make(await recipeWith([cook, ph]), undefined, 2);
    const [first, second] = batch.lotIds as [string, string];
    await check('ph', 'lot', first, { value: 5.8 });
    await check('cook', 'lot', first, { temperatureC: 80 });
    expect(await states(batch.batchId)).toEqual(['released', 'awaiting-release']);
    const sour = await check('ph', 'lot', second, { value: 8 });
    expect(sour.held.map((lot: Json) => lot.lotId).sort()).toEqual([first, second].sort());
    expect(sour.findings).toMatchObject([
      { kind: 'check-failed' },
      { kind: 'released-on-changed-check', lotId: first },
    ]);
    expect(await holdsOf(first)).toEqual(['failed-check']);
  });

  test('a failure in packs holds the load that they are from, and not another', async () => {
    const batch = await make(await recipeWith([cook]), undefined, 2);
    const [first, second] = batch.lotIds as [string, string];
    const packs = await kitchen.pack(batch.batchId, first, 300, 1);
    for (const lotId of [first, second]) await check('cook', 'lot', lotId, { temperatureC: 80 });
    await check('cook', 'lot', packs, { temperatureC: 60 });
    expect([await holdsOf(first), await holdsOf(second)]).toEqual([['failed-check'], []]);
    expect(await holdsOf(packs)).toContain('failed-check');
  });
});

describe('by hand', () => {
  test('a point that is missing is accepted by name; a critical one is not; left to us, what is ready goes', async () => {
    const batch = await make(await recipeWith([cook, ph], { release: 'by-hand' }), undefined, 2);
    const [first, second] = batch.lotIds as [string, string];
    await check('cook', 'lot', first, { temperatureC: 78 });
    const refused = await release(batch.batchId, {}, 409);
    expect(refused.code).toBe('checks-not-passed');
    expect(refused.lots.map((lot: Json) => [lot.lotId, lot.points.map((one: Json) => one.code)])).toEqual([
      [first, ['ph']],
      [second, ['cook', 'ph']],
    ]);
    const accept = [{ controlPoint: 'ph', reason: 'The meter is broken; the recipe has never been above 5.9' }];
    const critical = [...accept, { controlPoint: 'cook', reason: 'It looked done' }];
    expect(await release(batch.batchId, { lotIds: [second], accept: critical }, 409)).toMatchObject({
      code: 'checks-not-passed',
      lots: [{ lotId: second, points: [{ code: 'cook', critical: true }] }],
    });
    expect(await release(batch.batchId, { accept: [{ controlPoint: 'salt', reason: 'x' }] }, 422)).toMatchObject({
      code: 'rule-broken',
    });
    const released = await release(batch.batchId, { accept, note: 'For the ward' });
    expect(released.lots.map((lot: Json) => lot.state)).toEqual(['released', 'awaiting-release']);
    expect(released.decisions).toMatchObject([{ automatic: false, accepted: accept, reason: 'For the ward' }]);
  });

  test('a failed check that was corrected holds until a person releases, and one that is accepted as well', async () => {
    const batch = await make(await recipeWith([chill, { ...ph, per: 'load' }]));
    const bad = await check('chill', 'lot', batch.lotId, { series: series(180) });
    expect(bad.result).toBe('failed');
    await check('ph', 'lot', batch.lotId, { value: 6.9 });
    expect(await holdsOf(batch.lotId)).toEqual(['awaiting-release', 'failed-check', 'failed-check']);
    const pack = { code: 'on-hold' };
    const used = chiller(batch.lotId, 1);
    const other = await open(world.recipeId);
    expect(await kitchen.post('kitchen', `/v1/batches/${other}/inputs`, used, 409)).toMatchObject(pack);
    const right = { siteId: world.ckId, controlPoint: 'chill', about: { kind: 'lot', id: batch.lotId } };
    const correction = { ...right, ...about.chill, series: series(60), reason: 'The clock of the logger ran double' };
    await kitchen.post('kitchen', `/v1/process-checks/${bad.checkId}/corrections`, correction);
    expect(await holdsOf(batch.lotId)).toEqual(['awaiting-release', 'failed-check', 'failed-check']);
    await release(batch.batchId, {}, 409);
    await release(batch.batchId, { accept: [{ controlPoint: 'ph', reason: 'Tomatoes of a sweeter kind' }] });
    expect(await holdsOf(batch.lotId)).toEqual([]);
  });

  test('two people: whoever had a hand in the batch does not release it', async () => {
    const batch = await make(await recipeWith([cook], { release: 'by-hand', twoPeople: true }));
    await check('cook', 'lot', batch.lotId, { temperatureC: 78 }, 'quality');
    expect(await release(batch.batchId, {}, 403)).toMatchObject({ code: 'releaser-made-it' });
    const actorId = exampleId('person/another-lead');
    const grants = [{ role: 'quality', siteId: null }];
    const token = service.tokens.sign(
      { groupId: service.groupId, kind: 'person', actorId, grants },
      service.clock.nowMs(),
    );
    const another: Client = service.bearer(token);
    expect((await another.post(`/v1/batches/${batch.batchId}/release`, { id: randomUUID() })).status).toBe(201);
  });

  test('without a plan as before: every load that waits, and packs with them', async () => {
    const batch = await make(world.recipeId);
    const packs = await kitchen.pack(batch.batchId, batch.lotId, 600, 2);
    expect((await readiness(batch.batchId)).lots[0]).toMatchObject({
      checks: null,
      points: [],
      releasesByItself: false,
    });
    expect((await release(batch.batchId)).lots.map((lot: Json) => lot.state)).toEqual(['released', 'released']);
    expect(await holdsOf(packs)).toEqual([]);
  });
});

describe('what has to come before packing', () => {
  test('a request is refused, a run that is over is a finding', async () => {
    const batch = await make(await recipeWith([{ ...cook, requiredFor: 'packing' }]));
    const fill = {
      ...{ fromLotId: batch.lotId, fromPlaceId: world.ckChillerId, usedQuantity: 300, usedUnit: 'g' },
      ...{ packItemId: world.beefStewPackId, packs: 1, toPlaceId: world.ckChillerId },
    };
    const at = new Date(service.clock.nowMs()).toISOString();
    const run = { equipmentId: world.packerId, programme: 'Moist', startedAt: at, finishedAt: at, fills: [fill] };
    const path = `/v1/batches/${batch.batchId}`;
    expect(await kitchen.post('kitchen', `${path}/packing-runs`, run, 409)).toMatchObject({
      code: 'checks-not-passed',
      lots: [{ lotId: batch.lotId, points: [{ code: 'cook', state: 'missing' }] }],
    });
    const recorded = await kitchen.post('kitchen', `${path}/recorded-packing-runs`, run);
    expect(recorded.findings).toMatchObject([{ kind: 'packed-unchecked', lotId: batch.lotId }]);
    await check('cook', 'lot', batch.lotId, { temperatureC: 78 });
    const later = await kitchen.post('kitchen', `${path}/packing-runs`, run);
    expect(later.findings).toEqual([]);
  });
});

test('left to us, what was done about a failure has to be closed; whoever names the lot has seen it', async () => {
  const batch = await make(await recipeWith([cook], { release: 'by-hand' }));
  const cold = await check('cook', 'lot', batch.lotId, { temperatureC: 60 });
  service.clock.set(service.clock.nowMs() + 60_000);
  await check('cook', 'lot', batch.lotId, { temperatureC: 80 });
  const refused = await release(batch.batchId, {}, 409);
  expect(refused).toMatchObject({ code: 'checks-not-passed', lots: [{ points: [{ state: 'deviation-open' }] }] });
  expect((await release(batch.batchId, { lotIds: [batch.lotId] })).lots[0].state).toBe('released');
  // closed, by a person: that settles what was found
  const path = `/v1/process-checks/${cold.checkId}/corrective-actions`;
  await kitchen.post('quality', path, { action: 'Cooked on', closes: true });
  const { items } = await kitchen.get('quality', '/v1/findings?kind=check-failed&status=settled&limit=500');
  const subject = items.filter((one: Json) => one.detail.checkId === cold.checkId);
  expect(subject).toMatchObject([{ settledBy: exampleId('person/quality'), settlementNote: 'Cooked on' }]);
});

describe('rejected', () => {
  test('for rework: only into a batch with a kill step, and there the hold ends', async () => {
    const recipeId = await recipeWith([cook, chill]);
    const batch = await make(recipeId);
    const packs = await kitchen.pack(batch.batchId, batch.lotId, 300, 1);
    await check('cook', 'lot', batch.lotId, { temperatureC: 78 });
    await check('chill', 'lot', batch.lotId, { series: series(180) });
    const reason = 'Three hours from 80 °C to 3 °C';
    const rejected = await reject(batch.batchId, { disposition: 'rework', reason });
    expect(rejected.lots.map((lot: Json) => lot.state)).toEqual(['for-rework', 'for-rework']);
    expect(rejected.decisions).toMatchObject([{ outcome: 'rejected', disposition: 'rework', reason }]);
    expect([await holdsOf(batch.lotId), await holdsOf(packs)]).toEqual([['for-rework'], ['for-rework']]);
    const [hold] = (await kitchen.get('quality', `/v1/lots/${packs}`)).holds;
    await kitchen.post('quality', `/v1/holds/${hold.holdId}/lift`, { note: 'Why not' }, 409);
    await reject(batch.batchId, { disposition: 'rework', reason }, 409);
    const plain = await open(await recipeWith([], {}, false));
    const input = chiller(batch.lotId, 200);
    expect(await kitchen.post('kitchen', `/v1/batches/${plain}/inputs`, input, 409)).toMatchObject({
      code: 'not-for-rework',
    });
    const heated = await open(recipeId);
    const path = `/v1/batches/${heated}`;
    const entry = await kitchen.post('kitchen', `${path}/recorded-inputs`, {
      ...input,
      occurredAt: new Date(service.clock.nowMs()).toISOString(),
    });
    expect(entry.findings).toEqual([]);
    const load = {
      placeId: world.ckChillerId,
      quantity: 180,
      unit: 'g',
      cookEndedAt: new Date(service.clock.nowMs()).toISOString(),
    };
    const soup = await kitchen.post('kitchen', `${path}/outputs`, { loads: [load] });
    expect(soup.reworkOf).toMatchObject([{ lotId: batch.lotId, reason }]);
    const soupId = soup.lots[0].lotId as string;
    expect(await holdsOf(soupId)).toEqual(['awaiting-release']);
    await passAll({ batchId: heated, lotIds: [soupId], lotId: soupId });
    expect(await holdsOf(soupId)).toEqual([]);
    // and what is left of it may still be thrown away: not the soup, but whatever it goes into afterwards
    const discarded = await reject(batch.batchId, { reason: 'Nobody wants soup twice' });
    expect(discarded.lots.map((lot: Json) => lot.state)).toEqual(['rejected', 'rejected']);
    expect([await holdsOf(batch.lotId), await holdsOf(packs)]).toEqual([['rejected'], ['rejected']]);
    expect(await holdsOf(soupId)).toEqual([]);
    const later = await open(recipeId);
    await kitchen.post('kitchen', `/v1/batches/${later}/recorded-inputs`, {
      ...chiller(batch.lotId, 100),
      occurredAt: new Date(service.clock.nowMs()).toISOString(),
    });
    const sour = await kitchen.post('kitchen', `/v1/batches/${later}/outputs`, { loads: [load] });
    expect(await holdsOf(sour.lots[0].lotId)).toContain('rejected');
  });

  test('no pH alone makes food for rework leave by itself: its heat has to be shown', async () => {
    const batch = await make(await recipeWith([cook]));
    await reject(batch.batchId, { disposition: 'rework', reason: 'Too slow' });
    const soup = await make(await recipeWith([ph]), batch.lotId, 1, 300);
    expect((await check('ph', 'batch', soup.batchId, { value: 5.8 })).released).toEqual([]);
    const [lot] = (await readiness(soup.batchId)).lots;
    expect(lot).toMatchObject({ checks: 'complete', releasesByItself: false });
    expect(lot.why).toEqual([expect.stringContaining('no check shows that it was heated')]);
    await release(soup.batchId);
    const unplanned = await make(world.recipeId, batch.lotId, 1, 300);
    expect((await readiness(unplanned.batchId)).lots[0].why[1]).toContain('no check shows that it was heated');
    const heated = await make(await recipeWith([cook, ph]), batch.lotId, 1, 300);
    await check('ph', 'batch', heated.batchId, { value: 5.8 });
    expect((await readiness(heated.batchId)).lots[0]).toMatchObject({ checks: 'missing', releasesByItself: true });
    expect((await check('cook', 'lot', heated.lotId, { temperatureC: 80 })).released).toHaveLength(1);
  });

  test('the hold for rework goes where no heat comes between, whatever was known first', async () => {
    const raw = await recipeWith([], {}, false);
    const batch = await make(await recipeWith([cook]));
    const occurredAt = new Date(service.clock.nowMs()).toISOString();
    const freeze = {
      lotId: batch.lotId,
      placeId: world.ckChillerId,
      quantity: 100,
      unit: 'g',
      kind: 'freeze',
      occurredAt,
    };
    const frozen = (await kitchen.post('kitchen', '/v1/conversions', freeze)).lot.lotId as string;
    const into = async (recipeId: string, recorded: boolean): Promise<string> => {
      const batchId = await open(recipeId);
      const path = `/v1/batches/${batchId}`;
      await kitchen.post('kitchen', `${path}/inputs`, chiller(await kitchen.shin(100), 100));
      const input = { ...chiller(batch.lotId, 100), ...(recorded && { occurredAt }) };
      if (!recorded) await kitchen.post('kitchen', `${path}/inputs`, input);
      const load = { placeId: world.ckChillerId, quantity: 90, unit: 'g', cookEndedAt: occurredAt };
      const out = await kitchen.post('kitchen', `${path}/outputs`, { loads: [load] });
      if (recorded) await kitchen.post('kitchen', `${path}/recorded-inputs`, input);
      return out.lots[0].lotId as string;
    };
    const before = { raw: await into(raw, false), heated: await into(world.recipeId, false) };
    await reject(batch.batchId, { disposition: 'rework', reason: 'Too slow' });
    const after = { raw: await into(raw, true), heated: await into(world.recipeId, true) };
    const reworked = async (lotId: string) => (await holdsOf(lotId)).includes('for-rework');
    expect(await Promise.all([frozen, before.raw, after.raw].map(reworked))).toEqual([true, true, true]);
    expect(await Promise.all([before.heated, after.heated].map(reworked))).toEqual([false, false]);
  });

  test('packs for their seals: the load they are from is released', async () => {
    const batch = await make(await recipeWith([cook, seal]));
    const packs = await kitchen.pack(batch.batchId, batch.lotId, 600, 2);
    await check('seal', 'lot', packs, { tested: 2, failed: 1 });
    expect(await holdsOf(packs)).toContain('failed-check');
    await check('cook', 'lot', batch.lotId, { temperatureC: 78 });
    expect(await states(batch.batchId)).toEqual(['released', 'awaiting-release']);
    const reason = 'Every second seal is creased';
    const rejected = await reject(batch.batchId, { lotIds: [packs], reason });
    expect(rejected.lots.map((lot: Json) => lot.state)).toEqual(['released', 'rejected']);
    expect(await holdsOf(packs)).toEqual(['rejected']);
    const discarded = rejected.decisions.filter((one: Json) => one.disposition === 'discard');
    expect(discarded).toMatchObject([{ outcome: 'rejected', lotIds: [packs], reason }]);
    await release(batch.batchId, {}, 409);
  });
});
