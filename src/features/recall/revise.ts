/**
 * Matching the starting points of open cases again. What descends from a lot in scope, and deliveries of a recalled code, come under the
 * hold in the transaction that records them; periods, people, places, items and dispatches are matched again here, every minute.
 */
import type { SaidStart } from '../../domain/recall/starts.ts';
import { groupBy } from '../../domain/grouping.ts';
import type { Clock } from '../../platform/clock.ts';
import type { Db, Tx } from '../../platform/db/db.ts';
import { outbox, type Job } from '../../platform/jobs.ts';
import { reachFrom } from '../ledger/index.ts';
import { listOpenCases, type OpenCase } from './open-cases.ts';
import { lotsOfStart } from './starts/match.ts';
import { insertStartLots, readHead } from './store.ts';

async function listCaseStarts(tx: Tx, recallId: string): Promise<{ startId: string; said: SaidStart }[]> {
  return tx.query(
    `select s.start_id as "startId", s.said from recall_start s
      where s.group_id = $1::uuid and s.recall_id = $2::uuid order by s.position`,
    [tx.groupId, recallId],
  );
}

/** Of these lots, those that the starting point did not name before. */
async function listNew(tx: Tx, startId: string, lotIds: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select u.lot_id as "lotId" from unnest($3::uuid[]) as u(lot_id)
      where not exists (select from recall_start_lot sl
              where sl.group_id = $1::uuid and sl.start_id = $2::uuid and sl.lot_id = u.lot_id)`,
    [tx.groupId, startId, lotIds],
  );
  return rows.map((row) => row.lotId);
}

interface Grown {
  readonly startId: string;
  readonly said: SaidStart;
  readonly lotIds: readonly string[];
}

/** Starting points that name more lots than before. */
async function grownStarts(tx: Tx, recallId: string): Promise<Grown[]> {
  const grown: Grown[] = [];
  for (const { startId, said } of await listCaseStarts(tx, recallId)) {
    const lotIds = await listNew(tx, startId, await lotsOfStart(tx, said));
    if (lotIds.length > 0) grown.push({ startId, said, lotIds });
  }
  return grown;
}

/** The first fact about each of these lots that was recorded after the opening. */
async function listFirstFacts(
  tx: Tx,
  lotIds: readonly string[],
  openedSeq: number,
): Promise<{ lotId: string; factId: string }[]> {
  return tx.query(
    `select distinct on (p.lot_id) p.lot_id as "lotId", e.fact_id as "factId"
       from posting p
       join entry e on e.group_id = p.group_id and e.seq = p.seq
      where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and p.seq > $3::int8
      order by p.lot_id, p.seq`,
    [tx.groupId, lotIds, openedSeq],
  );
}

/**
 * Brings one case up to date. The gate has to be held exclusively.
 * @returns how many lots it reaches that it did not before
 */
export async function reviseCase(tx: Tx, recall: Omit<OpenCase, 'openedBy'>, atMs: number): Promise<number> {
  let added = 0;
  for (const { startId, said, lotIds } of await grownStarts(tx, recall.recallId)) {
    const facts = new Map((await listFirstFacts(tx, lotIds, recall.openedSeq)).map((row) => [row.lotId, row.factId]));
    for (const [factId, some] of groupBy(lotIds, (lotId) => facts.get(lotId) ?? '')) {
      const roots = said.walk === 'none' ? { walked: [], still: some } : { walked: some, still: [] };
      added += await reachFrom(tx, recall.holdId, roots, factId === '' ? null : factId, atMs);
    }
    await insertStartLots(tx, startId, lotIds, atMs);
  }
  return added;
}

/** Every minute. A look first, on one snapshot; the gate is closed only when there is something to add. */
export function reviseCases({ db, clock }: { db: Db; clock: Clock }): Job {
  return {
    name: 'revise-recalls',
    sweep: '* * * * *',
    async run({ groupId }) {
      const grown = await db.inGroup(groupId, 'read', async (tx) => {
        const found: string[] = [];
        for (const { recallId } of await listOpenCases(tx)) {
          if ((await grownStarts(tx, recallId)).length > 0) found.push(recallId);
        }
        return found;
      });
      if (grown.length === 0) return;
      await db.inGroup(groupId, 'exclusive', async (tx) => {
        const nowMs = clock.nowMs();
        const { atMs } = await readHead(tx, nowMs);
        for (const recall of await listOpenCases(tx)) {
          const added = await reviseCase(tx, recall, atMs);
          if (added === 0) continue;
          await outbox(tx, 'recall-revised', { recallId: recall.recallId, factId: null, lotCount: added }, nowMs);
        }
      });
    },
  };
}
