/**
 * Recalls over random stories, told to the real service over HTTP and compared with an oracle that walks the facts as they were told and
 * shares no code with the product: scope, reasons, quantities, sites, what is on the road, revisions and exceptions.
 * `npm run prove` tells many more; a failure prints its seed.
 */
import { randomUUID } from 'node:crypto';
import pg from 'pg';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { reviseCases } from '../../src/features/recall/index.ts';
import { exampleId } from '../../src/platform/ids.ts';
import { scenarios, scenariosInOrder, type OracleScenario } from '../support/oracle/arbitraries.ts';
import { replay, type OracleFact } from '../support/oracle/oracle.ts';
import { scopeOver, type OracleStart } from '../support/oracle/recall.ts';
import { groupFor, inServiceNames } from '../support/replay/group.ts';
import {
  expectExceptions,
  expectRecall,
  expectRevisions,
  expectRoad,
  expectSites,
  expectTotals,
  takenBy,
} from '../support/replay/recall-expect.ts';
import { pickStart, RECALL_VERBS } from '../support/replay/recall-starts.ts';
import { kitchenOf } from '../support/kitchen.ts';
import { bodyOf, startInWords } from '../support/replay/recall.ts';
import { recordedInBoth, rulingOf } from '../support/replay/rulings.ts';
import { supplierKeyOf, tell, teller, type Teller } from '../support/replay/tell.ts';
import { buildWorld } from '../support/world.ts';
import { startService, type Client, type TestService } from '../support/service.ts';

const START_MS = Date.UTC(2026, 0, 5);
const DAY_MS = 86_400_000;
/** after everything that a story tells */
const OPENED_MS = START_MS + 61 * DAY_MS;
/** when the nth fact of a story is told, after the opening */
const toldAtMs = (n: number): number => OPENED_MS + (n + 1) * 60_000;

const runs = Number(process.env['SEALTRAIL_PROVE_RUNS'] ?? 6);
const seed = process.env['SEALTRAIL_PROVE_SEED'];
const TIMEOUT_MS = 120_000 + runs * 10_000;
const options = (share: number) => ({
  numRuns: Math.max(1, Math.ceil(runs * share)),
  ...(seed !== undefined && { seed: Number(seed) }),
  interruptAfterTimeLimit: TIMEOUT_MS - 20_000,
  markInterruptAsFailure: true,
  // `npm run prove` looks for a smaller story.
  endOnFailure: process.env['SEALTRAIL_PROVE_RUNS'] === undefined,
});

/** lots that a scope may have */
const BOUND = 100_000;

const naming = { supplierKeyOf };

// Without dates, so that nothing is refused for its age; with more cooking, packing and rework than a ledger's story has.
const stories = { startMs: START_MS, verbs: RECALL_VERBS, mostFacts: 36, leastFacts: 16 } as const;
const undated = (story: OracleScenario): OracleScenario => {
  const named = inServiceNames(story);
  return { ...named, world: { ...named.world, lots: [] } };
};

/** Tells the facts before the opening; what is refused is recorded afterwards, where it can be. */
async function tellBefore(on: Teller, facts: readonly OracleFact[]): Promise<OracleFact[]> {
  const recorded: OracleFact[] = [];
  for (const fact of facts) {
    const ruling = rulingOf(on.story.world, recorded, fact);
    if (ruling.untold) continue;
    if ((await tell(on, fact)) === null || (await tell(on, fact, true)) === null) recorded.push(fact);
  }
  return recorded;
}

/**
 * Tells the facts after the opening. What is refused is recorded afterwards instead. No request that takes food in the scope may get
 * through, but for moves within a site.
 */
async function tellAfter(
  on: Teller,
  before: readonly OracleFact[],
  facts: readonly OracleFact[],
  inScope: (told: readonly OracleFact[]) => ReadonlySet<string>,
): Promise<OracleFact[]> {
  const told = [...before];
  for (const fact of facts) {
    if (rulingOf(on.story.world, told, fact).untold) continue;
    const refusal = await tell(on, fact);
    if (refusal === null) {
      const slipped = fact.kind === 'use' ? [] : takenBy(fact).filter((lotId) => inScope(told).has(lotId));
      expect(slipped, `${fact.kind} ${fact.id} got through`).toEqual([]);
      told.push(fact);
    } else if (takenBy(fact).length > 0 || fact.kind === 'move') {
      if ((await tell(on, fact, true)) === null) told.push(fact);
    }
  }
  return told;
}

describe('recalls over random stories', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startService();
  });
  afterAll(() => service.stop());

  /** A story in a group of its own. Before the opening facts are sent when they happen, from then on one a minute at most. */
  async function begin(story: OracleScenario): Promise<{ on: Teller; office: Client; open: () => void }> {
    const groupId = await groupFor(service, story.world, START_MS);
    let opened = false;
    const on = teller(service, groupId, story, (fact) =>
      opened ? toldAtMs(story.facts.findIndex((one) => one.id === fact.id)) : fact.occurredAt,
    );
    const person = { id: exampleId('person/operations'), name: 'Idris Holt', signInName: 'operations', grants: [] };
    const made = await service
      .as('admin', null, groupId)
      .post('/v1/people', { ...person, password: 'phones-left-there' });
    if (made.status !== 201) throw new Error(made.text);
    return {
      on,
      office: service.as('operations', null, groupId),
      open: () => {
        opened = true;
        service.clock.set(OPENED_MS);
      },
    };
  }

  const dice = fc.noBias(fc.array(fc.nat(), { minLength: 4, maxLength: 4 }));

  test(
    'preview, scope, reasons, quantities, revisions and exceptions are as the oracle says',
    async () => {
      await fc.assert(
        fc.asyncProperty(scenarios(stories).map(undated), dice, async (drawn, [share = 0, ...rest]) => {
          const cut = Math.ceil((drawn.facts.length * (30 + (share % 70))) / 100);
          // Every other fact that is told after the opening happens after it too, at the moment at which it is told.
          const facts = drawn.facts.map((fact, at) =>
            at >= cut && at % 2 === 0 && fact.kind !== 'reversal' ? { ...fact, occurredAt: toldAtMs(at) } : fact,
          );
          const story = { ...drawn, facts };
          const { on, office, open } = await begin(story);
          const before = await tellBefore(on, facts.slice(0, cut));
          const start = pickStart(before, rest);
          open();
          const starts = [startInWords(start)];
          const atOpening = scopeOver(story.world, before, before.length, [start], naming);
          if (atOpening.scope.must.size === 0) return;
          const preview = bodyOf(await office.post('/v1/recall-previews', { starts }), 200);
          const state = replay(story.world, before);
          const made = await office.post('/v1/recalls', { id: randomUUID(), title: 'Warning by telephone', starts });
          const recallId = bodyOf(made, 201).recallId as string;
          const one = { story, office, recallId };
          const opened = await expectRecall(one, before, atOpening);
          expect(made.body.lotCount).toBe(opened.length);
          expect(preview.lotCount).toBe(opened.length);
          expectTotals(preview.totals, story, state, opened);
          expectSites(preview.sites, before, state, opened);
          expectRoad(preview.onTheRoad, state, opened);

          const over = (told: readonly OracleFact[]) => scopeOver(story.world, told, before.length, [start], naming);
          // What other starting points than a lot or a supplier's lot name anew is matched again now and then.
          const atOnce = start.kind === 'lot' || start.kind === 'complaint' || start.kind === 'supplier-lot';
          const told = await tellAfter(on, before, facts.slice(cut), (soFar) =>
            atOnce ? over(soFar).scope.must : atOpening.scope.must,
          );
          if (!atOnce) await reviseCases({ db: service.db, clock: service.clock }).run({ groupId: on.groupId });
          const end = over(told);
          await expectRecall(one, told, end);
          if (atOnce) await expectRevisions(one, end, opened);
          await expectExceptions(one, told, before.length, OPENED_MS, end);
        }),
        options(1),
      );
    },
    TIMEOUT_MS,
  );

  test(
    'a drill opened early or late, with the facts in another order, ends with the same scope',
    async () => {
      await fc.assert(
        fc.asyncProperty(scenariosInOrder(stories), dice, async (drawn, [when = 0, which = 0]) => {
          const named = undated(drawn);
          // An edge that is undone before the opening was never in the scope; undone after it, it stays. So nothing is undone here.
          const kept = named.facts.filter(
            (fact) => fact.kind !== 'reversal' && fact.kind !== 'hold' && fact.kind !== 'lift',
          );
          const byId = new Map(kept.map((fact) => [fact.id, fact]));
          const arrival = drawn.arrival.flatMap((fact) => byId.get(fact.id) ?? []);
          const both = recordedInBoth(named.world, kept, arrival);
          const receipts = both.told.filter((fact) => fact.kind === 'receive');
          const receipt = receipts[which % Math.max(1, receipts.length)];
          if (receipt?.kind !== 'receive') return;
          const start: OracleStart = { kind: 'supplier-lot', key: supplierKeyOf(receipt.lotId) };
          const ends: string[][] = [];
          for (const [at, facts] of [both.told, both.arrival].entries()) {
            const { on, office, open } = await begin({ ...named, facts });
            const first = 1 + facts.indexOf(receipt);
            const cut = at === 0 ? first + (when % (facts.length - first + 1)) : first;
            const before = await tellBefore(on, facts.slice(0, cut));
            open();
            const body = { id: randomUUID(), title: 'Practice', drill: true, starts: [startInWords(start)] };
            const recallId = bodyOf(await office.post('/v1/recalls', body), 201).recallId as string;
            // Nothing real is frozen by a drill.
            for (const fact of facts.slice(cut)) expect(await tell(on, fact), fact.kind).toBeNull();
            expect(before).toEqual(facts.slice(0, cut));
            const over = scopeOver(named.world, facts, cut, [start], naming);
            ends.push(await expectRecall({ story: named, office, recallId }, facts, over));
          }
          expect(ends[1]).toEqual(ends[0]);
        }),
        options(0.5),
      );
    },
    TIMEOUT_MS,
  );

  // Making so many lots takes seconds: with `npm run prove` only. tests/contract/errors.test.ts goes beyond the bound with a starting point.
  test.runIf(process.env['SEALTRAIL_PROVE_RUNS'] !== undefined)(
    'a scope beyond the bound is refused whole',
    async () => {
      const kitchen = kitchenOf(service, await buildWorld(service));
      const root = await kitchen.shin(1_000);
      const { lotId: load } = await kitchen.stew(root, 1_000, 900);
      const client = new pg.Client({ connectionString: service.databaseUrl });
      await client.connect();
      try {
        await client.query(`select set_config('app.group_id', $1, false)`, [service.groupId]);
        // No trigger looks up a hundred thousand rows.
        await client.query('set session_replication_role = replica');
        await client.query(
          `insert into lot (group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, born_at, handling,
                          storage_instruction, use_by_basis, allergens, may_contain)
         select l.group_id, md5('bound' || n)::uuid, 'BOUND-' || n, l.item_id, l.unit, l.quantity, l.mass_mg, l.origin,
                l.site_id, l.born_at, l.handling, l.storage_instruction, l.use_by_basis, l.allergens, l.may_contain
           from lot l cross join generate_series(1, $3::int) n
          where l.group_id = $1::uuid and l.lot_id = $2::uuid`,
          [service.groupId, load, BOUND],
        );
        await client.query(
          `insert into lot_edge (group_id, parent_lot_id, child_lot_id, process_id, caps_use_by, recorded_at)
         select $1::uuid, $2::uuid, md5('bound' || n)::uuid, md5('bound' || n)::uuid, true, now()
           from generate_series(1, $3::int) n`,
          [service.groupId, load, BOUND],
        );
        // what the service says of a lot when something is made from it
        await client.query(
          'update lot_edge set child_leads_on = true where group_id = $1::uuid and child_lot_id = $2::uuid',
          [service.groupId, load],
        );
      } finally {
        await client.end();
      }
      const office = service.as('operations');
      const starts = [{ kind: 'lot', lotId: root }];
      for (const answer of [
        await office.post('/v1/recall-previews', { starts }),
        await office.post('/v1/recalls', { id: randomUUID(), title: 'Too much', starts }),
      ]) {
        expect([answer.status, answer.body.code]).toEqual([422, 'scope-too-large']);
      }
      expect((await kitchen.get('kitchen', `/v1/lots/${root}`)).holds).toEqual([]);
      expect(bodyOf(await office.get('/v1/recalls'), 200).items).toEqual([]);
    },
  );
});
