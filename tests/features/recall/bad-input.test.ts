/** What people get wrong on the telephone, at night: each is told clearly what is wrong, and nothing is half-frozen. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, beforeEach, afterEach, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { warnedFood, type Warned } from '../../support/warned-food.ts';
import { buildWorld, type World } from '../../support/world.ts';

describe('what is wrong is said, and nothing is half-frozen', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let food: Warned;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    food = await warnedFood(kitchen);
  });
  afterAll(() => service.stop());

  const open = (starts: readonly object[], more: object = {}, role = 'operations', siteId: string | null = null) =>
    service.as(role, siteId).post('/v1/recalls', { id: randomUUID(), title: 'A call', starts, ...more });
  const preview = (starts: readonly object[]) => service.as('operations').post('/v1/recall-previews', { starts });
  const said = (answer: Answer) => [answer.status, answer.body.code];
  const bySupplier = (supplierLotCode: string, more: object = {}) => ({
    kind: 'supplier-lot',
    supplierLotCode,
    ...more,
  });

  async function rows(): Promise<string> {
    return service.db.inGroup(service.groupId, 'read', async (tx) => {
      const [row] = await tx.query<{ all: string }>(
        `select concat_ws(' ', (select count(*) from recall), (select count(*) from recall_start),
                (select count(*) from recall_start_lot), (select count(*) from hold), (select count(*) from hold_reach),
                (select count(*) from hold_watch), (select count(*) from recall_notice)) as all`,
      );
      return row?.all ?? '';
    });
  }

  describe('opening', () => {
    let before: string;
    beforeEach(async () => {
      before = await rows();
    });
    afterEach(async () => {
      expect(await rows()).toBe(before);
    });

    /** Preview and opening say the same; answers what the opening said. */
    async function refused(starts: readonly object[], code: string): Promise<Json> {
      const [asked, opened] = [await preview(starts), await open(starts)];
      expect(said(asked)).toEqual([422, code]);
      expect(said(opened)).toEqual([422, code]);
      return opened.body;
    }

    test('an unknown code of a supplier: those nearest to it are offered', async () => {
      const problem = await refused([bySupplier('BRK-7714', { supplierId: world.supplierId })], 'starts-match-nothing');
      expect(problem.matches).toContainEqual(expect.objectContaining({ supplierLotCode: 'BRK-7741' }));
      expect(JSON.stringify(problem.errors ?? problem)).toContain('#/starts/0');
    });

    test('a code that nothing resembles: said so, with nothing offered', async () => {
      const problem = await refused([bySupplier('Q99')], 'starts-match-nothing');
      expect(problem.matches).toEqual([]);
    });

    test('a supplier that does not exist', async () => {
      const answer = await open([bySupplier('BRK-7741', { supplier: 'Nobody and Sons' })]);
      expect(answer.status).toBe(422);
      expect(['starts-match-nothing', 'rule-broken']).toContain(answer.body.code);
    });

    test('the code of another supplier is not taken for this one', async () => {
      await refused([bySupplier('BRK-7741', { supplierId: food.otherSupplierId })], 'starts-match-nothing');
    });

    test('a code that two suppliers use: both are offered, neither is taken', async () => {
      const problem = await refused([bySupplier('both 1')], 'start-ambiguous');
      expect(problem.matches).toHaveLength(2);
      expect(new Set((problem.matches as Json[]).map((one) => one.supplierId))).toEqual(
        new Set([world.supplierId, food.otherSupplierId]),
      );
      for (const one of problem.matches as Json[]) expect(one).toMatchObject({ supplierLotCode: 'BOTH-1', lots: 1 });
    });

    test.each([
      ['the wrong way round', '2026-11-25T10:00:00Z', '2026-11-24T10:00:00Z'],
      ['of no length', '2026-11-25T10:00:00Z', '2026-11-25T10:00:00Z'],
    ])('a period %s', async (_what, from, to) => {
      const problem = await refused(
        [
          { kind: 'lot', lotId: food.shin },
          { kind: 'item-period', itemId: world.beefShinId, from, to },
        ],
        'rule-broken',
      );
      expect(JSON.stringify(problem)).toContain('#/starts/1/to');
    });

    test.each<[string, () => object]>([
      ['a lot', () => ({ kind: 'lot', lotId: randomUUID() })],
      ['a lot code', () => ({ kind: 'lot', lotCode: 'NEVER-MADE' })],
      ['a batch', () => ({ kind: 'batch', batchId: randomUUID() })],
      ['a packing run', () => ({ kind: 'packing-run', packingRunId: randomUUID() })],
      ['a dispatch', () => ({ kind: 'dispatch', dispatchCode: 'NEVER-SENT' })],
      ['a complaint', () => ({ kind: 'complaint', lotCode: 'NEVER-MADE/3', whatIsWrong: 'leaker' })],
      [
        'a quiet period',
        () => ({
          kind: 'supplier-period',
          supplierId: world.supplierId,
          from: '2020-01-01T00:00:00Z',
          to: '2020-02-01T00:00:00Z',
        }),
      ],
      [
        'a machine at rest',
        () => ({
          kind: 'machine-period',
          equipmentId: world.packerId,
          from: '2020-01-01T00:00:00Z',
          to: '2020-02-01T00:00:00Z',
        }),
      ],
      [
        'an empty place',
        () => ({
          kind: 'place-period',
          placeId: world.ckFreezerId,
          from: '2020-01-01T00:00:00Z',
          to: '2027-02-01T00:00:00Z',
        }),
      ],
    ])('%s that matches nothing, beside one that matches', async (_what, start) => {
      const problem = await refused([{ kind: 'lot', lotId: food.shin }, start()], 'starts-match-nothing');
      expect(JSON.stringify(problem)).toContain('#/starts/1');
    });

    test('a lot of another group is no more there than one that was never made', async () => {
      const other = await startService();
      try {
        const there = kitchenOf(other, await buildWorld(other));
        const lotId = await there.shin(100);
        await refused([{ kind: 'lot', lotId }], 'starts-match-nothing');
      } finally {
        await other.stop();
      }
    });

    test.each<[string, () => object[]]>([
      ['no starting point', () => []],
      ['too many', () => Array.from({ length: 21 }, () => ({ kind: 'lot', lotId: food.shin }))],
      ['a kind that there is not', () => [{ kind: 'rumour' }]],
    ])('%s', async (_what, starts) => {
      expect(said(await open(starts()))).toEqual([400, 'invalid-request']);
    });

    test('somebody of one site cannot freeze the group', async () => {
      const answer = await open([{ kind: 'lot', lotId: food.shin }], {}, 'operations', world.ckId);
      expect([403, 422]).toContain(answer.status);
      expect(['rule-broken', 'forbidden']).toContain(answer.body.code);
    });

    test.each(['kitchen', 'receiver', 'driver', 'finance', 'device'])('nor can %s', async (role) => {
      expect(said(await open([{ kind: 'lot', lotId: food.shin }], {}, role))).toEqual([403, 'forbidden']);
    });
  });
});
