/**
 * Taking a check: loaded, judged, written, with what follows for the food. Nothing is decided by whoever sends it. Deciding and writing are two steps,
 * so that a command that does more than this can refuse before it writes anything. Refusals: `not-found`, `rule-broken`, `series-unusable`,
 * `time-in-future`, `batch-closed`, `invalid-request`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { orLower } from '../../../domain/process-checks/consequences.ts';
import { judge } from '../../../domain/process-checks/judge.ts';
import { keptMeasure, readMeasured } from '../../../domain/process-checks/measured.ts';
import type { Judgement } from '../../../domain/process-checks/shapes.ts';
import { fromInstant, localDate } from '../../../domain/time.ts';
import { NeedsExclusiveGate } from '../../../platform/db/db.ts';
import { derivedId } from '../../../platform/ids.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findEquipment, findSites } from '../../catalogue/index.ts';
import { isPerson } from '../../identity/index.ts';
import { clearFindings, insertFollowingHolds, openFindings, requirePast } from '../../ledger/index.ts';
import { holdAgainst, remarksOn } from './against.ts';
import { whatFollows } from './follows.ts';
import type { CheckBody, Checking, CheckMore, DecidedCheck, TakenCheck } from './shapes.ts';
import { insertAction, insertCheck, insertSeries, type NewCheck } from './store.ts';
import { getSubject } from './subject.ts';

/**
 * @param subject where the caller has it already, such as a packing run that is written in the same call
 * @param correction the check in whose place this one stands; a closed batch takes it
 * @param atMost a further upper limit: the lower of it and the site's counts
 */
export async function decideCheck(
  context: Checking,
  checkId: string,
  body: CheckBody,
  { subject: given, correction, atMost }: CheckMore = {},
): Promise<DecidedCheck> {
  const { tx, scope, actor, nowMs } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const subject = given ?? (await getSubject(tx, site.siteId, body.about));
  const machineId = body.machineId ?? subject.machineId;
  await requireAtSite(context, site.siteId, machineId, 'machine');
  await requireAtSite(context, site.siteId, body.instrumentId ?? null, 'instrument');
  if (body.doneBy !== undefined && !(await isPerson(tx, body.doneBy))) throw notFound('person');
  const measured = readMeasured(body.kind, body);
  const saidAt = body.occurredAt ?? (measured.form === 'elapsed' ? body.toAt : undefined);
  const occurredAtMs = saidAt === undefined ? nowMs : fromInstant(saidAt);
  requirePast(occurredAtMs, nowMs);
  if (measured.form === 'elapsed') requirePast(measured.toMs, nowMs);
  const { against: found, remarks } = await holdAgainst(tx, body, subject);
  const against = atMost ? orLower(found, atMost) : found;
  const judgement = judge(body.kind, measured, against.limit);
  const speaksOfBatch = subject.about.kind === 'batch' || body.controlPoint !== undefined;
  // What failed is heard whatever was decided: two who measure at once would else lose it to the one who released.
  const tellsNothing = judgement.result === 'passed' || subject.lots.every((lot) => lot.rejected);
  if (subject.decided && speaksOfBatch && !correction && tellsNothing) {
    throw new Refused('batch-closed', 'The batch is completed; its loads and packs are released or rejected.');
  }
  const row: NewCheck = {
    checkId,
    siteId: site.siteId,
    stage: body.stage,
    kind: body.kind,
    controlPoint: body.controlPoint ?? null,
    about: subject.about,
    batchId: subject.batchId,
    lotId: subject.lotId,
    packingRunId: subject.packingRunId,
    goodsReceiptId: subject.goodsReceiptId,
    dispatchId: subject.dispatchId,
    placeId: subject.placeId,
    machineId,
    instrumentId: body.instrumentId ?? null,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, site.timeZone),
    recordedBy: actor.actorId,
    doneBy: body.doneBy ?? actor.actorId,
    measured: keptMeasure(measured),
    limits: against,
    judgement,
    documentHref: body.documentHref ?? null,
    note: body.note ?? null,
    supersedesCheckId: correction?.row.checkId ?? null,
    correctionReason: correction?.reason ?? null,
  };
  const { lots, ...follows } = await whatFollows(tx, nowMs, row, subject, correction);
  // Holds that spread are placed under the exclusive gate only; the request begins again before anything is written.
  if (follows.holds.length > 0 && tx.mode !== 'exclusive') throw new NeedsExclusiveGate();
  return {
    row,
    points: measured.form === 'series' ? measured.points : null,
    correctiveAction: correctiveOf(body, judgement),
    ...follows,
    lots,
    remarks: [...remarks, ...(await remarksOn(tx, row, subject)), ...follows.remarks],
  };
}

/** @throws Refused rule-broken: nothing has to be put right where nothing failed */
function correctiveOf({ correctiveAction }: CheckBody, { result }: Judgement): string | null {
  if (correctiveAction === undefined) return null;
  if (result === 'failed') return correctiveAction;
  const detail = 'The check passed: there is nothing that a corrective action would be about.';
  throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/correctiveAction' }] });
}

async function requireAtSite(
  { tx }: Checking,
  siteId: string,
  equipmentId: string | null,
  what: string,
): Promise<void> {
  if (equipmentId === null) return;
  const machine = (await findEquipment(tx, [equipmentId])).get(equipmentId);
  if (!machine || machine.siteId !== siteId) throw notFound(what);
}

/** Writes what was decided, under the gate that it was decided under. */
export async function writeCheck(context: Checking, decided: DecidedCheck): Promise<TakenCheck> {
  const { tx, actor, nowMs } = context;
  const { row, points, correctiveAction, holds, findings, cleared, remarks, lots } = decided;
  const { checkId, siteId, batchId, lotId, packingRunId } = row;
  const { result } = row.judgement;
  await insertCheck(tx, row, nowMs);
  if (points) await insertSeries(tx, checkId, points);
  if (correctiveAction !== null) {
    const action = {
      actionId: derivedId('corrective-action', checkId),
      checkId,
      action: correctiveAction,
      closes: false,
    };
    await insertAction(tx, { ...action, occurredAtMs: row.occurredAtMs, recordedBy: actor.actorId }, nowMs);
  }
  for (const { kind, subject } of cleared) await clearFindings(tx, kind, [subject]);
  await openFindings(tx, findings, nowMs);
  await insertFollowingHolds(tx, holds, actor.actorId, nowMs);
  if (result === 'failed') await outbox(tx, 'check-failed', { checkId, siteId, batchId }, nowMs);
  if (row.supersedesCheckId !== null) {
    await outbox(tx, 'check-corrected', { checkId: row.supersedesCheckId, byCheckId: checkId, batchId }, nowMs);
  }
  const codes = new Map(lots.map((lot) => [lot.lotId, lot.code]));
  const held = holds.map((hold) => ({ holdId: hold.holdId, lotId: hold.lotId, lotCode: codes.get(hold.lotId) ?? '' }));
  return { checkId, siteId, batchId, lotId, packingRunId, result, held, findings, remarks };
}

/** Decides and writes; for callers that do nothing else. */
export async function takeCheck(
  context: Checking,
  checkId: string,
  body: CheckBody,
  more: CheckMore = {},
): Promise<TakenCheck> {
  const decided = await decideCheck(context, checkId, body, more);
  // From here on only success.
  return writeCheck(context, decided);
}
