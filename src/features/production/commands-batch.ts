/**
 * Open, put in, take out, complete. Refusals: `not-found`, `wrong-state`, `unit-mismatch`, `insufficient-stock`, `on-hold`,
 * `past-use-by`, `quarantined`, `would-make-a-loop`, `time-in-future`, `item-unsuitable`, `anchor-missing`,
 * `use-by-later-than-computed`, `code-taken`, `rule-broken`.
 */
import { bornAllergens, bornUseBy } from '../../domain/birth.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import { netOf, post, type Move } from '../../domain/ledger/book.ts';
import { refusalFor } from '../../domain/ledger/may.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import { NeedsExclusiveGate } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { findItems, findPlaces, findRecipes, findSites, type ItemRow } from '../catalogue/index.ts';
import {
  addEdges,
  descendsFromAny,
  entryAnswer,
  findHoldsReaching,
  findLots,
  findVisibleLots,
  insertHolds,
  insertLots,
  loadBook,
  outside,
  partFacts,
  placeAccount,
  requireFreeLots,
  requirePast,
  requireUnit,
  spreadAllergens,
  spreadUseBy,
  writeBook,
  type LotDraft,
} from '../ledger/index.ts';
import { batchAnswer, batchHead } from './answer.ts';
import type * as contract from './contract.ts';
import {
  completeBatch,
  findBatch,
  insertBatch,
  insertLosses,
  listBatchRows,
  listBorn,
  listInputs,
  lockBatch,
  type BatchRow,
} from './store.ts';

export async function batchReply(context: Context, batchId: string): Promise<Reply> {
  const batch = await findBatch(context.tx, batchId);
  if (!batch) throw new Error(`batch ${batchId} cannot be read back`);
  const body = await batchAnswer(context.tx, batch);
  return { status: 201, body, siteId: batch.siteId, headers: { Location: `/v1/batches/${batchId}` } };
}

/** Locks the batch, if it is at a site where the actor may act. */
export async function getBatchForWrite(context: Pick<Context, 'tx' | 'scope'>, batchId: string): Promise<BatchRow> {
  const batch = await lockBatch(context.tx, batchId);
  if (!batch || !context.scope.includes(batch.siteId)) throw notFound('batch');
  return batch;
}

function requireOpen(batch: BatchRow): void {
  if (batch.state !== 'open') throw new Refused('wrong-state', `Batch ${batch.code} is completed.`);
}

export async function open(context: Context<typeof contract.createBatch>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const recipe = (await findRecipes(tx, [body.recipeId])).get(body.recipeId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  if (!recipe) throw notFound('recipe');
  const startedAtMs = body.startedAt ? fromInstant(body.startedAt) : nowMs;
  requirePast(startedAtMs, nowMs);
  if (!recipe.active) throw new Refused('item-unsuitable', `The recipe ${recipe.name} is not in use any more.`);
  // From here on only success.
  await insertBatch(tx, {
    batchId: factId,
    code: body.code ?? makeLotCode(site.code, localDate(startedAtMs, site.timeZone), factId),
    siteId: site.siteId,
    recipeId: recipe.recipeId,
    recipeVersion: recipe.version,
    itemId: recipe.itemId,
    expectedYieldPpm: recipe.expectedYieldPpm,
    killStep: recipe.killStep,
    startedAtMs,
  });
  return batchReply(context, factId);
}

/** The one standing lot of an item that is not kept by lot; made with its first use. */
async function pseudoLot(context: Context, item: ItemRow, batch: BatchRow): Promise<string> {
  const lotId = derivedId('pseudo-lot', item.itemId);
  if ((await findLots(context.tx, [lotId])).has(lotId)) return lotId;
  const draft: LotDraft = {
    lotId,
    code: `STANDING-${item.code}`.slice(0, 20),
    itemId: item.itemId,
    unit: item.unit,
    quantity: 1,
    massMg: item.unitMassMg,
    origin: 'pseudo',
    siteId: batch.siteId,
    serialised: false,
    bornAtMs: context.nowMs,
    handling: item.handling,
    storageInstruction: item.storageInstruction,
    useBy: null,
    useByBasis: { why: 'not-lot-tracked' },
    anchors: {},
    allergens: [],
    mayContain: [],
  };
  await insertLots(context.tx, [draft]);
  return lotId;
}

export async function putIn(context: Context<typeof contract.createBatchInput>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs, actor } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  const lot = body.lotId ? (await findVisibleLots(tx, scope, [body.lotId])).get(body.lotId) : undefined;
  const item = body.itemId ? (await findItems(tx, [body.itemId])).get(body.itemId) : undefined;
  const place = body.placeId ? (await findPlaces(tx, [body.placeId])).get(body.placeId) : undefined;
  if ((body.lotId === undefined) === (body.itemId === undefined)) {
    throw new Refused('rule-broken', 'Give lotId, or itemId for an item that is not kept by lot.');
  }
  if (body.lotId && !lot) throw notFound('lot');
  if (body.itemId && !item) throw notFound('item');
  if (body.lotId && !body.placeId) throw new Refused('rule-broken', 'Say in placeId where the lot is taken from.');
  if (body.placeId && (!place || place.siteId !== batch.siteId)) throw notFound('place');
  requireOpen(batch);
  const occurredAtMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  requirePast(occurredAtMs, nowMs);
  const outputs = (await listBorn(tx, batch.batchId)).filter((one) => one.origin === 'produced');
  // With outputs the batch may be an ancestor already: only one such input at a time, and nothing else meanwhile.
  if (outputs.length > 0 && tx.mode !== 'exclusive') throw new NeedsExclusiveGate();
  if (item) {
    requireUnit({ unit: item.unit, code: item.code }, body.unit);
    if (item.lotTracked) throw new Refused('rule-broken', `${item.name} is kept by lot: name the lot.`);
  }
  if (lot) requireUnit(lot, body.unit);
  if (
    lot &&
    (await descendsFromAny(
      tx,
      lot.lotId,
      outputs.map((one) => one.lotId),
    ))
  ) {
    throw new Refused('would-make-a-loop', `Lot ${lot.code} was made from this batch.`);
  }
  const account = place ? placeAccount(place.placeId, batch.siteId) : null;
  const lotId = lot?.lotId ?? (item ? await pseudoLot(context, item, batch) : '');
  const book = await loadBook(tx, account && lot ? [{ lotId, account }] : [], [batch.siteId]);
  const holds = await findHoldsReaching(tx, [lotId], nowMs);
  if (lot && place) {
    const available = netOf(book, { lotId, accountId: place.placeId });
    const refusal = refusalFor(
      partFacts(lot, place, holds),
      'use-in-batch',
      nowMs,
      body.quantity,
      available,
      '#/quantity',
    );
    if (refusal) throw refusal;
  }
  post(book, {
    entryId: factId,
    kind: 'batch-input',
    factId,
    siteId: batch.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, batch.timeZone),
    contentHash: context.contentHash,
    batchId: batch.batchId,
    moves: [
      {
        lotId,
        fromAccountId: place && lot ? place.placeId : outside('supplier', batch.siteId),
        toAccountId: outside('consumed', batch.siteId),
        quantity: body.quantity,
        basis: body.unit === 'piece' ? 'counted' : 'weighed',
      },
    ],
  });
  // From here on only success.
  const written = await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book);
  const edges = outputs.map((output) => ({
    parentLotId: lotId,
    childLotId: output.lotId,
    processId: batch.batchId,
    capsUseBy: !batch.killStep,
  }));
  if (edges.length > 0) {
    await addEdges(tx, edges, nowMs);
    await spreadUseBy(tx, edges, actor.actorId, nowMs);
    await spreadAllergens(tx, edges, actor.actorId, nowMs);
  }
  return {
    status: 201,
    body: entryAnswer(written, factId, nowMs, []),
    siteId: batch.siteId,
    headers: { Location: `/v1/entries/${factId}` },
  };
}

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

export async function complete(context: Context<typeof contract.createBatchCompletion>): Promise<Reply> {
  const { body, tx, params, nowMs } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  requireOpen(batch);
  const born = await listBorn(tx, batch.batchId);
  if (born.length === 0) throw new Refused('wrong-state', 'Nothing has come out of the batch yet.');
  const completedAtMs = body.completedAt ? fromInstant(body.completedAt) : nowMs;
  requirePast(completedAtMs, nowMs);
  if (new Set(body.losses.map((loss) => loss.kind)).size < body.losses.length) {
    throw new Refused('rule-broken', 'Give each kind of loss once.');
  }
  // From here on only success.
  await completeBatch(tx, batch.batchId, completedAtMs);
  await insertLosses(tx, batch.batchId, body.losses);
  return batchReply(context, batch.batchId);
}

export async function readBatch(context: Context<typeof contract.getBatch>): Promise<Reply> {
  const batch = await findBatch(context.tx, context.params.batchId);
  if (!batch || !context.scope.includes(batch.siteId)) throw notFound('batch');
  return { status: 200, body: await batchAnswer(context.tx, batch) };
}

export async function readBatches(context: Context<typeof contract.listBatches>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const filter = { siteId: query.siteId ?? null, state: query.state ?? null };
  const rows = await listBatchRows(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(batchHead), (row) => [row.startedAt, row.batchId]);
}
