/**
 * What two sessions at once must not do to each other, stepped through on a real database: every request is held at a lock of its
 * own until the others stand where the test wants them.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { faultsOf } from '../support/replay/books.ts';
import { startService, type Answer, type TestService } from '../support/service.ts';
import { inOrder, permutations, sessionsOf, slippedThrough, type Sessions } from '../support/sessions.ts';
import { buildWorld, type World } from '../support/world.ts';

const STEPS = ['hold', 'input', 'packing', 'departure'] as const;
type Step = (typeof STEPS)[number];

describe('two sessions', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let sessions: Sessions;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    sessions = await sessionsOf(service);
  });
  afterAll(async () => {
    expect(await faultsOf(service, service.groupId)).toEqual([]);
    await sessions.end();
    await service.stop();
  });

  const post = (role: string, path: string, body: object, siteId: string | null = null) =>
    service.as(role, siteId).post(path, { id: randomUUID(), ...body });
  const now = () => new Date(service.clock.nowMs()).toISOString();
  const statuses = (answers: readonly Answer[]) => answers.map((answer) => answer.status).sort();
  const refusal = (answer: Answer | undefined) =>
    answer && answer.status >= 400 ? (answer.body.code as string) : null;
  const fromChiller = (lotId: string, quantity: number, unit = 'g') => ({
    lotId,
    placeId: world.ckChillerId,
    quantity,
    unit,
  });
  async function planned(lotId: string, quantity: number, more: object = {}): Promise<string> {
    const line = { ...fromChiller(lotId, quantity, 'piece'), ...more };
    const sites = { fromSiteId: world.ckId, toSiteId: world.w3Id };
    return (await kitchen.post('kitchen', '/v1/dispatches', { ...sites, lines: [line] })).dispatchId as string;
  }
  async function packed(packs: number, more: object = {}): Promise<{ lotId: string; code: string }> {
    const { batchId, lotId: load } = await kitchen.stew(await kitchen.shin(10_000), 10_000, 9_000);
    const lotId = await kitchen.pack(batchId, load, 9_000, packs, more);
    await kitchen.release(batchId);
    return { lotId, code: (await kitchen.get('quality', `/v1/lots/${lotId}`)).code as string };
  }
  const balance = async (lotId: string, accountId: string): Promise<number> =>
    service.db.inGroup(service.groupId, 'read', async (tx) => {
      const rows = await tx.query<{ net: number }>(
        `select coalesce(sum(b.quantity), 0)::int8 as net from balance b
           join account a on a.group_id = b.group_id and a.account_id = b.account_id
          where b.lot_id = $1::uuid and coalesce(a.twin_of, a.account_id) = $2::uuid`,
        [lotId, accountId],
      );
      return rows[0]?.net ?? 0;
    });
  const reach = async (holdId: string): Promise<string[]> =>
    service.db.inGroup(service.groupId, 'read', async (tx) => {
      const rows = await tx.query<{ lotId: string }>(
        `select lot_id as "lotId" from hold_reach where hold_id = $1::uuid`,
        [holdId],
      );
      return rows.map((row) => row.lotId);
    });
  const openShortfall = async (lotId: string): Promise<Json[]> =>
    (await kitchen.get('quality', `/v1/findings?kind=shortfall&lotId=${lotId}`)).items as Json[];

  // The shin is held; the load was cooked from it and is packed on; packs of it stand ready to leave; the late batch has a load already.
  test.each(permutations(STEPS).map((order) => ({ name: order.join(', '), order })))(
    '$name: what came before the hold is done and held, what came after is refused',
    async ({ order }) => {
      const shin = await kitchen.shin(12_000);
      const { batchId, lotId: load } = await kitchen.stew(shin, 10_000, 9_000);
      const packs = await kitchen.pack(batchId, load, 3_000, 10);
      const late = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
      await kitchen.release(batchId);
      const dispatchId = await planned(packs, 10);
      const packLotId = randomUUID();
      const fill = {
        fromLotId: load,
        fromPlaceId: world.ckChillerId,
        usedQuantity: 3_000,
        usedUnit: 'g',
        packItemId: world.beefStewPackId,
        packs: 10,
        packLotId,
        toPlaceId: world.ckChillerId,
      };
      const run = { equipmentId: world.packerId, programme: 'Moist dishes', startedAt: now(), finishedAt: now() };
      const requests: Record<Step, () => Promise<Answer>> = {
        hold: () => post('quality', '/v1/holds', { kind: 'quality', lotId: shin, note: 'Smells off' }),
        input: () => post('kitchen', `/v1/batches/${late.batchId}/inputs`, fromChiller(shin, 1_000)),
        packing: () => post('kitchen', `/v1/batches/${batchId}/packing-runs`, { ...run, fills: [fill] }),
        departure: () => post('driver', `/v1/dispatches/${dispatchId}/departure`, {}),
      };
      const stopper = order[0] === 'hold' ? await sessions.stopHolds() : await sessions.stopEntries();
      // A hold, and an input into a batch that has outputs, take the gate alone; whoever comes after waits behind them.
      const alone = order.findIndex((step) => step === 'hold' || step === 'input');
      const answers = await inOrder(
        sessions,
        stopper,
        order.map((step) => requests[step]),
        async () => expect(await sessions.waitingAtGate()).toBe(alone === 0 ? 3 : 4 - alone),
      );
      const holdAt = order.indexOf('hold');
      for (const [at, step] of order.entries()) {
        expect([step, answers[at]?.status, refusal(answers[at])]).toEqual(
          at <= holdAt ? [step, 201, null] : [step, 409, 'on-hold'],
        );
      }
      const before = (step: Step): boolean => order.indexOf(step) < holdAt;
      const held = [
        shin,
        load,
        packs,
        ...(before('input') ? [late.lotId] : []),
        ...(before('packing') ? [packLotId] : []),
      ];
      expect((await reach(answers[holdAt]?.body.holdId as string)).sort()).toEqual(held.sort());
      expect(await slippedThrough(service)).toEqual([]);
      expect(await balance(packs, dispatchId)).toBe(before('departure') ? 10 : 0);
    },
  );

  test('a fault planted on purpose is seen: a session that checks, then writes, without the gate lets a pack through', async () => {
    const shin = await kitchen.shin(1_000);
    const { lotId: load } = await kitchen.stew(shin, 1_000, 900);
    const naive = await sessions.raw();
    await naive.query('begin');
    const holds = await naive.query(
      `select from hold_reach hr join hold h using (group_id, hold_id)
        where hr.lot_id = $1::uuid and h.kind <> 'awaiting-release' and h.lifted_at is null`,
      [load],
    );
    expect(holds.rowCount).toBe(0);
    // In between the hold is placed; nothing makes it wait.
    expect((await post('quality', '/v1/holds', { kind: 'quality', lotId: shin, note: 'Smells off' })).status).toBe(201);
    const slipped = randomUUID();
    await naive.query(
      `insert into lot (group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, born_at, handling,
                        storage_instruction, use_by_basis, allergens, may_contain)
       select l.group_id, $2::uuid, left($2::text, 20), l.item_id, l.unit, l.quantity, l.mass_mg, l.origin, l.site_id,
              l.born_at, l.handling, l.storage_instruction, l.use_by_basis, l.allergens, l.may_contain
         from lot l where l.group_id = $3::uuid and l.lot_id = $1::uuid`,
      [load, slipped, service.groupId],
    );
    await naive.query(
      `insert into lot_edge (group_id, parent_lot_id, child_lot_id, process_id, caps_use_by, recorded_at)
       values ($3::uuid, $1::uuid, $2::uuid, $2::uuid, true, now())`,
      [load, slipped, service.groupId],
    );
    await naive.query('commit');
    expect(await slippedThrough(service)).toEqual([slipped]);
    await naive.query('delete from lot_edge where group_id = $1::uuid and child_lot_id = $2::uuid', [
      service.groupId,
      slipped,
    ]);
  });

  test('two batch inputs of more than is there: one goes in, the other is told what is left', async () => {
    const shin = await kitchen.shin(100);
    const paths: string[] = [];
    for (let n = 0; n < 2; n += 1) {
      const batch = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
      paths.push(`/v1/batches/${batch.batchId}/inputs`);
    }
    const answers = await inOrder(
      sessions,
      await sessions.stopEntries(),
      paths.map((path) => () => post('kitchen', path, fromChiller(shin, 80))),
    );
    expect(answers.map((answer) => answer.status)).toEqual([201, 409]);
    expect(answers[1]?.body).toMatchObject({ code: 'insufficient-stock', available: 20 });
    expect(await balance(shin, world.ckChillerId)).toBe(20);
  });

  test('two departures of the same packs: one leaves', async () => {
    const { lotId } = await packed(10);
    const dispatches = [await planned(lotId, 8), await planned(lotId, 8)];
    const answers = await inOrder(
      sessions,
      await sessions.stopEntries(),
      dispatches.map((id) => () => post('driver', `/v1/dispatches/${id}/departure`, {})),
    );
    expect(answers.map((answer) => answer.status)).toEqual([201, 409]);
    expect(answers.map(refusal)).toEqual([null, 'insufficient-stock']);
    expect(await balance(lotId, world.ckChillerId)).toBe(2);
    expect(await Promise.all(dispatches.map((id) => balance(lotId, id)))).toEqual([8, 0]);
  });

  test.each(['use first', 'reversal first'])('%s: both are recorded, and the end is the same', async (first) => {
    const receipt = randomUUID();
    const line = { itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 10, unit: 'g' };
    const goods = { id: receipt, siteId: world.ckId, supplierId: world.supplierId, occurredAt: now(), lines: [line] };
    const lotId = (await kitchen.post('kitchen', '/v1/goods-receipts', goods)).lines[0].lotId as string;
    const use = () => post('kitchen', '/v1/uses', { ...fromChiller(lotId, 4), occurredAt: now() });
    const undo = () => post('quality', '/v1/reversals', { entryId: receipt, reason: 'Delivered next door' });
    const requests = first === 'use first' ? [use, undo] : [undo, use];
    const answers = await inOrder(sessions, await sessions.stopEntries(), requests, async () =>
      expect(await sessions.waitingAtGate()).toBe(1),
    );
    expect(statuses(answers)).toEqual([201, 201]);
    expect(await balance(lotId, world.ckChillerId)).toBe(-4);
    expect(await openShortfall(lotId)).toMatchObject([{ quantity: 4 }]);
  });

  test('two uses of one pack at once: one is served, the other is found to have come too late', async () => {
    const { lotId, code } = await packed(3);
    const use = () =>
      service.as('kitchen').post('/v1/scans', {
        siteId: world.ckId,
        scans: [{ id: randomUUID(), kind: 'use', code: `${code}/1`, occurredAt: now(), placeId: world.ckChillerId }],
      });
    const answers = await inOrder(sessions, await sessions.stopEntries(), [use, use]);
    expect(statuses(answers)).toEqual([207, 207]);
    expect(await balance(lotId, world.ckChillerId)).toBe(2);
    const twice = await kitchen.get('quality', `/v1/findings?kind=ended-twice&lotId=${lotId}`);
    expect(twice.items).toHaveLength(1);
  });

  test('two beeps of one crate at once are one arrival', async () => {
    const { lotId } = await packed(12, { serialised: false });
    const dispatchId = await planned(lotId, 12, { crateCode: 'CRATE-77' });
    await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
    const beep = () =>
      service.as('receiver', world.w3Id).post('/v1/scans', {
        siteId: world.w3Id,
        scans: [{ id: randomUUID(), kind: 'arrival', code: 'CRATE-77', occurredAt: now() }],
      });
    const answers = await inOrder(sessions, await sessions.stopEntries(), [beep, beep]);
    const results = answers.map((answer) => answer.body.results[0].status as string);
    expect(results).toEqual(['recorded', 'already-recorded']);
    expect(await balance(lotId, dispatchId)).toBe(0);
    expect(await balance(lotId, world.w3ReceivingId)).toBe(12);
  });

  describe('sixteen first sendings of one fact at once are one fact, and all get its answer', () => {
    async function sixteen(role: string, path: string, body: object): Promise<Answer> {
      const id = randomUUID();
      const stopper = await sessions.stopEntries();
      const sent = Array.from({ length: 16 }, () => service.as(role).post(path, { id, ...body }));
      // as many as the service has connections
      await sessions.untilWaiting(6);
      await stopper();
      const answers = await Promise.all(sent);
      const first = answers[0] as Answer;
      for (const answer of answers) expect([answer.status, answer.body]).toEqual([201, first.body]);
      const entries = await service.db.inGroup(service.groupId, 'read', (tx) =>
        tx.query(`select from entry where fact_id = $1::uuid`, [id]),
      );
      expect(entries).toHaveLength(1);
      return first;
    }

    test('a delivery', async () => {
      const line = { itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 10, unit: 'g', lotCode: 'TWICE' };
      const body = { siteId: world.ckId, supplierId: world.supplierId, occurredAt: now(), lines: [line] };
      await sixteen('kitchen', '/v1/goods-receipts', body);
    });
    test('a move of all there is', async () => {
      const { placeId: fromPlaceId, ...lot } = fromChiller(await kitchen.shin(50), 50);
      await sixteen('kitchen', '/v1/moves', { ...lot, fromPlaceId, toPlaceId: world.ckFreezerId });
      expect(await balance(lot.lotId, world.ckFreezerId)).toBe(50);
    });
    test('a use', async () => {
      const lotId = await kitchen.shin(50);
      await sixteen('kitchen', '/v1/uses', { ...fromChiller(lotId, 20), occurredAt: now() });
      expect(await balance(lotId, world.ckChillerId)).toBe(30);
    });
    test('a departure', async () => {
      const { lotId } = await packed(5);
      const dispatchId = await planned(lotId, 5);
      await sixteen('driver', `/v1/dispatches/${dispatchId}/departure`, {});
      expect(await balance(lotId, dispatchId)).toBe(5);
    });
  });
});
