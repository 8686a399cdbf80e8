/**
 * Packing. Refusals: `not-found`, `unit-mismatch`, `item-unsuitable`, `insufficient-stock`, `on-hold`, `past-use-by`,
 * `quarantined`, `anchor-missing`, `use-by-later-than-computed`, `code-taken`, `time-in-future`, `rule-broken`.
 */
import { bornAllergens, bornUseBy } from '../../domain/birth.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import { netOf, post } from '../../domain/ledger/book.ts';
import { refusalFor } from '../../domain/ledger/may.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { findEquipment, findItems, findPlaces, type ItemRow, type PlaceRow } from '../catalogue/index.ts';
import { findPeopleNames } from '../identity/index.ts';
import {
  addEdges,
  findHoldsReaching,
  findVisibleLots,
  insertLots,
  loadBook,
  outside,
  partFacts,
  placeAccount,
  requireFreeLots,
  requirePast,
  requireUnit,
  writeBook,
  type LotDraft,
  type LotRow,
} from '../ledger/index.ts';
import { batchReply, getBatchForWrite } from './commands-batch.ts';
import type * as contract from './contract-packing.ts';
import { insertFills, insertRun, type BatchRow } from './store.ts';

type Pack = Context<typeof contract.createPackingRun>;
type Fill = Pack['body']['fills'][number];

interface FillParts {
  readonly fill: Fill;
  readonly from: LotRow;
  readonly fromPlace: PlaceRow;
  readonly toPlace: PlaceRow;
  readonly item: ItemRow;
}

export async function pack(context: Pack): Promise<Reply> {
  const { body, tx, params, factId, nowMs, actor, scope } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  const equipment = (await findEquipment(tx, [body.equipmentId])).get(body.equipmentId);
  const lots = await findVisibleLots(
    tx,
    scope,
    body.fills.map((fill) => fill.fromLotId),
  );
  const places = await findPlaces(
    tx,
    body.fills.flatMap((fill) => [fill.fromPlaceId, fill.toPlaceId]),
  );
  const items = await findItems(
    tx,
    body.fills.map((fill) => fill.packItemId),
  );
  const packerId = body.packerId ?? actor.actorId;
  const packerName = (await findPeopleNames(tx, [packerId])).get(packerId);
  if (!equipment || equipment.siteId !== batch.siteId) throw notFound('equipment');
  if (body.packerId && !packerName) throw notFound('person');
  if (equipment.kind !== 'vacuum-packer')
    throw new Refused('item-unsuitable', `${equipment.name} is not a vacuum packer.`);
  const startedAtMs = fromInstant(body.startedAt);
  const finishedAtMs = fromInstant(body.finishedAt);
  requirePast(finishedAtMs, nowMs);
  if (finishedAtMs < startedAtMs) throw new Refused('rule-broken', 'The run finished before it started.');
  const fills = body.fills.map((fill): FillParts => {
    const from = lots.get(fill.fromLotId);
    const fromPlace = places.get(fill.fromPlaceId);
    const toPlace = places.get(fill.toPlaceId);
    const item = items.get(fill.packItemId);
    if (!from) throw notFound('lot');
    if (fromPlace?.siteId !== batch.siteId || toPlace?.siteId !== batch.siteId) throw notFound('place');
    if (!item) throw notFound('item');
    return { fill, from, fromPlace, toPlace, item };
  });
  const packs = fills.map((parts, at) => packLot(context, batch, parts, at, startedAtMs, finishedAtMs));
  await requireFreeLots(tx, packs);

  const source = (parts: FillParts) => ({
    lotId: parts.from.lotId,
    account: placeAccount(parts.fromPlace.placeId, batch.siteId),
  });
  const reading = await loadBook(tx, fills.map(source), [batch.siteId]);
  const holds = await findHoldsReaching(tx, [...lots.keys()], nowMs);
  const wanted = new Map<string, number>();
  for (const [at, parts] of fills.entries()) {
    const key = `${parts.from.lotId}|${parts.fromPlace.placeId}`;
    const taken = wanted.get(key) ?? 0;
    const available = netOf(reading, { lotId: parts.from.lotId, accountId: parts.fromPlace.placeId }) - taken;
    const pointer = `#/fills/${at}/usedQuantity`;
    const refusal = refusalFor(
      partFacts(parts.from, parts.fromPlace, holds),
      'use-in-batch',
      nowMs,
      parts.fill.usedQuantity,
      available,
      pointer,
    );
    if (refusal) throw refusal;
    wanted.set(key, taken + parts.fill.usedQuantity);
  }
  // From here on only success.
  await insertLots(tx, packs);
  const target = (parts: FillParts, at: number) => ({
    lotId: packs[at]?.lotId ?? '',
    account: placeAccount(parts.toPlace.placeId, batch.siteId),
  });
  const book = await loadBook(tx, [...fills.map(source), ...fills.map(target)], [batch.siteId]);
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
    moves: fills.flatMap((parts, at) => [
      {
        lotId: parts.from.lotId,
        fromAccountId: parts.fromPlace.placeId,
        toAccountId: outside('consumed', batch.siteId),
        quantity: parts.fill.usedQuantity,
        basis: 'weighed' as const,
      },
      {
        lotId: packs[at]?.lotId ?? '',
        fromAccountId: outside('produced', batch.siteId),
        toAccountId: parts.toPlace.placeId,
        quantity: parts.fill.packs,
        basis: 'counted' as const,
      },
    ]),
  });
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book);
  await insertRun(tx, {
    packingRunId: factId,
    batchId: batch.batchId,
    siteId: batch.siteId,
    equipmentId: equipment.equipmentId,
    programme: body.programme,
    packerId,
    packerName: packerName ?? 'unknown',
    startedAtMs,
    finishedAtMs,
    packsRejected: body.packsRejected ?? 0,
  });
  const changedOverAtMs = (fill: Fill) => (fill.changedOverAt ? fromInstant(fill.changedOverAt) : startedAtMs);
  await insertFills(
    tx,
    factId,
    fills.map(({ fill, from }, at) => ({
      lineNo: at + 1,
      fromLotId: from.lotId,
      usedQuantity: fill.usedQuantity,
      packLotId: packs[at]?.lotId ?? '',
      packs: fill.packs,
      changedOverAtMs: changedOverAtMs(fill),
    })),
  );
  const edges = fills.map(({ from }, at) => ({
    parentLotId: from.lotId,
    childLotId: packs[at]?.lotId ?? '',
    processId: factId,
    capsUseBy: true,
  }));
  await addEdges(tx, edges, nowMs);
  await outbox(tx, 'lots-born', { lotIds: packs.map((lot) => lot.lotId) }, nowMs);
  return batchReply(context, batch.batchId);
}

function packLot(
  context: Pack,
  batch: BatchRow,
  parts: FillParts,
  at: number,
  startedAtMs: number,
  finishedAtMs: number,
): LotDraft {
  const { fill, from, item } = parts;
  const pointer = (field: string) => `#/fills/${at}/${field}`;
  requireUnit(from, fill.usedUnit, pointer('usedUnit'));
  if (item.kind !== 'packed') {
    const detail = `${item.name} is not a packed item.`;
    throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer: pointer('packItemId') }] });
  }
  const sealedAtMs = fill.changedOverAt ? fromInstant(fill.changedOverAt) : startedAtMs;
  if (sealedAtMs < startedAtMs || sealedAtMs > finishedAtMs) {
    const detail = 'The changeover lies outside the run.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: pointer('changedOverAt') }] });
  }
  const lotId = fill.packLotId ?? derivedId(`fill-${at + 1}`, context.factId);
  // Anchors survive repacking: the first seal is the earliest one.
  const anchors = { ...from.anchors, firstSeal: from.anchors.firstSeal ?? sealedAtMs };
  const { useBy, basis } = bornUseBy({
    life: item.life,
    anchors,
    parents: [from],
    killStepBetween: false,
    zone: batch.timeZone,
    wantedDate: fill.useByDate,
    pointer: pointer(fill.useByDate === undefined ? 'fromLotId' : 'useByDate'),
  });
  return {
    lotId,
    code: fill.packLotCode ?? makeLotCode(batch.siteCode, localDate(finishedAtMs, batch.timeZone), lotId),
    itemId: item.itemId,
    unit: item.unit,
    quantity: fill.packs,
    massMg: fill.massG === undefined ? fill.packs * item.unitMassMg : fill.massG * 1000,
    origin: 'packed',
    siteId: batch.siteId,
    serialised: fill.serialised ?? true,
    bornAtMs: finishedAtMs,
    handling: item.handling,
    storageInstruction: item.storageInstruction,
    useBy,
    useByBasis: basis,
    anchors,
    ...bornAllergens(item, [from]),
    packingRunId: context.factId,
  };
}
