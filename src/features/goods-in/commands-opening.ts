/**
 * Opening stock. Refusals: `not-found`, `csv-unreadable`, `atomic-refused`, `code-taken`, `rule-broken`. Findings: `past-use-by`,
 * and those of a label.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { fromInstant, localDate, utc } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { outbox } from '../../platform/jobs.ts';
import {
  findItems,
  findItemsByCode,
  findPlaces,
  findPlacesByCode,
  findSites,
  presumedPlaceId,
} from '../catalogue/index.ts';
import {
  findLotsByCode,
  insertLots,
  loadBook,
  outside,
  placeAccount,
  requireFreeLots,
  writeBook,
  type FindingDraft,
} from '../ledger/index.ts';
import { presumedPlaces } from './commands.ts';
import type * as contract from './contract-opening.ts';
import { labelFindings } from './lines.ts';
import { judge, type Judged, type Opening } from './opening.ts';
import { readTable, type OpeningRow } from './opening-csv.ts';

/** What a problem document names at most. */
const MOST_NAMED = 20;

type Body = Context<typeof contract.checkOpeningStock>['body'];

function rowsOf(body: Body): OpeningRow[] {
  if ((body.lines === undefined) === (body.csv === undefined)) {
    const detail = 'Give lines or csv.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/lines' }] });
  }
  if (body.csv !== undefined) return readTable(body.csv);
  return (body.lines ?? []).map(({ itemId, placeId, ...line }, at) => ({
    ...line,
    row: at + 1,
    item: { itemId },
    place: placeId === undefined ? null : { placeId },
    unreadable: [],
  }));
}

/** Loads what the rows name and judges each. */
async function look(
  context: Pick<Context, 'tx' | 'scope' | 'factId'>,
  body: Body,
): Promise<Judged & { opening: Opening; rows: number }> {
  const { tx, scope, factId } = context;
  const rows = rowsOf(body);
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const items = await findItems(
    tx,
    rows.flatMap(({ item }) => ('itemId' in item ? [item.itemId] : [])),
  );
  const byCode = await findItemsByCode(
    tx,
    rows.flatMap(({ item }) => ('itemCode' in item ? [item.itemCode] : [])),
  );
  const places = await findPlaces(
    tx,
    rows.flatMap(({ place }) => (place && 'placeId' in place ? [place.placeId] : [])).concat(presumedPlaces(site)),
  );
  const placesByCode = await findPlacesByCode(
    tx,
    body.siteId,
    rows.flatMap(({ place }) => (place && 'placeCode' in place ? [place.placeCode] : [])),
  );
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const looked = rows.map((said) => {
    const item = 'itemId' in said.item ? items.get(said.item.itemId) : byCode.get(said.item.itemCode);
    if (!item && 'itemId' in said.item) throw notFound('item');
    const named = said.place && 'placeCode' in said.place ? placesByCode.get(said.place.placeCode) : undefined;
    const placeId = said.place && 'placeId' in said.place ? said.place.placeId : undefined;
    const presumed = said.place === null;
    const place = named ?? places.get(placeId ?? (presumed && item ? presumedPlaceId(site, item.storage) : ''));
    if (placeId !== undefined && place?.siteId !== site.siteId) throw notFound('place');
    return { said, item, place, presumed };
  });
  const codes = rows.flatMap((row) => (row.lotCode === undefined ? [] : [row.lotCode]));
  const takenCodes = new Set((await findLotsByCode(tx, codes)).keys());
  const opening = { factId, site, occurredAtMs: fromInstant(body.occurredAt) };
  const judged = judge(opening, looked, takenCodes);
  await requireFreeLots(tx, judged.lots);
  return { ...judged, opening, rows: rows.length };
}

function reportOf(
  { good, doubtful, refused, opening, rows }: Awaited<ReturnType<typeof look>>,
  recorded: boolean,
): contract.OpeningReport {
  const taken = good.map(({ said, item, place, presumed, quantity, lotId, lotCode }) => ({
    row: said.row,
    lotId: recorded ? lotId : null,
    lotCode: recorded ? lotCode : (said.lotCode ?? null),
    itemId: item.itemId,
    itemCode: item.code,
    itemName: item.name,
    placeId: place.placeId,
    placePresumed: presumed,
    quantity,
    unit: item.unit,
    entryUnit: said.entryUnit ?? null,
    entryQuantity: said.entryQuantity ?? null,
    useByDate: said.useByDate ?? null,
    bestBeforeDate: said.bestBeforeDate ?? null,
  }));
  taken.sort((a, b) => a.row - b.row);
  const about = { siteId: opening.site.siteId, occurredAt: utc(opening.occurredAtMs), rows };
  return { ...about, taken, doubtful: [...doubtful], refused: [...refused] };
}

export async function checkOpening(context: Context<typeof contract.checkOpeningStock>): Promise<Reply> {
  return { status: 200, body: reportOf(await look(context, context.body), false) };
}

function findingsOf({ opening, lots, good }: Judged & { opening: Opening }): FindingDraft[] {
  const { factId, site, occurredAtMs } = opening;
  return lots.flatMap((lot) => {
    const about = { siteId: site.siteId, subject: lot.lotId, lotId: lot.lotId, quantity: null, occurredAtMs };
    const shown = good
      .filter((row) => row.lotId === lot.lotId && row.said.allergens !== undefined)
      .flatMap((row) => labelFindings(row.said, row.item));
    const past = lot.useBy !== null && lot.useBy.endsAtMs <= occurredAtMs;
    const found = past
      ? [{ kind: 'past-use-by', detail: { useByDate: lot.useBy?.date, atOpening: true } }, ...shown]
      : shown;
    return found.map(({ kind, detail }) => ({ ...about, kind, detail: { lotCode: lot.code, ...detail, factId } }));
  });
}

export async function takeOpening(context: Context<typeof contract.createOpeningStock>): Promise<Reply> {
  const { body, tx, nowMs, factId, actor } = context;
  const { takeGood, id: _id, ...stock } = body;
  const looked = await look(context, stock);
  const { good, lots, refused, opening } = looked;
  if (good.length === 0 || (refused.length > 0 && takeGood !== true)) {
    const detail =
      refused.length === 0
        ? 'There is no row to record.'
        : `${refused.length} of ${looked.rows} rows were refused: row ${refused[0]?.row}: ${refused[0]?.reasons[0]}`;
    throw new Refused('atomic-refused', detail, { members: { results: refused.slice(0, MOST_NAMED) } });
  }
  const { site, occurredAtMs } = opening;
  const findings = findingsOf(looked);
  const presumed = good.flatMap((row) => (row.presumed ? [{ lotId: row.lotId, placeId: row.place.placeId }] : []));
  const said = good.flatMap(({ said: { row, entryUnit, entryQuantity }, lotId }) =>
    entryUnit === undefined ? [] : [{ row, lotId, entryUnit, entryQuantity }],
  );
  // From here on only success.
  await insertLots(tx, lots, nowMs);
  const book = await loadBook(
    tx,
    good.map((row) => ({ lotId: row.lotId, account: placeAccount(row.place.placeId, site.siteId) })),
    [site.siteId],
  );
  post(book, {
    entryId: factId,
    kind: 'opening-stock',
    factId,
    siteId: site.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, site.timeZone),
    contentHash: context.contentHash,
    note: { ...(presumed.length > 0 && { presumed }), ...(said.length > 0 && { said }) },
    moves: good.map((row) => ({
      lotId: row.lotId,
      fromAccountId: outside('supplier', site.siteId),
      toAccountId: row.place.placeId,
      quantity: row.quantity,
      basis: 'counted',
    })),
  });
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book, [], findings);
  await outbox(tx, 'lots-born', { lotIds: lots.map((lot) => lot.lotId) }, nowMs);
  const shown = findings.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail }));
  return {
    status: 201,
    body: { ...reportOf(looked, true), entryId: factId, findings: shown },
    siteId: site.siteId,
    headers: { Location: `/v1/entries/${factId}` },
  };
}
