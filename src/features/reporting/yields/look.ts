/**
 * Every quarter of an hour: batches that were newly completed, or into or out of which something was recorded or undone since, are held against
 * the history of their recipe at their site, with all that were completed after them, since they are history of those. A batch that stands out
 * is a finding until it no longer does or a person settles it. The finding is a function of what is recorded, not of the order in which it came:
 * its subject and fact are the batch, and what it says is renewed whenever it differs.
 */
import { groupBy } from '../../../domain/grouping.ts';
import { LOOK_BACK, percentOfPpm } from '../../../domain/yields/spread.ts';
import { roundHalfAwayFromZero } from '../../../domain/exact.ts';
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { clearFindings, getCutNow, openFindings, type FindingDraft } from '../../ledger/index.ts';
import { measureBatches, type MeasuredBatch } from './measured.ts';
import { listStreamBatches } from './queries.ts';
import { findLook, listOpenStandOuts, listTouchedBatches, saveLook, type Look } from './store.ts';

const KIND = 'yield-stands-out';
/** Entries and money facts that are looked through in one transaction. */
const MOST_ENTRIES = 50_000;
const MOST_MONEY_FACTS = 500;

export function findYieldsThatStandOut({ db, clock }: { readonly db: Db; readonly clock: Clock }): Job {
  return {
    name: 'find-yields-that-stand-out',
    sweep: '*/15 * * * *',
    async run({ groupId }) {
      let more = true;
      while (more) more = await db.inGroup(groupId, 'write', (tx) => lookOn(tx, clock.nowMs()));
    },
  };
}

/** One step; true when there is more to look at. */
async function lookOn(tx: Tx, nowMs: number): Promise<boolean> {
  const from = await findLook(tx);
  const cut = await getCutNow(tx);
  const to: Look = {
    seq: Math.min(cut.seq, from.seq + MOST_ENTRIES),
    moneyNo: Math.min(cut.moneyNo, from.moneyNo + MOST_MONEY_FACTS),
  };
  if (to.seq === from.seq && to.moneyNo === from.moneyNo) return false;
  const touched = await listTouchedBatches(tx, from, to);
  for (const [first] of groupBy(touched, ({ recipeId, siteId }) => `${recipeId} ${siteId}`).values()) {
    if (first) await judgeFrom(tx, first, cut.seq, nowMs);
  }
  await saveLook(tx, to);
  return to.seq < cut.seq || to.moneyNo < cut.moneyNo;
}

async function judgeFrom(
  tx: Tx,
  first: { readonly batchId: string; readonly recipeId: string; readonly siteId: string },
  seq: number,
  nowMs: number,
): Promise<void> {
  const rows = await listStreamBatches(tx, first, first.batchId, LOOK_BACK);
  // What was completed before numbers were taken is history: nobody is told of it now.
  const judged = (await measureBatches(tx, rows, seq)).filter(({ row }) => row.within && row.completedNo > 0);
  const drafts = judged.flatMap(draftOf);
  const open = new Map(
    (
      await listOpenStandOuts(
        tx,
        judged.map(({ batchId }) => batchId),
      )
    ).map((one) => [one.subject, one.text]),
  );
  const wanted = new Map(drafts.map((draft) => [draft.subject, draft.detail.text]));
  const stale = [...open].flatMap(([subject, text]) => (wanted.get(subject) === text ? [] : [subject]));
  await clearFindings(tx, KIND, stale);
  await openFindings(
    tx,
    drafts.filter(({ subject, detail }) => open.get(subject) !== detail.text),
    nowMs,
  );
}

function draftOf({
  batchId,
  row,
  split,
  judged,
  yieldPpm,
}: MeasuredBatch): (FindingDraft & { detail: { text: string } })[] {
  const { usual, side } = judged;
  if (usual === null || side === null || yieldPpm === null) return [];
  const [actual, mean, lower, upper] = [yieldPpm, usual.mean, usual.lower, usual.upper].map(percentOfPpm);
  const expected = percentOfPpm(BigInt(row.expectedYieldPpm));
  const awayMg = split.exact.outputsMg.sub(split.exact.consumedMg.mul(usual.mean).div(1_000_000n));
  const awayG = Number(roundHalfAwayFromZero(awayMg.div(1000n)));
  const versions =
    usual.basis === 'same-version' ? 'of the same version of the recipe' : 'of all versions of the recipe';
  const text =
    `${row.itemName}, batch ${row.code}: ${actual} % came out, ${side} the usual ${lower} % to ${upper} %. That is ${Math.abs(awayG)} g ` +
    `${awayG < 0 ? 'less' : 'more'} than the mean of ${mean} % would give. The range is that of ${usual.batches} earlier batches here ${versions}; ` +
    `the recipe expects ${expected} %.`;
  return [
    {
      kind: KIND,
      subject: batchId,
      siteId: row.siteId,
      lotId: null,
      quantity: null,
      occurredAtMs: row.completedAt.getTime(),
      detail: {
        text,
        batchId,
        batchCode: row.code,
        recipeId: row.recipeId,
        side,
        yieldPercent: actual,
        meanPercent: mean,
        lowerPercent: lower,
        upperPercent: upper,
        expectedYieldPercent: expected,
        awayG,
        earlierBatches: usual.batches,
        factId: batchId,
      },
    },
  ];
}
