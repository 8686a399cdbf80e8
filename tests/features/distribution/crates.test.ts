/** Crates: numbers that are given once, crates in crates, one beep for all of them, boxes that have to come back. */
import { randomUUID } from 'node:crypto';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';
import { createApp } from '../../../src/app.ts';
import { identifyScans } from '../../../src/features/scanning/index.ts';
import { createDb } from '../../../src/platform/db/db.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { addSite, packsOf, receive, whereIs, type Site } from './sites.ts';

const at = (time: string) => `2026-11-25T${time}:00.000Z`;

/** By hand, not by the code under test: weights 3, 1, 3 … from the right over 17 digits. */
function luhnless(body: string): string {
  const sum = [...body].reverse().reduce((total, digit, place) => total + Number(digit) * (place % 2 ? 1 : 3), 0);
  return body + String((10 - (sum % 10)) % 10);
}

describe('crates', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let school: Site;
  const range = (companyPrefix: string, more: object = {}, status = 201): Promise<Json> =>
    kitchen.post('operations', '/v1/sscc-ranges', { companyPrefix, ...more }, status);
  const make = (count: number, more: object = {}, status = 201): Promise<Json> =>
    kitchen.post('kitchen', '/v1/crates', { siteId: world.ckId, count, ...more }, status);
  const put = (crate: Json, into: Json, more: object = {}, status = 201): Promise<Json> =>
    kitchen.post(
      'kitchen',
      `/v1/crates/${crate.crateId}/placements`,
      { intoCrateId: into?.crateId ?? null, ...more },
      status,
    );
  const read = (crate: Json, role = 'kitchen', status = 200) =>
    kitchen.get(role, `/v1/crates/${crate.crateId}`, status);
  async function beep(code: string, time: string, more: object = {}): Promise<Json> {
    const scan = { id: randomUUID(), kind: 'arrival', code, occurredAt: at(time), ...more };
    const answer = await service.as('receiver').post('/v1/scans', { siteId: world.w3Id, scans: [scan] });
    expect(answer.status).toBe(207);
    return answer.body.results[0];
  }
  async function send(lines: object[]): Promise<string> {
    const whole = lines.map((line) => ({ placeId: world.ckChillerId, unit: 'piece', ...line }));
    const body = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: whole };
    const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', body);
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, { departedAt: at('09:00') });
    return dispatchId as string;
  }
  const found = async (dispatchId: string) => (await kitchen.get('receiver', `/v1/dispatches/${dispatchId}`)).lots;

  beforeAll(async () => {
    service = await startService({ nowMs: Date.parse(at('08:00')) });
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    school = await addSite(kitchen, 'SCH');
  });
  afterAll(() => service.stop());

  test('without a company prefix there is no SSCC, but crates can have codes of their own', async () => {
    expect((await make(1, {}, 409)).code).toBe('no-company-prefix');
    const own = await kitchen.post('kitchen', '/v1/crates', { siteId: world.ckId, codes: ['CRATE-1', 'CRATE-2'] });
    expect(own.items.map((one: Json) => [one.code, one.sscc])).toEqual([
      ['CRATE-1', null],
      ['CRATE-2', null],
    ]);
    const again = { siteId: world.ckId, codes: ['CRATE-2'] };
    expect((await kitchen.post('kitchen', '/v1/crates', again, 409)).code).toBe('code-taken');
    for (const body of [{ codes: ['X'], count: 1 }, { codes: ['952000000000000001'] }, { codes: ['X', 'X'] }, {}])
      await kitchen.post('kitchen', '/v1/crates', { siteId: world.ckId, ...body }, 422);
    expect((await range('0000', {}, 422)).errors).toMatchObject([{ pointer: '#/companyPrefix' }]);
    expect(
      (await service.as('operations', world.ckId).post('/v1/sscc-ranges', { id: randomUUID(), companyPrefix: '9520' }))
        .status,
    ).toBe(403);
  });

  test('numbers are given in order, each range to its end, and never beyond', async () => {
    await range('952000000001', { extensionDigit: 3, firstSerial: 9_997 });
    // both would come to the same numbers
    expect((await range('95200000', { extensionDigit: 3 }, 422)).code).toBe('rule-broken');
    await range('952000000001', { extensionDigit: 4, firstSerial: 10_000 }, 422);
    const { items } = await make(2, { kind: 'pallet' });
    expect(items.map((one: Json) => one.sscc)).toEqual([luhnless('39520000000019997'), luhnless('39520000000019998')]);
    expect((await make(2, {}, 409)).code).toBe('sscc-used-up');
    await range('952001234');
    const more = await make(2);
    expect(more.items.map((one: Json) => one.sscc)).toEqual([
      luhnless('39520000000019999'),
      luhnless('09520012340000000'),
    ]);
    const ranges = await kitchen.get('kitchen', '/v1/sscc-ranges');
    expect(ranges.items.map((one: Json) => [one.companyPrefix, one.given, one.left])).toEqual([
      ['952000000001', 3, 0],
      ['952001234', 1, 9_999_999],
    ]);
  });

  test('many at once over twenty connections, each sent twice, some refused: no number twice, none left out', async () => {
    const before = (await kitchen.get('kitchen', '/v1/sscc-ranges')).items[1].given as number;
    const many = createDb({
      url: service.databaseUrl,
      poolSize: 20,
      preparedStatements: true,
      log: createLog('error'),
    });
    const { clock, tokens } = service;
    const server = createServer(createApp({ db: many, clock, ids: randomIds, tokens, log: createLog('error') }));
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/v1/crates`;
    const token = tokens.sign(
      { groupId: service.groupId, kind: 'person', actorId: randomUUID(), grants: [{ role: 'kitchen', siteId: null }] },
      clock.nowMs(),
    );
    const headers = { authorization: `Bearer ${token}`, 'content-type': 'application/json' };
    async function ask(body: object): Promise<{ status: number; items: Json[] }> {
      const answer = await fetch(url, { method: 'POST', headers, body: JSON.stringify(body) });
      return { status: answer.status, items: ((await answer.json()) as Json).items };
    }
    // every sixth names a site that is not there; a second sending of one fact undoes what it took itself
    const bodies = Array.from({ length: 60 }, (_, no) => ({
      ...{ id: randomUUID(), siteId: no % 6 === 0 ? randomUUID() : world.ckId, count: 1 + (no % 5) },
    }));
    const answers = await Promise.all([...bodies, ...bodies].map(ask));
    const first = answers.slice(0, bodies.length);
    for (const [no, { status, items }] of answers.slice(bodies.length).entries()) {
      expect([status, items]).toEqual([first[no]?.status, first[no]?.items]);
      expect(status).toBe(no % 6 === 0 ? 404 : 201);
    }
    const ssccs = first.flatMap(({ items }) => items ?? []).map((one: Json) => one.sscc as string);
    const wanted = bodies.reduce((sum, body) => sum + (body.siteId === world.ckId ? body.count : 0), 0);
    const all = Array.from({ length: wanted }, (_, no) =>
      luhnless(`0952001234${String(before + no).padStart(7, '0')}`),
    );
    expect(ssccs.sort()).toEqual(all.sort());
    server.closeAllConnections();
    await new Promise((resolve) => server.close(resolve));
    await many.end();
  });

  test('a crate goes into a cage and out again; never into itself, and not too deep', async () => {
    const [cage, a, b, c, d, e] = (await make(6)).items as Json[];
    await put(a, cage);
    expect((await put(cage, a, {}, 409)).code).toBe('crate-in-itself');
    expect((await put(cage, cage, {}, 409)).code).toBe('crate-in-itself');
    await put(b, a);
    await put(c, b);
    await put(d, c);
    expect((await put(e, d, {}, 422)).code).toBe('rule-broken');
    expect((await read(cage)).inside.map((one: Json) => [one.code, one.level])).toEqual([
      [a.code, 1],
      [b.code, 2],
      [c.code, 3],
      [d.code, 4],
    ]);
    expect((await read(d)).inCrates.map((one: Json) => one.code)).toEqual([c.code, b.code, a.code, cage.code]);
    service.clock.set(Date.parse(at('08:10')));
    await put(a, null);
    expect((await read(cage)).inside).toEqual([]);
    await put(cage, d, { occurredAt: at('08:05') }, 409);
    // what happened earlier and is told later does not change what came after it
    await put(a, e, { occurredAt: at('08:05') });
    expect((await read(a)).inCrates).toEqual([]);
    expect((await put(b, cage, { occurredAt: at('10:00') }, 422)).code).toBe('time-in-future');
    expect((await read(a, 'receiver')).placements).toHaveLength(4);
    expect((await service.as('receiver', world.w3Id).get(`/v1/crates/${a.crateId}`)).status).toBe(404);
    // two that would make a ring together: one of them is refused
    const both = await Promise.all(
      [
        [b, e],
        [e, b],
      ].map(([one, other]) =>
        service
          .as('kitchen')
          .post(`/v1/crates/${one.crateId}/placements`, { id: randomUUID(), intoCrateId: other.crateId }),
      ),
    );
    expect(both.map((answer) => answer.status).sort()).toEqual([201, 409]);
  });

  test('one beep of a cage stands for every crate in it when it left; a second beep says nothing new', async () => {
    service.clock.set(Date.parse(at('08:30')));
    const { lotId } = await packsOf(kitchen, 40, { more: {} });
    const counted = await packsOf(kitchen, 40);
    const [cage, a, b, loose, late] = (await make(5)).items as Json[];
    for (const crate of [a, b, late]) await put(crate, cage);
    service.clock.set(Date.parse(at('08:40')));
    await put(late, null);
    service.clock.set(Date.parse(at('12:00')));
    const serials = (crate: Json, ...named: string[]) => ({
      ...{ lotId, quantity: named.length, serials: named, crateCode: crate.code },
    });
    const dispatchId = await send([
      serials(a, '1', '2'),
      serials(b, '3'),
      serials(loose, '4'),
      serials(late, '5'),
      { lotId: counted.lotId, quantity: 6, crateCode: a.code },
      { lotId: counted.lotId, quantity: 4, crateCode: b.code },
      { lotId: counted.lotId, quantity: 1, crateCode: loose.code },
    ]);
    // taken off the cage at the door: what it held when it left is what the beep speaks of
    await kitchen.post('receiver', `/v1/crates/${b.crateId}/placements`, {
      intoCrateId: null,
      occurredAt: at('10:30'),
    });
    const list = await kitchen.get('receiver', `/v1/crates?dispatchId=${dispatchId}&limit=500`);
    expect(list.items.map((one: Json) => one.code).sort()).toEqual(
      [cage, a, b, loose, late].map((one) => one.code).sort(),
    );
    expect(await read(cage)).toMatchObject({ state: 'on-the-road', atSiteId: null });

    // a crate of it by itself first, and later in time: the cage's beep is the earlier one and stands for its packs
    expect((await beep(a.code, '10:20')).status).toBe('recorded');
    expect((await beep(cage.code, '10:10')).status).toBe('recorded');
    expect((await beep(b.code, '10:40')).status).toBe('already-recorded');
    expect((await beep(cage.code, '10:45')).status).toBe('already-recorded');
    expect(await found(dispatchId)).toEqual(
      expect.arrayContaining([
        expect.objectContaining({ lotId, sent: 5, accepted: 3, inTransit: 2 }),
        expect.objectContaining({ lotId: counted.lotId, sent: 11, accepted: 10, inTransit: 1 }),
      ]),
    );
    expect((await beep(loose.code, '10:41')).status).toBe('recorded');
    expect((await beep(late.code, '10:42')).status).toBe('recorded');
    expect((await found(dispatchId)).map((one: Json) => [one.inTransit, one.accepted === one.sent])).toEqual([
      [0, true],
      [0, true],
    ]);
    expect(await whereIs(kitchen, counted.lotId)).toMatchObject({ [world.ckChillerId]: 29, [world.w3ReceivingId]: 11 });
    await receive(kitchen, dispatchId, at('11:00'), []);
    expect(await read(cage, 'receiver')).toMatchObject({ state: 'delivered', atSiteId: world.w3Id });
    expect((await service.as('receiver', world.w3Id).get(`/v1/crates/${cage.crateId}`)).status).toBe(200);
    expect((await service.as('receiver', school.siteId).get(`/v1/crates/${cage.crateId}`)).status).toBe(404);
  });

  test('beeps of a cage, a crate in it and a pack in that, in any order: the same packs, once', async () => {
    const { lotId } = await packsOf(kitchen, 40, { more: {} });
    const counted = (await packsOf(kitchen, 40)).lotId;
    const orders = [
      [0, 1, 2],
      [0, 2, 1],
      [1, 0, 2],
      [1, 2, 0],
      [2, 0, 1],
      [2, 1, 0],
    ];
    for (const [no, order] of orders.entries()) {
      const [cage, a, b] = (await make(3)).items as Json[];
      for (const crate of [a, b]) await put(crate, cage, { occurredAt: at('08:50') });
      const serials = [2 * no + 1, 2 * no + 2].map(String);
      const line = { lotId: counted, quantity: 2, crateCode: a.code };
      const dispatchId = await send([
        ...serials.map((serial, at) => ({ lotId, quantity: 1, serials: [serial], crateCode: [a, b][at].code })),
        ...[line, { ...line, quantity: 3, crateCode: b.code }],
      ]);
      const { code } = await kitchen.get('kitchen', `/v1/lots/${lotId}`);
      const beeps = [cage.code, a.code, `${code}/${serials[0]}`];
      const statuses: string[] = [];
      for (const which of order) statuses.push((await beep(beeps[which] ?? '', `10:0${which + 1}`)).status);
      // the first one is always news; when the cage was first, all that follows was known
      expect(statuses[0]).toBe('recorded');
      if (order[0] === 0) expect(statuses.slice(1)).toEqual(['already-recorded', 'already-recorded']);
      expect(await found(dispatchId)).toEqual(
        expect.arrayContaining([
          expect.objectContaining({ lotId, sent: 2, accepted: 2, inTransit: 0 }),
          expect.objectContaining({ lotId: counted, sent: 5, accepted: 5, inTransit: 0 }),
        ]),
      );
    }
    expect(await whereIs(kitchen, lotId)).toEqual({ [world.ckChillerId]: 28, [world.w3ReceivingId]: 12 });
    expect(await whereIs(kitchen, counted)).toEqual({ [world.ckChillerId]: 10, [world.w3ReceivingId]: 30 });
  });

  test('a cage that was beeped before anybody said what is in it: its packs arrive when that is told', async () => {
    const { lotId } = await packsOf(kitchen, 10, { more: {} });
    const [cage, crate] = (await make(2)).items as Json[];
    const waiting = await beep(cage.code, '10:30');
    expect(waiting.status).toBe('awaiting-identity');
    const identify = () =>
      identifyScans({ db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') }).run({
        groupId: service.groupId,
      });
    const line = { lotId, quantity: 2, serials: ['1', '2'], crateCode: crate.code };
    const dispatchId = await send([line]);
    await identify();
    expect(await found(dispatchId)).toMatchObject([{ accepted: 0, inTransit: 2 }]);
    await put(crate, cage, { occurredAt: at('08:55') });
    await identify();
    await identify();
    expect(await found(dispatchId)).toMatchObject([{ accepted: 2, inTransit: 0 }]);
    expect(await kitchen.get('quality', `/v1/scans/${waiting.id}`)).toMatchObject({ outcome: 'recorded', dispatchId });
  });

  test('boxes leave with the food, are counted, and are missing where they stay', async () => {
    service.clock.set(Date.parse(at('12:00')));
    const { lotId } = await packsOf(kitchen, 40);
    const box = await kitchen.post('operations', '/v1/box-types', { code: 'GREY', name: 'Grey crate' });
    const cageBox = await kitchen.post('operations', '/v1/box-types', { code: 'CAGE', name: 'Roll cage' });
    const { boxTypeId } = box;
    const crates = (await make(3, { boxTypeId })).items as Json[];
    const [cage] = (await make(1, { kind: 'roll-cage', boxTypeId: cageBox.boxTypeId })).items as Json[];
    for (const crate of crates.slice(0, 2)) await put(crate, cage, { occurredAt: at('08:50') });
    const count = (siteId: string, quantity: number, time: string) =>
      kitchen.post('receiver', '/v1/box-counts', { siteId, boxTypeId, quantity, occurredAt: at(time) });
    const move = (body: object, status = 201) =>
      kitchen.post('receiver', '/v1/box-movements', { boxTypeId, occurredAt: at('11:00'), ...body }, status);
    await move({ toSiteId: world.ckId, quantity: 50, occurredAt: at('07:00'), note: 'Bought' });
    await count(world.ckId, 48, '08:00');
    const dispatchId = await send(crates.map((crate) => ({ lotId, quantity: 2, crateCode: crate.code })));
    const balance = async (siteId: string, type = boxTypeId): Promise<Json> =>
      (await kitchen.get('receiver', `/v1/box-balances?siteId=${siteId}&boxTypeId=${type}`)).items[0];
    // 50 bought, 48 counted: two are missing; three left since
    expect(await balance(world.ckId)).toMatchObject({
      shouldBe: 45,
      leftSince: 3,
      lastCount: { quantity: 48, shouldHaveBeen: 50, difference: -2 },
    });
    expect(await balance(world.w3Id)).toMatchObject({ shouldBe: 0, onTheRoad: 3, lastCount: null });
    await receive(kitchen, dispatchId, at('10:00'), [{ lotId, quantity: 6, unit: 'piece', condition: 'accepted' }]);
    expect(await balance(world.w3Id)).toMatchObject({ shouldBe: 3, onTheRoad: 0, lastLeftAt: null });
    expect(await balance(world.w3Id, cageBox.boxTypeId)).toMatchObject({ shouldBe: 1, lastCameAt: at('10:00') });
    await move({ fromSiteId: world.w3Id, toSiteId: world.ckId, quantity: 2 });
    await count(world.w3Id, 0, '11:30');
    // told late: one went back before the count, so none is missing there
    expect((await balance(world.w3Id)).lastCount).toMatchObject({ shouldHaveBeen: 1, difference: -1 });
    await move({ fromSiteId: world.w3Id, quantity: 1, occurredAt: at('11:20'), note: 'Broken' });
    expect(await balance(world.w3Id)).toMatchObject({ shouldBe: 0, lastCount: { shouldHaveBeen: 0, difference: 0 } });
    expect(await balance(world.ckId)).toMatchObject({ shouldBe: 47, lastCameAt: at('11:00') });
    await move({ quantity: 1 }, 422);
    await move({ fromSiteId: world.w3Id, toSiteId: world.w3Id, quantity: 1 }, 422);
    await move({ fromSiteId: randomUUID(), quantity: 1 }, 404);
    const mine = await service.as('receiver', world.w3Id).get('/v1/box-balances');
    expect(mine.body.items.map((one: Json) => one.siteId)).toEqual([world.w3Id, world.w3Id]);
  });
});
