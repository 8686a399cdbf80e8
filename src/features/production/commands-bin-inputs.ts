/**
 * What goes into a batch from a topped-up bin: nobody can tell the lots in it apart, so all of them count, whichever it is booked from. It
 * takes the exclusive gate: what is taken later may have to be booked anew. Refusals: `not-found`, `unit-mismatch`, `rule-broken`; of
 * a request also `wrong-state`, `insufficient-stock`, `on-hold`, `not-for-rework`, `past-use-by`, `quarantined`, `regenerated-stays`,
 * `would-make-a-loop`, `time-in-future`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { refusalFor, reworkRefusal } from '../../domain/ledger/may.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import { NeedsExclusiveGate } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findItems, findPlaces, type PlaceRow } from '../catalogue/index.ts';
import {
  ancestorsAmong,
  entryAnswer,
  findHoldsReaching,
  findLots,
  holdsAgainstInput,
  insertBinInput,
  listBinMembers,
  partFacts,
  previewTaking,
  requireBin,
  requirePast,
  requireUnit,
  settleBin,
  type BinRef,
} from '../ledger/index.ts';
import { requireOpen } from './commands-batch.ts';
import type * as contract from './contract-inputs.ts';
import { judgeFreezing } from './held.ts';
import { judgeRunsBelow } from './machines.ts';
import { listBorn, type BatchRow } from './store.ts';

/** Asked for or recorded: the same fields, but that what is recorded has its time. */
export type Entering = Omit<Context, 'body' | 'params'> &
  Pick<Context<typeof contract.createBatchInput>, 'body' | 'params'>;

/** The bin at the batch's site, and the item in bulk that is taken from it. */
async function binOf(
  { body, tx }: Entering,
  batch: BatchRow,
  placeId: string,
): Promise<{ bin: BinRef; place: PlaceRow }> {
  if (body.lotId || body.placeId || !body.itemId) {
    throw new Refused(
      'rule-broken',
      'From a bin, give binPlaceId and itemId alone: the lots follow from what it held.',
    );
  }
  const item = (await findItems(tx, [body.itemId])).get(body.itemId);
  const place = (await findPlaces(tx, [placeId])).get(placeId);
  if (!item) throw notFound('item');
  if (place?.siteId !== batch.siteId) throw notFound('place');
  requireBin(place);
  requireUnit(item, body.unit);
  if (item.unit === 'piece') throw new Refused('rule-broken', `${item.name} comes in pieces: name the lot.`);
  if (!item.lotTracked) throw new Refused('rule-broken', `${item.name} is not kept by lot: leave out binPlaceId.`);
  return { bin: { placeId, siteId: batch.siteId, itemId: item.itemId }, place };
}

/** Of a request: every lot that may be in it has to be free, and there has to be enough. */
async function requireFree(
  { body, tx, factId, nowMs }: Entering,
  bin: BinRef,
  place: PlaceRow,
  outputIds: readonly string[],
  atMs: number,
  killStep: boolean,
): Promise<void> {
  const taken = await previewTaking(tx, bin, { inputId: factId, atMs, quantity: body.quantity });
  const lots = await findLots(tx, taken.lotIds);
  const holds = holdsAgainstInput(await findHoldsReaching(tx, taken.lotIds, nowMs), killStep);
  for (const lotId of taken.lotIds) {
    const lot = lots.get(lotId);
    if (!lot) continue;
    const before = await ancestorsAmong(tx, lotId, outputIds);
    if (before.size > 0) throw new Refused('would-make-a-loop', `Lot ${lot.code} in the bin was made from this batch.`);
    const part = partFacts(lot, place, holds);
    const refusal =
      reworkRefusal(part, '#/binPlaceId') ?? refusalFor(part, 'use-in-batch', nowMs, 0, 0, '#/binPlaceId');
    if (refusal) throw refusal;
  }
  if (taken.available < body.quantity) {
    const detail = `${place.name}: ${body.quantity} wanted, ${taken.available} there by the book.`;
    const errors = [{ detail, pointer: '#/quantity' }];
    throw new Refused('insufficient-stock', detail, { errors, members: { available: taken.available } });
  }
}

export async function enterFromBin(
  context: Entering,
  batch: BatchRow,
  placeId: string,
  asked: boolean,
): Promise<Reply> {
  const { body, tx, factId, nowMs, actor } = context;
  const { bin, place } = await binOf(context, batch, placeId);
  if (asked) requireOpen(batch);
  const atMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  if (asked) requirePast(atMs, nowMs);
  if (tx.mode !== 'exclusive') throw new NeedsExclusiveGate();
  const outputs = (await listBorn(tx, batch.batchId)).filter((one) => one.origin === 'produced');
  const outputIds = outputs.map((one) => one.lotId);
  if (asked) await requireFree(context, bin, place, outputIds, atMs, batch.killStep);
  // From here on only success.
  await insertBinInput(tx, {
    ...bin,
    inputId: factId,
    batchId: batch.batchId,
    quantity: body.quantity,
    capsUseBy: !batch.killStep,
    contentHash: context.contentHash,
    atMs,
    occurredOn: localDate(atMs, batch.timeZone),
  });
  const write = { tx, ids: context.ids, actorId: actor.actorId, nowMs };
  const { written, findings } = await settleBin(write, bin, atMs, asked ? factId : null);
  const members = await listBinMembers(tx, batch.batchId);
  const judging = { tx, nowMs, actorId: actor.actorId };
  const refrozen = await judgeFreezing(
    judging,
    members.map((member) => member.lotId),
  );
  if (outputIds.length > 0) await judgeRunsBelow(judging, outputIds);
  return {
    status: 201,
    body: entryAnswer(written, factId, nowMs, [...findings, ...refrozen]),
    siteId: batch.siteId,
    headers: { Location: `/v1/entries/${factId}` },
  };
}
