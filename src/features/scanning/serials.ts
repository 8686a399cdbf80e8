/**
 * What a set of scans does to the serials that they name: the path of each serial before and after, and the difference as
 * reversals and new entries. Pure; the same scans in any order of arrival end in the same postings and findings.
 */
import { pathOf, placeEnded, sameFate, type Fate, type SerialScan, type Stop } from '../../domain/ledger/serials.ts';
import type { ScanRow } from './store.ts';

/** A scan with what its path needs; `entryId` is the entry that stands for it now, if any. */
export interface PathScan extends ScanRow {
  readonly receivingPlaceId: string;
  readonly entryId: string | null;
}

export interface Rework {
  /** entries to take back: the scan's fate is not what it was */
  readonly undo: readonly { readonly scan: PathScan; readonly fate: Fate & { outcome: 'posts' } }[];
  /** entries to make */
  readonly make: readonly { readonly scan: PathScan; readonly fate: Fate & { outcome: 'posts' } }[];
  /** scans whose finding begins or ends */
  readonly found: readonly { readonly scan: PathScan; readonly finding: 'ended-twice' | 'seen-after-end' }[];
  readonly cleared: readonly { readonly scan: PathScan; readonly finding: 'ended-twice' | 'seen-after-end' }[];
  readonly fates: ReadonlyMap<string, Fate>;
  /** conversions whose pack stood elsewhere than it seemed (moved), or where a scan says now what was presumed */
  readonly stood: readonly { readonly scan: PathScan; readonly placeId: string; readonly moved: boolean }[];
}

const serialKey = (scan: { lotId: string | null; serial: string | null }): string => `${scan.lotId}/${scan.serial}`;

const asSerialScan = (scan: PathScan): SerialScan => ({
  scanId: scan.scanId,
  kind: scan.kind as SerialScan['kind'],
  occurredAtMs: scan.occurredAtMs,
  siteId: scan.siteId,
  dispatchId: scan.dispatchId,
  placeId: scan.placeId ?? scan.receivingPlaceId,
  receivingPlaceId: scan.receivingPlaceId,
});

/** Whether a scan of the pack says that it was at this site by then. */
export function seenBy(scans: readonly PathScan[], siteId: string, occurredAtMs: number): boolean {
  return scans.some(
    (one) =>
      (one.kind === 'arrival' || one.kind === 'put-away') && one.siteId === siteId && one.occurredAtMs <= occurredAtMs,
  );
}

/**
 * @param history scans of these serials that stand already
 * @param added scans that come now
 * @param removed ids of standing scans that are undone
 */
export function rework(
  history: readonly PathScan[],
  added: readonly PathScan[],
  removed: ReadonlySet<string> = new Set(),
): Rework {
  const bySerial = new Map<string, { before: PathScan[]; after: PathScan[] }>();
  const group = (scan: PathScan) => {
    const key = serialKey(scan);
    const found = bySerial.get(key) ?? { before: [], after: [] };
    bySerial.set(key, found);
    return found;
  };
  for (const scan of history) {
    const both = group(scan);
    both.before.push(scan);
    if (!removed.has(scan.scanId)) both.after.push(scan);
  }
  for (const scan of added) group(scan).after.push(scan);

  const undo: { scan: PathScan; fate: Fate & { outcome: 'posts' } }[] = [];
  const make: typeof undo = [];
  const found: { scan: PathScan; finding: 'ended-twice' | 'seen-after-end' }[] = [];
  const cleared: typeof found = [];
  const stood: { scan: PathScan; placeId: string; moved: boolean }[] = [];
  const fates = new Map<string, Fate>();
  for (const { before, after } of bySerial.values()) {
    const old = new Map<string, Fate>();
    if (before.length > 0) for (const fate of pathOf(before.map(asSerialScan))) old.set(fate.scanId, fate);
    const now = pathOf(after.map(asSerialScan));
    const scans = new Map<string, PathScan>();
    for (const scan of before) scans.set(scan.scanId, scan);
    for (const scan of after) scans.set(scan.scanId, scan);
    for (const fate of now) {
      fates.set(fate.scanId, fate);
      const scan = scans.get(fate.scanId) as PathScan;
      const was = old.get(fate.scanId);
      old.delete(fate.scanId);
      if (was && scan.kind === 'conversion') {
        const placeId = placeEnded(fate);
        const moved = placeId !== placeEnded(was);
        const seen = (scans: readonly PathScan[]) => seenBy(scans, scan.siteId, scan.occurredAtMs);
        if (placeId !== null && (moved || (seen(after) && !seen(before)))) stood.push({ scan, placeId, moved });
      }
      // most scans are new, and comparing takes time
      if (was && sameFate(was, fate)) continue;
      if (was?.outcome === 'posts') undo.push({ scan, fate: was });
      if (was?.outcome === 'finding') cleared.push({ scan, finding: was.finding });
      if (fate.outcome === 'posts') make.push({ scan, fate });
      if (fate.outcome === 'finding') found.push({ scan, finding: fate.finding });
    }
    for (const was of old.values()) {
      const scan = scans.get(was.scanId) as PathScan;
      if (was.outcome === 'posts') undo.push({ scan, fate: was });
      if (was.outcome === 'finding') cleared.push({ scan, finding: was.finding });
    }
  }
  return { undo, make, found, cleared, fates, stood };
}

/** Places and dispatches that a stop stands for. */
export function stopIds(stop: Stop): { placeId?: string; dispatchId?: string } {
  if (stop.at === 'place') return { placeId: stop.placeId };
  return stop.at === 'transit' ? { dispatchId: stop.dispatchId } : {};
}
