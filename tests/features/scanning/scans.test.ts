import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { identifyScans } from '../../../src/features/scanning/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const at = (time: string) => `2026-11-25T${time}:00Z`;

describe('scans', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let packs: string;
  let code: string;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    const shin = await kitchen.shin(40_000);
    const { batchId, lotId } = await kitchen.stew(shin, 40_000, 34_000);
    packs = await kitchen.pack(batchId, lotId, 30_000, 100);
    code = (await kitchen.get('kitchen', `/v1/lots/${packs}`)).code as string;
    await kitchen.release(batchId);
  });
  afterAll(() => service.stop());

  async function send(serials: string[], more: object = {}): Promise<string> {
    const line = {
      lotId: packs,
      placeId: world.ckChillerId,
      quantity: serials.length,
      unit: 'piece',
      serials,
      ...more,
    };
    const plan = await kitchen.post('kitchen', '/v1/dispatches', {
      fromSiteId: world.ckId,
      toSiteId: world.w3Id,
      lines: [line],
    });
    await kitchen.post('driver', `/v1/dispatches/${plan.dispatchId}/departure`, {});
    return plan.dispatchId as string;
  }
  const scan = (kind: string, serial: string, time: string, more: object = {}) => ({
    id: randomUUID(),
    kind,
    code: `${code}/${serial}`,
    occurredAt: at(time),
    ...more,
  });
  async function scans(list: object[], more: object = {}, status = 207): Promise<Json> {
    const answer = await service
      .as('receiver', world.w3Id)
      .post('/v1/scans', { siteId: world.w3Id, scans: list, ...more });
    if (answer.status !== status) throw new Error(answer.text);
    return answer.body;
  }
  async function where(): Promise<Record<string, number>> {
    const trace = await kitchen.get('operations', `/v1/lots/${packs}/trace?direction=forward`);
    const lot = trace.lots.find((one: Json) => one.lotId === packs);
    expect(lot.balanced).toBe(true);
    const sums: Record<string, number> = {};
    for (const stop of lot.whereNow) {
      const key = stop.kind === 'place' ? stop.placeName : `${stop.kind}`;
      sums[key] = (sums[key] ?? 0) + Number(stop.quantity);
    }
    return sums;
  }

  test('a pack arrives, is put away, is used; a second use of it is a finding; replays change nothing', async () => {
    await send(['1', '2']);
    const arrival = scan('arrival', '1', '07:00');
    const first = await scans([arrival]);
    expect(first.results[0]).toMatchObject({
      status: 'recorded',
      lotId: packs,
      serial: '1',
      mayUse: true,
      findings: [],
    });
    const again = await scans([arrival, scan('arrival', '1', '07:01')]);
    expect(again.results.map((one: Json) => [one.status, one.replayed])).toEqual([
      ['recorded', true],
      ['already-recorded', false],
    ]);
    await scans([scan('put-away', '1', '07:10', { placeId: world.w3ChillerId }), scan('use', '1', '12:00')]);
    const twice = await scans([scan('use', '1', '12:05')]);
    expect(twice.results[0].findings).toMatchObject([{ kind: 'ended-twice' }]);
    expect(await where()).toMatchObject({ served: 1, transit: 1 });
  });

  test('a discard that happened before a recorded use takes its place', async () => {
    await send(['3']);
    await scans([scan('arrival', '3', '07:00')]);
    const use = scan('use', '3', '12:00');
    await scans([use]);
    const before = await where();
    const late = await scans([scan('discard', '3', '11:00', { reason: 'damaged', destination: 'composting' })]);
    expect(late.results[0].status).toBe('recorded');
    const after = await where();
    expect(after.served).toBe((before.served ?? 0) - 1);
    expect(after.waste).toBe((before.waste ?? 0) + 1);
    const findings = await kitchen.get('quality', `/v1/findings?kind=ended-twice&limit=500`);
    expect(findings.items.map((one: Json) => one.detail.factId)).toContain(use.id);
  });

  test('undoing the earlier discard lets the use stand again', async () => {
    await send(['4']);
    await scans([scan('arrival', '4', '07:00')]);
    const discard = scan('discard', '4', '11:00', { reason: 'damaged', destination: 'composting' });
    const use = scan('use', '4', '12:00');
    await scans([discard, use]);
    const before = await where();
    await kitchen.post('quality', '/v1/reversals', { entryId: discard.id, reason: 'Wrong pack scanned' });
    const after = await where();
    expect(after.served).toBe((before.served ?? 0) + 1);
    expect(after.waste).toBe((before.waste ?? 0) - 1);
    await kitchen.post('quality', '/v1/reversals', { entryId: discard.id, reason: 'Again' }, 409);
  });

  test('one beep of a crate is an arrival of every pack in it', async () => {
    const dispatchId = await send(['10', '11', '12'], { crateCode: 'CRATE-9' });
    const crate = { id: randomUUID(), kind: 'arrival', code: 'CRATE-9', occurredAt: at('07:30') };
    const result = await scans([crate, scan('arrival', '11', '07:31')]);
    expect(result.results.map((one: Json) => one.status)).toEqual(['recorded', 'already-recorded']);
    const second = await scans([{ ...crate, id: randomUUID() }]);
    expect(second.results[0].status).toBe('already-recorded');
    const dispatch = await kitchen.get('receiver', `/v1/dispatches/${dispatchId}`);
    expect(dispatch.lots).toMatchObject([{ sent: 3, accepted: 3, inTransit: 0 }]);
  });

  test('closing names what is missing; a late scan reduces it; damaged packs are set aside', async () => {
    const dispatchId = await send(['20', '21', '22']);
    await scans([scan('arrival', '20', '08:00'), scan('arrival', '21', '08:00', { condition: 'damaged' })]);
    const closed = await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/receipts`, {
      occurredAt: at('08:30'),
      closes: true,
      lines: [],
    });
    expect(closed.findings).toMatchObject([{ kind: 'missing-in-transit', quantity: 1 }]);
    expect(closed.lots).toMatchObject([{ sent: 3, accepted: 1, setAside: 1, missing: 1 }]);
    await scans([scan('arrival', '22', '08:01')]);
    const after = await kitchen.get('receiver', `/v1/dispatches/${dispatchId}`);
    expect(after.lots).toMatchObject([{ accepted: 2, missing: 0 }]);
    const open = await kitchen.get('quality', '/v1/findings?kind=missing-in-transit');
    expect(open.items).toEqual([]);
    const aside = await kitchen.get('quality', '/v1/findings?kind=damaged-on-arrival');
    expect(aside.items).toMatchObject([{ quantity: 1 }]);
  });

  test('a receipt undone takes its findings with it; so does a departure', async () => {
    const dispatchId = await send(['40', '41']);
    const line = { lotId: packs, quantity: 1, unit: 'piece', condition: 'too-warm', temperatureC: 9.5 };
    const path = `/v1/dispatches/${dispatchId}/receipts`;
    const id = randomUUID();
    await kitchen.post('receiver', path, { id, occurredAt: at('09:00'), closes: true, lines: [line] });
    const open = async (kind: string) => {
      const list = await kitchen.get('quality', `/v1/findings?kind=${kind}&limit=500`);
      return list.items.filter((one: Json) => one.detail.dispatchId === dispatchId).length as number;
    };
    expect([await open('too-warm-on-arrival'), await open('missing-in-transit')]).toEqual([1, 1]);
    await kitchen.post('quality', '/v1/reversals', { entryId: id, reason: 'Probe was in the wrong crate' });
    expect([await open('too-warm-on-arrival'), await open('missing-in-transit')]).toEqual([0, 1]);
    await kitchen.post('quality', '/v1/reversals', { entryId: await lastDispatchEntry(packs), reason: 'Never left' });
    expect(await open('missing-in-transit')).toBe(0);
  });

  test('refusals stand per item; atomic means all or none', async () => {
    const good = scan('use', '30', '12:00');
    const bad = scan('use', '101', '12:00');
    const noReason = scan('discard', '31', '12:00');
    await scans([good, bad], { atomic: true }, 422);
    const mixed = await scans([good, bad, noReason]);
    expect(mixed).toMatchObject({ recorded: 1, refused: 2 });
    expect(mixed.results[1].problem).toMatchObject({ code: 'serials-do-not-fit', status: 422 });
    expect(mixed.results[2].problem).toMatchObject({ code: 'discard-reason-unknown' });
    const other = await scans([{ ...good, kind: 'put-away', placeId: world.w3ChillerId }]);
    expect(other.results[0].problem).toMatchObject({
      code: 'id-used-with-other-content',
      differences: ['#/kind', '#/placeId'],
    });
  });

  test('what no lot can have waits too, and the answer says why it cannot be read', async () => {
    // our lot codes leave the % of GS1's set 82 out; a GTIN in (01) has 14 digits; a lot code has 20 characters at most
    for (const read of ['STEW%1', '(01)0952012300101(10)STEW-1', 'A'.repeat(500)]) {
      const [result] = (await scans([{ ...scan('use', '1', '09:00'), code: read }])).results;
      expect(result).toMatchObject({ status: 'awaiting-identity', mayUse: null, problem: null });
      expect(result.whyNot).toContain('cannot be read');
    }
  });

  test('an unknown code waits and posts when its lot appears', async () => {
    const waiting = { id: randomUUID(), kind: 'use', code: 'LATE-LOT-1', occurredAt: at('09:00'), quantity: 3 };
    const answer = await scans([waiting]);
    expect(answer.results[0]).toMatchObject({ status: 'awaiting-identity', mayUse: null, whyNot: null });
    await kitchen.shin(1_000, { lotCode: 'LATE-LOT-1' });
    const job = identifyScans({ db: service.db, clock: service.clock, ids: randomIds, log: createLog('silent') });
    await job.run({ groupId: service.groupId });
    expect(await kitchen.get('quality', `/v1/scans/${waiting.id}`)).toMatchObject({
      outcome: 'recorded',
      entryIds: [waiting.id],
    });
    await job.run({ groupId: service.groupId });
    const entry = await kitchen.get('quality', `/v1/entries/${waiting.id}`);
    expect(entry.lines).toMatchObject([
      { quantity: 3, from: { kind: 'place', shortfall: true }, to: { kind: 'served' } },
    ]);
  });

  test('a count scan asserts what is there', async () => {
    const count = {
      id: randomUUID(),
      kind: 'count',
      code,
      occurredAt: at('11:59'),
      placeId: world.w3ChillerId,
      quantity: 7,
    };
    await scans([count]);
    const stock = await kitchen.get('quality', `/v1/stock?placeId=${world.w3ChillerId}`);
    // serial 1 was used there at 12:00, after the count
    expect(stock.items).toMatchObject([{ lotId: packs, quantity: 6 }]);
  });

  test('nothing unreleased leaves', async () => {
    const shin = await kitchen.shin(5_000);
    const { batchId, lotId } = await kitchen.stew(shin, 5_000, 4_000);
    const held = await kitchen.pack(batchId, lotId, 3_000, 10);
    const line = { lotId: held, placeId: world.ckChillerId, quantity: 1, unit: 'piece' };
    const plan = await kitchen.post('kitchen', '/v1/dispatches', {
      fromSiteId: world.ckId,
      toSiteId: world.w3Id,
      lines: [line],
    });
    const path = `/v1/dispatches/${plan.dispatchId}/departure`;
    expect(await kitchen.post('driver', path, {}, 409)).toMatchObject({ code: 'on-hold' });
    await kitchen.release(batchId);
    await kitchen.post('driver', path, {});
    const undone = await kitchen.post('quality', '/v1/reversals', {
      entryId: await lastDispatchEntry(held),
      reason: 'Van did not start',
    });
    expect(undone.kind).toBe('reversal');
    expect(await kitchen.get('kitchen', `/v1/dispatches/${plan.dispatchId}`)).toMatchObject({ state: 'planned' });
  });

  async function lastDispatchEntry(lotId: string): Promise<string> {
    const history = await kitchen.get('quality', `/v1/lots/${lotId}/history`);
    return history.items.filter((line: Json) => line.kind === 'dispatch').pop().entryId as string;
  }
});
