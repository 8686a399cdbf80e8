/** A night on paper, entered the next morning, leaves the same state as if it had been recorded while it happened. */
import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

interface House {
  readonly service: TestService;
  readonly world: World;
  readonly kitchen: Kitchen;
}

const EVENING = Date.parse('2026-11-24T12:00:00Z');
const MORNING = Date.parse('2026-11-25T08:30:00Z');
const id = (name: string): string => exampleId(`paper-night/${name}`);

/** One line of the night: when, who, which operation on paper, which while it happens. */
interface Deed {
  readonly at: string;
  readonly role: string;
  readonly live: string;
  readonly paper: string;
  readonly params?: Readonly<Record<string, string>>;
  readonly body: Readonly<Record<string, unknown>> & { readonly id: string };
}

/** Thirty packs that were cooked, packed and released in the afternoon, and a dispatch that is planned for the morning. */
async function afternoon({ service, world, kitchen }: House): Promise<void> {
  service.clock.set(EVENING);
  const named = (name: string, body: object) => ({ id: id(name), ...body });
  const line = {
    lotId: id('old-shin'),
    itemId: world.beefShinId,
    placeId: world.ckChillerId,
    quantity: 12_000,
    unit: 'g',
  };
  const receipt = {
    siteId: world.ckId,
    supplierId: world.supplierId,
    occurredAt: '2026-11-24T12:00:00Z',
    lines: [line],
  };
  await kitchen.post('kitchen', '/v1/goods-receipts', named('old-receipt', receipt));
  await kitchen.post(
    'kitchen',
    '/v1/batches',
    named('old-batch', { siteId: world.ckId, recipeId: world.recipeId, code: 'OLD' }),
  );
  const batch = `/v1/batches/${id('old-batch')}`;
  const input = { lotId: id('old-shin'), placeId: world.ckChillerId, quantity: 12_000, unit: 'g' };
  await kitchen.post('kitchen', `${batch}/inputs`, named('old-input', input));
  const load = {
    lotId: id('old-load'),
    placeId: world.ckChillerId,
    quantity: 9_000,
    unit: 'g',
    cookEndedAt: '2026-11-24T12:00:00Z',
  };
  await kitchen.post('kitchen', `${batch}/outputs`, named('old-outputs', { loads: [load] }));
  await kitchen.pack(id('old-batch'), id('old-load'), 9_000, 30, { packLotId: id('old-packs') });
  await kitchen.post('quality', `${batch}/release`, named('old-release', {}));
  const packs = { lotId: id('old-packs'), placeId: world.ckChillerId, quantity: 12, unit: 'piece' };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [packs] };
  await kitchen.post('kitchen', '/v1/dispatches', named('dispatch', plan));
}

function night(world: World): Deed[] {
  const shin = { lotId: id('shin'), itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 24_000, unit: 'g' };
  const batchId = id('batch');
  const dispatchId = id('dispatch');
  const fill = {
    fromLotId: id('load-1'),
    fromPlaceId: world.ckChillerId,
    toPlaceId: world.ckChillerId,
    usedQuantity: 9_000,
    usedUnit: 'g',
    packItemId: world.beefStewPackId,
    packs: 30,
    packLotId: id('packs'),
    packLotCode: 'NIGHT-PACKS',
  };
  const deed = (
    at: string,
    role: string,
    live: string,
    paper: string,
    body: object,
    params?: Deed['params'],
  ): Deed => ({
    at,
    role,
    live,
    paper,
    ...(params && { params }),
    body: { id: id(paper + at), ...body },
  });
  const occurred = (at: string) => ({ occurredAt: at });
  return [
    deed('2026-11-24T20:00:00Z', 'kitchen', '/v1/goods-receipts', 'createGoodsReceipt', {
      siteId: world.ckId,
      supplierId: world.supplierId,
      ...occurred('2026-11-24T20:00:00Z'),
      lines: [{ ...shin, lotCode: 'NIGHT-SHIN', useByDate: '2026-11-30' }],
    }),
    {
      at: '2026-11-24T20:10:00Z',
      role: 'kitchen',
      live: '/v1/batches',
      paper: 'createBatch',
      body: {
        id: batchId,
        code: 'NIGHT',
        siteId: world.ckId,
        recipeId: world.recipeId,
        startedAt: '2026-11-24T20:10:00Z',
      },
    },
    deed(
      '2026-11-24T20:20:00Z',
      'kitchen',
      `/v1/batches/${batchId}/inputs`,
      'createRecordedBatchInput',
      {
        lotId: id('shin'),
        placeId: world.ckChillerId,
        quantity: 20_000,
        unit: 'g',
        ...occurred('2026-11-24T20:20:00Z'),
      },
      { batchId },
    ),
    // Done at 23:40, out of the kettle at five to twelve.
    deed(
      '2026-11-24T23:55:00Z',
      'kitchen',
      `/v1/batches/${batchId}/outputs`,
      'createBatchOutputs',
      {
        ...occurred('2026-11-24T23:55:00Z'),
        loads: [
          {
            lotId: id('load-1'),
            lotCode: 'NIGHT-LOAD',
            placeId: world.ckChillerId,
            quantity: 17_000,
            unit: 'g',
            cookEndedAt: '2026-11-24T23:40:00Z',
          },
        ],
      },
      { batchId },
    ),
    deed(
      '2026-11-25T00:50:00Z',
      'kitchen',
      `/v1/batches/${batchId}/packing-runs`,
      'createRecordedPackingRun',
      {
        equipmentId: world.packerId,
        programme: 'Moist dishes',
        startedAt: '2026-11-25T00:20:00Z',
        finishedAt: '2026-11-25T00:50:00Z',
        fills: [fill],
      },
      { batchId },
    ),
    deed(
      '2026-11-25T01:00:00Z',
      'kitchen',
      `/v1/batches/${batchId}/completion`,
      'createBatchCompletion',
      { completedAt: '2026-11-25T01:00:00Z', losses: [{ kind: 'cooking-loss', massG: 2_900 }] },
      { batchId },
    ),
    deed('2026-11-25T01:10:00Z', 'kitchen', '/v1/moves', 'createRecordedMove', {
      lotId: id('packs'),
      fromPlaceId: world.ckChillerId,
      toPlaceId: world.ckFreezerId,
      quantity: 4,
      unit: 'piece',
      ...occurred('2026-11-25T01:10:00Z'),
    }),
    deed(
      '2026-11-25T06:00:00Z',
      'kitchen',
      `/v1/dispatches/${dispatchId}/departure`,
      'createRecordedDeparture',
      { departedAt: '2026-11-25T06:00:00Z' },
      { dispatchId },
    ),
    deed(
      '2026-11-25T06:50:00Z',
      'receiver',
      `/v1/dispatches/${dispatchId}/receipts`,
      'createReceipt',
      {
        ...occurred('2026-11-25T06:50:00Z'),
        closes: true,
        lines: [
          { lotId: id('old-packs'), quantity: 11, unit: 'piece', condition: 'accepted', placeId: world.w3ChillerId },
        ],
      },
      { dispatchId },
    ),
    deed('2026-11-25T07:30:00Z', 'receiver', '/v1/uses', 'createUse', {
      lotId: id('old-packs'),
      placeId: world.w3ChillerId,
      quantity: 5,
      unit: 'piece',
      meal: 'breakfast',
      ...occurred('2026-11-25T07:30:00Z'),
    }),
  ];
}

/** Everything that the record says of the night, without ids and times of recording. */
async function stateOf({ service }: House): Promise<Record<string, unknown[]>> {
  const client = new pg.Client(service.databaseUrl);
  await client.connect();
  try {
    const rows = async (sql: string) => (await client.query(sql)).rows as unknown[];
    return {
      balances: await rows('select lot_id, account_id, quantity from balance where quantity <> 0 order by 1, 2'),
      postings: await rows(
        `select e.kind, p.occurred_at, p.occurred_on, p.lot_id, p.from_account_id, p.to_account_id, p.quantity, p.basis, p.reason
           from entry e join posting p using (group_id, seq) order by 2, 1, 4, 5, 6`,
      ),
      lots: await rows(
        `select l.code, l.quantity, l.mass_mg, l.handling, l.printed_use_by_at, l.printed_use_by_date, l.anchors, s.use_by_at,
                s.allergens, s.may_contain from lot l join lot_state s using (group_id, lot_id)
          where l.code like 'NIGHT%' order by 1`,
      ),
      edges: await rows('select parent_lot_id, child_lot_id, caps_use_by from lot_edge order by 1, 2'),
      holds: await rows('select kind, lot_id, account_id, lifted_at is null as open from hold order by 2, 1'),
      reached: await rows('select hold_id, lot_id from hold_reach order by 1, 2'),
      findings: await rows('select kind, subject, quantity, status from finding order by 1, 2'),
      batches: await rows('select code, state, started_at, completed_at from batch order by 1'),
      losses: await rows('select batch_id, kind, mass_mg from batch_loss order by 1, 2'),
      dispatches: await rows('select dispatch_id, state, departed_at from dispatch order by 1'),
    };
  } finally {
    await client.end();
  }
}

async function open(): Promise<House> {
  const service = await startService();
  const world = await buildWorld(service);
  return { service, world, kitchen: kitchenOf(service, world) };
}

describe('a night on paper', () => {
  let scanned: House;
  let written: House;
  let lines: Json[];
  beforeAll(async () => {
    [scanned, written] = [await open(), await open()];
    for (const house of [scanned, written]) await afternoon(house);
    for (const deed of night(scanned.world)) {
      scanned.service.clock.set(Date.parse(deed.at));
      await scanned.kitchen.post(deed.role, deed.live, deed.body);
    }
    written.service.clock.set(MORNING);
    lines = night(written.world).map(({ paper, params, body }) => ({
      operation: paper,
      ...(params && { params }),
      body,
    }));
  });
  afterAll(async () => {
    for (const house of [scanned, written]) await house?.service.stop();
  });

  const enter = (body: object, role = 'operations') => written.service.as(role).post('/v1/paper-entries', body);

  test('is one call in the morning, and leaves what scanning would have left', async () => {
    const answer = await enter({ lines });
    expect([answer.status, answer.body.recorded, answer.body.refused]).toEqual([207, lines.length, 0]);
    // 24 November is the day of cooking, although it was packed after midnight: five days with that day are over on the 28th.
    const packs = answer.body.results[4].answer.lots.find((lot: Json) => lot.lotCode === 'NIGHT-PACKS');
    expect(packs).toMatchObject({ useByDate: '2026-11-28', state: 'awaiting-release' });
    expect(await stateOf(written)).toEqual(await stateOf(scanned));
  });

  test('sent again, it changes nothing and says so', async () => {
    const before = await stateOf(written);
    const again = await enter({ lines });
    expect(again.body.results.map((one: Json) => [one.status, one.replayed])).toEqual(
      lines.map(() => ['recorded', true]),
    );
    expect(await stateOf(written)).toEqual(before);
  });

  test('each line is the fact of its own operation: sent by itself it is known', async () => {
    const use = lines.at(-1).body;
    const alone = await written.service.as('receiver').post('/v1/uses', use);
    expect([alone.status, alone.body.entryId]).toEqual([201, use.id]);
  });

  test('what is refused leaves the rest recorded; atomic leaves nothing', async () => {
    const place = { lotId: id('packs'), placeId: written.world.ckChillerId, unit: 'piece', quantity: 1 };
    const use = { operation: 'createUse', body: { id: randomUUID(), ...place, occurredAt: '2026-11-25T08:00:00Z' } };
    const lost = { ...use, body: { ...use.body, id: randomUUID(), lotId: randomUUID() } };
    const all = await enter({ atomic: true, lines: [use, lost] });
    expect([all.status, all.body.code]).toEqual([422, 'atomic-refused']);
    const some = await enter({ lines: [use, lost] });
    expect(some.body.results.map((one: Json) => [one.status, one.problem?.code ?? null])).toEqual([
      ['recorded', null],
      ['refused', 'not-found'],
    ]);
    const twice = await enter({ lines: [use, use] });
    expect(twice.body.code).toBe('rule-broken');
  });

  test('a line needs the permission of its own operation, at its own site; a shape that is wrong refuses the call', async () => {
    const place = { lotId: id('packs'), placeId: written.world.ckChillerId, unit: 'piece', quantity: 1 };
    const use = { operation: 'createUse', body: { id: randomUUID(), ...place, occurredAt: '2026-11-25T08:00:00Z' } };
    const answer = await written.service
      .as('receiver', written.world.w3Id)
      .post('/v1/paper-entries', { lines: [use, { ...lines[1], body: { ...lines[1].body, id: randomUUID() } }] });
    expect(answer.body.results.map((one: Json) => one.problem.code)).toEqual(['not-found', 'forbidden']);
    const wrong = await enter({ lines: [{ ...use, body: { ...use.body, quantity: 'many' } }] });
    expect([wrong.status, wrong.body.code, wrong.body.errors[0].pointer]).toEqual([
      400,
      'invalid-request',
      '#/lines/0/body/quantity',
    ]);
    const nameless = await enter({ lines: [{ ...use, body: { ...use.body, id: undefined } }] });
    expect(nameless.body.results[0].problem.code).toBe('fact-id-missing');
  });
});
