/**
 * Resolved scans into the ledger. Serials go by their path and counted packs by the totals that they set (both reversing what a
 * late scan makes wrong), counts assert.
 */
import { post, type Book, type Move } from '../../domain/ledger/book.ts';
import type { Fate, Stop } from '../../domain/ledger/serials.ts';
import { closeComplete, conditionFinding, refreshMissing } from '../distribution/index.ts';
import { findPlaces } from '../catalogue/index.ts';
import {
  clearFindings,
  confirmPresumed,
  loadBook,
  outside,
  placeAccount,
  transitAccount,
  withCarried,
  writeBook,
  type FindingDraft,
  type LotRow,
  type PartRef,
  type ReachingHold,
} from '../ledger/index.ts';
import { postCounts } from './counts.ts';
import { draftOf, kindOf, saidOf } from './drafts.ts';
import { loadMoved, postMoved } from './conversions/follow.ts';
import { rework, stopIds, type PathScan, type Rework } from './serials.ts';
import { insertScans, listTotalScans, setOutcome, type ScanRow } from './store.ts';
import { NO_TOTALS, retotal, type Retotal } from './totals.ts';
import { partsOfTotals, postTotals } from './post-totals.ts';
import { observed, type ResolvedScan, type ScanWork, type ScanWorld } from './work.ts';

export interface WrittenScans {
  /** scans that said nothing new */
  readonly repeated: ReadonlySet<string>;
  readonly findings: ReadonlyMap<string, FindingDraft[]>;
  /** by totalId: what is recorded now */
  readonly totals: ReadonlyMap<string, number>;
  /** with the dates that went along with what moved */
  readonly holds: readonly ReachingHold[];
}

/** Findings that hang on a scan's own posting, and go when it does. */
const OWN_FINDINGS = [
  'past-use-by',
  'used-while-held',
  'used-from-quarantine',
  'time-ahead',
  'damaged-on-arrival',
  'too-warm-on-arrival',
  'wrong-site',
];

export async function writeScans(
  work: ScanWork,
  resolved: readonly ResolvedScan[],
  world: ScanWorld,
  holds: readonly ReachingHold[],
  stored: boolean,
): Promise<WrittenScans> {
  const { tx, site } = work;
  if (resolved.length === 0) return { repeated: new Set(), findings: new Map(), totals: NO_TOTALS.totals, holds };
  const withLot = resolved.filter(({ row }) => row.lotId !== null);
  const serialRows = withLot.filter(({ row }) => row.serial !== null).map(({ row }) => row);
  const { history } = world;
  const added = serialRows.map((row): PathScan => ({
    ...row,
    receivingPlaceId: row.presumedPlaceId ?? site.receivingPlaceId,
    entryId: null,
  }));
  const change = rework(history, added);
  const said = withLot.flatMap(({ row }) => (row.totalId === null ? [] : [row]));
  const totals = retotal(await listTotalScans(tx, [...new Set(said.flatMap((row) => row.totalId ?? []))]), said);
  const counts = withLot.filter(({ row }) => row.kind === 'count').map(({ row }) => row);

  const lots = new Map(withLot.flatMap(({ lot }) => (lot ? [[lot.lotId, lot] as const] : [])));
  const moved = await loadMoved(tx, change.stood);
  const book = await loadScanBook(work, world, change, totals, counts, moved.parts);
  const findings = new Map<string, FindingDraft[]>();
  const note = (scanId: string, drafts: readonly FindingDraft[]) => {
    if (drafts.length > 0) findings.set(scanId, [...(findings.get(scanId) ?? []), ...drafts]);
  };
  const fresh = new Set([...added, ...said].map((scan) => scan.scanId));
  postRework(work, book, change, fresh);
  postTotals(work, book, totals, fresh);
  postMoved(work, book, moved);
  const now = withCarried(book, holds);
  for (const scan of [...change.make.map((one) => one.scan), ...totals.make]) {
    const lot = lots.get(scan.lotId ?? '');
    if (lot) note(scan.scanId, shownBy(work, world, scan, lot, now));
  }
  for (const { scan, finding } of change.found) note(scan.scanId, [pathFinding(scan, finding)]);
  const lines = await postCounts(work, world, book, counts, draftOf);

  const repeated = new Set(
    added.filter((scan) => change.fates.get(scan.scanId)?.outcome === 'already-recorded').map((scan) => scan.scanId),
  );
  for (const { row, shows } of resolved) if (shows && !repeated.has(row.scanId)) note(row.scanId, shows);
  const rows = resolved.map(({ row }) =>
    repeated.has(row.scanId) ? { ...row, outcome: 'already-recorded' as const } : row,
  );
  await saveRows(work, rows, stored);
  await clearGone(work, change, totals);
  // its dispatch has been recorded since it was beeped
  if (stored)
    await clearFindings(
      tx,
      'wrong-site',
      withLot.map(({ row }) => row.scanId),
    );
  const actorId = rows[0]?.actorId;
  if (actorId)
    await writeBook({ tx, ids: work.ids, actorId, nowMs: work.nowMs }, book, lines, [...findings.values()].flat());
  const stayed = added.filter((scan) => change.fates.get(scan.scanId)?.outcome === 'nothing');
  await confirmPresumed(
    tx,
    stayed.flatMap(({ lotId, placeId }) => (lotId && placeId ? [{ lotId, placeId }] : [])),
    work.nowMs,
  );
  const touched = [
    ...new Set([...withLot.map(({ row }) => row.dispatchId), ...history.map((scan) => scan.dispatchId)]),
  ];
  const dispatches = touched.flatMap((dispatchId) => (dispatchId ? (world.dispatches.get(dispatchId) ?? []) : []));
  const lastMs = rows.reduce((latest, row) => Math.max(latest, row.occurredAtMs), 0);
  const closing = {
    ids: work.ids,
    actorId: actorId ?? '',
    occurredAtMs: Math.min(lastMs, work.nowMs),
    nowMs: work.nowMs,
  };
  const standing = await closeComplete(tx, dispatches, closing);
  await refreshMissing(tx, standing, rows[0]?.scanId ?? '', work.nowMs, work.nowMs);
  return { repeated, findings, totals: totals.totals, holds: now };
}

async function saveRows(work: ScanWork, rows: readonly ScanRow[], stored: boolean): Promise<void> {
  const made = stored ? rows.filter((row) => row.note.crateScanId !== undefined) : rows;
  await insertScans(work.tx, made, work.nowMs);
  if (!stored) return;
  await setOutcome(
    work.tx,
    rows.filter((row) => row.note.crateScanId === undefined),
  );
}

/** Takes back what a change of path made wrong, then posts what is right. */
export function postRework(
  work: ScanWork,
  book: Book,
  change: Rework,
  fresh: ReadonlySet<string>,
  skipUndo: ReadonlySet<string> = new Set(),
): void {
  for (const { scan, fate } of change.undo) {
    if (scan.entryId === null || skipUndo.has(scan.scanId)) continue;
    const move = fateMove(scan, fate);
    const back: Move = { ...move, fromAccountId: move.toAccountId, toAccountId: move.fromAccountId };
    const draft = draftOf(scan, work.ids.newId(), 'reversal', [back]);
    post(book, {
      ...draft,
      reversesEntryId: scan.entryId,
      note: { reason: 'A scan that came later changed the path of this pack' },
    });
  }
  for (const { scan, fate } of change.make) {
    const entryId = fresh.has(scan.scanId) ? scan.scanId : work.ids.newId();
    post(book, draftOf(scan, entryId, kindOf(scan), [fateMove(scan, fate)]));
  }
}

export async function clearGone(work: Pick<ScanWork, 'tx'>, change: Rework, totals: Retotal): Promise<void> {
  for (const { scan, finding } of change.cleared) await clearFindings(work.tx, finding, [scan.scanId]);
  const made = new Set(change.make.map(({ scan }) => scan.scanId));
  const gone = change.undo.filter(({ scan }) => !made.has(scan.scanId)).map(({ scan }) => scan.scanId);
  gone.push(...totals.undo.map((scan) => scan.scanId));
  for (const kind of OWN_FINDINGS) await clearFindings(work.tx, kind, gone);
}

/** What a posted scan shows beside its quantity, on arrival its condition too. */
export function shownBy(
  work: Pick<ScanWork, 'site' | 'nowMs'>,
  world: Pick<ScanWorld, 'places'>,
  row: ScanRow,
  lot: LotRow,
  holds: readonly ReachingHold[],
): FindingDraft[] {
  // what a conversion shows is told by the conversion
  if (row.kind === 'conversion') return [];
  const drafts = observed(work, world, row, lot, holds);
  if (row.kind !== 'arrival' || row.condition === null || row.condition === 'accepted') return drafts;
  const temperatureC = typeof row.note.temperatureC === 'number' ? row.note.temperatureC : null;
  const line = { condition: row.condition, quantity: row.quantity ?? 1, temperatureC };
  const at = { siteId: row.siteId, dispatchId: row.dispatchId, factId: row.scanId, occurredAtMs: row.occurredAtMs };
  return [...drafts, conditionFinding(lot, line, row.scanId, at)];
}

export function pathFinding(scan: ScanRow, finding: 'ended-twice' | 'seen-after-end'): FindingDraft {
  return {
    kind: finding,
    subject: scan.scanId,
    siteId: scan.siteId,
    lotId: scan.lotId,
    quantity: 1,
    occurredAtMs: scan.occurredAtMs,
    detail: { code: scan.code, scan: scan.kind, factId: scan.scanId },
  };
}

function accountOf(stop: Stop, siteId: string): string {
  if (stop.at === 'place') return stop.placeId;
  return stop.at === 'transit' ? stop.dispatchId : outside(stop.at, siteId);
}

function fateMove(scan: ScanRow, fate: Fate & { outcome: 'posts' }): Move {
  return {
    lotId: scan.lotId ?? '',
    fromAccountId: accountOf(fate.from, scan.siteId),
    toAccountId: accountOf(fate.to, scan.siteId),
    quantity: 1,
    basis: 'counted',
    ...saidOf(scan),
  };
}

async function loadScanBook(
  work: ScanWork,
  world: ScanWorld,
  change: Rework,
  totals: Retotal,
  counts: readonly ScanRow[],
  moved: readonly PartRef[],
): Promise<Book> {
  const { tx, site } = work;
  const stops = [...change.undo, ...change.make].flatMap(({ scan, fate }) =>
    [fate.from, fate.to].map((stop) => ({ lotId: scan.lotId ?? '', ...stopIds(stop) })),
  );
  const counted = counts.map((row) => ({ lotId: row.lotId ?? '', placeId: row.placeId ?? '' }));
  const wanted = [...stops, ...partsOfTotals(totals), ...counted];
  const parts = [...(await partsOf(work, world, wanted)), ...moved];
  const postings = [
    ...[...change.undo, ...change.make].map(({ scan }) => scan),
    ...totals.undo,
    ...totals.make,
    ...counts,
  ];
  // Counts from before the earliest of them have nothing to adjust; what a conversion moves has times of its own.
  const sinceMs = postings.reduce((least, { occurredAtMs }) => Math.min(least, occurredAtMs), work.nowMs);
  return loadBook(tx, parts, [site.siteId], moved.length > 0 ? {} : { sinceMs });
}

/** Parts by place or dispatch; places of other sites (where a pack was before) are looked up. */
export async function partsOf(
  { tx }: Pick<ScanWork, 'tx'>,
  world: Pick<ScanWorld, 'places' | 'dispatches'>,
  wanted: readonly { lotId: string; placeId?: string; dispatchId?: string }[],
): Promise<PartRef[]> {
  const unknown = wanted.flatMap((one) => (one.placeId && !world.places.has(one.placeId) ? [one.placeId] : []));
  const places = new Map([...world.places, ...(unknown.length > 0 ? await findPlaces(tx, [...new Set(unknown)]) : [])]);
  return wanted.flatMap((one): PartRef[] => {
    const place = one.placeId ? places.get(one.placeId) : undefined;
    if (place) return [{ lotId: one.lotId, account: placeAccount(place.placeId, place.siteId) }];
    const dispatch = one.dispatchId ? world.dispatches.get(one.dispatchId) : undefined;
    return dispatch
      ? [{ lotId: one.lotId, account: transitAccount(dispatch.dispatchId, dispatch.fromSiteId, dispatch.toSiteId) }]
      : [];
  });
}
