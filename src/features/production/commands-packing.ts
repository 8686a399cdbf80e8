/**
 * Packing. Asked for, it is refused for stock, hold and date; recorded afterwards the packs are sealed already: it always posts, and what
 * conflicts becomes a finding and, where the food or its label is in doubt, a hold. Both come through here. Refusals: `not-found`,
 * `unit-mismatch`, `item-unsuitable`, `code-taken`, `rule-broken`; of a request also `insufficient-stock`, `on-hold`, `past-use-by`,
 * `quarantined`, `checks-not-passed`, `clean-down-needed`, `anchor-missing`, `use-by-later-than-computed`, `time-in-future`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { netOf, post, type Book, type Move } from '../../domain/ledger/book.ts';
import { refusalFor } from '../../domain/ledger/may.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { outbox } from '../../platform/jobs.ts';
import { findItems, findPlaces, findSites, lockEquipment } from '../catalogue/index.ts';
import { findPeopleNames } from '../identity/index.ts';
import {
  addEdges,
  findHoldsReaching,
  findLots,
  inPlace,
  findVisibleLots,
  insertFollowingHolds,
  insertLots,
  judgeBorn,
  loadBook,
  outside,
  partFacts,
  placeAccount,
  requireFreeLots,
  requirePast,
  shortfallNow,
  writeBook,
  type FindingDraft,
  type ReachingHold,
} from '../ledger/index.ts';
import { batchReply, getBatchForWrite } from './commands-batch.ts';
import type * as contract from './contract-packing.ts';
import { MOST_SINGLE_PACKS } from './contract-packing.ts';
import { makeFill, type FillParts, type MadeFill, type Packing } from './fills.ts';
import { judgeMachine } from './machines.ts';
import { readSaid, standingOf, writeSaid } from './packing-runs/said.ts';
import { presumedNote, putAwayOf } from './put-away.ts';
import { findingsOfFills, holdsOfFills } from './recorded-fills.ts';
import { releaseWhatIsComplete } from './release/automatic.ts';
import { findingsOfUnchecked, letPacksWait, listUnchecked, requireChecked } from './release/unpacked.ts';
import { requireClean } from './separation.ts';
import { insertFills, insertRun, type FillRow } from './store-packing.ts';
import type { BatchRow } from './store.ts';

export const pack = (context: Packing): Promise<Reply> => seal(context, 'request');

export const recordRun = (context: Context<typeof contract.createRecordedPackingRun>): Promise<Reply> =>
  seal(context, 'observation');

async function partsOfFills(context: Packing, batch: BatchRow, asked: boolean): Promise<FillParts[]> {
  const { body, tx, scope } = context;
  const fromIds = body.fills.map((fill) => fill.fromLotId);
  const lots = asked ? await findVisibleLots(tx, scope, fromIds) : await findLots(tx, fromIds);
  const items = await findItems(
    tx,
    body.fills.flatMap((fill) => [fill.packItemId, ...(fill.pouchItemId ? [fill.pouchItemId] : [])]),
  );
  const site = (await findSites(tx, [batch.siteId])).get(batch.siteId);
  if (!site) throw notFound('site');
  const putAway = putAwayOf(site);
  const toPlaceId = (fill: Packing['body']['fills'][number]) => fill.toPlaceId ?? putAway(items.get(fill.packItemId));
  const places = await findPlaces(
    tx,
    body.fills.flatMap((fill) => [fill.fromPlaceId, toPlaceId(fill)]),
  );
  return body.fills.map((fill) => {
    const from = lots.get(fill.fromLotId);
    const fromPlace = places.get(fill.fromPlaceId);
    const toPlace = places.get(toPlaceId(fill));
    const item = items.get(fill.packItemId);
    const pouch = fill.pouchItemId ? items.get(fill.pouchItemId) : undefined;
    if (!from) throw notFound('lot');
    if (fromPlace?.siteId !== batch.siteId || toPlace?.siteId !== batch.siteId) throw notFound('place');
    if (!item || (fill.pouchItemId && !pouch)) throw notFound('item');
    return { fill, from, fromPlace, toPlace, item, pouch };
  });
}

const source = ({ from, fromPlace }: FillParts) => ({
  lotId: from.lotId,
  account: placeAccount(fromPlace.placeId, fromPlace.siteId),
});

/** A request takes only what is there, may be used and is in date. */
function requireUsable(fills: readonly FillParts[], book: Book, holds: readonly ReachingHold[], nowMs: number): void {
  const wanted = new Map<string, number>();
  for (const [at, { from, fromPlace, fill }] of fills.entries()) {
    const key = `${from.lotId}|${fromPlace.placeId}`;
    const taken = wanted.get(key) ?? 0;
    const available = netOf(book, { lotId: from.lotId, accountId: fromPlace.placeId }) - taken;
    const part = partFacts(from, fromPlace, holds);
    const pointer = `#/fills/${at}/usedQuantity`;
    const refusal = refusalFor(part, 'use-in-batch', nowMs, fill.usedQuantity, available, pointer);
    if (refusal) throw refusal;
    wanted.set(key, taken + fill.usedQuantity);
  }
}

async function seal(context: Packing, mode: 'request' | 'observation'): Promise<Reply> {
  const { body, tx, params, factId, nowMs, actor } = context;
  const asked = mode === 'request';
  const batch = await getBatchForWrite(context, params.batchId);
  // Runs on one machine are judged one after the other.
  const equipment = await lockEquipment(tx, body.equipmentId);
  const parts = await partsOfFills(context, batch, asked);
  const packerId = body.packerId ?? actor.actorId;
  const packerName = (await findPeopleNames(tx, [packerId])).get(packerId);
  if (!equipment || equipment.siteId !== batch.siteId) throw notFound('equipment');
  if (body.packerId && !packerName) throw notFound('person');
  if (equipment.kind !== 'vacuum-packer')
    throw new Refused('item-unsuitable', `${equipment.name} is not a vacuum packer.`);
  const startedAtMs = fromInstant(body.startedAt);
  const finishedAtMs = fromInstant(body.finishedAt);
  if (asked) requirePast(finishedAtMs, nowMs);
  if (finishedAtMs < startedAtMs) throw new Refused('rule-broken', 'The run finished before it started.');
  const times = { startedAtMs, finishedAtMs };
  const reading = await loadBook(tx, parts.map(source), [batch.siteId]);
  const fromIds = parts.map(({ from }) => from.lotId);
  const holds = await findHoldsReaching(tx, fromIds, Math.min(finishedAtMs, nowMs));
  const fills = parts.map((one, at) => {
    const from = inPlace(one.from, one.fromPlace.placeId, holds);
    return makeFill(context, batch, { ...one, from }, at, times, !asked);
  });
  const lots = fills.flatMap(({ made }) => made.map(({ lot }) => lot));
  if (fills.reduce((count, { fill }) => count + (fill.packMassesG?.length ?? 0), 0) > MOST_SINGLE_PACKS) {
    throw new Refused('rule-broken', `One run weighs at most ${MOST_SINGLE_PACKS} packs singly.`);
  }
  await requireFreeLots(tx, lots);
  if (asked) requireUsable(fills, reading, holds, nowMs);
  if (asked) await requireClean(tx, equipment, { packingRunId: factId, ...times, fills }, nowMs);
  const said = await readSaid(context, { batch, fills, holds, finishedAtMs, asked });
  const lotsFrom = fills.map(({ from }) => from);
  const unchecked = await listUnchecked(tx, lotsFrom, standingOf(said));
  if (asked) requireChecked(unchecked);
  // From here on only success.
  await insertLots(tx, lots, nowMs);
  const targets = fills.flatMap(({ made, toPlace }) =>
    made.map(({ lot }) => ({ lotId: lot.lotId, account: placeAccount(toPlace.placeId, batch.siteId) })),
  );
  const book = await loadBook(tx, [...fills.map(source), ...targets], [batch.siteId]);
  const run = { factId, finishedAtMs, nowMs };
  const findings = asked
    ? []
    : [
        ...findingsOfFills(run, fills, holds),
        ...findingsOfUnchecked({ factId, finishedAtMs, siteId: batch.siteId }, unchecked),
      ];
  post(book, {
    entryId: factId,
    kind: 'packing',
    factId,
    siteId: batch.siteId,
    occurredAtMs: finishedAtMs,
    occurredOn: localDate(finishedAtMs, batch.timeZone),
    contentHash: context.contentHash,
    batchId: batch.batchId,
    packingRunId: factId,
    note: noteOf(fills),
    moves: fills.flatMap((fill) => movesOf(batch, fill)),
  });
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book, [], findings);
  await insertRun(tx, {
    packingRunId: factId,
    batchId: batch.batchId,
    siteId: batch.siteId,
    equipmentId: equipment.equipmentId,
    programme: said.programme,
    named: said.named,
    packerId,
    packerName: packerName ?? 'unknown',
    startedAtMs,
    finishedAtMs,
    packsRejected: said.packsRejected,
  });
  await insertFills(tx, factId, rowsOf(fills));
  const edges = fills.flatMap(({ from, made }) =>
    made.map(({ lot }) => ({
      parentLotId: from.lotId,
      childLotId: lot.lotId,
      processId: factId,
      capsUseBy: true,
    })),
  );
  await addEdges(tx, edges, nowMs);
  const packLotIds = lots.map((lot) => lot.lotId);
  const packed = fills.map(({ from, made }) => ({
    fromBatchId: from.batchId,
    packLotIds: made.map(({ lot }) => lot.lotId),
  }));
  await letPacksWait(tx, batch.batchId, packed, actor.actorId, nowMs);
  const failed = await writeSaid(context, said);
  if (!asked) await insertFollowingHolds(tx, holdsOfFills(run, fills, holds), actor.actorId, nowMs);
  const judging = { tx, nowMs, actorId: actor.actorId };
  const carried = await judgeMachine(judging, equipment, startedAtMs);
  const undeclared = await judgeBorn(judging, lots, new Map(fills.map(({ item }) => [item.itemId, item])));
  await outbox(tx, 'lots-born', { lotIds: packLotIds }, nowMs);
  // Last: what was found so far holds packs that would otherwise leave.
  await releaseWhatIsComplete(context, batch.batchId);
  const short = asked ? [] : shortOf(book, fills, finishedAtMs, factId);
  const own = carried.filter((finding) => finding.detail.factId === factId);
  return batchReply(context, batch.batchId, [...findings, ...short, ...own, ...undeclared, ...failed]);
}

/** Once for each part that food was taken from. */
function shortOf(book: Book, fills: readonly MadeFill[], atMs: number, factId: string): FindingDraft[] {
  const parts = new Map(fills.map((fill) => [`${fill.from.lotId}|${fill.fromPlace.placeId}`, fill]));
  return [...parts.values()].flatMap(({ from, fromPlace }) => shortfallNow(book, from, fromPlace, atMs, factId));
}

function movesOf(batch: BatchRow, { from, fromPlace, toPlace, fill, made }: MadeFill): Move[] {
  const used: Move = {
    lotId: from.lotId,
    fromAccountId: fromPlace.placeId,
    toAccountId: outside('consumed', batch.siteId),
    quantity: fill.usedQuantity,
    basis: 'weighed',
  };
  const packs = made.map(({ lot }): Move => ({
    lotId: lot.lotId,
    fromAccountId: outside('produced', batch.siteId),
    toAccountId: toPlace.placeId,
    quantity: lot.quantity,
    basis: 'counted',
  }));
  return [used, ...packs];
}

/** What the postings do not say: places that were presumed, and the tare that was taken off. */
function noteOf(fills: readonly MadeFill[]): Record<string, unknown> {
  const puts = fills.flatMap(({ fill, toPlace, made }) =>
    made.map(({ lot }) => ({ lotId: lot.lotId, placeId: toPlace.placeId, presumed: fill.toPlaceId === undefined })),
  );
  const tares = fills.flatMap(({ fill, pouch, made }) =>
    pouch
      ? [
          {
            lotId: made[0]?.lot.lotId,
            grossMassG: fill.grossMassG,
            pouchItemId: pouch.itemId,
            pouchMassMg: pouch.unitMassMg,
          },
        ]
      : [],
  );
  return { ...presumedNote(puts), ...(tares.length > 0 && { tares }) };
}

function rowsOf(fills: readonly MadeFill[]): FillRow[] {
  return fills
    .flatMap(({ from, made, sealedAtMs }) =>
      made.map(({ lot, usedQuantity }) => ({
        fromLotId: from.lotId,
        usedQuantity,
        packLotId: lot.lotId,
        packs: lot.quantity,
        changedOverAtMs: sealedAtMs,
      })),
    )
    .map((row, at) => ({ lineNo: at + 1, ...row }));
}
