/**
 * A site's answer. Lines that say what was done are recorded in the ledger by its own operations, each as a fact of its own whose name
 * follows from the answer's. Refusals: `not-found` (the case, the site, a lot that is not in the scope, a place that is not at the
 * site), `wrong-state`, `unit-mismatch`, `rule-broken`, `discard-reason-unknown`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant } from '../../../domain/time.ts';
import { carryOut } from '../../../platform/http/carry-out.ts';
import type { BoundOperation, Context, Reply } from '../../../platform/http/contract.ts';
import { derivedId } from '../../../platform/ids.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findPlaces, findSites, listWasteReasons, type SiteRow } from '../../catalogue/index.ts';
import { checkDiscardReason, ledgerOperations, requireUnit } from '../../ledger/index.ts';
import { siteAnswers } from '../account/answer.ts';
import { loadAccount } from '../account/load.ts';
import { listAsides, listTold } from '../account/queries.ts';
import { requireOpen } from '../open-cases.ts';
import { findRecall, type RecallRow } from '../queries.ts';
import type { answerRecall } from './contract.ts';
import { findScopeLots, insertResponse, insertResponseLines, type ResponseLineRow, type ScopeLotRow } from './store.ts';

type Answering = Context<typeof answerRecall>;
type Line = Answering['body']['lines'][number];

const broken = (detail: string, at: number, field: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/lines/${at}/${field}` }] });

/** Outcomes that are recorded in the ledger. */
const DONE: ReadonlySet<string> = new Set(['quarantined', 'destroyed', 'already-served']);

/** What a line records, by which operation; null: it is a statement. */
interface Recording {
  readonly operationId: 'createRecordedMove' | 'createDiscard' | 'createUse';
  readonly fields: Readonly<Record<string, unknown>>;
}

function recordingOf(line: Line, placeId: string, site: SiteRow, found: RecallRow): Recording | null {
  const { lotId, quantity, unit } = line;
  if (line.outcome === 'destroyed') {
    const why = { reason: 'recall', destination: line.destination ?? 'refuse', note: `Before ${line.witness}` };
    return { operationId: 'createDiscard', fields: { lotId, placeId, quantity, unit, ...why } };
  }
  if (line.outcome === 'already-served') {
    // Served before the notice came: what was served in spite of it is told by its own time.
    const occurredAt = line.servedAt ?? new Date(found.openedAt.getTime() - 1).toISOString();
    return { operationId: 'createUse', fields: { lotId, placeId, quantity, unit, occurredAt } };
  }
  // It stands in quarantine already: saying so moves nothing.
  if (placeId === site.quarantinePlaceId) return null;
  const way = { fromPlaceId: placeId, toPlaceId: site.quarantinePlaceId };
  return { operationId: 'createRecordedMove', fields: { lotId, ...way, quantity, unit } };
}

type SiteReasons = Parameters<typeof checkDiscardReason>[0];

function checkLine(reasons: SiteReasons, line: Line, at: number): void {
  if (line.outcome === 'destroyed' && line.witness === undefined)
    throw broken('What is destroyed is destroyed before a witness: say who.', at, 'witness');
  if (line.outcome === 'destroyed')
    checkDiscardReason(reasons, { reason: 'recall', destination: line.destination ?? 'refuse' });
  if (line.quantity === 0 && line.outcome !== 'not-found')
    throw broken('Zero is only said of what is not there: outcome not-found.', at, 'quantity');
}

/** Each line with what it records; nothing is written yet. */
async function decide(context: Answering, found: RecallRow, site: SiteRow): Promise<(Recording | null)[]> {
  const { tx, body } = context;
  const lots: Map<string, ScopeLotRow> = await findScopeLots(
    tx,
    found.holdId,
    body.lines.map((line) => line.lotId),
  );
  const places = await findPlaces(
    tx,
    body.lines.flatMap((line) => line.placeId ?? []),
  );
  const reasons = (await listWasteReasons(tx, [site.siteId])).get(site.siteId);
  for (const [at, line] of body.lines.entries()) {
    const lot = lots.get(line.lotId);
    if (!lot) throw notFound('lot of the case');
    if (line.placeId !== undefined && places.get(line.placeId)?.siteId !== site.siteId) throw notFound('place');
    requireUnit(lot, line.unit, `#/lines/${at}/unit`);
    checkLine(reasons, line, at);
  }
  if (found.drill) return body.lines.map(() => null);
  const bare = body.lines.some((line) => DONE.has(line.outcome) && line.placeId === undefined);
  const pots = bare ? await listAsides(tx, found.holdId, site.siteId) : [];
  const inPots = new Map(pots.map((row) => [row.lotId, row.inProcess]));
  return body.lines.map((line, at) => {
    if (!DONE.has(line.outcome)) return null;
    if (line.placeId !== undefined) return recordingOf(line, line.placeId, site, found);
    // In a pot it is in no place any more: the ledger has it as consumed.
    if (line.quantity <= (inPots.get(line.lotId) ?? 0)) return null;
    throw broken('Say where it was.', at, 'placeId');
  });
}

const operations: ReadonlyMap<string, BoundOperation> = new Map(
  ledgerOperations.map((bound) => [bound.operation.id, bound]),
);

async function record(context: Answering, recording: Recording, at: number, occurredAt: string): Promise<string> {
  const id = derivedId(`recall-line-${at + 1}`, context.factId);
  const bound = operations.get(recording.operationId) as BoundOperation;
  await carryOut(context, bound, { body: { id, occurredAt, ...recording.fields } });
  return id;
}

export async function answer(context: Answering): Promise<Reply> {
  const { tx, scope, params, body, factId, actor, nowMs } = context;
  const found = await findRecall(tx, scope, params.recallId);
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  if (!found) throw notFound('case');
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  requireOpen(found);
  const respondedAtMs = body.respondedAt === undefined ? nowMs : fromInstant(body.respondedAt);
  const recordings = await decide(context, found, site);
  // From here on only success: what is recorded are observations, which always post.
  const rows: ResponseLineRow[] = [];
  for (const [at, line] of body.lines.entries()) {
    const recording = recordings[at] ?? null;
    const entryFactId = recording && (await record(context, recording, at, new Date(respondedAtMs).toISOString()));
    const { lotId, outcome, quantity } = line;
    const more = { placeId: line.placeId ?? null, witness: line.witness ?? null, note: line.note ?? null };
    rows.push({ lineNo: at + 1, lotId, outcome, quantity, ...more, entryFactId });
  }
  const response = { responseId: factId, recallId: found.recallId, siteId: site.siteId, signedBy: body.signedBy };
  await insertResponse(tx, { ...response, respondedAtMs, recordedBy: actor.actorId, note: body.note ?? null }, nowMs);
  await insertResponseLines(tx, factId, rows);
  await outbox(tx, 'recall-answered', { recallId: found.recallId, siteId: site.siteId, responseId: factId }, nowMs);
  const account = await loadAccount(tx, found, site.siteId);
  const told = (await listTold(tx, found.recallId)).filter((row) => row.siteId === site.siteId);
  const [own] = await siteAnswers(tx, account, told, site.siteId);
  const lines = rows.map(({ entryFactId, ...row }, at) => ({
    ...row,
    unit: body.lines[at]?.unit,
    entryId: entryFactId,
  }));
  const respondedAt = new Date(respondedAtMs).toISOString();
  return { status: 201, body: { ...response, respondedAt, lines, account: own }, siteId: site.siteId };
}
