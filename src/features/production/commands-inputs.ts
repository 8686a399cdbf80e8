/**
 * What goes into a batch. Asked for, it is refused for stock, hold, date and loops; recorded afterwards it always posts, and what
 * conflicts becomes a finding and, where the food is in doubt, a hold on whatever the batch makes. Both come through here.
 * Refusals: `not-found`, `unit-mismatch`, `rule-broken`; of a request also `wrong-state`, `insufficient-stock`, `on-hold`,
 * `not-for-rework`, `past-use-by`, `quarantined`, `would-make-a-loop`, `time-in-future`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { netOf, post } from '../../domain/ledger/book.ts';
import { refusalFor, reworkRefusal } from '../../domain/ledger/may.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import { NeedsExclusiveGate } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { findItems, findPlaces, type ItemRow, type PlaceRow } from '../catalogue/index.ts';
import {
  ancestorsAmong,
  doubtsOf,
  entryAnswer,
  findHoldsReaching,
  findingsOf,
  findLots,
  findVisibleLots,
  holdsAgainstInput,
  holdsOfDoubt,
  insertDoubtfulInput,
  insertFollowingHolds,
  insertLots,
  joinLate,
  listLotsInUse,
  loadBook,
  outside,
  partFacts,
  placeAccount,
  requirePast,
  requireUnit,
  shortfallNow,
  writeBook,
  type FindingDraft,
  type LotDraft,
  type LotRow,
} from '../ledger/index.ts';
import { findBatchPlan } from '../process-checks/index.ts';
import { stateOf } from './answer.ts';
import { getBatchForWrite, requireOpen } from './commands-batch.ts';
import { enterFromBin, type Entering } from './commands-bin-inputs.ts';
import type * as contract from './contract-inputs.ts';
import { holdsAfterHeat } from './late-inputs.ts';
import { judgeFreezing } from './held.ts';
import { judgeRunsBelow } from './machines.ts';
import { listBorn, type BatchRow } from './store.ts';

export const putIn = (context: Entering): Promise<Reply> => enter(context, 'request');

export const recordInput = (context: Context<typeof contract.createRecordedBatchInput>): Promise<Reply> =>
  enter(context, 'observation');

/** The one standing lot of an item that is not kept by lot; made with its first use. */
async function pseudoLot(context: Pick<Context, 'tx' | 'nowMs'>, item: ItemRow, batch: BatchRow): Promise<string> {
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
  await insertLots(context.tx, [draft], context.nowMs);
  return lotId;
}

/** A lot from its place (named, or as the one in use there), or an item that is not kept by lot. */
type Taken = { readonly lot: LotRow; readonly place: PlaceRow; readonly byItem: boolean } | { readonly item: ItemRow };

/** The lot of an item that was in use at a place. */
async function inUse(context: Entering, item: ItemRow, place: PlaceRow): Promise<LotRow> {
  const { body, tx, nowMs } = context;
  const atMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  const use = (await listLotsInUse(tx, place.placeId, item.itemId, atMs))[0];
  const lot = use && (await findLots(tx, [use.lotId])).get(use.lotId);
  if (!lot) throw new Refused('rule-broken', `No lot of ${item.name} was in use in ${place.name} then: name the lot.`);
  return lot;
}

async function takenFrom(context: Entering, batch: BatchRow, asked: boolean): Promise<Taken> {
  const { body, tx, scope } = context;
  const ids = body.lotId ? [body.lotId] : [];
  const lots = asked ? await findVisibleLots(tx, scope, ids) : await findLots(tx, ids);
  const lot = lots.get(body.lotId ?? '');
  const item = body.itemId ? (await findItems(tx, [body.itemId])).get(body.itemId) : undefined;
  const place = body.placeId ? (await findPlaces(tx, [body.placeId])).get(body.placeId) : undefined;
  if ((body.lotId === undefined) === (body.itemId === undefined)) {
    throw new Refused('rule-broken', 'Give lotId, or itemId for an item that is not kept by lot.');
  }
  if (body.lotId && !lot) throw notFound('lot');
  if (body.itemId && !item) throw notFound('item');
  if (body.lotId && !body.placeId) throw new Refused('rule-broken', 'Say in placeId where the lot is taken from.');
  if (body.placeId && place?.siteId !== batch.siteId) throw notFound('place');
  if (lot && place) {
    requireUnit(lot, body.unit);
    return { lot, place, byItem: false };
  }
  if (!item) throw notFound('item');
  requireUnit({ unit: item.unit, code: item.code }, body.unit);
  if (item.lotTracked && place) return { lot: await inUse(context, item, place), place, byItem: true };
  if (item.lotTracked) throw new Refused('rule-broken', `${item.name} is kept by lot: name the lot.`);
  return { item };
}

async function enter(context: Entering, mode: 'request' | 'observation'): Promise<Reply> {
  const { body, tx, params, factId, nowMs, actor } = context;
  const asked = mode === 'request';
  const batch = await getBatchForWrite(context, params.batchId);
  if (asked) await requireNoneReleased(tx, batch);
  if (body.binPlaceId) return enterFromBin(context, batch, body.binPlaceId, asked);
  const taken = await takenFrom(context, batch, asked);
  if (asked) requireOpen(batch);
  const occurredAtMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  if (asked) requirePast(occurredAtMs, nowMs);
  const outputs = (await listBorn(tx, batch.batchId)).filter((one) => one.origin === 'produced');
  // With outputs the batch may be an ancestor already: only one such input at a time, and nothing else meanwhile.
  if (outputs.length > 0 && tx.mode !== 'exclusive') throw new NeedsExclusiveGate();
  const outputIds = outputs.map((one) => one.lotId);
  const lotId = 'lot' in taken ? taken.lot.lotId : await pseudoLot(context, taken.item, batch);
  // What it was made from cannot have been made from it.
  const before = await ancestorsAmong(tx, lotId, outputIds);
  if (asked && before.size > 0) throw new Refused('would-make-a-loop', 'That lot was made from this batch.');
  const parts = 'lot' in taken ? [{ lotId, account: placeAccount(taken.place.placeId, batch.siteId) }] : [];
  const book = await loadBook(tx, parts, [batch.siteId]);
  const reaching = await findHoldsReaching(tx, [lotId], Math.min(occurredAtMs, nowMs));
  const holds = holdsAgainstInput(reaching, batch.killStep);
  if (asked && 'lot' in taken) {
    const { lot, place } = taken;
    const available = netOf(book, { lotId, accountId: place.placeId });
    const part = partFacts(lot, place, holds);
    const refusal =
      reworkRefusal(part, '#/lotId') ?? refusalFor(part, 'use-in-batch', nowMs, body.quantity, available, '#/quantity');
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
    ...('lot' in taken && taken.byItem && { note: { namedByItemAt: taken.place.placeId } }),
    moves: [
      {
        lotId,
        fromAccountId: 'place' in taken ? taken.place.placeId : outside('supplier', batch.siteId),
        toAccountId: outside('consumed', batch.siteId),
        quantity: body.quantity,
        basis: body.unit === 'piece' ? 'counted' : 'weighed',
      },
    ],
  });
  const seen =
    'lot' in taken && !asked
      ? ({ factId, ...taken, occurredAtMs, serving: true, action: 'use-in-batch' } as const)
      : null;
  const forRework = reaching.some((hold) => hold.kind === 'for-rework' && hold.liftedAt === null);
  const late = { entryId: factId, lotCode: seen?.lot.code ?? '', occurredAtMs, forRework };
  const unheated = seen ? await holdsAfterHeat(tx, batch.batchId, late, outputIds) : [];
  const findings = [
    ...(seen ? findingsOf(seen, unheated.length > 0 ? reaching : holds, nowMs) : []),
    ...(before.size > 0 ? [madeFromItself(batch, lotId, [...before], occurredAtMs, factId)] : []),
  ];
  const reasons = seen ? doubtsOf(seen, holds) : [];
  // From here on only success.
  const written = await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book, [], findings);
  if (seen && reasons.length > 0) {
    const doubt = { entryId: factId, lotId, lotCode: seen.lot.code, reasons };
    await insertDoubtfulInput(tx, batch.batchId, doubt);
    await insertFollowingHolds(tx, holdsOfDoubt(doubt, outputIds), actor.actorId, nowMs);
  }
  await insertFollowingHolds(tx, unheated, actor.actorId, nowMs);
  const made = outputIds.filter((outputId) => !before.has(outputId));
  const partUseByAtMs = 'lot' in taken ? partFacts(taken.lot, taken.place, holds).useByMs : null;
  const thawed = await reach(context, batch, { lotId, partUseByAtMs }, made);
  const short = seen ? shortfallNow(book, seen.lot, seen.place, occurredAtMs, factId) : [];
  return {
    status: 201,
    body: entryAnswer(written, factId, nowMs, [...findings, ...short, ...thawed]),
    siteId: batch.siteId,
    headers: { Location: `/v1/entries/${factId}` },
  };
}

/** What was checked by the plan and released was checked without it. @throws Refused wrong-state */
async function requireNoneReleased(tx: Entering['tx'], batch: BatchRow): Promise<void> {
  if (!(await findBatchPlan(tx, [batch.batchId])).has(batch.batchId)) return;
  const released = (await listBorn(tx, batch.batchId)).find(
    (lot) => lot.origin === 'produced' && stateOf(lot) === 'released',
  );
  if (!released) return;
  throw new Refused(
    'wrong-state',
    `Lot ${released.lotCode} of the batch is released: nothing more goes in. What is in it already is recorded, not asked for.`,
  );
}

function madeFromItself(
  batch: BatchRow,
  lotId: string,
  madeFrom: readonly string[],
  occurredAtMs: number,
  factId: string,
): FindingDraft {
  const detail = { batchId: batch.batchId, batchCode: batch.code, madeFrom: [...madeFrom].sort(), factId };
  const about = { siteId: batch.siteId, lotId, quantity: null, occurredAtMs };
  return { kind: 'made-from-itself', subject: factId, ...about, detail };
}

/** What came out before this went in gets all that it would have had if it had been known. */
async function reach(
  context: Entering,
  batch: BatchRow,
  { lotId, partUseByAtMs }: { readonly lotId: string; readonly partUseByAtMs: number | null },
  outputIds: readonly string[],
): Promise<FindingDraft[]> {
  if (outputIds.length === 0) return [];
  const { tx, nowMs } = context;
  const { actorId } = context.actor;
  const edges = outputIds.map((childLotId) => ({
    parentLotId: lotId,
    childLotId,
    processId: batch.batchId,
    capsUseBy: !batch.killStep,
    partUseByAtMs,
  }));
  const thawed = await joinLate(tx, edges, actorId, nowMs);
  const judging = { tx, nowMs, actorId };
  const refrozen = await judgeFreezing(judging, [lotId, ...thawed]);
  await judgeRunsBelow(judging, outputIds);
  return refrozen;
}
