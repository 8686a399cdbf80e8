/**
 * How far a hold for rework goes, against a plain walk in the test: along every edge but those into a batch with a kill step, whether the
 * edge or the hold was there first. A quality hold on the same lot goes along all of them.
 */
import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { addEdges, insertHolds, insertLots, type LotDraft } from '../../src/features/ledger/index.ts';
import { insertBatch } from '../../src/features/production/store.ts';
import { startService, type TestService } from '../support/service.ts';
import { buildWorld, type World } from '../support/world.ts';

let service: TestService;
let world: World;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
});
afterAll(() => service.stop());

const LOTS = 9;
type Process = 'kill-step' | 'plain' | 'packing';
interface Edge {
  readonly from: number;
  readonly to: number;
  readonly process: Process;
}

/** Edges go from lower to higher numbers, so that nothing is made from itself. */
const edge = fc
  .tuple(fc.integer({ min: 0, max: LOTS - 2 }), fc.nat(LOTS), fc.constantFrom<Process>('kill-step', 'plain', 'packing'))
  .map(([from, more, process]): Edge => ({ from, to: Math.min(LOTS - 1, from + 1 + (more % 3)), process }));

/** Lots that are reached from `root`. */
function walk(root: number, edges: readonly Edge[], passes: (edge: Edge) => boolean): number[] {
  const reached = new Set([root]);
  for (const at of reached) for (const one of edges) if (one.from === at && passes(one)) reached.add(one.to);
  return [...reached].sort((a, b) => a - b);
}

const lotOf = (lotId: string, at: number): LotDraft => ({
  ...{
    lotId,
    code: `L${at}-${lotId.slice(0, 8)}`,
    itemId: world.beefStewId,
    unit: 'g',
    quantity: 1_000,
    massMg: 1_000_000,
  },
  ...{ origin: 'produced', siteId: world.ckId, serialised: false, bornAtMs: service.clock.nowMs(), anchors: {} },
  ...{
    handling: 'ready-to-eat',
    storageInstruction: 'Cold',
    useBy: null,
    useByBasis: {},
    allergens: [],
    mayContain: [],
  },
});

test('a hold for rework ends where a kill step begins, and nowhere else', async () => {
  const story = fc.record({
    edges: fc.array(edge, { minLength: 4, maxLength: 14 }),
    root: fc.integer({ min: 0, max: 3 }),
    holdAfter: fc.nat(14),
  });
  await fc.assert(
    fc.asyncProperty(story, async ({ edges, root, holdAfter }) => {
      const nowMs = service.clock.nowMs();
      const actorId = world.kitchenPersonId;
      const lotIds = Array.from({ length: LOTS }, (): string => randomUUID());
      const [rework, quality] = [randomUUID(), randomUUID()];
      const reached = await service.db.inGroup(service.groupId, 'exclusive', async (tx) => {
        await insertLots(tx, lotIds.map(lotOf), nowMs);
        const place = async () => {
          const everywhere = { lotId: lotIds[root] ?? '', siteId: null, accountId: null, propagates: true, note: null };
          const both = [
            { ...everywhere, holdId: rework, kind: 'for-rework' },
            { ...everywhere, holdId: quality, kind: 'quality' },
          ];
          await insertHolds(tx, both, actorId, nowMs);
        };
        for (const [at, { from, to, process }] of edges.entries()) {
          if (at === holdAfter) await place();
          const processId = randomUUID();
          const killStep = process === 'kill-step';
          if (process !== 'packing') {
            await insertBatch(tx, {
              ...{ batchId: processId, code: processId.slice(0, 18), siteId: world.ckId, recipeId: world.recipeId },
              ...{ recipeVersion: 1, itemId: world.beefStewId, expectedYieldPpm: 1_000_000, killStep, steps: ['cook'] },
              startedAtMs: nowMs,
            });
          }
          const [parentLotId, childLotId] = [lotIds[from] ?? '', lotIds[to] ?? ''];
          // whatever it does to dates: freezing has no kill step, and gives no cap on either
          await addEdges(tx, [{ parentLotId, childLotId, processId, capsUseBy: process === 'plain' }], nowMs);
        }
        if (holdAfter >= edges.length) await place();
        return tx.query<{ holdId: string; lotId: string }>(
          `select hr.hold_id as "holdId", hr.lot_id as "lotId" from hold_reach hr
            where hr.group_id = $1::uuid and hr.hold_id = any($2::uuid[])`,
          [tx.groupId, [rework, quality]],
        );
      });
      const of = (holdId: string) =>
        reached
          .filter((row) => row.holdId === holdId)
          .map((row) => lotIds.indexOf(row.lotId))
          .sort((a, b) => a - b);
      expect(of(rework)).toEqual(walk(root, edges, ({ process }) => process !== 'kill-step'));
      expect(of(quality)).toEqual(walk(root, edges, () => true));
    }),
    { numRuns: 40 },
  );
}, 60_000);
