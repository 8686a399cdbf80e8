/** What stands between a batch and its release. Refusals: `not-found`. */
import { notFound } from '../../../domain/errors.ts';
import { inWords, type LotReadiness, type Unsure } from '../../../domain/process-checks/readiness.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findHoldsReaching, holdBriefs, type ReachingHold } from '../../ledger/index.ts';
import { getSeparation } from '../../process-checks/index.ts';
import { stateOf } from '../answer.ts';
import { findBatch, listBorn } from '../store.ts';
import { planBrief, pointBrief } from './answer.ts';
import type * as contract from './contract.ts';
import { ownWait, readinessOf, type Ready } from './ready.ts';

const NO_PLAN = 'The batch has no process plan: a person decides.';

const UNSURE: Readonly<Record<Unsure, string>> = {
  'limit-from-memory': 'its limit is from memory and nobody has confirmed it.',
  'looser-limit': "its limit asks less than the default of the site's jurisdiction, and nobody has confirmed it.",
  'probe-doubted': 'the probe that it was checked with was found to measure wrongly.',
  'before-batch': 'its check is dated well before the batch began.',
  'made-good': 'a check of it had failed and was corrected: somebody else looks at it.',
  'whole-batch':
    'it was checked for the whole batch, and the plan asks it of each load: name the load, or complete the batch.',
};

/** Why nobody but a person can decide about the lot, whatever is still checked. */
function whyByHand(
  { plan, reworked }: Ready,
  ready: LotReadiness | undefined,
  others: readonly ReachingHold[],
): string[] {
  const unheated = `Food rejected for rework is in it (${reworked.join(', ')}), and no check shows that it was heated.`;
  if (!plan || !ready) return [NO_PLAN, ...(reworked.length > 0 ? [unheated] : [])];
  const wanted = ready.points.filter((point) => point.requiredFor !== null);
  const kinds = [...new Set(others.filter((hold) => hold.kind !== 'awaiting-release').map((hold) => hold.kind))];
  // Lifting a hold completes no record: what was complete before it was lifted is not released by that.
  const left = ready.releasesByItself && others.length === 0;
  return [
    ...(left ? ['What stood against it is over, and every check has passed: a person releases it.'] : []),
    ...(plan.plan.release === 'by-hand' ? ['The plan leaves the release to a person.'] : []),
    ...(wanted.length === 0 ? ['The plan asks nothing of this lot, so no check shows that it may leave.'] : []),
    ...wanted.flatMap(({ label, unsure }) => unsure.map((why) => `${label}: ${UNSURE[why]}`)),
    ...(ready.heat === 'not-asked' ? [unheated] : []),
    ...(ready.openBeside
      ? ['A check that the plan does not ask for has failed: what was done about it is not closed.']
      : []),
    ...(ready.state === 'failed' ? ['A check has failed: correct, repeat, accept or reject.'] : []),
    ...kinds.map((kind) => `It is on hold (${kind}); whoever decides about that hold decides first.`),
  ];
}

export async function readReadiness(context: Context<typeof contract.getReleaseReadiness>): Promise<Reply> {
  const { tx, params, scope, nowMs } = context;
  const batch = await findBatch(tx, params.batchId);
  if (!batch || !scope.includes(batch.siteId)) throw notFound('batch');
  const born = await listBorn(tx, batch.batchId);
  const checked = await readinessOf(tx, batch.batchId, born);
  const { plan, byLot } = checked;
  const lotIds = born.map((lot) => lot.lotId);
  const holds = (await findHoldsReaching(tx, lotIds, nowMs)).filter((hold) => hold.liftedAt === null);
  const twoPeople = plan?.plan.twoPeople === true || (await getSeparation(tx, batch.siteId)).twoPeople;
  const lots = born.map((lot) => {
    const ready = byLot.get(lot.lotId);
    const others = holds.filter((hold) => hold.lotId === lot.lotId && hold.kind !== 'use-by' && !ownWait(hold));
    const waits = holds.some((hold) => hold.lotId === lot.lotId && ownWait(hold));
    const why = waits ? whyByHand(checked, ready, others) : [];
    return {
      lotId: lot.lotId,
      lotCode: lot.lotCode,
      loadNo: lot.loadNo,
      packingRunId: lot.packingRunId,
      state: stateOf(lot),
      checks: ready?.state ?? null,
      points: ready?.points.map(pointBrief) ?? [],
      missing: ready ? inWords(ready) : [],
      holds: holdBriefs(others),
      releasesByItself: waits && why.length === 0,
      why,
    };
  });
  return {
    status: 200,
    body: { batchId: batch.batchId, batchCode: batch.code, processPlan: planBrief(plan), twoPeople, lots },
  };
}
