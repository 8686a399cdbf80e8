/** Scans of packs without serials over HTTP: they set totals. Expected values are added up by hand. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { identifyScans } from '../../../src/features/scanning/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { faultsOf } from '../../support/replay/books.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const at = (time: string) => `2026-11-25T${time}:00Z`;

describe('counted scans', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
  });
  afterAll(async () => {
    expect(await faultsOf(service, service.groupId)).toEqual([]);
    await service.stop();
  });

  interface Sent {
    readonly lotId: string;
    readonly code: string;
    readonly dispatchId: string;
  }
  /** A new lot of packs without serials, of which some are sent to the ward in crates; null: loose. */
  async function send(crates: readonly (readonly [string | null, number])[], more: object = {}): Promise<Sent> {
    const shin = await kitchen.shin(1_000);
    const { batchId, lotId } = await kitchen.stew(shin, 1_000, 900);
    const packs = await kitchen.pack(batchId, lotId, 900, 60, { serialised: false, ...more });
    await kitchen.release(batchId);
    const { code } = await kitchen.get('kitchen', `/v1/lots/${packs}`);
    return { lotId: packs, code, dispatchId: await sendAgain(packs, crates) };
  }
  async function sendAgain(lotId: string, crates: readonly (readonly [string | null, number])[]): Promise<string> {
    const plan = await kitchen.post('kitchen', '/v1/dispatches', {
      fromSiteId: world.ckId,
      toSiteId: world.w3Id,
      lines: crates.map(([crateCode, quantity]) => ({
        lotId,
        placeId: world.ckChillerId,
        quantity,
        unit: 'piece',
        ...(crateCode !== null && { crateCode }),
      })),
    });
    await kitchen.post('driver', `/v1/dispatches/${plan.dispatchId}/departure`, {});
    return plan.dispatchId as string;
  }
  const scan = (kind: string, code: string, time: string, more: object = {}) => ({
    id: randomUUID(),
    kind,
    code,
    occurredAt: at(time),
    ...more,
  });
  async function tell(...scans: object[]): Promise<Json[]> {
    const answer = await service.as('receiver', world.w3Id).post('/v1/scans', { siteId: world.w3Id, scans });
    if (answer.status !== 207 || answer.body.refused !== 0) throw new Error(answer.text);
    return answer.body.results as Json[];
  }
  /** How much of a lot is where: places by code, other accounts by kind; what is not in the kitchen. */
  async function where(lotId: string): Promise<Record<string, number>> {
    const trace = await kitchen.get('operations', `/v1/lots/${lotId}/trace?direction=forward`);
    const lot = trace.lots.find((one: Json) => one.lotId === lotId);
    expect(lot.balanced).toBe(true);
    const names: Record<string, string> = {
      [world.w3ReceivingId]: 'receiving',
      [world.w3ChillerId]: 'chiller',
      [world.w3QuarantineId]: 'quarantine',
    };
    const sums: Record<string, number> = {};
    for (const stop of lot.whereNow as Json[]) {
      if (stop.kind === 'place' && names[stop.placeId] === undefined) continue;
      const key = stop.kind === 'place' ? (names[stop.placeId] as string) : (stop.kind as string);
      sums[key] = (sums[key] ?? 0) + Number(stop.quantity);
    }
    return sums;
  }
  const outcome = async (scanId: string) => {
    const { outcome: came, entryIds } = await kitchen.get('quality', `/v1/scans/${scanId}`);
    return [came, entryIds.length] as [string, number];
  };
  const findings = async (kind: string, factId: string) => {
    const page = await kitchen.get('quality', `/v1/findings?kind=${kind}&limit=500`);
    return (page.items as Json[]).filter((one) => one.detail.factId === factId);
  };

  test('one of twelve, how many: the latest beep says the total', async () => {
    const { lotId, code } = await send([[null, 12]]);
    const first = scan('arrival', code, '07:00');
    const asked = await tell(first);
    expect(asked[0]).toMatchObject({ status: 'recorded', serial: null, total: 1, expected: 12, mayUse: true });
    const [answer] = await tell(scan('arrival', code, '07:01', { quantity: 12 }));
    expect(answer).toMatchObject({ status: 'recorded', total: 12, expected: 12 });
    expect(await where(lotId)).toEqual({ receiving: 12 });
    expect(await outcome(first.id)).toEqual(['superseded', 0]);
    // the same label beeped again, and again: it says one, later
    await tell(scan('arrival', code, '07:02'), scan('arrival', code, '07:03'));
    expect(await where(lotId)).toEqual({ receiving: 1, transit: 11 });
  });

  test('any order of arrival ends the same, in one call or in several', async () => {
    const orders = [
      [0, 1, 2, 3, 4, 5],
      [5, 4, 3, 2, 1, 0],
      [2, 5, 0, 4, 1, 3],
    ];
    const ends: object[] = [];
    for (const [turn, order] of orders.entries()) {
      const { lotId, code } = await send([[null, 20]]);
      const use = { placeId: world.w3ChillerId, meal: 'lunch', servicePoint: 'Bay A' };
      const scans = [
        scan('arrival', code, '07:00', { quantity: 18 }),
        scan('arrival', code, '07:05', { quantity: 17 }),
        scan('arrival', code, '07:04', { quantity: 2, condition: 'damaged' }),
        scan('put-away', code, '07:30', { quantity: 17, placeId: world.w3ChillerId }),
        scan('use', code, '12:00', { ...use, quantity: 3 }),
        scan('use', code, '12:20', { ...use, quantity: 5 }),
      ];
      const told = order.map((no) => scans[no] as object);
      if (turn === 2) await tell(...told);
      else for (const one of told) await tell(one);
      ends.push(await where(lotId));
    }
    // 20 sent, 17 good and 2 damaged came, 5 were served
    const end = { transit: 1, quarantine: 2, chiller: 12, served: 5 };
    expect(ends).toEqual([end, end, end]);
  });

  test('eight tablets at once: the latest word stands, once', async () => {
    const { lotId, code } = await send([[null, 20]]);
    const scans = [1, 2, 3, 4, 5, 6, 7, 8].map((no) => scan('arrival', code, `07:0${no}`, { quantity: no * 2 }));
    await Promise.all([5, 1, 8, 3, 2, 7, 6, 4].map((no) => tell(scans[no - 1] as object)));
    expect(await where(lotId)).toEqual({ receiving: 16, transit: 4 });
    const outcomes = await Promise.all(scans.map(({ id }) => outcome(id)));
    expect(outcomes).toEqual([...scans.slice(1).map(() => ['superseded', 0]), ['recorded', 1]]);
  });

  test('another meal, another point, another day, another reason: another total', async () => {
    const { lotId, code } = await send([[null, 30]]);
    const placeId = world.w3ChillerId;
    await tell(scan('arrival', code, '07:00', { quantity: 30, placeId }));
    const thrown = { placeId, destination: 'composting' };
    const results = await tell(
      scan('use', code, '12:00', { placeId, meal: 'lunch', quantity: 4 }),
      scan('use', code, '18:00', { placeId, meal: 'dinner', quantity: 3 }),
      scan('use', code, '18:01', { placeId, meal: 'dinner', servicePoint: 'Bay B', quantity: 2 }),
      { ...scan('use', code, '12:00', { placeId, meal: 'lunch', quantity: 5 }), occurredAt: '2026-11-24T12:00:00Z' },
      scan('discard', code, '19:00', { ...thrown, reason: 'damaged', quantity: 1 }),
      scan('discard', code, '19:00', { ...thrown, reason: 'temperature', quantity: 2 }),
      scan('discard', code, '19:05', { ...thrown, reason: 'temperature', quantity: 3 }),
    );
    expect(results.map((one) => [one.total, one.expected])).toEqual(
      [4, 3, 2, 5, 1, 3, 3].map((total) => [total, null]),
    );
    expect(await where(lotId)).toEqual({ chiller: 12, served: 14, waste: 4 });
    // the screens add
    const more = { lotId, placeId, quantity: 2, unit: 'piece', occurredAt: at('12:30'), meal: 'lunch' };
    await kitchen.post('receiver', '/v1/uses', more);
    await kitchen.post('receiver', '/v1/uses', more);
    expect(await where(lotId)).toMatchObject({ chiller: 8, served: 18 });
  });

  test('undoing the scan that governs lets the one before it govern again, findings and all', async () => {
    service.clock.set(Date.parse('2026-11-24T08:00:00Z'));
    const { lotId, code } = await send([[null, 10]], { useByDate: '2026-11-24' });
    service.clock.set(Date.parse('2026-11-25T12:00:00Z'));
    const placeId = world.w3ChillerId;
    await tell(scan('arrival', code, '07:00', { quantity: 10, placeId }));
    const first = scan('use', code, '12:00', { placeId, quantity: 4 });
    const second = scan('use', code, '12:10', { placeId, quantity: 6 });
    expect((await tell(first))[0]?.findings).toMatchObject([{ kind: 'past-use-by' }]);
    expect((await tell(second))[0]?.findings).toMatchObject([{ kind: 'past-use-by' }]);
    expect([await findings('past-use-by', first.id), await findings('past-use-by', second.id)]).toMatchObject([
      [],
      [{}],
    ]);
    await kitchen.post('quality', '/v1/reversals', { entryId: second.id, reason: 'Counted the wrong trolley' });
    expect(await where(lotId)).toEqual({ chiller: 6, served: 4 });
    expect([await findings('past-use-by', first.id), await findings('past-use-by', second.id)]).toMatchObject([
      [{}],
      [],
    ]);
    expect([await outcome(first.id), await outcome(second.id)]).toEqual([
      ['recorded', 1],
      ['reversed', 0],
    ]);
    // its first entry was taken back; the one that stands for it now is another
    await kitchen.post('quality', '/v1/reversals', { entryId: first.id, reason: 'None at all' }, 409);
    const now = await kitchen.get('quality', `/v1/scans/${first.id}`);
    await kitchen.post('quality', '/v1/reversals', { entryId: now.entryIds[0], reason: 'None at all' });
    expect(await where(lotId)).toEqual({ chiller: 10 });
  });

  test('crates make up the total of what they carry; packs counted later are the total', async () => {
    const { lotId, code, dispatchId } = await send([
      ['COUNTED-1', 6],
      ['COUNTED-2', 5],
      [null, 1],
    ]);
    const beeps = [scan('arrival', 'COUNTED-1', '07:00'), scan('arrival', 'COUNTED-2', '07:01')];
    expect((await tell(...beeps)).map((one) => [one.status, one.total])).toEqual([
      ['recorded', null],
      ['recorded', null],
    ]);
    expect(await where(lotId)).toEqual({ receiving: 11, transit: 1 });
    expect((await tell(scan('arrival', 'COUNTED-1', '07:02')))[0]?.status).toBe('already-recorded');
    // a stray beep before the crates says nothing more; one after them says how many in all
    expect((await tell(scan('arrival', code, '06:59')))[0]).toMatchObject({ total: 11, expected: 12 });
    expect((await tell(scan('arrival', code, '07:30', { quantity: 10 })))[0]).toMatchObject({
      total: 10,
      expected: 12,
    });
    expect(await where(lotId)).toEqual({ receiving: 10, transit: 2 });
    const dispatch = await kitchen.get('receiver', `/v1/dispatches/${dispatchId}`);
    expect(dispatch.lots).toMatchObject([{ sent: 12, accepted: 10, inTransit: 2 }]);
  });

  test('a damaged crate is set aside', async () => {
    const { lotId } = await send([['COUNTED-3', 4]]);
    await tell(scan('arrival', 'COUNTED-3', '07:00', { condition: 'damaged' }));
    expect(await where(lotId)).toEqual({ quarantine: 4 });
  });

  test('what is missing after closing follows the total', async () => {
    const { code, dispatchId } = await send([[null, 12]]);
    await tell(scan('arrival', code, '07:00', { quantity: 9 }));
    const closing = { occurredAt: at('08:30'), closes: true, lines: [] };
    const closed = await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/receipts`, closing);
    expect(closed.findings).toMatchObject([{ kind: 'missing-in-transit', quantity: 3 }]);
    const missing = async () =>
      ((await kitchen.get('receiver', `/v1/dispatches/${dispatchId}`)).lots as Json[])[0]?.missing as number;
    await tell(scan('arrival', code, '07:20', { quantity: 11 }));
    expect(await missing()).toBe(1);
    await tell(scan('arrival', code, '07:10', { quantity: 12 }));
    expect(await missing()).toBe(1);
  });

  test("a serialised lot's code without a serial sets a total too", async () => {
    const { lotId, code } = await send([[null, 5]], { serialised: true });
    await tell(scan('arrival', code, '07:00', { quantity: 2 }), scan('arrival', code, '07:01', { quantity: 5 }));
    expect(await where(lotId)).toEqual({ receiving: 5 });
  });

  test('a dispatch that does not list the lot can be named: over here, expected none', async () => {
    const other = await send([[null, 3]]);
    const lost = await send([[null, 2]]);
    const [answer] = await tell(scan('arrival', lost.code, '07:00', { dispatchId: other.dispatchId, quantity: 2 }));
    expect(answer).toMatchObject({ status: 'recorded', total: 2, expected: 0 });
  });

  test('codes that were unknown join the total when their lot appears', async () => {
    const code = 'LATE-COUNTED-1';
    const placeId = world.w3ChillerId;
    const scans = [
      scan('use', code, '09:00', { placeId, quantity: 3 }),
      scan('use', code, '09:10', { placeId, quantity: 2 }),
    ];
    expect((await tell(...scans)).map((one) => [one.status, one.total])).toEqual([
      ['awaiting-identity', null],
      ['awaiting-identity', null],
    ]);
    const lotId = await kitchen.shin(1_000, { lotCode: code });
    const job = identifyScans({ db: service.db, clock: service.clock, ids: randomIds, log: createLog('silent') });
    await job.run({ groupId: service.groupId });
    expect(await where(lotId)).toMatchObject({ chiller: -2, served: 2 });
    expect(await outcome(scans[0]?.id ?? '')).toEqual(['superseded', 0]);
    expect((await tell(scan('use', code, '09:20', { placeId, quantity: 7 })))[0]).toMatchObject({ total: 7 });
    expect(await where(lotId)).toMatchObject({ served: 7 });
  });

  test('where food is put when nobody says: in the default put-away, and said to be presumed', async () => {
    const before = await send([[null, 6]]);
    const early = scan('arrival', before.code, '07:00', { quantity: 6 });
    await tell(early);
    const site = await service.as('operations').get(`/v1/sites/${world.w3Id}`);
    const putAway = { chilled: world.w3ChillerId, frozen: null, ambient: null };
    const changed = await service
      .as('operations')
      .patch(`/v1/sites/${world.w3Id}`, { putAway }, { 'If-Match': site.headers.etag ?? '' });
    expect(changed.status).toBe(200);

    const { lotId, code } = await send([[null, 12]]);
    const arrival = scan('arrival', code, '07:00', { quantity: 12 });
    await tell(arrival, scan('arrival', code, '07:01', { quantity: 1, condition: 'too-warm' }));
    expect(await where(lotId)).toEqual({ chiller: 12, quarantine: 1, transit: -1 });
    expect(await kitchen.get('quality', `/v1/scans/${arrival.id}`)).toMatchObject({ placeId: world.w3ChillerId });
    expect(await noteOf(arrival.id)).toMatchObject({ presumed: [{ lotId, placeId: world.w3ChillerId }] });
    // put away where it was presumed to be: nothing moves; elsewhere: from there
    await tell(scan('put-away', code, '07:20', { placeId: world.w3ChillerId, quantity: 12 }));
    await tell(scan('put-away', code, '07:25', { placeId: world.w3ReceivingId, quantity: 2 }));
    await tell(scan('use', code, '12:00', { quantity: 3 }));
    expect(await where(lotId)).toMatchObject({ chiller: 7, receiving: 2, served: 3 });

    // a pack with a serial goes the same way
    const serial = await send([[null, 2]], { serialised: true });
    const pack = scan('arrival', `${serial.code}/1`, '07:00');
    await tell(pack, scan('use', `${serial.code}/2`, '12:00'));
    // one came into the chiller, the other was taken from there
    expect(await where(serial.lotId)).toEqual({ served: 1, transit: 1 });
    expect(await noteOf(pack.id)).toMatchObject({ presumed: [{ lotId: serial.lotId, placeId: world.w3ChillerId }] });
    // one that names its place presumes nothing
    const named = scan('arrival', `${serial.code}/2`, '07:00', { placeId: world.w3ReceivingId });
    await tell(named);
    expect(await noteOf(named.id)).not.toHaveProperty('presumed');

    // what was recorded before the change is taken back from where it went
    await tell(scan('arrival', before.code, '07:10', { quantity: 5 }));
    expect(await where(before.lotId)).toEqual({ chiller: 5, transit: 1 });
    expect(await noteOf(early.id)).toMatchObject({ presumed: [{ placeId: world.w3ReceivingId }] });
  });

  async function noteOf(entryId: string): Promise<object> {
    const rows = await service.db.inGroup(service.groupId, 'read', (tx) =>
      tx.query<{ note: object }>('select e.note from entry e where e.entry_id = $1::uuid', [entryId]),
    );
    return rows[0]?.note ?? {};
  }
});
