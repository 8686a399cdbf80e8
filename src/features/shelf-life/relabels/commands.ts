/**
 * The relabel list, and what was done of it. A relabel opens with the earlier date of a part (ledger) and closes by itself where the food is
 * gone. Refusals: `not-found`, `rule-broken`, `serials-do-not-fit`, `wrong-state`, `time-in-future`, `bad-cursor`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant, localDate, utc } from '../../../domain/time.ts';
import { formatUseBy } from '../../../domain/use-by.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { renderSheet } from '../../../platform/pdf/sheet.ts';
import { findSites } from '../../catalogue/index.ts';
import { isPerson } from '../../identity/index.ts';
import { lockPart, markLabelled, requirePast } from '../../ledger/index.ts';
import type { getRelabel, listRelabels, recordRelabel, RelabelAnswer, RelabelDetailAnswer } from './contract.ts';
import { relabelSheet } from './page.ts';
import { findRelabel, insertDone, listDone, listRelabelRows, type DoneRow, type RelabelRow } from './store.ts';

const MOST_ON_PAPER = 500;

const CAUTION =
  'Decision support for trained staff. The earlier date is in force whatever the label says. In doubt do not use it: ask the quality lead. ' +
  'The food-safety plan and local law come first.';

function answerOf(row: RelabelRow, nowMs: number): RelabelAnswer {
  const { timeZone, lotQuantity: _born, printedUseByAt, newUseByAt, openedAt, ...rest } = row;
  return {
    ...rest,
    printedUseByAt: printedUseByAt?.toISOString() ?? null,
    newUseByAt: newUseByAt.toISOString(),
    newUseByText: formatUseBy(newUseByAt.getTime(), timeZone),
    over: newUseByAt.getTime() <= nowMs,
    openedAt: openedAt.toISOString(),
  };
}

export async function readRelabels(context: Context<typeof listRelabels>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const wanted = context.accept(['application/json', 'application/pdf']) === 'application/pdf' ? 'pdf' : 'json';
  if ((query.format ?? wanted) === 'pdf') return printed(context);
  const open = query.open === undefined ? null : query.open === 'true';
  const rows = await listRelabelRows(tx, scope, { siteId: query.siteId ?? null, open }, page);
  return pageReply(
    context.path,
    query,
    page,
    rows.map((row) => answerOf(row, nowMs)),
    (row) => [row.newUseByAt, row.relabelId],
  );
}

/** The list goes to the shelves of one kitchen. */
async function printed({ tx, scope, query, nowMs }: Context<typeof listRelabels>): Promise<Reply> {
  const { siteId } = query;
  if (siteId === undefined) throw new Refused('rule-broken', 'A list to print is for one site: give siteId.');
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  const rows = await listRelabelRows(tx, scope, { siteId, open: true }, { limit: MOST_ON_PAPER, after: null });
  const shown = rows.slice(0, MOST_ON_PAPER).map((row) => answerOf(row, nowMs));
  const sheet = relabelSheet({ site, rows: shown, more: rows.length > MOST_ON_PAPER, caution: CAUTION, nowMs });
  const name = `relabels-${site.code}-${localDate(nowMs, site.timeZone)}.pdf`;
  return {
    status: 200,
    raw: { contentType: 'application/pdf', data: await renderSheet(sheet) },
    headers: { 'Content-Disposition': `inline; filename="${name}"` },
  };
}

async function detailOf(
  { tx, scope, nowMs }: Pick<Context, 'tx' | 'scope' | 'nowMs'>,
  relabelId: string,
): Promise<RelabelDetailAnswer> {
  const row = await findRelabel(tx, scope, relabelId);
  if (!row) throw notFound('relabel');
  const done = (await listDone(tx, relabelId)).map(({ doneAt, recordedAt, serials, ...rest }) => ({
    ...rest,
    serials: [...serials],
    doneAt: doneAt.toISOString(),
    recordedAt: recordedAt.toISOString(),
  }));
  return { ...answerOf(row, nowMs), done, caution: CAUTION };
}

export async function readRelabel(context: Context<typeof getRelabel>): Promise<Reply> {
  return { status: 200, body: await detailOf(context, context.params.relabelId) };
}

type Recording = Context<typeof recordRelabel>;

const broken = (detail: string, pointer: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

/** What is said has to prove something: serials that were read, or an amount and a second pair of eyes. */
function requireProof({ body, actor }: Recording, row: RelabelRow): void {
  const { how, serials, witnessId } = body;
  if ((serials === undefined) === (body.quantity === undefined)) {
    throw broken('Give serials or quantity, one of the two.', '#/serials');
  }
  if ((how === 'written-witnessed') !== (witnessId !== undefined)) {
    throw broken('What is written on by hand has a witness, and only that.', '#/witnessId');
  }
  if (witnessId === actor.actorId) throw broken('The witness is somebody else.', '#/witnessId');
  const misfit = (detail: string) =>
    new Refused('serials-do-not-fit', detail, { errors: [{ detail, pointer: '#/serials' }] });
  if (how === 'scanned' && row.serialised && serials === undefined) {
    throw misfit(`Packs of lot ${row.lotCode} have serials: a scan reads them.`);
  }
  if (serials !== undefined && !row.serialised)
    throw misfit(`Lot ${row.lotCode} is counted; its packs have no serials.`);
  const strange = serials?.find((one) => Number(one) > row.lotQuantity);
  if (strange !== undefined) {
    throw misfit(`Lot ${row.lotCode} has the serials 1 to ${row.lotQuantity}, not ${strange}.`);
  }
}

/** A pack that is scanned twice is one pack. */
function freshSerials(serials: readonly string[], before: readonly DoneRow[]): string[] {
  const known = new Set(before.flatMap((done) => done.serials));
  return [...new Set(serials)].filter((one) => !known.has(one));
}

export async function record(context: Recording): Promise<Reply> {
  const { body, tx, scope, factId, nowMs, actor, params } = context;
  const { relabelId } = params;
  const seen = await findRelabel(tx, scope, relabelId);
  if (!seen) throw notFound('relabel');
  const part = { holdId: relabelId, lotId: seen.lotId, accountId: seen.placeId };
  // Food that comes in under the old label, and an earlier date, wait until this is written.
  await lockPart(tx, part.lotId, part.accountId);
  const row = await findRelabel(tx, scope, relabelId);
  if (!row) throw notFound('relabel');
  requireProof(context, row);
  if (row.state === 'replaced') {
    const detail = `${formatUseBy(row.newUseByAt.getTime(), row.timeZone)} is not the date in force any more: read the list again.`;
    throw new Refused('wrong-state', detail);
  }
  const { witnessId } = body;
  if (witnessId !== undefined && !(await isPerson(tx, witnessId))) throw notFound('person');
  const doneAtMs = body.doneAt === undefined ? nowMs : fromInstant(body.doneAt);
  requirePast(doneAtMs, nowMs);
  if (doneAtMs < row.openedAt.getTime()) {
    throw broken(`The date is known since ${utc(row.openedAt.getTime())}.`, '#/doneAt');
  }
  const serials = freshSerials(body.serials ?? [], await listDone(tx, relabelId));
  // From here on only success.
  const done = {
    doneId: factId,
    how: body.how,
    quantity: body.quantity ?? serials.length,
    serials,
    witnessId: witnessId ?? null,
    nothingLeft: body.nothingLeft ?? false,
    doneAtMs,
    doneBy: actor.actorId,
  };
  await insertDone(tx, relabelId, done, nowMs);
  const after = await findRelabel(tx, scope, relabelId);
  if (after?.state === 'open' && (done.nothingLeft || after.left === 0)) await markLabelled(tx, part, nowMs);
  return {
    status: 201,
    body: await detailOf(context, relabelId),
    siteId: row.siteId,
    headers: { Location: `/v1/relabels/${relabelId}` },
  };
}
