/**
 * Food that was released on a check which a correction takes away: it was another load that was measured, another point, another batch. What
 * rests on nothing now is held, and found, as if the check had failed. Refusals: none.
 */
import type { LotReadiness } from '../../../domain/process-checks/readiness.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { insertFollowingHolds, openFindings, type FindingDraft } from '../../ledger/index.ts';
import { failedCheckHold, type TakenCheck } from '../../process-checks/index.ts';
import { stateOf } from '../answer.ts';
import { listBorn, type BornRow } from '../store.ts';
import type { Completing } from './automatic.ts';
import { readinessOf } from './ready.ts';
import { findCheckOwner } from './store.ts';

/** The released lots of a batch, with the points that they had passed. */
export interface Resting {
  readonly checkId: string;
  readonly batchId: string;
  readonly siteId: string;
  readonly lots: readonly { readonly lot: BornRow; readonly passed: ReadonlySet<string> }[];
}

const passedOf = (ready: LotReadiness | undefined): string[] =>
  (ready?.points ?? [])
    .filter((point) => point.requiredFor !== null && (point.state === 'passed' || point.state === 'deviation-open'))
    .filter((point) => !point.unsure.includes('before-batch'))
    .map((point) => point.code);

/** Null for a check of no batch. */
export async function findResting(tx: Tx, checkId: string): Promise<Resting | null> {
  const owner = await findCheckOwner(tx, checkId);
  if (!owner) return null;
  const born = await listBorn(tx, owner.batchId);
  const { byLot } = await readinessOf(tx, owner.batchId, born);
  const released = born.filter((lot) => stateOf(lot) === 'released');
  const lots = released.map((lot) => ({ lot, passed: new Set(passedOf(byLot.get(lot.lotId))) }));
  return { checkId, ...owner, lots };
}

/**
 * Under the exclusive gate, after the correction was written.
 * @param taken the correction, with what came of it already
 */
export async function holdUnproved(
  { tx, nowMs, actor }: Completing,
  { checkId, batchId, siteId, lots }: Resting,
  taken: TakenCheck,
): Promise<TakenCheck> {
  const { byLot } = await readinessOf(tx, batchId, await listBorn(tx, batchId));
  const told = new Set(
    taken.findings.filter(({ kind }) => kind === 'released-on-changed-check').map(({ lotId }) => lotId),
  );
  const unproved = lots.flatMap(({ lot, passed }) => {
    const still = new Set(passedOf(byLot.get(lot.lotId)));
    const points = [...passed].filter((code) => !still.has(code));
    return points.length > 0 && !told.has(lot.lotId) ? [{ lot, points }] : [];
  });
  const reason = (points: readonly string[]) =>
    `Released on a check that was corrected and speaks for it no more: ${points.join(', ')}.`;
  const findings = unproved.map(({ lot: { lotId, lotCode }, points }): FindingDraft => ({
    kind: 'released-on-changed-check',
    subject: `${taken.checkId}|${lotId}`,
    siteId,
    lotId,
    quantity: null,
    occurredAtMs: nowMs,
    detail: {
      checkId: taken.checkId,
      correctedCheckId: checkId,
      batchId,
      lotCode,
      controlPoints: points,
      reasons: [reason(points)],
      factId: taken.checkId,
    },
  }));
  const holds = unproved.map(({ lot, points }) => failedCheckHold(taken.checkId, lot.lotId, reason(points)));
  await openFindings(tx, findings, nowMs);
  await insertFollowingHolds(tx, holds, actor.actorId, nowMs);
  const held = unproved.map(({ lot: { lotId, lotCode } }, at) => ({ holdId: holds[at]?.holdId ?? '', lotId, lotCode }));
  return { ...taken, held: [...taken.held, ...held], findings: [...taken.findings, ...findings] };
}
