/**
 * Probes over HTTP: calibrations, what each is worth, and what a bad one puts in doubt. Which checks those are is counted by hand from the
 * times of the story.
 */
import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { listDoubtedChecks } from '../../../src/features/process-checks/index.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { packsOf, plan } from '../distribution/sites.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService({ nowMs: NOON_MS - 3 * 3_600_000 });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

/** 25 November 2026 */
const at = (time: string, day = 25) => `2026-11-${day}T${time}:00.000Z`;
const setTime = (time: string, day = 25) => service.clock.set(Date.parse(at(time, day)));
const equipment = async (kind: string): Promise<string> => {
  const body = { siteId: world.ckId, code: randomUUID().slice(0, 8).toUpperCase(), name: `Some ${kind}`, kind };
  return (await kitchen.post('operations', '/v1/equipment', body)).equipmentId;
};
const calibrate = (probeId: string, occurredAt: string, body: object, status = 201) =>
  kitchen.post(
    'kitchen',
    `/v1/equipment/${probeId}/calibrations`,
    { occurredAt, method: 'ice-point', ...body },
    status,
  );
const core = (probeId: string, about: object, occurredAt: string, temperatureC: number, more: object = {}) =>
  kitchen.post('kitchen', '/v1/process-checks', {
    siteId: world.ckId,
    stage: 'storage',
    kind: 'core-temperature',
    about,
    occurredAt,
    instrumentId: probeId,
    temperatureC,
    ...more,
  });
const stateOf = async (probeId: string): Promise<string> => {
  const { items } = await kitchen.get('quality', `/v1/probes?siteId=${world.ckId}&limit=500`);
  return items.find((one: Json) => one.equipmentId === probeId).state;
};

test('a probe is never, good, overdue, failed and put right; a check taken with it says so', async () => {
  const probe = await equipment('probe');
  const fridge = { kind: 'place', id: world.ckChillerId };
  const remark = async (): Promise<string[]> => {
    const { remarks } = await core(probe, fridge, new Date(service.clock.nowMs()).toISOString(), 3);
    return remarks.filter((one: string) => one.includes('instrument'));
  };
  expect(await stateOf(probe)).toBe('never');
  expect(await remark()).toContain('No calibration of the instrument is recorded.');
  const good = await calibrate(probe, at('08:30'), { measuredF: 32.54 });
  // 32.54 °F is 0.3 °C
  expect(good).toMatchObject({
    siteId: world.ckId,
    referenceC: 0,
    measuredC: 0.3,
    errorC: 0.3,
    toleranceC: 1,
    result: 'passed',
    nextDueOn: '2026-12-02',
    doubt: null,
    basis: { tolerance: { basis: 'published' }, interval: { basis: 'common-practice' } },
  });
  expect(await stateOf(probe)).toBe('good');
  expect(await remark()).toEqual([]);
  const due = async (before: string) => (await kitchen.get('quality', `/v1/probes?dueBefore=${before}`)).items;
  expect(await due('2026-12-02')).toEqual([]);
  expect((await due('2026-12-03')).map((one: Json) => one.equipmentId)).toEqual([probe]);
  // the whole of its last day it counts, by the site's clock
  service.clock.set(Date.parse('2026-12-02T23:59:00Z'));
  expect(await stateOf(probe)).toBe('good');
  service.clock.set(Date.parse('2026-12-03T00:01:00Z'));
  expect(await stateOf(probe)).toBe('overdue');
  expect(await remark()).toContain('The calibration of the instrument is overdue.');
  setTime('09:30');
  // 97 °C at 1013 hPa, where water boils at 100 °C
  const bad = await calibrate(probe, at('09:10'), { method: 'boiling-point', measuredC: 97, airPressureHpa: 1013 });
  expect(bad).toMatchObject({
    result: 'failed',
    nextDueOn: '2026-11-25',
    // two at 09:00, and the one on 3 December, after which nothing was put right yet
    doubt: { since: null, until: null, checks: 3 },
  });
  await calibrate(probe, at('09:20'), { measuredC: 0 });
  expect(await stateOf(probe)).toBe('failed');
  expect((await due('2026-11-25')).map((one: Json) => one.equipmentId)).toEqual([probe]);
  expect((await remark())[0]).toContain('measured wrongly');
  await calibrate(probe, at('09:25'), { method: 'laboratory', measuredC: 75.1, referenceC: 75 });
  expect(await stateOf(probe)).toBe('good');
  const all = await kitchen.get('quality', `/v1/equipment/${probe}/calibrations`);
  expect(all.items.map((one: Json) => [one.method, one.result])).toEqual([
    ['ice-point', 'passed'],
    ['boiling-point', 'failed'],
    ['ice-point', 'passed'],
    ['laboratory', 'passed'],
  ]);
});

describe('a calibration that failed', () => {
  test('lists every check since the last good one, with the food and where it is; is a finding; shrinks when a good one is told late', async () => {
    setTime('13:00');
    const probe = await equipment('probe');
    const other = await equipment('probe');
    await calibrate(probe, at('08:00'), { measuredC: 0.2 });
    const { batchId, lotId: packs } = await packsOf(kitchen, 60);
    const batch = await kitchen.get('quality', `/v1/batches/${batchId}`);
    const load = batch.lots.find((one: Json) => one.loadNo === 1 || one.unit === 'g').lotId;
    const dispatchId = await plan(kitchen, world.w3Id, packs, 40);
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
    const delivery = await kitchen.post('kitchen', '/v1/goods-receipts', {
      siteId: world.ckId,
      supplierId: world.supplierId,
      occurredAt: at('09:30'),
      lines: [{ itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 5_000, unit: 'g' }],
    });
    const told: string[] = [];
    const check = async (about: object, time: string, more: object = {}, by = probe) =>
      told.push((await core(by, about, at(time), 4, more)).checkId);
    await check({ kind: 'lot', id: load }, '07:59');
    await check({ kind: 'lot', id: load }, '09:00');
    await check({ kind: 'goods-receipt', id: delivery.goodsReceiptId }, '09:31', { stage: 'goods-in' });
    await check({ kind: 'dispatch', id: dispatchId }, '09:40', { stage: 'load-out' });
    await check({ kind: 'place', id: world.ckChillerId }, '09:50');
    await check({ kind: 'place', id: world.ckChillerId }, '09:51', {}, other);
    const corrected = told[4];
    const correction = await kitchen.post('kitchen', `/v1/process-checks/${corrected}/corrections`, {
      siteId: world.ckId,
      stage: 'storage',
      kind: 'core-temperature',
      about: { kind: 'place', id: world.ckChillerId },
      occurredAt: at('09:50'),
      instrumentId: probe,
      temperatureC: 3,
      reason: 'Read again',
    });
    await check({ kind: 'place', id: world.ckChillerId }, '10:30');

    const bad = await calibrate(probe, at('10:00'), { measuredC: -1.4, correctiveAction: 'New battery' });
    expect(bad.doubt).toEqual({ since: at('08:00'), until: null, checks: 5 });
    const path = `/v1/calibrations/${bad.calibrationId}`;
    const full = await kitchen.get('quality', path);
    // those at 07:59 (before), of the other probe, and the corrected one are not among them; the one after it is: nothing was put right
    expect(full.suspectChecks.map((one: Json) => one.checkId)).toEqual([
      told[1],
      told[2],
      told[3],
      correction.checkId,
      told[6],
    ]);
    const [ofLoad, ofDelivery, ofDispatch, ofPlace] = full.suspectChecks;
    expect(ofLoad).toMatchObject({
      value: 4,
      result: 'passed',
      stage: 'storage',
      batchId,
      signedFor: false,
      moreLots: 0,
    });
    const where = (lots: Json[]) =>
      Object.fromEntries(
        lots.map((lot) => [lot.lotId, lot.where.map((one: Json) => [one.placeName ?? 'road', one.quantity])]),
      );
    // 34,000 g less 30,000 g packed; 60 packs, 40 on the road
    const placeName = (await kitchen.get('quality', `/v1/places/${world.ckChillerId}`)).name;
    expect(where(ofLoad.lots)).toEqual({
      [load]: [[placeName, 4_000]],
      [packs]: expect.arrayContaining([
        [placeName, 20],
        ['road', 40],
      ]),
    });
    expect(ofLoad.lots.map((lot: Json) => lot.awaitingRelease)).toEqual([false, false]);
    expect(ofDelivery.lots.map((lot: Json) => lot.lotId)).toEqual([delivery.lines[0].lotId]);
    expect(ofDispatch.lots.map((lot: Json) => lot.lotId)).toEqual([packs]);
    expect(ofPlace.lots).toEqual([]);

    const findings = await kitchen.get('quality', '/v1/findings?kind=calibration-failed&limit=500');
    const mine = findings.items.filter((one: Json) => one.detail.calibrationId === bad.calibrationId);
    expect(mine).toMatchObject([{ siteId: world.ckId, lotId: null, detail: { errorC: -1.4, checksInDoubt: 5 } }]);

    const first = await kitchen.get('quality', `${path}/suspect-checks?limit=3`);
    const rest = await kitchen.get('quality', `${path}/suspect-checks?limit=3&cursor=${first.nextCursor}`);
    expect([...first.items, ...rest.items].map((one: Json) => one.checkId)).toEqual(
      full.suspectChecks.map((one: Json) => one.checkId),
    );
    expect(rest.nextCursor).toBeNull();

    // told late: it was good at 09:35, and again at 10:10
    await calibrate(probe, at('09:35'), { measuredC: 0.1 });
    await calibrate(probe, at('10:10'), { measuredC: 0 });
    const now = await kitchen.get('quality', path);
    expect(now.doubt).toEqual({ since: at('09:35'), until: at('10:10'), checks: 2 });
    expect(now.suspectChecks.map((one: Json) => one.checkId)).toEqual([told[3], correction.checkId]);
    // whoever acts at another site alone does not find it
    expect((await service.as('kitchen', world.w3Id).get(path)).status).toBe(404);
    // nothing was held because of it
    const holds = await kitchen.get('quality', `/v1/holds?lotId=${packs}&open=true`);
    expect(holds.items).toEqual([]);
  });
});

test('a calibration that was typed wrongly is corrected once; what is worked out goes by the one that stands', async () => {
  const probe = await equipment('probe');
  const found = async (): Promise<string[]> => {
    const { items } = await kitchen.get('quality', '/v1/findings?kind=calibration-failed&limit=500');
    return items.filter((one: Json) => one.detail.equipmentId === probe).map((one: Json) => one.detail.calibrationId);
  };
  setTime('09:00');
  const anew = (calibrationId: string, measuredC: number, status = 201) => {
    const body = { occurredAt: at('08:00'), method: 'ice-point', measuredC, reason: 'Typed wrongly' };
    return kitchen.post('kitchen', `/v1/calibrations/${calibrationId}/corrections`, body, status);
  };
  const typed = await calibrate(probe, at('08:00'), { measuredC: 3 });
  const check = await core(probe, { kind: 'place', id: world.ckChillerId }, at('08:30'), 3);
  expect([await stateOf(probe), await found()]).toEqual(['failed', [typed.calibrationId]]);
  const good = await anew(typed.calibrationId, 0.3);
  expect(good).toMatchObject({ result: 'passed', supersedes: typed.calibrationId, correctionReason: 'Typed wrongly' });
  expect([await stateOf(probe), await found()]).toEqual(['good', []]);
  const old = await kitchen.get('quality', `/v1/calibrations/${typed.calibrationId}`);
  expect(old).toMatchObject({ result: 'failed', supersededBy: good.calibrationId, doubt: null, suspectChecks: [] });
  expect((await anew(typed.calibrationId, 0.1, 409)).code).toBe('already-corrected');
  const bad = await anew(good.calibrationId, 2);
  expect([await stateOf(probe), await found()]).toEqual(['failed', [bad.calibrationId]]);
  const { suspectChecks } = await kitchen.get('quality', `/v1/calibrations/${bad.calibrationId}`);
  expect(suspectChecks.map((one: Json) => one.checkId)).toEqual([check.checkId]);
  const { items } = await kitchen.get('quality', `/v1/equipment/${probe}/calibrations`);
  expect(items.map((one: Json) => one.calibrationId)).toEqual([bad.calibrationId]);
});

test('what cannot be is refused, and nothing is recorded', async () => {
  setTime('13:00');
  const probe = await equipment('probe');
  const refused = async (probeId: string, occurredAt: string, body: object, status = 422) => {
    const answer = await calibrate(probeId, occurredAt, body, status);
    return `${answer.code} ${answer.errors?.[0]?.pointer ?? ''}`.trim();
  };
  expect(await refused(probe, at('13:01'), { measuredC: 0 })).toBe('time-in-future');
  expect(await refused(probe, at('12:00'), {})).toBe('rule-broken #/measuredC');
  expect(await refused(probe, at('12:00'), { measuredC: 0, measuredF: 32 })).toBe('rule-broken #/measuredC');
  expect(await refused(probe, at('12:00'), { measuredC: 0, nextDueOn: '2026-11-31' })).toBe('rule-broken #/nextDueOn');
  expect(await refused(world.packerId, at('12:00'), { measuredC: 0 })).toBe('rule-broken #/equipmentId');
  expect(await refused(randomUUID(), at('12:00'), { measuredC: 0 }, 404)).toBe('not-found');
  const elsewhere = await service.as('kitchen', world.w3Id).post(`/v1/equipment/${probe}/calibrations`, {
    id: randomUUID(),
    occurredAt: at('12:00'),
    method: 'ice-point',
    measuredC: 0,
  });
  expect(elsewhere.status).toBe(404);
  expect((await kitchen.get('quality', `/v1/equipment/${probe}/calibrations`)).items).toEqual([]);
});

test('the list of a bad probe and what a release takes into account name the same checks, as a plain search does', async () => {
  const { batchId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
  const probe = await equipment('probe');
  // Minutes of one hour and few of them, so that some fall together.
  const minute = fc.nat(11);
  const method = fc.constantFrom('ice-point', 'boiling-point', 'laboratory');
  const seen = fc.record({ minute, method, passed: fc.constantFrom(true, true, true, false) });
  const [{ points, taken } = { points: [], taken: [] }] = fc.sample(
    fc.record({
      points: fc.array(seen, { minLength: 14, maxLength: 14 }),
      taken: fc.array(minute, { minLength: 12, maxLength: 12 }),
    }),
    { numRuns: 1, seed: 3 },
  );
  const clock = (one: number) => at(`07:${String(one).padStart(2, '0')}`);
  const failed: string[] = [];
  for (const point of points) {
    const referenceC = { 'ice-point': 0, 'boiling-point': 100, laboratory: 75 }[point.method] ?? 0;
    const read = { method: point.method, measuredC: referenceC + (point.passed ? 0 : 3) };
    const more = { 'ice-point': {}, 'boiling-point': { airPressureHpa: 1013 }, laboratory: { referenceC } }[
      point.method
    ];
    const { calibrationId, result } = await calibrate(probe, clock(point.minute), { ...read, ...more });
    expect(result).toBe(point.passed ? 'passed' : 'failed');
    if (!point.passed) failed.push(calibrationId);
  }
  const minuteOf = new Map<string, number>();
  for (const one of taken) {
    const check = await core(probe, { kind: 'batch', id: batchId }, clock(one), 80, { stage: 'cook' });
    minuteOf.set(check.checkId, one);
  }
  const between = (good: number, bad: number, check: number) =>
    good !== bad && good >= Math.min(bad, check) && good <= Math.max(bad, check);
  const inDoubt = [...minuteOf].filter(([, check]) =>
    points.some(
      (bad) =>
        !bad.passed &&
        !points.some(
          (good) =>
            good.passed && [bad.method, 'laboratory'].includes(good.method) && between(good.minute, bad.minute, check),
        ),
    ),
  );
  const wanted = inDoubt.map(([checkId]) => checkId).sort();
  expect([wanted.length > 2, wanted.length < taken.length]).toEqual([true, true]);
  const listed = await Promise.all(failed.map((id) => kitchen.get('quality', `/v1/calibrations/${id}`)));
  const ids = listed.flatMap(({ suspectChecks }) => suspectChecks.map((one: Json) => one.checkId as string));
  expect([...new Set<string>(ids)].sort()).toEqual(wanted);
  const counted = await service.db.inGroup(service.groupId, 'read', (tx) => listDoubtedChecks(tx, batchId));
  expect([...counted].sort()).toEqual(wanted);
});
