/** What follows for the food from a check: findings, holds, and what a correction puts right. Refusals: none. */
import { heldBy } from '../../../domain/process-checks/consequences.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { derivedId } from '../../../platform/ids.ts';
import { findHoldsReaching, type FindingDraft, type HoldDraft } from '../../ledger/index.ts';
import { listCorrected } from './queries-more.ts';
import { listBornLots, listLoadsOfRun } from './store-subject.ts';
import type { CheckSubject, Correction, DecidedCheck } from './shapes.ts';
import type { NewCheck } from './store.ts';

type Follows = Pick<DecidedCheck, 'holds' | 'findings' | 'cleared' | 'remarks' | 'lots'>;

/** The lots that a failure puts in question, by what the plan asks the point of: all loads of the batch, or the loads that packs come from as well. */
async function inQuestion(
  tx: Tx,
  { batchId, packingRunId, limits }: NewCheck,
  { lots }: CheckSubject,
): Promise<CheckSubject['lots']> {
  if (batchId === null || (limits.per !== 'batch' && (limits.per !== 'load' || packingRunId === null))) return lots;
  const loads = (await listBornLots(tx, batchId)).filter((lot) => lot.origin === 'produced');
  const from = limits.per === 'batch' ? null : await listLoadsOfRun(tx, packingRunId ?? '');
  const more = loads.filter(({ lotId }) => from === null || from.includes(lotId));
  return [...new Map([...lots, ...more].map((lot) => [lot.lotId, lot])).values()];
}

export async function whatFollows(
  tx: Tx,
  nowMs: number,
  row: NewCheck,
  subject: CheckSubject,
  correction: Correction | undefined,
): Promise<Follows> {
  const earlier = correction?.row.result === 'failed' ? [correction.row.checkId] : [];
  const cleared = earlier.map((subjectId) => ({ kind: 'check-failed', subject: subjectId }));
  const chain = correction ? await listCorrected(tx, correction.row.checkId) : [];
  const lots = await inQuestion(tx, row, subject);
  const lotIds = lots.map((lot) => lot.lotId);
  const open = (await findHoldsReaching(tx, lotIds, nowMs)).filter((hold) => hold.liftedAt === null);
  const earlierHold = (lotId: string) => {
    const ids = chain.map((checkId) => failedCheckHoldId(checkId, lotId));
    return open.find((hold) => hold.lotId === lotId && ids.includes(hold.holdId));
  };
  if (row.judgement.result === 'passed') {
    const still = lots.filter((lot) => earlierHold(lot.lotId));
    const remarks = still.map(
      (lot) => `The hold on lot ${lot.code} for the failed check stays until a person lifts it.`,
    );
    return { holds: [], findings: [], cleared, remarks, lots };
  }
  const held = heldBy(
    { stage: row.stage, about: row.about.kind, repeatable: row.limits.repeatable, atOrigin: subject.atOrigin },
    lots,
  );
  const drafts = held.lots
    .filter((lot) => !earlierHold(lot.lotId))
    .map(({ lotId }): HoldDraft => ({
      ...failedCheckHold(row.checkId, lotId, row.judgement.reasons[0] ?? null),
      ...(held.reach === 'site' && { siteId: row.siteId, propagates: false }),
    }));
  const left = held.lots.filter((lot) => subject.batchId !== null && !lot.waits);
  const remarks = left.map(({ code }) => `Lot ${code} was released before: see where it is, and stop what has left.`);
  return { holds: drafts, findings: findingsOn(row, subject, lots, correction), cleared, remarks, lots };
}

/** One hold for each lot that a check puts in question, however often it is sent. */
export const failedCheckHoldId = (checkId: string, lotId: string): string =>
  derivedId('failed-check', `${checkId}|${lotId}`);

/** For everywhere, and for all that is made from it. */
export const failedCheckHold = (checkId: string, lotId: string, reason: string | null): HoldDraft => ({
  holdId: failedCheckHoldId(checkId, lotId),
  kind: 'failed-check',
  lotId,
  siteId: null,
  accountId: null,
  propagates: true,
  note: reason,
});

function findingsOn(
  row: NewCheck,
  subject: CheckSubject,
  lots: CheckSubject['lots'],
  correction: Correction | undefined,
): FindingDraft[] {
  const one = subject.lots.length === 1 ? subject.lots[0] : undefined;
  const detail = {
    checkId: row.checkId,
    stage: row.stage,
    checkKind: row.kind,
    controlPoint: row.controlPoint,
    about: row.about,
    batchId: row.batchId,
    lotCodes: subject.lots.map((lot) => lot.code).slice(0, 20),
    reasons: row.judgement.reasons,
    factId: row.checkId,
  };
  const base = { siteId: row.siteId, quantity: null, occurredAtMs: row.occurredAtMs, detail };
  const failed = { ...base, kind: 'check-failed', subject: row.checkId, lotId: one?.lotId ?? row.lotId };
  // What waits is stopped by the check itself; what was released rested on what it says otherwise now.
  const ofRecord = row.batchId !== null && (row.controlPoint !== null || correction?.row.result === 'passed');
  const released = ofRecord ? lots.filter((lot) => !lot.waits && !lot.rejected) : [];
  const changed = released.map(({ lotId, code }) => ({
    ...base,
    kind: 'released-on-changed-check',
    subject: `${row.checkId}|${lotId}`,
    lotId,
    detail: { ...detail, lotCode: code, correctedCheckId: correction?.row.checkId ?? null },
  }));
  return [failed, ...changed];
}
