/**
 * Random histories of a kitchen, several levels deep, with rework, reversals, late inputs (circles too), prices, rates and completions:
 * from a checkpoint and from nothing costs are the same bit for bit, at every moment; and no fine unit is made or lost.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { getCutNow, type Cut } from '../../../../src/features/ledger/index.ts';
import {
  costsOfBatches,
  findUnitCosts,
  loadCosts,
  refreshCosts,
} from '../../../../src/features/reporting/costs/index.ts';
import { moneyOfProcesses } from '../../../../src/features/reporting/costs/processes.ts';
import { reckonAll } from '../../../../src/features/reporting/costs/since.ts';
import type { Tx } from '../../../../src/platform/db/db.ts';
import { kitchenOf, type Json, type Kitchen } from '../../../support/kitchen.ts';
import { startService, type TestService } from '../../../support/service.ts';
import { buildWorld, type World } from '../../../support/world.ts';

/** Lehmer generator, so that a seed tells the whole story. */
function randomOf(seed: number): (below: number) => number {
  let state = seed;
  return (below) => {
    state = (state * 48_271) % 2_147_483_647;
    return state % below;
  };
}

interface Story {
  readonly lots: string[];
  readonly bought: string[];
  readonly batches: string[];
  readonly entries: string[];
}

describe.each([11])('random history %i', (seed) => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  const cuts: Cut[] = [];
  const refused: string[] = [];
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    await tell();
  }, 120_000);
  afterAll(() => service.stop());

  const inGroup = <T>(mode: 'read' | 'write', fn: (tx: Tx) => Promise<T>) =>
    service.db.inGroup(service.groupId, mode, fn);

  async function tell(): Promise<void> {
    const random = randomOf(seed);
    const story: Story = { lots: [], bought: [], batches: [], entries: [] };
    const pick = (list: readonly string[]) => list[random(list.length)] as string;
    const grams = () => 200 + random(3_000);
    const send = async (role: string, path: string, body: object): Promise<Json> => {
      const answer = await service.as(role).post(path, { id: randomUUID(), ...body });
      if (answer.status < 300) return answer.body;
      refused.push(`${path}: ${answer.body.code}`);
      return null;
    };
    const occurredAt = () => new Date(service.clock.nowMs()).toISOString();
    const steps: (() => Promise<unknown>)[] = [
      async () => {
        const lotId = await kitchen.shin(grams(), random(3) > 0 ? { priceMinor: random(9_000) } : {});
        story.lots.push(lotId);
        story.bought.push(lotId);
      },
      async () => {
        const batch = await send('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
        story.batches.push(batch.batchId);
        await put(pick(story.lots), batch.batchId);
        const load = { placeId: world.ckChillerId, quantity: grams(), unit: 'g', cookEndedAt: occurredAt() };
        const out = await send('kitchen', `/v1/batches/${batch.batchId}/outputs`, { loads: [load] });
        if (out) story.lots.push(...out.lots.map((lot: Json) => lot.lotId));
      },
      async () => put(pick(story.lots), pick(story.batches)),
      async () => put(pick(story.lots), pick(story.batches)),
      async () => {
        const path = `/v1/batches/${pick(story.batches)}`;
        const [first] = (await kitchen.get('kitchen', path)).lots;
        if (!first || first.unit !== 'g') return;
        const used = 300 * (1 + random(3)) + random(50);
        const packed = await kitchen.pack(path.slice(12), first.lotId, used, Math.floor(used / 300)).catch(() => null);
        if (packed === null) refused.push('packing');
      },
      async () => {
        const entry = story.entries.length > 0 ? pick(story.entries) : null;
        if (entry) await send('operations', '/v1/reversals', { entryId: entry, reason: 'Wrong lot' });
      },
      async () => send('finance', '/v1/prices', { lotId: pick(story.bought), priceMinor: 1 + random(9_000) }),
      async () =>
        send('finance', '/v1/prices', {
          lotId: pick(story.bought),
          priceMinor: random(900),
          perQuantity: 1 + random(500),
        }),
      async () => {
        const amount = random(2) === 0 ? { perBatchMinor: random(700) } : { perKgMinor: random(700) };
        const where = random(2) === 0 ? {} : { siteId: world.ckId };
        await send('finance', '/v1/cost-rates', { kind: 'labour', fromDate: '2026-11-01', ...where, ...amount });
      },
      async () => {
        const losses = [{ kind: 'trim', massG: 1 + random(90) }];
        const gains = [{ kind: 'water-uptake', massG: 1 + random(400) }];
        await send('kitchen', `/v1/batches/${pick(story.batches)}/completion`, { losses, gains });
      },
    ];
    async function put(lotId: string, batchId: string): Promise<void> {
      const body = { lotId, placeId: world.ckChillerId, quantity: grams(), unit: 'g', occurredAt: occurredAt() };
      const answer = await send('kitchen', `/v1/batches/${batchId}/recorded-inputs`, body);
      if (answer?.entryId) story.entries.push(answer.entryId);
    }
    await steps[0]?.();
    await steps[1]?.();
    for (let at = 0; at < 90; at += 1) {
      service.clock.set(service.clock.nowMs() + 1_000);
      await steps[at % 7 === 0 ? 0 : random(steps.length)]?.();
      if (random(4) === 0) await inGroup('write', (tx) => refreshCosts(tx, service.clock.nowMs()));
      if (random(3) === 0) cuts.push(await inGroup('read', getCutNow));
    }
  }

  test('has circles, several levels and reversals', async () => {
    const rows = await inGroup('read', (tx) =>
      tx.query<{ kind: string; count: number }>(
        `select e.kind, count(*) as count from entry e where e.group_id = $1::uuid group by 1`,
        [tx.groupId],
      ),
    );
    const counts = new Map(rows.map((row) => [row.kind, row.count]));
    for (const kind of ['batch-input', 'batch-output', 'packing', 'reversal']) {
      expect([kind, counts.get(kind) ?? 0, refused]).not.toEqual([kind, 0, refused]);
    }
    const all = await inGroup('read', async (tx) => reckonAll(tx, await getCutNow(tx)));
    expect(new Set([...all.values()].map((cost) => cost.reason))).toContain('made-from-itself');
  });

  test('from a checkpoint and from nothing: the same, at every moment', async () => {
    expect(cuts.length).toBeGreaterThan(15);
    for (const cut of cuts) {
      await inGroup('read', async (tx) => {
        const scratch = await reckonAll(tx, cut);
        const view = await loadCosts(tx, cut);
        const found = await findUnitCosts(tx, view, [...scratch.keys()]);
        for (const [lotId, cost] of scratch) expect({ cut, ...found.get(lotId) }).toEqual({ cut, ...cost });
      });
    }
  });

  test('what was paid is what stands, what went out, what was lost beyond the plan and what is in process, less what rates added', async () => {
    await inGroup('read', async (tx) => {
      const view = await loadCosts(tx, await getCutNow(tx));
      const rows = await tx.query<{ lotId: string; kind: string; quantity: number }>(
        `select b.lot_id as "lotId", a.kind, sum(b.quantity)::int8 as quantity
           from balance b join account a on a.group_id = b.group_id and a.account_id = b.account_id
          where b.group_id = $1::uuid group by 1, 2`,
        [tx.groupId],
      );
      const costs = await findUnitCosts(tx, view, [...new Set(rows.map((row) => row.lotId))]);
      const sumOf = (kinds: (kind: string) => boolean) =>
        rows.reduce((sum, row) => {
          const unitFine = costs.get(row.lotId)?.unitFine ?? 0n;
          return kinds(row.kind) ? sum + BigInt(row.quantity) * unitFine : sum;
        }, 0n);
      const paid = -sumOf((kind) => kind === 'supplier');
      const thereOrOut = sumOf((kind) => !['supplier', 'consumed', 'produced'].includes(kind));
      const processes = await tx.query<{ id: string }>(
        `select b.batch_id as id from batch b where b.group_id = $1::uuid
         union all select r.packing_run_id from packing_run r where r.group_id = $1::uuid`,
        [tx.groupId],
      );
      const ids = processes.map((row) => row.id);
      const money = [...(await moneyOfProcesses(tx, view, ids)).values()];
      const rest = money.reduce((sum, process) => sum + process.restFine - process.addedFine, 0n);
      expect(thereOrOut + rest).toBe(paid);
      expect(paid).toBeGreaterThan(10n ** 20n);
      const batches = await costsOfBatches(tx, view, ids);
      expect(new Set([...batches.values()].map((batch) => batch.state))).toEqual(new Set(['open', 'completed']));
    });
  });
});
