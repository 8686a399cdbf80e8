/** A van with three drops and nobody at the door: everything is told the next morning. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import {
  accepted,
  addSite,
  fresh,
  kindsOf,
  openFindings,
  packsOf,
  plan,
  receive,
  whereIs,
  type Site,
} from './sites.ts';

const night = (time: string) => `2026-11-26T${time}:00.000Z`;

describe('a van run', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let school: Site;
  let inn: Site;
  let stew: string;
  let soup: string;
  let dispatches: string[];
  let vanRunId: string;
  let run: (more?: object) => Promise<Json>;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    school = await addSite(kitchen, 'SCH');
    inn = await addSite(kitchen, 'INN', 'GB-SCT');
    stew = (await packsOf(kitchen, 60)).lotId;
    soup = (await packsOf(kitchen, 20)).lotId;
    dispatches = [];
    for (const siteId of [world.w3Id, school.siteId, inn.siteId]) {
      const crateCode = siteId === inn.siteId ? 'CRATE-1' : undefined;
      dispatches.push(await plan(kitchen, siteId, stew, 20, crateCode ? { crateCode } : {}));
    }
    const { vanRunId: id } = await kitchen.post('kitchen', '/v1/van-runs', {
      siteId: world.ckId,
      vehicle: 'Van 2',
      driverId: world.kitchenPersonId,
      plannedFor: night('05:30'),
      dispatchIds: dispatches,
    });
    vanRunId = id;
    run = () => kitchen.get('driver', `/v1/van-runs/${vanRunId}`);
    service.clock.set(Date.parse(night('09:00')));
  });
  afterAll(() => service.stop());

  test('is a drop list, in order, with what is handed over where', async () => {
    const list = await run();
    expect(list).toMatchObject({ vehicle: 'Van 2', driverName: 'Sam Dale', plannedFor: night('05:30') });
    expect(list.code).toMatch(/^VCK-261126-/);
    expect(list.drops.map((drop: Json) => [drop.position, drop.siteId, drop.state])).toEqual([
      [1, world.w3Id, 'planned'],
      [2, school.siteId, 'planned'],
      [3, inn.siteId, 'planned'],
    ]);
    expect(list.drops[0]).toMatchObject({
      jurisdictions: ['GB-ENG'],
      jurisdictionNote: null,
      crates: [{ crateCode: null, lots: [{ lotId: stew, quantity: 20, unit: 'piece' }] }],
      times: { arrivedAt: null, doorAt: null, putAwayAt: null },
    });
    expect(list.drops[2]).toMatchObject({ jurisdictions: ['GB-ENG', 'GB-SCT'], crates: [{ crateCode: 'CRATE-1' }] });
    expect(list.drops[2].jurisdictionNote).toContain('stricter');
  });

  test('left at night and nobody wrote it down: recorded in the morning, drop by drop', async () => {
    for (const dispatchId of dispatches) {
      const path = `/v1/dispatches/${dispatchId}/recorded-departure`;
      expect((await kitchen.post('driver', path, { departedAt: night('05:35') })).findings).toEqual([]);
    }
    expect(await whereIs(kitchen, stew)).toEqual({ transit: 60 });
  });

  test('times of a drop are its own; what was said last stands, what was said before is kept', async () => {
    const path = `/v1/van-runs/${vanRunId}/drop-times`;
    const at = (dispatchId: string | undefined, times: object) =>
      kitchen.post('driver', path, { dispatchId, ...times });
    await at(dispatches[0], { arrivedAt: night('06:36'), doorAt: night('06:40') });
    await at(dispatches[1], { arrivedAt: night('07:20'), doorAt: night('07:25') });
    // the ward put it away, and knows better when the van came
    const ward = await service
      .as('receiver', world.w3Id)
      .post(path, fresh({ dispatchId: dispatches[0], arrivedAt: night('06:38'), putAwayAt: night('06:55') }));
    expect(ward.body).toMatchObject({
      arrivedAt: night('06:38'),
      doorAt: night('06:40'),
      putAwayAt: night('06:55'),
      findings: [],
    });
    const [first, second, third] = (await run()).drops;
    expect(first.times).toEqual({ arrivedAt: night('06:38'), doorAt: night('06:40'), putAwayAt: night('06:55') });
    expect(first.timesRecorded.map((one: Json) => one.arrivedAt)).toEqual([night('06:36'), night('06:38')]);
    expect(second.times).toEqual({ arrivedAt: night('07:20'), doorAt: night('07:25'), putAwayAt: null });
    expect(third.timesRecorded).toEqual([]);
    const ahead = await at(dispatches[2], { doorAt: night('11:00') });
    expect(ahead.findings).toMatchObject([{ kind: 'time-ahead' }]);
    const none = await service.as('driver').post(path, fresh({ dispatchId: dispatches[0] }));
    expect([none.status, none.body.code]).toEqual([422, 'rule-broken']);
  });

  test('what the school refuses stays on the van, and comes back into quarantine', async () => {
    const path = `/v1/dispatches/${dispatches[1]}/refusals`;
    const lines = [{ lotId: stew, quantity: 4, unit: 'piece' }];
    const body = fresh({ occurredAt: night('07:26'), reason: 'Pouches wet', lines });
    const told = await service.as('driver', world.ckId).post(path, body);
    expect(told.status).toBe(201);
    expect(told.body).toMatchObject({ dispatchId: dispatches[1], findings: [], lines: [{ lotId: stew, quantity: 4 }] });
    // sent again, it is the same leg
    const again = await service.as('driver', world.ckId).post(path, body);
    expect(again.body).toEqual(told.body);
    const back = told.body.returnDispatchId as string;
    const leg = await kitchen.get('driver', `/v1/dispatches/${back}`);
    expect(leg).toMatchObject({
      purpose: 'return',
      state: 'departed',
      departedAt: night('07:26'),
      fromSiteId: school.siteId,
      toSiteId: world.ckId,
      refusedFromId: dispatches[1],
      lines: [{ lotId: stew, quantity: 4, placeId: null }],
      lots: [{ sent: 4, inTransit: 4 }],
    });
    const closed = await receive(kitchen, dispatches[1] ?? '', night('07:40'), [
      accepted(stew, 13, { placeId: school.chillerId }),
    ]);
    expect(closed.lots).toMatchObject([{ sent: 20, accepted: 13, refused: 4, inTransit: 3, missing: 3 }]);
    const drop = (await run()).drops[1];
    expect(drop.refusals).toMatchObject([{ reason: 'Pouches wet', lots: [{ lotId: stew, quantity: 4 }] }]);
    const home = await receive(kitchen, back, night('08:30'), [accepted(stew, 4)]);
    expect(home.lots).toMatchObject([{ sent: 4, accepted: 0, setAside: 4, missing: 0 }]);
    expect(await whereIs(kitchen, stew)).toMatchObject({ [world.ckQuarantineId]: 4, [school.chillerId]: 13 });
  });

  test('a refusal entered after the receipt was closed makes less of it missing; undone, it is missing again', async () => {
    const missing = async () =>
      (await openFindings(kitchen, 'missing-in-transit'))
        .filter((one) => one.detail.dispatchId === dispatches[1])
        .map((one) => one.quantity);
    expect(await missing()).toEqual([3]);
    const lines = [{ lotId: stew, quantity: 1, unit: 'piece' }];
    const late = fresh({ occurredAt: night('07:27'), reason: 'Label torn', lines }) as Json;
    const { returnDispatchId } = await kitchen.post('receiver', `/v1/dispatches/${dispatches[1]}/refusals`, late);
    expect(await missing()).toEqual([2]);
    await kitchen.post('operations', '/v1/reversals', { entryId: late.id, reason: 'It was the other crate' });
    expect(await missing()).toEqual([3]);
    expect((await run()).drops[1].refusals).toHaveLength(1);
    const undone = await service.as('operations').post(`/v1/dispatches/${returnDispatchId}/departure`, fresh({}));
    expect([undone.status, undone.body.code]).toEqual([409, 'wrong-state']);
  });

  test('packs missing at the school and over at the inn are paired, and nothing is posted for it', async () => {
    expect((await run()).likelyWrongDrops).toEqual([]);
    await receive(kitchen, dispatches[2] ?? '', night('08:00'), [accepted(stew, 22), accepted(soup, 1)]);
    await receive(kitchen, dispatches[0] ?? '', night('06:50'), [accepted(stew, 20)]);
    const before = await whereIs(kitchen, stew);
    const { likelyWrongDrops } = await run();
    expect(likelyWrongDrops).toMatchObject([
      { lotId: stew, missingAtDispatchId: dispatches[1], overAtDispatchId: dispatches[2], quantity: 2 },
    ]);
    expect(await whereIs(kitchen, stew)).toEqual(before);
    expect(before).toMatchObject({ transit: 1 });
  });

  test('a site sees its own drop of it and no other; a site without a drop sees none', async () => {
    const ward = await service.as('receiver', world.w3Id).get(`/v1/van-runs/${vanRunId}`);
    expect(ward.body.drops.map((drop: Json) => drop.siteId)).toEqual([world.w3Id]);
    expect(ward.body.likelyWrongDrops).toEqual([]);
    expect(ward.text).not.toContain(school.siteId);
    const other = await addSite(kitchen, 'CARE');
    expect((await service.as('receiver', other.siteId).get(`/v1/van-runs/${vanRunId}`)).status).toBe(404);
    const listed = async (siteId: string) =>
      (await service.as('receiver', siteId).get('/v1/van-runs')).body.items.length;
    expect([await listed(world.w3Id), await listed(other.siteId)]).toEqual([1, 0]);
    const mine = await kitchen.get('driver', `/v1/van-runs?driverId=${world.kitchenPersonId}`);
    expect(mine.items.map((one: Json) => one.vanRunId)).toEqual([vanRunId]);
  });

  test('is changed by who read it: order, vehicle, driver; a dispatch is on one van at a time', async () => {
    const path = `/v1/van-runs/${vanRunId}`;
    const read = await service.as('operations').get(path);
    const reversed = [...dispatches].reverse();
    const change = { vehicle: 'Van 3', driverName: 'Ines Marrow', dispatchIds: reversed };
    const ifMatch = { 'if-match': read.headers.etag ?? '' };
    const changed = await service.as('operations').patch(path, change, ifMatch);
    expect(changed.status).toBe(200);
    expect(changed.body).toMatchObject({ vehicle: 'Van 3', driverName: 'Ines Marrow', driverId: null, version: 2 });
    expect(changed.body.drops.map((drop: Json) => drop.dispatchId)).toEqual(reversed);
    expect((await service.as('operations').patch(path, change, ifMatch)).status).toBe(412);
    const plain = { siteId: world.ckId, vehicle: 'Van 1', plannedFor: night('10:00') };
    const tries: [object, number][] = [
      [{ dispatchIds: [dispatches[0]] }, 422],
      [{ dispatchIds: ['00000000-0000-4000-8000-000000000000'] }, 404],
      [{ dispatchIds: [dispatches[0]], driverId: '00000000-0000-4000-8000-000000000000' }, 422],
      [
        { dispatchIds: [await plan(kitchen, world.w3Id, stew, 1)], driverId: '00000000-0000-4000-8000-000000000000' },
        404,
      ],
    ];
    for (const [more, status] of tries) {
      expect((await service.as('kitchen').post('/v1/van-runs', fresh({ ...plain, ...more }))).status).toBe(status);
    }
    const once = await plan(kitchen, world.w3Id, stew, 1);
    const twice = await service.as('kitchen').post('/v1/van-runs', fresh({ ...plain, dispatchIds: [once, once] }));
    expect([twice.status, twice.body.code]).toEqual([422, 'rule-broken']);
  });
});

test('a serialised pack that was refused is known where it comes back to', async () => {
  const service = await startService();
  try {
    const world = await buildWorld(service);
    const kitchen = kitchenOf(service, world);
    const { lotId } = await packsOf(kitchen, 10, { more: {} });
    const serials = ['1', '2', '3'];
    const dispatchId = await plan(kitchen, world.w3Id, lotId, 3, { serials });
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
    const occurredAt = '2026-11-25T11:40:00Z';
    const line = { lotId, unit: 'piece' };
    const wrong = { occurredAt, reason: 'Wet', lines: [{ ...line, quantity: 2, serials: ['2'] }] };
    const misfit = await service.as('receiver').post(`/v1/dispatches/${dispatchId}/refusals`, fresh(wrong));
    expect([misfit.status, misfit.body.code]).toEqual([422, 'serials-do-not-fit']);
    await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/refusals`, {
      occurredAt,
      reason: 'Wet',
      lines: [{ ...line, quantity: 1, serials: ['2'] }],
    });
    const { code } = await kitchen.get('kitchen', `/v1/lots/${lotId}`);
    const scan = (serial: string) => fresh({ kind: 'arrival', code: `${code}/${serial}`, occurredAt });
    const ward = { siteId: world.w3Id, scans: [scan('1'), scan('3')] };
    const there = await service.as('receiver', world.w3Id).post('/v1/scans', ward);
    expect(there.body.results.map((one: Json) => one.status)).toEqual(['recorded', 'recorded']);
    const home = { siteId: world.ckId, scans: [{ ...scan('2'), placeId: world.ckQuarantineId }] };
    const here = await service.as('kitchen', world.ckId).post('/v1/scans', home);
    expect(here.body.results.map((one: Json) => one.status)).toEqual(['recorded']);
    expect(await whereIs(kitchen, lotId)).toEqual({
      [world.ckChillerId]: 7,
      [world.ckQuarantineId]: 1,
      [world.w3ReceivingId]: 2,
    });
    expect(kindsOf(await openFindings(kitchen, 'shortfall'))).toEqual([]);
  } finally {
    await service.stop();
  }
});
