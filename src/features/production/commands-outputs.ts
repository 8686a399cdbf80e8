/**
 * What comes out of a batch: each load a lot, born on hold. Refusals: `not-found`, `wrong-state`, `unit-mismatch`, `item-unsuitable`,
 * `anchor-missing`, `use-by-later-than-computed`, `code-taken`, `time-in-future`.
 */
import { bornAllergens, bornUseBy } from '../../domain/birth.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import { post, type Move } from '../../domain/ledger/book.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { findItems, findPlaces, type ItemRow } from '../catalogue/index.ts';
import {
  addEdges,
  findLots,
  insertHolds,
  insertLots,
  loadBook,
  outside,
  placeAccount,
  requireFreeLots,
  requirePast,
  requireUnit,
  writeBook,
  type LotDraft,
} from '../ledger/index.ts';
import { batchReply, getBatchForWrite, requireOpen } from './commands-batch.ts';
import type * as contract from './contract.ts';
import { listBorn, listInputs, type BatchRow } from './store.ts';

type Outputs = Context<typeof contract.createBatchOutputs>;

export async function takeOut(context: Outputs): Promise<Reply> {
  const { body, tx, params, factId, nowMs, actor } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  const itemIds = [...new Set(body.loads.map((load) => load.itemId ?? batch.itemId))];
  const items = await findItems(tx, itemIds);
  const places = await findPlaces(
    tx,
    body.loads.map((load) => load.placeId),
  );
  const inputs = await listInputs(tx, batch.batchId);
  const before = await listBorn(tx, batch.batchId);
  requireOpen(batch);
  if (inputs.length === 0)
    throw new Refused('wrong-state', 'Nothing has gone into the batch yet; record its inputs first.');
  const occurredAtMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  requirePast(occurredAtMs, nowMs);
  const parents = [...(await findLots(tx, [...new Set(inputs.map((input) => input.lotId))])).values()];
  const firstLoadNo = before.reduce((most, lot) => Math.max(most, lot.loadNo ?? 0), 0) + 1;
  const lots = body.loads.map((load, at) => {
    const item = items.get(load.itemId ?? batch.itemId);
    if (!item) throw notFound('item');
    if (places.get(load.placeId)?.siteId !== batch.siteId) throw notFound('place');
    return loadLot(context, batch, load, at, item, parents, occurredAtMs, firstLoadNo + at);
  });
  await requireFreeLots(tx, lots);
  // From here on only success.
  await insertLots(tx, lots);
  const account = (at: number) => placeAccount(body.loads[at]?.placeId ?? '', batch.siteId);
  const book = await loadBook(
    tx,
    lots.map((lot, at) => ({ lotId: lot.lotId, account: account(at) })),
    [batch.siteId],
  );
  const moves: Move[] = lots.map((lot, at) => ({
    lotId: lot.lotId,
    fromAccountId: outside('produced', batch.siteId),
    toAccountId: account(at).accountId,
    quantity: lot.quantity,
    basis: lot.unit === 'piece' ? 'counted' : 'weighed',
  }));
  post(book, {
    entryId: factId,
    kind: 'batch-output',
    factId,
    siteId: batch.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, batch.timeZone),
    contentHash: context.contentHash,
    batchId: batch.batchId,
    moves,
  });
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book);
  const edges = lots.flatMap((lot) =>
    parents.map((parent) => ({
      parentLotId: parent.lotId,
      childLotId: lot.lotId,
      processId: batch.batchId,
      capsUseBy: !batch.killStep,
    })),
  );
  await addEdges(tx, edges, nowMs);
  const holds = lots.map((lot) => ({
    holdId: derivedId('awaiting-release', lot.lotId),
    kind: 'awaiting-release',
    lotId: lot.lotId,
    siteId: null,
    accountId: null,
    propagates: true,
    note: null,
  }));
  await insertHolds(tx, holds, actor.actorId, nowMs);
  await outbox(tx, 'lots-born', { lotIds: lots.map((lot) => lot.lotId) }, nowMs);
  return batchReply(context, batch.batchId);
}

function loadLot(
  context: Outputs,
  batch: BatchRow,
  load: Outputs['body']['loads'][number],
  at: number,
  item: ItemRow,
  parents: Parameters<typeof bornUseBy>[0]['parents'],
  occurredAtMs: number,
  loadNo: number,
): LotDraft {
  const pointer = (field: string) => `#/loads/${at}/${field}`;
  requireUnit({ unit: item.unit, code: item.code }, load.unit, pointer('unit'));
  if (item.kind !== 'prepared' && item.kind !== 'packed') {
    const detail = `${item.name} is not something that a batch makes.`;
    throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer: pointer('itemId') }] });
  }
  const lotId = load.lotId ?? derivedId(`load-${at + 1}`, context.factId);
  const cookEndedAtMs = load.cookEndedAt === undefined ? undefined : fromInstant(load.cookEndedAt);
  if (cookEndedAtMs !== undefined) requirePast(cookEndedAtMs, context.nowMs);
  const anchors = { production: occurredAtMs, ...(cookEndedAtMs !== undefined && { endOfCooking: cookEndedAtMs }) };
  const { useBy, basis } = bornUseBy({
    life: item.life,
    anchors,
    parents,
    killStepBetween: batch.killStep,
    zone: batch.timeZone,
    wantedDate: load.useByDate,
    pointer: pointer(load.useByDate === undefined ? 'cookEndedAt' : 'useByDate'),
  });
  return {
    lotId,
    code: load.lotCode ?? makeLotCode(batch.siteCode, localDate(occurredAtMs, batch.timeZone), lotId),
    itemId: item.itemId,
    unit: item.unit,
    quantity: load.quantity,
    massMg: load.massG === undefined ? load.quantity * item.unitMassMg : load.massG * 1000,
    origin: 'produced',
    siteId: batch.siteId,
    serialised: false,
    bornAtMs: occurredAtMs,
    handling: item.handling,
    storageInstruction: item.storageInstruction,
    useBy,
    useByBasis: basis,
    anchors,
    ...bornAllergens(item, parents),
    batchId: batch.batchId,
    loadNo,
  };
}
