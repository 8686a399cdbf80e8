/**
 * A dispatch leaves: by request, or recorded afterwards. Refusals of both: `not-found`, `wrong-state`; of the request also
 * `insufficient-stock`, `on-hold`, `past-use-by`, `quarantined`, `diet-mismatch`, `rule-broken`, `time-in-future`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { netOf, partKey, post, type Book } from '../../domain/ledger/book.ts';
import type { Part } from '../../domain/ledger/marks.ts';
import { refusalFor } from '../../domain/ledger/may.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { outbox } from '../../platform/jobs.ts';
import { findPlaces, findSites, type PlaceRow } from '../catalogue/index.ts';
import {
  findHoldsReaching,
  findingsOf,
  findLots,
  insertHolds,
  loadBook,
  partFacts,
  placeAccount,
  requirePast,
  transitAccount,
  writeBook,
  type FindingDraft,
  type LotRow,
} from '../ledger/index.ts';
import { brief, dispatchAnswer, requirePlanned } from './commands.ts';
import type * as contract from './contract.ts';
import { judgeLeft } from './left.ts';
import { refreshMissing } from './missing.ts';
import { requireRequirementsMet } from './requirements/refusals.ts';
import { findClosing } from './store-receipts.ts';
import { listLines, lockDispatches, setState, type DispatchRow, type LineRow } from './store.ts';

interface LoadedLine extends Pick<LineRow, 'lotId' | 'quantity' | 'requirementId'> {
  readonly lot: LotRow;
  readonly place: PlaceRow;
}

interface Load {
  readonly timeZone: string;
  readonly lines: readonly LoadedLine[];
}

/** What is to go. The lines were checked against the planner's sites; whoever drives need not see them all. */
async function loadOf(context: Pick<Context, 'tx'>, row: DispatchRow): Promise<Load> {
  const lines = await listLines(context.tx, [row.dispatchId]);
  const site = (await findSites(context.tx, [row.fromSiteId])).get(row.fromSiteId);
  const places = await findPlaces(
    context.tx,
    lines.flatMap((line) => line.placeId ?? []),
  );
  const lots = await findLots(
    context.tx,
    lines.map((line) => line.lotId),
  );
  return {
    timeZone: site?.timeZone ?? 'UTC',
    lines: lines.flatMap(({ lotId, placeId, quantity, requirementId }) => {
      const lot = lots.get(lotId);
      const place = places.get(placeId ?? '');
      return lot && place ? [{ lotId, quantity, requirementId, lot, place }] : [];
    }),
  };
}

function loadDepartureBook(context: Pick<Context, 'tx'>, row: DispatchRow, load: Load): Promise<Book> {
  const transit = transitAccount(row.dispatchId, row.fromSiteId, row.toSiteId);
  return loadBook(
    context.tx,
    load.lines.flatMap(({ lotId, place }) => [
      { lotId, account: placeAccount(place.placeId, row.fromSiteId) },
      { lotId, account: transit },
    ]),
  );
}

function postDeparture(
  context: Context,
  book: Book,
  row: DispatchRow,
  load: Load,
  departedAtMs: number,
  note?: Readonly<Record<string, unknown>>,
): void {
  post(book, {
    entryId: context.factId,
    kind: 'dispatch',
    factId: context.factId,
    siteId: row.fromSiteId,
    occurredAtMs: departedAtMs,
    occurredOn: localDate(departedAtMs, load.timeZone),
    contentHash: context.contentHash,
    dispatchId: row.dispatchId,
    ...(note && { note }),
    moves: load.lines.map(({ lotId, place, quantity }) => ({
      lotId,
      fromAccountId: place.placeId,
      toAccountId: row.dispatchId,
      quantity,
      basis: 'counted',
    })),
  });
}

async function lockMine({ tx, scope }: Pick<Context, 'tx' | 'scope'>, dispatchId: string): Promise<DispatchRow> {
  const row = (await lockDispatches(tx, [dispatchId])).get(dispatchId);
  if (!row || !scope.includes(row.fromSiteId)) throw notFound('dispatch');
  return row;
}

const writer = ({ tx, ids, actor, nowMs }: Context) => ({ tx, ids, actorId: actor.actorId, nowMs });

export async function depart(context: Context<typeof contract.createDeparture>): Promise<Reply> {
  const { body, tx, nowMs } = context;
  const row = await lockMine(context, context.params.dispatchId);
  const load = await loadOf(context, row);
  if (row.state === 'closed' && row.departedAt === null)
    throw new Refused('wrong-state', `Dispatch ${row.code} has been received; record afterwards that it left.`);
  requirePlanned(row);
  const lots = new Map(load.lines.map(({ lot }) => [lot.lotId, lot]));
  await requireRequirementsMet(tx, row.toSiteId, load.lines, lots);
  const departedAtMs = body.departedAt ? fromInstant(body.departedAt) : nowMs;
  requirePast(departedAtMs, nowMs);
  const book = await loadDepartureBook(context, row, load);
  const holds = await findHoldsReaching(
    tx,
    load.lines.map((line) => line.lotId),
    nowMs,
  );
  const taken = new Map<string, number>();
  for (const [at, { lot, place, quantity }] of load.lines.entries()) {
    const part = { lotId: lot.lotId, accountId: place.placeId };
    const before = taken.get(partKey(part)) ?? 0;
    // What goes back or goes to be destroyed may be held, past its date or from quarantine; it must only be there.
    const action = row.purpose === 'delivery' ? 'leave-site' : 'move-within-site';
    const available = netOf(book, part) - before;
    const pointer = `#/lines/${at}/quantity`;
    const refusal = refusalFor(partFacts(lot, place, holds), action, nowMs, quantity, available, pointer);
    if (refusal) throw refusal;
    taken.set(partKey(part), before + quantity);
  }
  postDeparture(context, book, row, load, departedAtMs);
  // From here on only success.
  await writeBook(writer(context), book);
  await setState(tx, row.dispatchId, 'departed', departedAtMs);
  await outbox(tx, 'dispatch-departed', { dispatchId: row.dispatchId, toSiteId: row.toSiteId }, nowMs);
  return replyOf(context, row, await dispatchAnswer(context, row.dispatchId));
}

/** The food is gone already: it always posts. Receipts may have come first, and may have been closed. */
export async function recordDeparture(context: Context<typeof contract.createRecordedDeparture>): Promise<Reply> {
  const { body, tx, nowMs, factId } = context;
  const row = await lockMine(context, context.params.dispatchId);
  const load = await loadOf(context, row);
  const closing = await findClosing(tx, row.dispatchId);
  if (row.departedAt !== null) throw new Refused('wrong-state', `Dispatch ${row.code} has departed already.`);
  if (row.borrowed || row.refusedFromId !== null) requirePlanned(row);
  const departedAtMs = fromInstant(body.departedAt);
  const book = await loadDepartureBook(context, row, load);
  const holds = await findHoldsReaching(
    tx,
    load.lines.map((line) => line.lotId),
    departedAtMs,
  );
  postDeparture(context, book, row, load, departedAtMs, { recordedAfterwards: true, note: body.note });
  const at = { factId, dispatchId: row.dispatchId, dispatchCode: row.code, departedAtMs, ...endsOf(row) };
  // A return or a destruction may leave although it is held or past its date.
  const left = judgeLeft(at, row.purpose === 'delivery' ? load.lines : [], holds);
  const first = load.lines[0];
  const ahead = first ? findingsOf({ factId, ...first, occurredAtMs: departedAtMs, serving: false }, [], nowMs) : [];
  // From here on only success.
  await writeBook(writer(context), book, [], [...left.findings, ...ahead]);
  await insertHolds(tx, left.holds, context.actor.actorId, nowMs);
  const state = closing ? 'closed' : 'departed';
  await setState(tx, row.dispatchId, state, departedAtMs);
  await outbox(tx, 'dispatch-departed', { dispatchId: row.dispatchId, toSiteId: row.toSiteId }, nowMs);
  const missing = await refreshMissing(tx, [{ ...row, state }], factId, departedAtMs, nowMs);
  const short = shortOf(book, row.fromSiteId, load.lines, departedAtMs, factId);
  const findings = [...left.findings, ...ahead, ...short, ...missing].map(brief);
  return replyOf(context, row, { ...(await dispatchAnswer(context, row.dispatchId)), findings });
}

const endsOf = ({ fromSiteId, toSiteId }: DispatchRow) => ({ fromSiteId, toSiteId });

/** What the places that it left owe now, as an answer shows it. */
function shortOf(
  book: Book,
  siteId: string,
  lines: readonly LoadedLine[],
  occurredAtMs: number,
  factId: string,
): FindingDraft[] {
  const parts = lines.map(({ lot, place }) => ({ lot, lotId: lot.lotId, accountId: place.placeId }));
  return [...new Map(parts.map((part) => [partKey(part), part])).values()].flatMap((part: Part & { lot: LotRow }) => {
    const net = netOf(book, part);
    if (net >= 0) return [];
    const detail = { lotCode: part.lot.code, placeId: part.accountId, missing: -net, factId };
    const about = { kind: 'shortfall', subject: partKey(part), siteId, lotId: part.lotId };
    return [{ ...about, quantity: -net, occurredAtMs, detail }];
  });
}

function replyOf(context: Context, row: DispatchRow, body: object): Reply {
  return { status: 201, body, siteId: row.fromSiteId, headers: { Location: `/v1/dispatches/${row.dispatchId}` } };
}
