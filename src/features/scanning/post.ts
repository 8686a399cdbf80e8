/**
 * Resolved scans into the ledger. Serials go by their path (reversing what a late scan makes wrong), counted packs post what
 * they say, counts assert.
 */
import {
  addCount,
  partKey,
  post,
  varianceMoves,
  varianceOf,
  type Book,
  type EntryDraft,
  type Move,
} from '../../domain/ledger/book.ts';
import type { Fate, Stop } from '../../domain/ledger/serials.ts';
import { conditionFinding, refreshMissing } from '../distribution/index.ts';
import { findPlaces } from '../catalogue/index.ts';
import {
  clearFindings,
  findLots,
  loadBalancesAt,
  loadBook,
  outside,
  placeAccount,
  transitAccount,
  writeBook,
  type CountLine,
  type FindingDraft,
  type LotRow,
  type PartRef,
  type ReachingHold,
} from '../ledger/index.ts';
import { loadMoved, postMoved } from './conversions/follow.ts';
import { rework, stopIds, type PathScan, type Rework } from './serials.ts';
import { insertScans, setOutcome, type ScanRow } from './store.ts';
import { observed, type ResolvedScan, type ScanWork, type ScanWorld } from './work.ts';

export interface WrittenScans {
  /** scans that said nothing new */
  readonly repeated: ReadonlySet<string>;
  readonly findings: ReadonlyMap<string, FindingDraft[]>;
}

/** Findings that hang on a scan's own posting, and go when it does. */
const OWN_FINDINGS = [
  'past-use-by',
  'used-while-held',
  'used-from-quarantine',
  'damaged-on-arrival',
  'too-warm-on-arrival',
];

export async function writeScans(
  work: ScanWork,
  resolved: readonly ResolvedScan[],
  world: ScanWorld,
  holds: readonly ReachingHold[],
  stored: boolean,
): Promise<WrittenScans> {
  const { tx, site } = work;
  if (resolved.length === 0) return { repeated: new Set(), findings: new Map() };
  const withLot = resolved.filter(({ row }) => row.lotId !== null);
  const serialRows = withLot.filter(({ row }) => row.serial !== null).map(({ row }) => row);
  const { history } = world;
  const added = serialRows.map((row): PathScan => ({ ...row, receivingPlaceId: site.receivingPlaceId, entryId: null }));
  const change = rework(history, added);
  const counted = withLot.filter(({ row }) => row.serial === null && row.kind !== 'count').map(({ row }) => row);
  const counts = withLot.filter(({ row }) => row.kind === 'count').map(({ row }) => row);

  const lots = new Map(withLot.flatMap(({ lot }) => (lot ? [[lot.lotId, lot] as const] : [])));
  // lots of a crate are not named by its code
  const unnamed = withLot.flatMap(({ row }) => (row.lotId && !lots.has(row.lotId) ? [row.lotId] : []));
  if (unnamed.length > 0) for (const lot of (await findLots(tx, unnamed)).values()) lots.set(lot.lotId, lot);

  const moved = await loadMoved(tx, change.stood);
  const book = await loadScanBook(work, world, change, counted, counts, moved.parts);
  const findings = new Map<string, FindingDraft[]>();
  const note = (scanId: string, drafts: readonly FindingDraft[]) => {
    if (drafts.length > 0) findings.set(scanId, [...(findings.get(scanId) ?? []), ...drafts]);
  };
  const fresh = new Set(added.map((scan) => scan.scanId));
  postRework(work, book, change, fresh);
  postMoved(work, book, moved);
  for (const { scan } of change.make) {
    const lot = lots.get(scan.lotId ?? '');
    if (lot) note(scan.scanId, shownBy(work, world, scan, lot, holds));
  }
  for (const { scan, finding } of change.found) note(scan.scanId, [pathFinding(scan, finding)]);
  for (const row of counted) {
    post(book, draftOf(row, row.scanId, kindOf(row), [countedMove(site, row)]));
    const lot = lots.get(row.lotId ?? '');
    if (lot) note(row.scanId, shownBy(work, world, row, lot, holds));
  }
  const lines = await postCounts(work, book, counts);

  const repeated = new Set(
    added.filter((scan) => change.fates.get(scan.scanId)?.outcome === 'already-recorded').map((scan) => scan.scanId),
  );
  const rows = resolved.map(({ row }) =>
    repeated.has(row.scanId) ? { ...row, outcome: 'already-recorded' as const } : row,
  );
  await saveRows(work, rows, stored);
  await clearGone(work, change);
  const actorId = rows[0]?.actorId;
  if (actorId)
    await writeBook({ tx, ids: work.ids, actorId, nowMs: work.nowMs }, book, lines, [...findings.values()].flat());
  const touched = [
    ...new Set([...withLot.map(({ row }) => row.dispatchId), ...history.map((scan) => scan.dispatchId)]),
  ];
  const dispatches = touched.flatMap((dispatchId) => (dispatchId ? (world.dispatches.get(dispatchId) ?? []) : []));
  await refreshMissing(tx, dispatches, rows[0]?.scanId ?? '', work.nowMs, work.nowMs);
  return { repeated, findings };
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

export async function clearGone(work: ScanWork, change: Rework): Promise<void> {
  for (const { scan, finding } of change.cleared) await clearFindings(work.tx, finding, [scan.scanId]);
  const made = new Set(change.make.map(({ scan }) => scan.scanId));
  const gone = change.undo.filter(({ scan }) => !made.has(scan.scanId)).map(({ scan }) => scan.scanId);
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

function draftOf(row: ScanRow, entryId: string, kind: string, moves: readonly Move[]): EntryDraft {
  return {
    entryId,
    kind,
    factId: row.scanId,
    siteId: row.siteId,
    occurredAtMs: row.occurredAtMs,
    occurredOn: row.occurredOn,
    contentHash: row.contentHash,
    scanId: row.scanId,
    clockOffsetMs: row.clockOffsetMs,
    ...(row.dispatchId && row.kind === 'arrival' && { dispatchId: row.dispatchId }),
    note: row.note,
    moves,
  };
}

const KINDS = {
  arrival: 'receipt',
  'put-away': 'move',
  use: 'use',
  discard: 'discard',
  count: 'stock-count',
  conversion: 'conversion',
} as const;
const kindOf = (row: ScanRow): string => KINDS[row.kind];

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
    reason: scan.reason ?? scan.condition ?? undefined,
    destination: scan.destination ?? undefined,
  };
}

function countedMove(site: ScanWork['site'], row: ScanRow): Move {
  const place = row.placeId ?? site.receivingPlaceId;
  const [from, to] = {
    arrival: [row.dispatchId ?? '', place],
    'put-away': [site.receivingPlaceId, place],
    use: [place, outside('served', site.siteId)],
    discard: [place, outside('waste', site.siteId)],
    conversion: [place, outside('consumed', site.siteId)],
    count: [place, place],
  }[row.kind] as [string, string];
  return {
    lotId: row.lotId ?? '',
    fromAccountId: from,
    toAccountId: to,
    quantity: row.quantity ?? 1,
    basis: 'counted',
    reason: row.reason ?? row.condition ?? undefined,
    destination: row.destination ?? undefined,
  };
}

async function loadScanBook(
  work: ScanWork,
  world: ScanWorld,
  change: Rework,
  counted: readonly ScanRow[],
  counts: readonly ScanRow[],
  moved: readonly PartRef[],
): Promise<Book> {
  const { tx, site } = work;
  const stops = [...change.undo, ...change.make].flatMap(({ scan, fate }) =>
    [fate.from, fate.to].map((stop) => ({ lotId: scan.lotId ?? '', ...stopIds(stop) })),
  );
  const plain = [
    ...counted.flatMap((row) => [
      { lotId: row.lotId ?? '', placeId: row.placeId ?? site.receivingPlaceId },
      ...(row.kind === 'put-away' ? [{ lotId: row.lotId ?? '', placeId: site.receivingPlaceId }] : []),
      ...(row.kind === 'arrival' ? [{ lotId: row.lotId ?? '', dispatchId: row.dispatchId ?? '' }] : []),
    ]),
    ...counts.map((row) => ({ lotId: row.lotId ?? '', placeId: row.placeId ?? '' })),
  ];
  return loadBook(tx, [...(await partsOf(work, world, [...stops, ...plain])), ...moved], [site.siteId]);
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

async function postCounts(work: ScanWork, book: Book, counts: readonly ScanRow[]): Promise<CountLine[]> {
  if (counts.length === 0) return [];
  const marks = counts.map((row) => ({
    countId: row.scanId,
    lotId: row.lotId ?? '',
    accountId: row.placeId ?? '',
    occurredAtMs: row.occurredAtMs,
    occurredOn: row.occurredOn,
    siteId: row.siteId,
    counted: row.quantity ?? 0,
  }));
  const before = await loadBalancesAt(work.tx, marks);
  for (const [at, mark] of marks.entries()) {
    const variance = varianceOf(book, mark, mark.counted, before.get(`${partKey(mark)}|${mark.countId}`) ?? 0);
    addCount(book, mark);
    const moves = varianceMoves(book, mark, variance);
    post(book, { ...draftOf(counts[at] as ScanRow, mark.countId, 'stock-count', moves), countId: mark.countId });
  }
  return marks;
}
