/**
 * Open, put in, complete. Refusals: `not-found`, `wrong-state`, `unit-mismatch`, `insufficient-stock`, `on-hold`, `past-use-by`,
 * `quarantined`, `would-make-a-loop`, `time-in-future`, `item-unsuitable`, `code-taken`, `rule-broken`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { netOf, post } from '../../domain/ledger/book.ts';
import { refusalFor } from '../../domain/ledger/may.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import { NeedsExclusiveGate } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { derivedId } from '../../platform/ids.ts';
import { findItems, findPlaces, findRecipes, findSites, type ItemRow } from '../catalogue/index.ts';
import {
  addEdges,
  descendsFromAny,
  entryAnswer,
  findHoldsReaching,
  findLots,
  findVisibleLots,
  insertLots,
  loadBook,
  outside,
  partFacts,
  placeAccount,
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

export function requireOpen(batch: BatchRow): void {
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
