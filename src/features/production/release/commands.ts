/**
 * A person's decision to release. Refusals: `not-found`, `wrong-state`, `rule-broken`, `checks-not-passed`, `ancestors-not-released`,
 * `releaser-made-it`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { standingAgainst, type PointReadiness } from '../../../domain/process-checks/readiness.ts';
import { deputyOf } from '../../../platform/auth/actor.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findHoldsReaching, findLots, liftHolds, type ReachingHold } from '../../ledger/index.ts';
import { failedCheckHoldId, getSeparation, type BatchPlan } from '../../process-checks/index.ts';
import { batchReply, getBatchForWrite } from '../commands-batch.ts';
import { insertDecision, listBorn, type BatchRow, type BornRow } from '../store.ts';
import { pointBrief } from './answer.ts';
import { releaseBelow } from './automatic.ts';
import type * as contract from './contract.ts';
import { ownWait, readinessOf, type Ready } from './ready.ts';
import { listFailedChecks, listMakers } from './store.ts';

type Releasing = Context<typeof contract.createRelease>;

/** The lots that wait, of those that are named or of all. */
function waitingOf(born: readonly BornRow[], holds: readonly ReachingHold[], lotIds: readonly string[] | undefined) {
  if (lotIds?.some((lotId) => !born.some((lot) => lot.lotId === lotId))) throw notFound('lot of this batch');
  const waits = (lot: BornRow) => holds.some((hold) => hold.lotId === lot.lotId && ownWait(hold));
  const chosen = lotIds ? born.filter((lot) => lotIds.includes(lot.lotId)) : born;
  const waiting = chosen.filter(waits);
  const late = lotIds ? chosen.find((lot) => !waits(lot)) : undefined;
  if (waiting.length === 0 || late) {
    throw new Refused(
      'wrong-state',
      late ? `Lot ${late.lotCode} does not await release.` : 'Nothing of this batch awaits release.',
    );
  }
  return waiting;
}

/** Points that are accepted in spite of what was checked, by code, with the reason. */
function acceptedOf(plan: BatchPlan | null, accept: NonNullable<Releasing['body']['accept']>): Map<string, string> {
  const codes = plan?.plan.points.map((point) => point.code) ?? [];
  for (const [at, { controlPoint }] of accept.entries()) {
    const again = accept.findIndex((one) => one.controlPoint === controlPoint) < at;
    if (codes.includes(controlPoint) && !again) continue;
    const known = codes.length > 0 ? `its plan has ${codes.join(', ')}` : 'it has no plan';
    const detail = again ? 'Accept each point once.' : `The batch has no control point ${controlPoint}: ${known}.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/accept/${at}/controlPoint` }] });
  }
  return new Map(accept.map(({ controlPoint, reason }) => [controlPoint, reason]));
}

interface Unready {
  readonly lot: BornRow;
  readonly points: readonly PointReadiness[];
}

/**
 * What is critical is never accepted: the record is corrected, or the food is rejected. @param named whoever names a lot has seen that what
 * was done about a failed check is not closed
 */
function unreadyOf(
  waiting: readonly BornRow[],
  ready: Ready,
  accepted: ReadonlyMap<string, string>,
  named: boolean,
): Unready[] {
  return waiting.flatMap((lot) => {
    const one = ready.byLot.get(lot.lotId);
    if (!one) return [];
    const against = standingAgainst(one).filter((point) => point.critical || !accepted.has(point.code));
    const open = one.points.filter((point) => point.requiredFor !== null && point.state === 'deviation-open');
    const points = named ? against : [...against, ...open.filter((point) => !accepted.has(point.code))];
    return points.length > 0 ? [{ lot, points }] : [];
  });
}

const AGAINST: Readonly<Record<PointReadiness['state'], string>> = {
  passed: 'has passed',
  missing: 'is not checked',
  failed: 'has failed',
  'deviation-open': 'has passed since it failed, and what was done about it is not closed',
};

function refuseUnready(unready: readonly Unready[]): Refused {
  const said = unready.slice(0, 3).map(({ lot, points }) => {
    const words = points.map(({ label, state, critical }) => {
      const never = critical && state !== 'deviation-open' ? ' (critical: it cannot be accepted)' : '';
      return `${label} ${AGAINST[state]}${never}`;
    });
    return `${lot.lotCode}: ${words.join(', ')}`;
  });
  const detail = `${said.join('; ')}${unready.length > said.length ? '; and others' : ''}.`;
  const lots = unready.map(({ lot, points }) => ({
    lotId: lot.lotId,
    lotCode: lot.lotCode,
    points: points.map(pointBrief),
  }));
  return new Refused('checks-not-passed', detail, { members: { lots } });
}

/** What is released together does not stand in each other's way; what the food was made from otherwise does. */
async function requireAncestors(tx: Tx, lots: readonly BornRow[], holds: readonly ReachingHold[]): Promise<void> {
  const ids = new Set(lots.map((lot) => lot.lotId));
  const before = holds.filter(
    (hold) => hold.kind === 'awaiting-release' && ids.has(hold.lotId) && !ids.has(hold.rootLotId),
  );
  if (before.length === 0) return;
  const roots = await findLots(tx, [...new Set(before.map((hold) => hold.rootLotId))]);
  const names = [...roots.values()].map((lot) => ({ lotId: lot.lotId, lotCode: lot.code }));
  const detail = `Not released yet: ${names.map((one) => one.lotCode).join(', ')}.`;
  throw new Refused('ancestors-not-released', detail, { members: { lots: names } });
}

/** Where the plan or the site wants a second pair of eyes. */
async function requireAnother(context: Releasing, batch: BatchRow, plan: BatchPlan | null): Promise<void> {
  const { tx, actor } = context;
  const twoPeople = plan?.plan.twoPeople === true || (await getSeparation(tx, batch.siteId)).twoPeople;
  if (!twoPeople || !(await listMakers(tx, batch.batchId)).has(actor.actorId)) return;
  throw new Refused('releaser-made-it', `You had a hand in batch ${batch.code}: somebody else releases it.`);
}

/** Holds of checks that failed at a point that is accepted, or that stand no more because they were corrected. */
async function settledHolds(
  tx: Tx,
  batch: BatchRow,
  lots: readonly BornRow[],
  holds: readonly ReachingHold[],
  accepted: ReadonlyMap<string, string>,
): Promise<string[]> {
  const settled = (await listFailedChecks(tx, batch.batchId)).filter(
    ({ controlPoint, failsStill }) => !failsStill || (controlPoint !== null && accepted.has(controlPoint)),
  );
  const ids = new Set(settled.flatMap(({ checkId }) => lots.map(({ lotId }) => failedCheckHoldId(checkId, lotId))));
  return holds.filter((hold) => ids.has(hold.holdId)).map((hold) => hold.holdId);
}

export async function release(context: Releasing): Promise<Reply> {
  const { body, tx, params, nowMs, actor, factId } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  const born = await listBorn(tx, batch.batchId);
  const reaching = await findHoldsReaching(
    tx,
    born.map((lot) => lot.lotId),
    nowMs,
  );
  const holds = reaching.filter((hold) => hold.liftedAt === null);
  const waiting = waitingOf(born, holds, body.lotIds);
  const ready = await readinessOf(tx, batch.batchId, born);
  const accepted = acceptedOf(ready.plan, body.accept ?? []);
  const unready = unreadyOf(waiting, ready, accepted, body.lotIds !== undefined);
  if (unready.length > 0 && (body.lotIds || unready.length === waiting.length)) throw refuseUnready(unready);
  // Left to us, what is not ready goes on waiting, and with it the packs made from it.
  const staying = new Set(unready.map(({ lot }) => lot.lotId));
  const below = holds.filter((hold) => hold.kind === 'awaiting-release' && staying.has(hold.rootLotId));
  for (const hold of below) staying.add(hold.lotId);
  const lots = waiting.filter((lot) => !staying.has(lot.lotId));
  if (lots.length === 0) throw refuseUnready(unready);
  await requireAncestors(tx, lots, holds);
  await requireAnother(context, batch, ready.plan);
  const against = new Set(
    lots.flatMap((lot) => {
      const one = ready.byLot.get(lot.lotId);
      return one ? standingAgainst(one).map((point) => point.code) : [];
    }),
  );
  const deputyId = deputyOf(actor, 'release.write', batch.siteId);
  // From here on only success.
  const lotIds = lots.map((lot) => lot.lotId);
  const waits = holds.filter((hold) => ownWait(hold) && lotIds.includes(hold.lotId)).map((hold) => hold.holdId);
  const settled = await settledHolds(tx, batch, lots, holds, accepted);
  await liftHolds(tx, [...waits, ...settled], actor.actorId, body.note ?? 'Released', nowMs, deputyId);
  await insertDecision(
    tx,
    {
      decisionId: factId,
      batchId: batch.batchId,
      outcome: 'released',
      lotIds,
      reason: body.note ?? null,
      decidedBy: actor.actorId,
      deputyId,
      automatic: false,
      accepted: Array.from(accepted, ([controlPoint, reason]) => ({ controlPoint, reason })).filter((one) =>
        against.has(one.controlPoint),
      ),
      disposition: null,
    },
    nowMs,
  );
  await outbox(tx, 'lots-released', { batchId: batch.batchId, lotIds }, nowMs);
  await releaseBelow(context, waits);
  return batchReply(context, batch.batchId);
}
