/**
 * What comes out of a batch: each load a lot, born on hold. Refusals: `not-found`, `wrong-state`, `unit-mismatch`, `item-unsuitable`,
 * `anchor-missing`, `use-by-later-than-computed`, `code-taken`, `time-in-future`, `rule-broken`.
 */
import { anchorsOfOutput, bornLot, type ParentLot } from '../../domain/birth.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { findItems, findPlaces, findSites, type ItemRow } from '../catalogue/index.ts';
import {
  addEdges,
  findLots,
  holdsOfDoubt,
  insertFollowingHolds,
  insertHolds,
  insertLots,
  judgeBorn,
  listBinMembers,
  listDoubtfulInputs,
  loadBook,
  outside,
  placeAccount,
  requireFreeLots,
  requirePast,
  requireUnit,
  writeBook,
  type LotDraft,
  type LotRow,
} from '../ledger/index.ts';
import { holdNewLoads } from '../process-checks/index.ts';
import { batchReply, getBatchForWrite, requireOpen } from './commands-batch.ts';
import type * as contract from './contract.ts';
import { judgeFreezing } from './held.ts';
import { presumedNote, putAwayOf } from './put-away.ts';
import { releaseWhatIsComplete } from './release/automatic.ts';
import { waitOf } from './release/unpacked.ts';
import { listInputs } from './store-inputs.ts';
import { listBorn, type BatchRow } from './store.ts';

type Outputs = Context<typeof contract.createBatchOutputs>;
type Load = Outputs['body']['loads'][number];

interface Born {
  readonly lot: LotDraft;
  readonly placeId: string;
  readonly presumed: boolean;
}

export async function takeOut(context: Outputs): Promise<Reply> {
  const { body, tx, params, factId, nowMs, actor } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  const itemIds = [...new Set(body.loads.map((load) => load.itemId ?? batch.itemId))];
  const items = await findItems(tx, itemIds);
  const site = (await findSites(tx, [batch.siteId])).get(batch.siteId);
  if (!site) throw notFound('site');
  const putAway = putAwayOf(site);
  const wanted = body.loads.map((load) => load.placeId ?? putAway(items.get(load.itemId ?? batch.itemId)));
  const places = await findPlaces(tx, wanted);
  const inputs = await listInputs(tx, batch.batchId);
  const before = await listBorn(tx, batch.batchId);
  requireOpen(batch);
  if (inputs.length === 0)
    throw new Refused('wrong-state', 'Nothing has gone into the batch yet; record its inputs first.');
  const occurredAtMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  requirePast(occurredAtMs, nowMs);
  // What was taken from a bin may be any lot that it held, whatever lot it is booked from.
  const members = await listBinMembers(tx, batch.batchId);
  const parents = parentsOf(
    await findLots(
      tx,
      [...inputs, ...members].map((one) => one.lotId),
    ),
    [...inputs, ...members],
  );
  const doubts = await listDoubtfulInputs(tx, batch.batchId);
  const firstLoadNo = before.reduce((most, lot) => Math.max(most, lot.loadNo ?? 0), 0) + 1;
  const loads = body.loads.map((load, at): Born => {
    const item = items.get(load.itemId ?? batch.itemId);
    const placeId = wanted[at] ?? '';
    if (!item) throw notFound('item');
    if (places.get(placeId)?.siteId !== batch.siteId) throw notFound('place');
    const lot = loadLot(context, batch, load, at, item, parents, occurredAtMs);
    return {
      lot: { ...lot, batchId: batch.batchId, loadNo: firstLoadNo + at },
      placeId,
      presumed: load.placeId === undefined,
    };
  });
  const lots = loads.map(({ lot }) => lot);
  await requireFreeLots(tx, lots);
  // From here on only success.
  await insertLots(tx, lots, nowMs);
  const book = await loadBook(
    tx,
    loads.map(({ lot, placeId }) => ({ lotId: lot.lotId, account: placeAccount(placeId, batch.siteId) })),
    [batch.siteId],
  );
  post(book, {
    entryId: factId,
    kind: 'batch-output',
    factId,
    siteId: batch.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, batch.timeZone),
    contentHash: context.contentHash,
    batchId: batch.batchId,
    note: presumedNote(loads.map(({ lot, placeId, presumed }) => ({ lotId: lot.lotId, placeId, presumed }))),
    moves: loads.map(({ lot, placeId }) => ({
      lotId: lot.lotId,
      fromAccountId: outside('produced', batch.siteId),
      toAccountId: placeId,
      quantity: lot.quantity,
      basis: lot.unit === 'piece' ? 'counted' : 'weighed',
    })),
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
  const waits = lots.map((lot) => waitOf(lot.lotId));
  await insertHolds(tx, waits, actor.actorId, nowMs);
  const lotIds = lots.map((lot) => lot.lotId);
  const held = doubts.flatMap((doubt) => holdsOfDoubt(doubt, lotIds));
  await insertFollowingHolds(tx, held, actor.actorId, nowMs);
  await holdNewLoads(tx, batch.batchId, lotIds, actor.actorId, nowMs);
  const judging = { tx, nowMs, actorId: actor.actorId };
  const refrozen = await judgeFreezing(
    judging,
    parents.map((parent) => parent.lotId),
  );
  const undeclared = await judgeBorn(judging, lots, items);
  await outbox(tx, 'lots-born', { lotIds }, nowMs);
  // What the allergens hold is not released by itself.
  await releaseWhatIsComplete(context, batch.batchId);
  const own = refrozen.filter((finding) => finding.lotId !== null && lotIds.includes(finding.lotId));
  return batchReply(context, batch.batchId, [...own, ...undeclared]);
}

/** What it was made from, with the dates that are in force where it was taken from. */
function parentsOf(
  lots: ReadonlyMap<string, LotRow>,
  taken: readonly { readonly lotId: string; readonly ownUseByAtMs: number | null; readonly takenAtMs?: number }[],
): (LotRow & { readonly takenAtMs?: number | undefined })[] {
  const own = new Map<string, number>();
  const since = new Map<string, number>();
  for (const { lotId, ownUseByAtMs, takenAtMs } of taken) {
    if (takenAtMs !== undefined) since.set(lotId, Math.min(since.get(lotId) ?? takenAtMs, takenAtMs));
    if (ownUseByAtMs !== null) own.set(lotId, Math.min(own.get(lotId) ?? Infinity, ownUseByAtMs));
  }
  return [...lots.values()].map((row) => {
    const lot = { ...row, takenAtMs: since.get(row.lotId) };
    const earlier = own.get(lot.lotId);
    if (earlier === undefined || (lot.useByAtMs !== null && lot.useByAtMs <= earlier)) return lot;
    return { ...lot, useByAtMs: earlier, useByDate: null };
  });
}

function loadLot(
  context: Outputs,
  batch: BatchRow,
  load: Load,
  at: number,
  item: ItemRow,
  parents: readonly ParentLot[],
  occurredAtMs: number,
): LotDraft {
  const pointer = (field: string) => `#/loads/${at}/${field}`;
  requireUnit({ unit: item.unit, code: item.code }, load.unit, pointer('unit'));
  if (item.kind !== 'prepared' && item.kind !== 'packed') {
    const detail = `${item.name} is not something that a batch makes.`;
    throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer: pointer('itemId') }] });
  }
  const cookEndedAtMs = load.cookEndedAt === undefined ? undefined : fromInstant(load.cookEndedAt);
  if (cookEndedAtMs !== undefined) requirePast(cookEndedAtMs, context.nowMs);
  const own = { production: occurredAtMs, ...(cookEndedAtMs !== undefined && { endOfCooking: cookEndedAtMs }) };
  return bornLot({
    lotId: load.lotId ?? derivedId(`load-${at + 1}`, context.factId),
    code: load.lotCode,
    item,
    origin: 'produced',
    quantity: load.quantity,
    massMg: load.massG === undefined ? undefined : load.massG * 1000,
    serialised: false,
    site: batch,
    bornAtMs: occurredAtMs,
    anchors: anchorsOfOutput(own, parents, batch.killStep),
    parents,
    killStepBetween: batch.killStep,
    wantedDate: load.useByDate,
    pointer: pointer(load.useByDate === undefined ? 'cookEndedAt' : 'useByDate'),
  }).lot;
}
