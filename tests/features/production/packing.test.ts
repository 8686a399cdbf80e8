/** Packing programmes, what a run says of its rejects and seals, what shows afterwards, and the rates over time. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let programmeId: string;
let batchId: string;
let loadId: string;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const suggested = (await kitchen.get('kitchen', '/v1/packing-programme-suggestions')).programmes;
  const settings = suggested.find((one: Json) => one.foodType === 'moist-dish');
  const said = { ...settings, code: 'MOIST', mostCoreTemperatureC: 3, basis: 'common-practice' };
  ({ programmeId } = await kitchen.post('quality', '/v1/packing-programmes', said));
  ({ batchId, lotId: loadId } = await kitchen.stew(await kitchen.shin(60_000), 50_000, 45_000));
});
afterAll(() => service.stop());

const AT = '2026-11-25T11:00:00Z';
const runBody = (packs: number, more: object = {}) => ({
  id: randomUUID(),
  equipmentId: world.packerId,
  programmeId,
  startedAt: AT,
  finishedAt: AT,
  fills: [
    {
      fromLotId: loadId,
      fromPlaceId: world.ckChillerId,
      toPlaceId: world.ckChillerId,
      usedQuantity: packs * 100,
      usedUnit: 'g',
      packItemId: world.beefStewPackId,
      packs,
    },
  ],
  ...more,
});
const seal = (body: object, status = 201, path = 'packing-runs'): Promise<Json> =>
  kitchen.post('kitchen', `/v1/batches/${batchId}/${path}`, body, status);
const packsOf = (answer: Json, runId: string) => answer.lots.find((lot: Json) => lot.packingRunId === runId);
const heldFor = async (lotId: string): Promise<string[]> =>
  (await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`)).items.map((hold: Json) => hold.kind).sort();

/** A batch of stew whose recipe has a plan with this point alone. */
async function planned(point: object): Promise<{ batchId: string; lotId: string }> {
  const points = [{ ...point, stage: 'pack', critical: false, source: 'The plan of this test' }];
  const plan = { points, release: 'by-hand', twoPeople: false };
  await kitchen.post('quality', `/v1/recipes/${world.recipeId}/process-plans`, plan);
  return kitchen.stew(await kitchen.shin(5_000), 5_000, 4_000);
}

describe('a packing run', () => {
  test('keeps its programme as it was, rejects by reason and what was checked', async () => {
    const run = runBody(10, {
      rejects: [
        { reason: 'leak', packs: 1 },
        { reason: 'crease', packs: 2 },
      ],
      sealTests: [{ tested: 2, failed: 0, note: 'Pressed under water' }],
      coreTemperatureC: 2.5,
    });
    const answer = await seal(run);
    expect(answer.findings).toEqual([]);
    const changed = await service
      .as('quality')
      .patch(`/v1/packing-programmes/${programmeId}`, { name: 'Stews, softer' }, { 'If-Match': '"v1"' });
    expect(changed.body).toMatchObject({ version: 2, name: 'Stews, softer', vacuumMbar: 40 });
    const stale = await service
      .as('quality')
      .patch(`/v1/packing-programmes/${programmeId}`, { sealS: 3 }, { 'If-Match': '"v1"' });
    expect(stale.body.code).toBe('version-mismatch');
    expect(await kitchen.get('kitchen', `/v1/packing-runs/${run.id}`)).toMatchObject({
      programme: 'Moist dishes, soft vacuum',
      programmeVersion: 1,
      packsMade: 10,
      packsRejected: 3,
      rejects: [
        { reason: 'crease', packs: 2 },
        { reason: 'leak', packs: 1 },
      ],
      fills: [{ fromLotId: loadId, usedQuantity: 1000, packs: 10 }],
      checks: expect.arrayContaining([
        expect.objectContaining({ kind: 'core-temperature', result: 'passed', temperatureC: 2.5 }),
        expect.objectContaining({ kind: 'seal-test', result: 'passed', tested: 2, failed: 0 }),
      ]),
      undone: false,
    });
    const listed = await kitchen.get(
      'kitchen',
      `/v1/packing-runs?siteId=${world.ckId}&programmeId=${programmeId}&fromDate=2026-11-25&toDate=2026-11-25`,
    );
    expect(listed.items.map((one: Json) => one.packingRunId)).toEqual([run.id]);
    for (const days of ['fromDate=2026-02-30', 'fromDate=2026-11-25&toDate=2026-11-24']) {
      for (const list of ['packing-runs', 'pack-faults']) {
        expect((await service.as('kitchen').get(`/v1/${list}?${days}`)).body.code).toBe('rule-broken');
      }
    }
  });

  test.each<[string, object, string]>([
    ['no programme', { programmeId: undefined }, '#/programmeId'],
    ['a programme twice', { programme: 'Stews' }, '#/programme'],
    ['sums that differ', { packsRejected: 2, rejects: [{ reason: 'leak', packs: 1 }] }, '#/packsRejected'],
    ['more failed than tested', { sealTests: [{ tested: 1, failed: 2 }] }, '#/sealTests/0/failed'],
    ['more tested than sealed', { packsRejected: 1, sealTests: [{ tested: 5, failed: 0 }] }, '#/sealTests/0/tested'],
  ])('with %s is refused', async (_what, more, pointer) => {
    const refused = await seal(runBody(3, more), 422);
    expect(refused.code).toBe('rule-broken');
    expect(refused.errors[0].pointer).toBe(pointer);
  });

  test('warmer than its programme takes fails, is found and held: the lower limit counts', async () => {
    // 4 °C would do at the site, whose default is 5 °C (common practice); the programme takes food to 3 °C.
    const run = runBody(2, { coreTemperatureC: 4 });
    const answer = await seal(run);
    expect(answer.findings).toMatchObject([{ kind: 'check-failed' }]);
    const { lotId } = packsOf(answer, run.id);
    expect(await heldFor(lotId)).toEqual(['awaiting-release', 'failed-check']);
    expect((await kitchen.get('kitchen', `/v1/packing-runs/${run.id}`)).checks).toMatchObject([{ result: 'failed' }]);
    const again = await kitchen.post('kitchen', `/v1/batches/${batchId}/packing-runs`, run);
    expect(packsOf(again, run.id).lotId).toBe(lotId);
  });

  test('recorded afterwards with seals that gave way posts, and its packs are held', async () => {
    const run = runBody(4, { sealTests: [{ tested: 3, failed: 1 }] });
    const answer = await seal(run, 201, 'recorded-packing-runs');
    expect(answer.findings.map((one: Json) => one.kind)).toContain('check-failed');
    expect(await heldFor(packsOf(answer, run.id).lotId)).toContain('failed-check');
  });

  test("stands for the point of the batch's plan", async () => {
    const seals = {
      kind: 'seal-test',
      limit: { leastTested: 5, mostFailed: 0 },
      requiredFor: 'release',
      repeatable: false,
    };
    const made = await planned({ code: 'seal', label: 'Seals hold', per: 'packing-run', ...seals });
    const fills = [{ ...runBody(6).fills[0], fromLotId: made.lotId }];
    const run = runBody(6, { fills, sealTests: [{ tested: 4, failed: 0 }] });
    // The plan wants five tried: four that held are not enough.
    const answer = await kitchen.post('kitchen', `/v1/batches/${made.batchId}/packing-runs`, run);
    expect(answer.findings).toMatchObject([{ kind: 'check-failed', detail: { controlPoint: 'seal' } }]);
  });
});

test('a core temperature that the run says itself counts before it is packed; too warm, it is refused', async () => {
  const core = { kind: 'core-temperature', limit: { atMost: 5 }, requiredFor: 'packing', repeatable: true };
  const made = await planned({ code: 'cold', label: 'Cold before the chamber', per: 'load', ...core });
  const fills = [{ ...runBody(3).fills[0], fromLotId: made.lotId }];
  const path = `/v1/batches/${made.batchId}/packing-runs`;
  for (const said of [{}, { coreTemperatureC: 6 }]) {
    const refused = await kitchen.post('kitchen', path, runBody(3, { fills, ...said }), 409);
    expect(refused).toMatchObject({ code: 'checks-not-passed', lots: [{ lotId: made.lotId }] });
  }
  // The plan's 5 °C stands, though the programme takes food to 3 °C only.
  const run = runBody(3, { fills, coreTemperatureC: 4 });
  expect((await kitchen.post('kitchen', path, run)).findings).toEqual([]);
});

describe('a fault that shows afterwards', () => {
  const fault = (role: string, body: object, status = 201): Promise<Json> =>
    kitchen.post(role, '/v1/pack-faults', { siteId: world.w3Id, kind: 'leaker', occurredAt: AT, ...body }, status);

  test('is tied to the run that sealed the pack, wherever it shows', async () => {
    const run = runBody(5);
    const lot = packsOf(await seal(run), run.id);
    const leaker = await fault('receiver', { code: `${lot.lotCode}/3`, reason: 'pierced' });
    expect(leaker).toMatchObject({ packingRunId: run.id, batchId, serial: '3', packs: 1, packedAtSiteId: world.ckId });
    expect(leaker.advice).toMatch(/Do not serve/);
    const ill = await fault('receiver', { lotId: lot.lotId, kind: 'complaint', reason: 'illness' });
    expect(ill.advice).toMatch(/quality lead now/);
    const read = await kitchen.get('kitchen', `/v1/packing-runs/${run.id}`);
    expect(read.faults.map((one: Json) => one.kind).sort()).toEqual(['complaint', 'leaker']);
    const atKitchen = await service.as('kitchen', world.ckId).get(`/v1/pack-faults?packingRunId=${run.id}`);
    expect(atKitchen.body.items).toHaveLength(2);
    const withdraw = (status: number): Promise<Json> =>
      kitchen.post('receiver', `/v1/pack-faults/${ill.faultId}/withdrawals`, { reason: 'Another pack' }, status);
    expect(await withdraw(201)).toMatchObject({ faultId: ill.faultId, withdrawn: { reason: 'Another pack' } });
    expect((await withdraw(409)).code).toBe('wrong-state');
    expect((await kitchen.get('kitchen', `/v1/packing-runs/${run.id}`)).faults).toHaveLength(1);
    expect((await kitchen.get('kitchen', `/v1/pack-faults/${ill.faultId}`)).withdrawn.reason).toBe('Another pack');
    // What was frozen since is another lot: it is followed back to its pack.
    const code = `${lot.lotCode}/5`;
    const conversion = { kind: 'freeze', code, siteId: world.ckId, occurredAt: AT };
    const { lot: frozen } = await kitchen.post('kitchen', '/v1/conversions', conversion);
    const thawing = await fault('receiver', { lotId: frozen.lotId, kind: 'complaint', reason: 'taste-or-smell' });
    expect(thawing.packingRunId).toBe(run.id);
  });

  test.each<[string, () => object | Promise<object>, string]>([
    ['a pack that there is not', async () => ({ lotId: await somePacks(), serial: '99' }), 'rule-broken'],
    ['food that no run sealed', () => ({ lotId: loadId }), 'rule-broken'],
    ['no pack at all', () => ({}), 'rule-broken'],
    ['a lot that nobody knows', () => ({ code: 'NEVER-SEEN' }), 'not-found'],
    ['tomorrow', async () => ({ lotId: await somePacks(), occurredAt: '2026-11-26T12:00:00Z' }), 'time-in-future'],
  ])('of %s is refused', async (_what, body, code) => {
    const answer = await service
      .as('receiver')
      .post('/v1/pack-faults', { id: randomUUID(), siteId: world.w3Id, kind: 'leaker', ...(await body()) });
    expect(answer.body.code).toBe(code);
  });
});

async function somePacks(): Promise<string> {
  const run = runBody(1);
  return packsOf(await seal(run), run.id).lotId;
}

test('reject rates by week: sums by hand, limits of 8 x 100 packs with 34 rejected, what was undone left out', async () => {
  const packer = { siteId: world.ckId, code: 'PACK-RATES', name: 'Small packer', kind: 'vacuum-packer' };
  const { equipmentId } = await kitchen.post('operations', '/v1/equipment', packer);
  // Mondays from 5 October 2026.
  const weeks = Array.from({ length: 8 }, (_, at) => new Date(Date.UTC(2026, 9, 5 + 7 * at, 10)).toISOString());
  const runs: Json[] = [];
  for (const [at, finishedAt] of weeks.entries()) {
    const bad = at === 5 ? 20 : 2;
    const times = { equipmentId, startedAt: finishedAt, finishedAt, programmeId: undefined, programme: 'Stews' };
    const said = { rejects: [{ reason: 'leak', packs: bad }], sealTests: [{ tested: 3, failed: 0 }] };
    const run = runBody(100 - bad, { ...times, ...said });
    runs.push({ run, lot: packsOf(await seal(run, 201, 'recorded-packing-runs'), run.id) });
  }
  const extra = runBody(50, { equipmentId, programmeId: undefined, programme: 'Stews', packsRejected: 50 });
  await seal(extra, 201, 'recorded-packing-runs');
  await kitchen.post('kitchen', '/v1/reversals', { entryId: extra.id, reason: 'Entered twice' });
  const { lot } = runs[5];
  for (const kind of ['leaker', 'leaker', 're-bagged']) {
    await kitchen.post('kitchen', '/v1/pack-faults', { siteId: world.ckId, kind, lotId: lot.lotId, serial: '7' });
  }
  // Told of the wrong pack: a third leaker that does not count.
  const wrong = { siteId: world.ckId, kind: 'leaker', lotId: lot.lotId, serial: '8' };
  const { faultId } = await kitchen.post('kitchen', '/v1/pack-faults', wrong);
  await kitchen.post('kitchen', `/v1/pack-faults/${faultId}/withdrawals`, { reason: 'It was pack 7 again' });
  const path = `/v1/reports/pack-rejects?siteId=${world.ckId}&fromDate=2026-10-05&toDate=2026-11-25&equipmentId=${equipmentId}`;
  const { rows } = await kitchen.get('quality', path);
  expect(rows).toHaveLength(1);
  // 7 x 2 + 20 = 34 of 800 are 4.25 %. Limits by hand: .0425 ± 3 x sqrt(.0425 x .9575 / 100) = .0425 ± .0605.
  expect(rows[0]).toMatchObject({
    programme: 'Stews',
    runs: 8,
    packsMade: 766,
    packsRejected: 34,
    rejectPercent: 4.25,
    byReason: { leak: 34, 'not-said': 0 },
    sealTests: { tested: 24, failed: 0 },
    faults: { leaker: 1, 're-bagged': 1, complaint: 0 },
  });
  expect(rows[0].periods).toHaveLength(8);
  expect(rows[0].periods[5]).toMatchObject({
    begins: '2026-11-09',
    rejectPercent: 20,
    limits: { lowerPercent: 0, upperPercent: 10.3, rough: true },
    standsOut: 'above',
  });
  expect(rows[0].periods.filter((one: Json) => one.standsOut !== null)).toHaveLength(1);
  const picture = await service.as('quality').get(path, { Accept: 'image/svg+xml' });
  expect(picture.text).toContain('20 % of 100');
  const nameless = await service.as('quality').get(`${path.split('&equipmentId')[0] ?? ''}&format=svg`);
  expect(nameless.body.code).toBe('rule-broken');
  const long = await service.as('quality').get(path.replace('2026-10-05', '2025-10-05'));
  expect(long.body.code).toBe('period-too-long');
});
