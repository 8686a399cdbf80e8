/**
 * Where everything is, against the trace, which sums the lots one by one; and the walk, against a plain walk of the edges. On the demo,
 * and on random stories of a kitchen.
 */
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { scopeStanding, sitesOf, totalOf } from '../../../src/features/tracing/index.ts';
import { demoTemplate } from '../../support/demo.ts';
import { beginStory } from '../../support/kitchen-start.ts';
import { stories } from '../../support/kitchen-story.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';

const LOADING_LIMIT_MS = 600_000;
const SEED = 11;

let service: TestService;
beforeAll(async () => {
  service = await startService({ template: await demoTemplate() });
}, LOADING_LIMIT_MS);
afterAll(() => service.stop());

interface Edge {
  readonly parent: string;
  readonly child: string;
  readonly leadsOn: boolean;
}

const inGroup = <Row>(groupId: string, text: string, values: readonly unknown[] = []): Promise<Row[]> =>
  service.db.inGroup(groupId, 'write', (tx) => tx.query<Row>(text, values));
const edgesOf = (groupId: string): Promise<Edge[]> =>
  inGroup(groupId, 'select parent_lot_id as parent, child_lot_id as child, child_leads_on as "leadsOn" from lot_edge');
const lotsOf = async (groupId: string): Promise<string[]> =>
  (await inGroup<{ id: string }>(groupId, 'select lot_id as id from lot order by 1')).map((row) => row.id);

function plainWalk(edges: readonly Edge[], from: string, forward: boolean): Set<string> {
  const seen = new Set([from]);
  for (const lot of seen) {
    for (const { parent, child } of edges) {
      if ((forward ? parent : child) === lot) seen.add(forward ? child : parent);
    }
  }
  return seen;
}

/** Lines in an order of their own, and sites only as far as something is there. */
const byItem = (lines: Json[]) => [...lines].sort((a, b) => (a.itemId < b.itemId ? -1 : 1));
const sitesWithFood = (sites: Json[]) =>
  sites
    .filter((site) => site.quantities.length > 0)
    .map((site) => ({ siteId: site.siteId, siteName: site.siteName, quantities: byItem(site.quantities) }))
    .sort((a, b) => (a.siteId < b.siteId ? -1 : 1));

/** What can still be stopped, summed from the lots of a trace. */
function whereIn(trace: Json): string[] {
  const sums = new Map<string, number>();
  for (const lot of trace.lots) {
    for (const { kind, placeId, dispatchId, quantity } of lot.whereNow) {
      if (kind !== 'place' && kind !== 'transit') continue;
      const key = `${lot.itemId} ${placeId ?? dispatchId}`;
      sums.set(key, (sums.get(key) ?? 0) + quantity);
    }
  }
  return [...sums].map(([key, quantity]) => `${key} ${quantity}`).sort();
}

async function compare(groupId: string, lotIds: readonly string[]): Promise<void> {
  const client = service.as('quality', null, groupId);
  const edges = await edgesOf(groupId);
  for (const lotId of lotIds) {
    for (const direction of ['forward', 'back']) {
      const trace = (await client.get(`/v1/lots/${lotId}/trace?direction=${direction}`)).body;
      const reach = (await client.get(`/v1/lots/${lotId}/reach?direction=${direction}`)).body;
      expect(reach.lotCount).toBe(plainWalk(edges, lotId, direction === 'forward').size);
      expect(reach.lotCount).toBe(trace.lots.length);
      expect(byItem(reach.totals)).toEqual(byItem(trace.totals));
      expect(sitesWithFood(reach.sites)).toEqual(sitesWithFood(trace.sites));
      const where = reach.sites.flatMap((site: Json) => site.where);
      expect(where.map((one: Json) => `${one.itemId} ${one.placeId ?? one.dispatchId} ${one.quantity}`).sort()).toEqual(
        whereIn(trace),
      );
    }
  }
}

describe('the demo', () => {
  test('reach agrees with the trace for every kind of lot', async () => {
    const lots = await inGroup<{ id: string }>(
      service.groupId,
      `select l.lot_id as id from lot l
        where l.lot_id in (select distinct on (x.origin, x.item_id) x.lot_id from lot x order by x.origin, x.item_id, x.born_at)
        order by 1 limit 60`,
    );
    expect(lots.length).toBeGreaterThan(20);
    await compare(
      service.groupId,
      lots.map((row) => row.id),
    );
  });

  test('a named set of lots and a hold answer as the walk does; places where nothing is left are told on request', async () => {
    const lotId = exampleId('lot/carrots-1');
    const trace = (await service.as('quality').get(`/v1/lots/${lotId}/trace`)).body;
    const lotIds = trace.lots.map((lot: Json) => lot.lotId);
    const holdId = exampleId('hold/reach-test');
    const hold = { id: holdId, kind: 'safety', lotId, note: 'Supplier wrote' };
    expect((await service.as('quality').post('/v1/holds', hold)).status).toBe(201);
    await service.db.inGroup(service.groupId, 'read', async (tx) => {
      const walked = await scopeStanding(tx, { lotId, direction: 'forward' });
      expect(await scopeStanding(tx, { lotIds: [...lotIds, lotIds[0]] })).toEqual(walked);
      expect(await scopeStanding(tx, { holdId })).toEqual(walked);
      expect(byItem(walked.items.map(totalOf))).toEqual(byItem(trace.totals));
      // the trace names every site that a lot ever was at
      const passed = await scopeStanding(tx, { holdId }, { passed: true });
      const named = (sites: Json[]) => sites.map((site) => site.siteId).sort();
      expect(named(sitesOf(passed.items))).toEqual(named(trace.sites));
      expect(byItem(passed.items.map(totalOf))).toEqual(byItem(trace.totals));
    });
  });
});

describe('random stories', () => {
  test('reach agrees with the trace, and no edge hides what its child became', async () => {
    for (const story of fc.sample(stories, { numRuns: 3, seed: SEED })) {
      const kitchen = await beginStory(service);
      for (const one of [...story.facts, ...story.reversals]) {
        await kitchen.service.as('operations').post(one.path, one.body);
      }
      const { groupId } = kitchen.service;
      const edges = await edgesOf(groupId);
      const parents = new Set(edges.map((edge) => edge.parent));
      expect(edges.filter((edge) => !edge.leadsOn && parents.has(edge.child))).toEqual([]);
      // one that leads nowhere any more, beside others to the same lot that say so
      await inGroup(
        groupId,
        `update lot_edge le set child_leads_on = true
          where (le.parent_lot_id, le.child_lot_id, le.process_id) in
            (select x.parent_lot_id, x.child_lot_id, x.process_id from lot_edge x order by 2, 1, 3 limit 3)`,
      );
      await compare(groupId, await lotsOf(groupId));
    }
  });

  test('the comparison sees an edge that hides what its child became', async () => {
    const [edge] = await inGroup<{ parent: string; child: string }>(
      service.groupId,
      `select parent_lot_id as parent, child_lot_id as child from lot_edge where child_leads_on
          and child_lot_id in (select parent_lot_id from lot_edge) order by 1, 2 limit 1`,
    );
    await inGroup(service.groupId, 'update lot_edge set child_leads_on = false where child_lot_id = $1::uuid', [
      edge?.child,
    ]);
    const reach = (await service.as('quality').get(`/v1/lots/${edge?.parent}/reach`)).body;
    const walked = plainWalk(await edgesOf(service.groupId), edge?.parent ?? '', true);
    expect(reach.lotCount).toBeLessThan(walked.size);
  });
});
