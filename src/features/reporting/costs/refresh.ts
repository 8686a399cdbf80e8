/** Checkpoints: what every lot costs, written where it changed. Refusals: none. */
import type { LotCost } from '../../../domain/costing/shapes.ts';
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { getCutNow, type Cut } from '../../ledger/index.ts';
import { reckonSince, sameCost, storedCosts } from './since.ts';
import { findCheckpoint, insertCheckpoint, insertCosts, lockCheckpoints } from './store.ts';

/** Entries taken up by one step, so that the first time does not hold a year in memory. */
const ENTRIES_A_STEP = 50_000;
const ROWS_A_STATEMENT = 10_000;

/** One step towards `to`, from the newest checkpoint. @returns where it ended */
async function step(tx: Tx, to: Cut, nowMs: number): Promise<Cut> {
  const from = (await findCheckpoint(tx, to)) ?? { seq: 0, moneyNo: 0 };
  if (from.seq === to.seq && from.moneyNo === to.moneyNo) return to;
  const half = to.seq - from.seq > ENTRIES_A_STEP;
  // Half-way no money fact is taken up: both numbers of a checkpoint only grow, and the last step takes up all of them.
  const end = half ? { ...to, seq: from.seq + ENTRIES_A_STEP, moneyNo: from.moneyNo } : to;
  const costs = [...(await reckonSince(tx, from, end)).values()];
  await insertCheckpoint(tx, end, nowMs);
  for (let at = 0; at < costs.length; at += ROWS_A_STATEMENT) {
    const some = costs.slice(at, at + ROWS_A_STATEMENT);
    const was = await storedCosts(
      tx,
      from,
      some.map((cost) => cost.lotId),
    );
    const changed = some.filter((cost) => !sameCost(cost, was.get(cost.lotId) as LotCost));
    if (changed.length > 0) await insertCosts(tx, end, changed);
  }
  return end;
}

/** Makes a checkpoint of everything recorded so far, in a transaction that may write. @returns its cut */
export async function refreshCosts(tx: Tx, nowMs: number): Promise<Cut> {
  await lockCheckpoints(tx);
  const to = await getCutNow(tx);
  for (;;) {
    const { seq, moneyNo } = await step(tx, to, nowMs);
    if (seq === to.seq && moneyNo === to.moneyNo) return to;
  }
}

/** A transaction a step, so that the gate is never shared for long. */
export function reckonCostsJob({ db, clock }: { readonly db: Db; readonly clock: Clock }): Job {
  return {
    name: 'reckon-costs',
    sweep: '*/5 * * * *',
    run: async ({ groupId }) => {
      for (let more = true; more;) {
        more = await db.inGroup(groupId, 'write', async (tx) => {
          await lockCheckpoints(tx);
          const to = await getCutNow(tx);
          const { seq, moneyNo } = await step(tx, to, clock.nowMs());
          return seq < to.seq || moneyNo < to.moneyNo;
        });
      }
    },
  };
}
