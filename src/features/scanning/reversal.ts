/**
 * Undoing an entry, wherever it came from. A scan that is undone leaves its serial's path or its total, and what other scans then
 * mean is posted anew in the same transaction. A conversion goes whole, whichever of its entries is named. Refusals: `not-found`,
 * `already-reversed`, `not-reversible`.
 */
import { notFound } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { derivedId } from '../../platform/ids.ts';
import { findPlaces, findSites, type SiteRow } from '../catalogue/index.ts';
import { forgetMissing, lockDispatches, refreshMissing, setState, type DispatchRow } from '../distribution/index.ts';
import {
  afterReversal,
  entryAnswer,
  findEntry,
  findHoldsReaching,
  findLots,
  listEntryLines,
  loadBook,
  openFindings,
  partsOfLines,
  postReversal,
  requireReversible,
  writeBook,
  type EntryRow,
  type FindingDraft,
} from '../ledger/index.ts';
import { judgeWithoutRun } from '../production/index.ts';
import type * as contract from './contract.ts';
import { loadMoved, postMoved } from './conversions/follow.ts';
import { undoOf } from './conversions/undo.ts';
import { clearGone, partsOf, pathFinding, postRework, shownBy } from './post.ts';
import { partsOfTotals, postTotals } from './post-totals.ts';
import { rework, stopIds, type Rework } from './serials.ts';
import { findScan, listSerialScans, listTotalScans, markReversed, type ScanRow } from './store.ts';
import { NO_TOTALS, retotal, type Retotal } from './totals.ts';
import { placeOf } from './work.ts';

const NOTHING: Rework = { undo: [], make: [], found: [], cleared: [], fates: new Map(), stood: [] };

export async function reverse(context: Context<typeof contract.createReversal>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs, ids, actor } = context;
  const entry = await findEntry(tx, body.entryId);
  if (!entry || !scope.includes(entry.siteId)) throw notFound('entry');
  requireReversible(entry);
  const lines = await listEntryLines(tx, entry.seq, entry.countId);
  const site = (await findSites(tx, [entry.siteId])).get(entry.siteId);
  if (!site) throw notFound('site');
  const scanEntryId = async (id: string) => (await findScan(tx, id))?.entryIds[0] ?? null;
  const undo = await undoOf(tx, entry, scanEntryId);
  const scanId = entry.scanId ?? undo?.scanId ?? null;
  const { change, totals } = await changeOf(context, scanId);
  const moved = await loadMoved(tx, change.stood);
  const touched = [entry.dispatchId, ...[...change.undo, ...change.make].map(({ scan }) => scan.dispatchId)];
  touched.push(...totals.make.map((scan) => scan.dispatchId));
  const dispatches = await lockDispatches(tx, [...new Set(touched.flatMap((id) => id ?? []))]);
  const stops = [...change.undo, ...change.make].flatMap(({ scan, fate }) =>
    [fate.from, fate.to].map((stop) => ({ lotId: scan.lotId ?? '', ...stopIds(stop) })),
  );
  const parts = await partsOf({ tx }, { places: new Map(), dispatches }, [...stops, ...partsOfTotals(totals)]);
  const lineParts = [...lines, ...(undo?.partner?.lines ?? [])];
  const book = await loadBook(
    tx,
    [...partsOfLines(lineParts, entry.toSiteId), ...parts, ...moved.parts],
    [entry.siteId],
  );
  const by = { factId, contentHash: context.contentHash, reason: body.reason };
  postReversal(book, entry, lines, { ...by, entryId: factId });
  if (undo?.partner) {
    const { entry: other, lines: otherLines } = undo.partner;
    postReversal(book, other, otherLines, { ...by, entryId: derivedId('reversal-beside', factId) });
  }
  const work = { tx, ids, nowMs, site };
  postRework(work, book, change, new Set(), new Set(scanId ? [scanId] : []));
  postTotals(work, book, totals, new Set());
  postMoved(work, book, moved);
  // From here on only success.
  const written = await writeBook({ tx, ids, actorId: actor.actorId, nowMs }, book);
  await afterReversal(tx, entry, nowMs);
  if (undo?.partner) await afterReversal(tx, undo.partner.entry, nowMs);
  if (entry.packingRunId) await judgeWithoutRun({ tx, nowMs, actorId: actor.actorId }, entry.packingRunId);
  if (scanId) await markReversed(tx, [scanId]);
  await clearGone(work, change, totals);
  await openFindings(
    tx,
    [
      ...change.found.map(({ scan, finding }) => pathFinding(scan, finding)),
      ...(await shownAnew(context, site, [...change.make.map(({ scan }) => scan), ...totals.make])),
    ],
    nowMs,
  );
  await settleDispatches(context, entry, [...dispatches.values()]);
  return {
    status: 201,
    body: entryAnswer(written, factId, nowMs, []),
    siteId: entry.siteId,
    headers: { Location: `/v1/entries/${factId}` },
  };
}

/** What the other scans of the same pack, or of the same total, mean without this one. */
async function changeOf(
  { tx }: Pick<Context, 'tx'>,
  scanId: string | null,
): Promise<{ readonly change: Rework; readonly totals: Retotal }> {
  const scan = scanId ? await findScan(tx, scanId) : null;
  const nothing = { change: NOTHING, totals: NO_TOTALS };
  if (!scan) return nothing;
  const without = new Set([scan.scanId]);
  if (scan.totalId) return { ...nothing, totals: retotal(await listTotalScans(tx, [scan.totalId]), [], without) };
  if (!scan.lotId || !scan.serial) return nothing;
  const history = await listSerialScans(tx, [{ lotId: scan.lotId, serial: scan.serial }]);
  return { ...nothing, change: rework(history, [], without) };
}

/** What scans that stand for something again show: the date or the hold that they are against has not gone away. */
async function shownAnew(
  { tx, nowMs }: Pick<Context, 'tx' | 'nowMs'>,
  site: SiteRow,
  scans: readonly (ScanRow & { readonly receivingPlaceId?: string })[],
): Promise<FindingDraft[]> {
  if (scans.length === 0) return [];
  const lotIds = [...new Set(scans.flatMap((scan) => scan.lotId ?? []))];
  const lots = await findLots(tx, lotIds);
  const holds = await findHoldsReaching(tx, lotIds, Math.min(...scans.map((scan) => scan.occurredAtMs)));
  const places = await findPlaces(tx, [
    ...new Set(scans.map((scan) => placeOf({ site }, { places: new Map() }, scan).placeId)),
  ]);
  return scans.flatMap((scan) => {
    const lot = lots.get(scan.lotId ?? '');
    return lot ? shownBy({ site, nowMs }, { places }, scan, lot, holds) : [];
  });
}

/** A departure undone is planned again; a receipt undone changes what is missing. */
async function settleDispatches(
  context: Context<typeof contract.createReversal>,
  entry: EntryRow,
  dispatches: readonly DispatchRow[],
): Promise<void> {
  const { tx, factId, nowMs } = context;
  if (entry.kind === 'dispatch' && entry.dispatchId) {
    await setState(tx, entry.dispatchId, 'planned', null);
    await forgetMissing(tx, entry.dispatchId);
    return;
  }
  await refreshMissing(tx, dispatches, factId, entry.occurredAt.getTime(), nowMs);
}
