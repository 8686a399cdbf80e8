/** Checks as they are recorded: judged by the service, with what follows for the food; what cannot be is refused and changes nothing. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { CHILL, COOK, SEAL, withPlan } from './kit.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
/** cook and chill per load, seal per packing run */
let planned: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  planned = await withPlan(kitchen, [COOK, CHILL, SEAL]);
});
afterAll(() => service.stop());

const CHECKS = '/v1/process-checks';
const send = (body: object, role = 'kitchen', siteId: string | null = null): Promise<Answer> =>
  service.as(role, siteId).post(CHECKS, { id: randomUUID(), siteId: world.ckId, ...body });
const take = (body: object): Promise<Json> => kitchen.post('kitchen', CHECKS, { siteId: world.ckId, ...body });
const fridge = (temperatureC: number) => ({
  stage: 'storage',
  kind: 'temperature',
  about: { kind: 'place', id: world.ckChillerId },
  temperatureC,
});
const about = (kind: string, id: string) => ({ about: { kind, id } });
const cook = { stage: 'cook', kind: 'lethality', controlPoint: 'cook' };
const chill = { stage: 'chill', kind: 'cooling', controlPoint: 'chill' };
const flat = (temperatureC: number, minutes: number) =>
  Array.from({ length: minutes + 1 }, (_, minute) => ({ minute, temperatureC }));
const straight = (fromC: number, toC: number, minutes: number) =>
  Array.from({ length: minutes + 1 }, (_, minute) => ({
    minute,
    temperatureC: fromC + ((toC - fromC) * minute) / minutes,
  }));
const everything = async (): Promise<number> => {
  const rows = await service.db.inGroup(service.groupId, 'read', (tx) =>
    tx.query<{ n: number }>(
      `select (select count(*) from process_check) + (select count(*) from corrective_action) + (select count(*) from finding)
              + (select count(*) from hold) as n`,
    ),
  );
  return rows[0]?.n ?? -1;
};
const findingsOf = async (kind: string): Promise<Json[]> =>
  (await kitchen.get('quality', `/v1/findings?kind=${kind}&limit=500`)).items;
/** kinds, each once: packs may wait of their own as well as with their load */
const openHolds = async (lotId: string): Promise<string[]> => {
  const { items } = await kitchen.get('quality', `/v1/holds?lotId=${lotId}&open=true`);
  return [...new Set<string>(items.map((hold: Json) => hold.kind))].sort();
};

const cooked = async (): Promise<{ batchId: string; lotId: string }> =>
  planned.stew(await planned.shin(10_000), 10_000, 8_000);

describe('a fridge round', () => {
  it('passes at 8 °C and fails above (England: SI 2013/2996, Schedule 4); it is open until a quality lead closes it', async () => {
    const passed = await take({ ...fridge(8), instrumentId: world.kettleId });
    expect(passed).toMatchObject({ result: 'passed', deviation: 'none', reasons: [], held: [], findings: [] });
    expect(passed.limits).toMatchObject({ from: 'site', inWords: 'at most 8 °C', source: { basis: 'published' } });
    expect(passed.remarks).toContain('No calibration of the instrument is recorded.');
    expect(passed.doneByName).toBe('Sam Dale');

    const failed = await take({ ...fridge(8.1), correctiveAction: 'Door was open; shut it' });
    expect(failed).toMatchObject({ result: 'failed', deviation: 'open', held: [] });
    expect(failed.findings.map((one: Json) => one.kind)).toEqual(['check-failed']);
    expect(failed.correctiveActions).toMatchObject([{ action: 'Door was open; shut it', closes: false }]);

    const path = `${CHECKS}/${failed.checkId}/corrective-actions`;
    const closing = { action: 'Read again: 4 °C', closes: true };
    const byCook = await service.as('kitchen').post(path, { id: randomUUID(), ...closing });
    expect([byCook.status, byCook.body.code]).toEqual([403, 'forbidden']);
    const open = await kitchen.get('quality', `/v1/deviations?siteId=${world.ckId}&state=open`);
    expect(open.items.map((one: Json) => one.checkId)).toContain(failed.checkId);

    service.clock.set(service.clock.nowMs() + 90 * 60_000);
    expect(await kitchen.post('quality', path, closing)).toMatchObject({ deviation: 'closed' });
    const closed = await kitchen.get('quality', `/v1/deviations?siteId=${world.ckId}&state=closed`);
    const entry = closed.items.find((one: Json) => one.checkId === failed.checkId);
    expect(entry).toMatchObject({ openMinutes: 90, siteName: 'Central kitchen', lots: [] });
    expect(entry.correctiveActions).toHaveLength(2);
    const more = await service.as('quality').post(path, { id: randomUUID(), action: 'Once more' });
    expect([more.status, more.body.code]).toEqual([409, 'wrong-state']);
    const good = `${CHECKS}/${passed.checkId}/corrective-actions`;
    expect((await service.as('quality').post(good, { id: randomUUID(), action: 'None' })).body.code).toBe(
      'wrong-state',
    );
  });

  it('a freezer is held against -18 °C (Directive 89/108/EEC), and a dry store against no limit of chilled food', async () => {
    const at = (placeId: string, temperatureC: number) => send({ ...fridge(temperatureC), ...about('place', placeId) });
    expect((await at(world.ckFreezerId, -18)).body.result).toBe('passed');
    expect((await at(world.ckFreezerId, -17.9)).body.result).toBe('failed');
    expect((await at(world.ckDryId, 18)).body.code).toBe('rule-broken');
  });

  it('takes Fahrenheit by the name of its field: 46.4 °F is 8 °C, and 47 °F is above it', async () => {
    const at = (temperatureF: number) => take({ ...fridge(0), temperatureC: undefined, temperatureF });
    expect((await at(46.4)).result).toBe('passed');
    expect((await at(47)).result).toBe('failed');
  });
});

describe('a batch with a plan', () => {
  it('2 minutes at 70 °C pass, 1 fails; a point that may be repeated holds nothing more, and the kitchen closes it', async () => {
    const { lotId, batchId } = await cooked();
    const failed = await take({ ...cook, ...about('lot', lotId), series: flat(70, 1) });
    expect(failed).toMatchObject({ result: 'failed', batchId, lotId, held: [] });
    expect(failed.numbers.equivalentMinutes).toBeCloseTo(1, 9);
    expect(await openHolds(lotId)).toEqual(['awaiting-release']);

    const closing = { action: 'Cooked on', closes: true };
    const path = `${CHECKS}/${failed.checkId}/corrective-actions`;
    expect((await service.as('kitchen').post(path, { id: randomUUID(), ...closing })).status).toBe(403);
    // 60 °C is ten degrees below: 10^(10/7.5) = 21.544 times as long, 43.09 minutes
    const passed = await take({ ...cook, ...about('lot', lotId), series: flat(60, 44) });
    expect(passed.result).toBe('passed');
    expect(passed.numbers.equivalentMinutes).toBeCloseTo(44 / 21.5443469, 6);
    expect((await kitchen.post('kitchen', path, closing)).deviation).toBe('closed');

    const steps = await kitchen.get('quality', `${CHECKS}/${passed.checkId}/series`);
    expect(steps.points).toHaveLength(45);
    expect(steps.steps.at(-1).cumulativeMinutes).toBeCloseTo(44 / 21.5443469, 6);
    const picture = await service.as('quality').get(`${CHECKS}/${passed.checkId}/chart`);
    expect([picture.status, picture.headers['content-type']]).toEqual([200, 'image/svg+xml; charset=utf-8']);
    expect(picture.text).toMatch(/^<svg/);
    expect(picture.text).toContain('Cooked through');
    const none = await service.as('quality').get(`${CHECKS}/${(await take(fridge(3))).checkId}/series`);
    expect(none.status).toBe(404);
  });

  it('chilled too slowly is held with its packs: 80 to 0 °C in 160 minutes passes 3 °C at 154 of 150 (FSAI GN 15)', async () => {
    const { batchId, lotId } = await cooked();
    const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
    const failed = await take({ ...chill, ...about('lot', lotId), series: straight(80, 0, 160) });
    expect(failed.result).toBe('failed');
    expect(failed.numbers.points[0].tookMinutes).toBeCloseTo(154, 9);
    expect(failed.held).toMatchObject([{ lotId }]);
    expect(await openHolds(packs)).toEqual(['awaiting-release', 'failed-check']);
    const [finding] = (await findingsOf('check-failed')).filter((one) => one.detail.checkId === failed.checkId);
    expect(finding).toMatchObject({ lotId, status: 'open' });
    // nobody who works there closes what cannot be repeated
    await take({ ...chill, ...about('lot', lotId), series: straight(80, 0, 120) });
    const closing = { id: randomUUID(), action: 'Chilled again', closes: true };
    const path = `${CHECKS}/${failed.checkId}/corrective-actions`;
    expect((await service.as('kitchen').post(path, closing)).status).toBe(403);
    const deviations = await kitchen.get('quality', `/v1/deviations?siteId=${world.ckId}&state=open`);
    const entry = deviations.items.find((one: Json) => one.checkId === failed.checkId);
    expect(entry.lots).toMatchObject([{ lotId, held: true }]);
  });

  it('a failed seal test holds the packs of its run, not the load', async () => {
    const { batchId, lotId } = await cooked();
    const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
    const batch = await kitchen.get('kitchen', `/v1/batches/${batchId}`);
    const runId = batch.lots.find((lot: Json) => lot.lotId === packs).packingRunId;
    const seal = { stage: 'pack', kind: 'seal-test', controlPoint: 'seal', machineId: world.packerId };
    const failed = await take({ ...seal, ...about('packing-run', runId), tested: 4, failed: 1 });
    expect(failed).toMatchObject({ result: 'failed', packingRunId: runId, batchId, machineName: 'PACK-1' });
    expect(failed.reasons).toHaveLength(2);
    expect(await openHolds(packs)).toEqual(['awaiting-release', 'failed-check']);
    expect(await openHolds(lotId)).toEqual(['awaiting-release']);
    const listed = await kitchen.get('quality', `${CHECKS}?packingRunId=${runId}&result=failed&stage=pack`);
    expect(listed.items.map((one: Json) => one.checkId)).toEqual([failed.checkId]);
  });

  it('half an hour out of chill until sealed passes, a minute more does not and holds the packs (common practice)', async () => {
    const { batchId, lotId } = await cooked();
    const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
    const out = { stage: 'pack', kind: 'elapsed-time', ...about('lot', packs), fromAt: '2026-11-25T10:00:00Z' };
    const half = await take({ ...out, toAt: '2026-11-25T10:30:00Z' });
    expect(half).toMatchObject({ result: 'passed', batchId, occurredAt: '2026-11-25T10:30:00.000Z' });
    expect(half.measured).toMatchObject({ form: 'elapsed', minutes: 30 });
    const longer = await take({ ...out, toAt: '2026-11-25T10:31:00Z' });
    expect(longer).toMatchObject({ result: 'failed', held: [{ lotId: packs }] });
    expect(longer.packingRunId).not.toBeNull();
    const page = await kitchen.get('quality', `${CHECKS}?batchId=${batchId}&limit=1`);
    expect(page.items.map((one: Json) => one.checkId)).toEqual([half.checkId]);
    const next = await kitchen.get('quality', `${CHECKS}?batchId=${batchId}&limit=1&cursor=${page.nextCursor}`);
    expect(next.items.map((one: Json) => one.checkId)).toEqual([longer.checkId]);
    expect((await kitchen.get('quality', `${CHECKS}?lotId=${packs}&toDate=2026-11-24`)).items).toEqual([]);
    for (const dates of ['fromDate=2026-02-30', 'fromDate=2026-11-25&toDate=2026-11-24']) {
      expect((await service.as('quality').get(`/v1/deviations?${dates}`)).body.code).toBe('rule-broken');
    }
  });

  it('what failed for the whole batch before its loads were told holds them when they are', async () => {
    const { recipeId } = (await withPlan(kitchen, [{ ...CHILL, per: 'batch' }])).world;
    const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
    const shin = { lotId: await kitchen.shin(1_000), placeId: world.ckChillerId, quantity: 1_000, unit: 'g' };
    await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, shin);
    const failed = await take({ ...chill, ...about('batch', batchId), series: straight(80, 10, 160) });
    expect(failed).toMatchObject({ result: 'failed', held: [] });
    const load = { placeId: world.ckChillerId, quantity: 800, unit: 'g', cookEndedAt: '2026-11-25T11:00:00Z' };
    const out = await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [load] });
    expect(await openHolds(out.lots[0].lotId)).toEqual(['awaiting-release', 'failed-check']);
  });
});

describe('a correction', () => {
  it('stands in the place of one check, once; what becomes passed clears its finding and leaves the hold to a person', async () => {
    const { lotId } = await cooked();
    const body = { ...chill, ...about('lot', lotId), series: straight(80, 0, 160) };
    const wrong = await take(body);
    const path = `${CHECKS}/${wrong.checkId}/corrections`;
    const anew = { ...body, siteId: world.ckId, series: straight(80, 0, 100), reason: 'The wrong file was sent' };
    const right = await kitchen.post('kitchen', path, anew);
    expect(right).toMatchObject({ result: 'passed', supersedesCheckId: wrong.checkId, correctionReason: anew.reason });
    expect(right.remarks.join(' ')).toContain('stays until a person lifts it');
    expect(await openHolds(lotId)).toEqual(['awaiting-release', 'failed-check']);
    const findings = (await findingsOf('check-failed')).filter((one) => one.detail.checkId === wrong.checkId);
    expect(findings.filter((one) => one.status === 'open')).toEqual([]);
    expect(await kitchen.get('kitchen', `${CHECKS}/${wrong.checkId}`)).toMatchObject({
      supersededByCheckId: right.checkId,
      result: 'failed',
    });
    const before = await everything();
    const second = await service.as('kitchen').post(path, { id: randomUUID(), ...anew });
    expect([second.status, second.body.code]).toEqual([409, 'already-corrected']);
    const action = { id: randomUUID(), action: 'None' };
    const late = await service.as('kitchen').post(`${CHECKS}/${wrong.checkId}/corrective-actions`, action);
    expect(late.body.code).toBe('already-corrected');
    expect(await everything()).toBe(before);

    // failed after all: the hold of the first one still stands, so no second one is placed
    const failedAgain = await kitchen.post('kitchen', `${CHECKS}/${right.checkId}/corrections`, {
      ...anew,
      series: body.series,
    });
    expect(failedAgain).toMatchObject({ result: 'failed', held: [] });
    expect(await openHolds(lotId)).toEqual(['awaiting-release', 'failed-check']);
  });

  it('after release: the batch takes no new check, but a correction that fails holds the food and says that it left on it', async () => {
    const cooking = await withPlan(kitchen, [COOK]);
    const { batchId, lotId } = await cooking.stew(await kitchen.shin(1_000), 1_000, 800);
    const body = { ...cook, ...about('lot', lotId), series: flat(75, 2) };
    const passed = await take(body);
    await kitchen.release(batchId);
    await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, { losses: [] });
    const before = await everything();
    for (const target of [about('lot', lotId), about('batch', batchId)]) {
      const closed = await send({ ...body, ...target });
      expect([closed.status, closed.body.code]).toEqual([409, 'batch-closed']);
    }
    expect(await everything()).toBe(before);
    const said = { reason: 'It was the probe of another oven', siteId: world.ckId };
    const path = `${CHECKS}/${passed.checkId}/corrections`;
    const corrected = await kitchen.post('kitchen', path, { ...body, ...said, series: flat(65, 2) });
    expect(corrected.findings.map((one: Json) => one.kind)).toEqual(['check-failed', 'released-on-changed-check']);
    expect(corrected.held).toMatchObject([{ lotId }]);
    expect(await openHolds(lotId)).toEqual(['failed-check']);
    // what is found on the lot itself afterwards is still taken
    const found = await take({ stage: 'load-out', kind: 'temperature', ...about('lot', lotId), temperatureC: 3 });
    expect(found).toMatchObject({ result: 'passed', batchId });
  });
});

it('of two corrections at the same time one stands', async () => {
  const { checkId } = await take(fridge(41));
  const correct = (temperatureC: number) =>
    service.as('kitchen').post(`${CHECKS}/${checkId}/corrections`, {
      id: randomUUID(),
      siteId: world.ckId,
      ...fridge(temperatureC),
      reason: 'The point was forgotten',
    });
  const answers = await Promise.all([correct(4.1), correct(4.2), correct(4.3)]);
  expect(answers.map((one) => one.status).sort()).toEqual([201, 409, 409]);
});

describe('bad input changes nothing', () => {
  it('is refused with its code', async () => {
    const { batchId, lotId } = await cooked();
    const elsewhere = randomUUID();
    const before = await everything();
    const chilling = (series: object[]) => ({ ...chill, ...about('lot', lotId), series });
    const point = (minute: number, temperatureC: number) => ({ minute, temperatureC });
    const refused: [string, object, number, string, string?][] = [
      [
        'out of order',
        chilling([point(0, 70), point(9, 50), point(5, 40)]),
        422,
        'series-unusable',
        '#/series/2/minute',
      ],
      [
        'a time twice',
        chilling([point(0, 70), point(5, 50), point(5, 40)]),
        422,
        'series-unusable',
        '#/series/2/minute',
      ],
      ['impossible', chilling([point(0, 70), point(5, 900)]), 422, 'series-unusable', '#/series/1/temperatureC'],
      ['one unit', chilling([point(0, 70), { minute: 5, temperatureF: 90 }]), 422, 'series-unusable'],
      ['no unit', chilling([point(0, 70), { minute: 5 }]), 422, 'series-unusable'],
      ['empty', chilling([]), 422, 'series-unusable'],
      ['one point', chilling([point(0, 70)]), 422, 'series-unusable'],
      ['unknown point', { ...chilling(flat(3, 5)), controlPoint: 'thaw' }, 422, 'rule-broken', '#/controlPoint'],
      ['other kind', { ...chilling(flat(3, 5)), kind: 'lethality' }, 422, 'rule-broken', '#/kind'],
      ['no batch', { ...fridge(3), controlPoint: 'cook' }, 422, 'rule-broken', '#/controlPoint'],
      [
        'no limit',
        { ...fridge(0), kind: 'lethality', temperatureC: undefined, series: flat(70, 2) },
        422,
        'rule-broken',
        '#/kind',
      ],
      ['two measures', { ...fridge(3), temperatureF: 37 }, 422, 'rule-broken'],
      ['none', { ...fridge(3), temperatureC: undefined }, 422, 'rule-broken'],
      ['a bare value', { ...fridge(3), temperatureC: undefined, value: 3 }, 422, 'rule-broken'],
      ['Fahrenheit as Celsius', fridge(180), 422, 'rule-broken', '#/temperatureC'],
      ['tomorrow', { ...fridge(3), occurredAt: '2026-11-26T12:00:00Z' }, 422, 'time-in-future'],
      ['no such day', { ...fridge(3), occurredAt: '2026-02-30T12:00:00Z' }, 400, 'invalid-request'],
      ['no such place', { ...fridge(3), ...about('place', elsewhere) }, 404, 'not-found'],
      ['place of another site', { ...fridge(3), ...about('place', world.w3ChillerId) }, 404, 'not-found'],
      ['batch of another site', { ...fridge(3), siteId: world.w3Id, ...about('batch', batchId) }, 404, 'not-found'],
      ['lot not there', { ...fridge(3), siteId: world.w3Id, ...about('lot', lotId) }, 404, 'not-found'],
      [
        'probe of another site',
        { ...fridge(3), siteId: world.w3Id, ...about('site', world.w3Id), instrumentId: world.kettleId },
        404,
        'not-found',
      ],
      ['no such person', { ...fridge(3), doneBy: elsewhere }, 404, 'not-found'],
      ['nothing to put right', { ...fridge(3), correctiveAction: 'Threw it away' }, 422, 'rule-broken'],
      [
        'more failed than tested',
        { stage: 'pack', kind: 'seal-test', ...about('lot', lotId), tested: 1, failed: 2 },
        422,
        'rule-broken',
      ],
      [
        'ends before it begins',
        {
          stage: 'pack',
          kind: 'elapsed-time',
          ...about('lot', lotId),
          fromAt: '2026-11-25T11:00:00Z',
          toAt: '2026-11-25T10:00:00Z',
        },
        422,
        'rule-broken',
      ],
      ['http link', { ...fridge(3), documentHref: 'http://files.example/1.jpg' }, 400, 'invalid-request'],
    ];
    for (const [name, body, status, code, pointer] of refused) {
      const answer = await send(body);
      expect([name, answer.status, answer.body.code]).toEqual([name, status, code]);
      if (pointer) expect([name, answer.body.errors[0].pointer]).toEqual([name, pointer]);
    }
    expect((await send({ ...chilling(flat(3, 5)), controlPoint: 'thaw' })).body.detail).toContain('cook, chill, seal');
    const foreign = await send(fridge(3), 'kitchen', world.w3Id);
    expect([foreign.status, foreign.body.code]).toEqual([404, 'not-found']);
    expect(await everything()).toBe(before);
  });

  it('50,000 points are taken, 100,000 are refused with the limit', async () => {
    const { lotId } = await cooked();
    const series = (points: number) =>
      Array.from({ length: points }, (_, at) => ({ minute: at / 500, temperatureC: 80 - (80 * at) / points }));
    const many = await send({ ...chill, ...about('lot', lotId), series: series(100_000) });
    expect([many.status, many.body.code]).toEqual([422, 'series-unusable']);
    expect(many.body.detail).toContain('50000');
    const most = await take({ ...chill, ...about('lot', lotId), series: series(50_000) });
    expect(most).toMatchObject({ result: 'passed', measured: { form: 'series', points: 50_000 } });
    expect((await kitchen.get('kitchen', `${CHECKS}/${most.checkId}/series`)).points).toHaveLength(50_000);
  });
});

it('the same id and content answers the first answer, and records nothing more', async () => {
  const body = { id: randomUUID(), siteId: world.ckId, ...fridge(9) };
  const first = await service.as('kitchen').post(CHECKS, body);
  const before = await everything();
  const again = await service.as('kitchen').post(CHECKS, body);
  expect([again.status, again.body.checkId]).toEqual([first.status, body.id]);
  expect(await everything()).toBe(before);
});

it('a round that was written on paper is entered with the rest of the night, each line judged by itself', async () => {
  const line = (temperatureC: number) => ({
    operation: 'createProcessCheck',
    body: { id: randomUUID(), siteId: world.ckId, ...fridge(temperatureC), occurredAt: '2026-11-25T03:00:00Z' },
  });
  const lines = [line(4), line(400), line(11)];
  const night = await service.as('kitchen').post('/v1/paper-entries', { lines });
  expect(night.body).toMatchObject({ recorded: 2, refused: 1 });
  const results = night.body.results.map((one: Json) => one.answer?.result ?? one.problem.code);
  expect(results).toEqual(['passed', 'rule-broken', 'failed']);
});

it('what a ward finds of a lot holds it at the ward only, and at service it holds nothing', async () => {
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(5_000), 5_000, 4_000);
  const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
  await kitchen.release(batchId);
  const lines = [{ lotId: packs, placeId: world.ckChillerId, quantity: 10, unit: 'piece' }];
  const ids = { fromSiteId: world.ckId, toSiteId: world.w3Id };
  const dispatch = await kitchen.post('kitchen', '/v1/dispatches', { ...ids, lines });
  await kitchen.post('kitchen', `/v1/dispatches/${dispatch.dispatchId}/departure`, {});
  const ward = { siteId: world.w3Id, ...about('lot', packs) };
  const warm = await kitchen.post('receiver', CHECKS, {
    ...ward,
    stage: 'receipt',
    kind: 'temperature',
    temperatureC: 12,
  });
  expect(warm).toMatchObject({ result: 'failed', batchId: null, held: [{ lotId: packs }] });
  const holds = await kitchen.get('quality', `/v1/holds?lotId=${packs}&open=true`);
  expect(holds.items).toMatchObject([{ kind: 'failed-check', siteId: world.w3Id, propagates: false }]);
  const heated = { ...ward, stage: 'regeneration', kind: 'core-temperature', temperatureC: 50 };
  expect(await kitchen.post('receiver', CHECKS, heated)).toMatchObject({ result: 'failed', held: [] });
});
