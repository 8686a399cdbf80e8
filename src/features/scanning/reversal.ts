/**
 * Undoing an entry, wherever it came from. A scan that is undone leaves its serial's path, and what other scans then mean is
 * posted anew in the same transaction. Refusals: `not-found`, `already-reversed`, `not-reversible`.
 */
import { notFound } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
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
import { clearGone, partsOf, pathFinding, postRework, shownBy } from './post.ts';
import { rework, stopIds, type Rework } from './serials.ts';
import { findScan, listSerialScans, markReversed } from './store.ts';

const NOTHING: Rework = { undo: [], make: [], found: [], cleared: [], fates: new Map() };

export async function reverse(context: Context<typeof contract.createReversal>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs, ids, actor } = context;
  const entry = await findEntry(tx, body.entryId);
  if (!entry || !scope.includes(entry.siteId)) throw notFound('entry');
  requireReversible(entry);
  const lines = await listEntryLines(tx, entry.seq, entry.countId);
  const site = (await findSites(tx, [entry.siteId])).get(entry.siteId);
  if (!site) throw notFound('site');
  const change = await changeOf(context, entry);
  const touched = [entry.dispatchId, ...[...change.undo, ...change.make].map(({ scan }) => scan.dispatchId)];
  const dispatches = await lockDispatches(tx, [...new Set(touched.flatMap((id) => id ?? []))]);
  const stops = [...change.undo, ...change.make].flatMap(({ scan, fate }) =>
    [fate.from, fate.to].map((stop) => ({ lotId: scan.lotId ?? '', ...stopIds(stop) })),
  );
  const parts = await partsOf({ tx }, { places: new Map(), dispatches }, stops);
  const book = await loadBook(tx, [...partsOfLines(lines, entry.toSiteId), ...parts], [entry.siteId]);
  postReversal(book, entry, lines, { entryId: factId, factId, contentHash: context.contentHash, reason: body.reason });
  const work = { tx, ids, nowMs, site };
  postRework(work, book, change, new Set(), new Set(entry.scanId ? [entry.scanId] : []));
  // From here on only success.
  const written = await writeBook({ tx, ids, actorId: actor.actorId, nowMs }, book);
  await afterReversal(tx, entry);
  if (entry.packingRunId) await judgeWithoutRun(tx, entry.packingRunId, nowMs);
  if (entry.scanId) await markReversed(tx, [entry.scanId]);
  await clearGone(work, change);
  await openFindings(
    tx,
    [
      ...change.found.map(({ scan, finding }) => pathFinding(scan, finding)),
      ...(await shownAnew(context, site, change)),
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

/** What the other scans of the same pack mean without this one. */
async function changeOf(context: Pick<Context, 'tx'>, entry: EntryRow): Promise<Rework> {
  const scan = entry.scanId ? await findScan(context.tx, entry.scanId) : null;
  if (!scan?.lotId || !scan.serial) return NOTHING;
  const history = await listSerialScans(context.tx, [{ lotId: scan.lotId, serial: scan.serial }]);
  return rework(history, [], new Set([scan.scanId]));
}

/** What scans that stand for something again show: the date or the hold that they are against has not gone away. */
async function shownAnew(
  { tx, nowMs }: Pick<Context, 'tx' | 'nowMs'>,
  site: SiteRow,
  change: Rework,
): Promise<FindingDraft[]> {
  const scans = change.make.map(({ scan }) => scan);
  if (scans.length === 0) return [];
  const lotIds = [...new Set(scans.flatMap((scan) => scan.lotId ?? []))];
  const lots = await findLots(tx, lotIds);
  const holds = await findHoldsReaching(tx, lotIds, Math.min(...scans.map((scan) => scan.occurredAtMs)));
  const places = await findPlaces(tx, [...new Set(scans.map((scan) => scan.placeId ?? scan.receivingPlaceId))]);
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
