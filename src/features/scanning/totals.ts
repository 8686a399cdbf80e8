/**
 * Scans without a serial and the totals that they set: where each stands, what governs before and after, and the difference
 * as reversals and new entries. The same scans in any order of arrival end in the same postings.
 */
import { governing, totalKeyOf, totalOf, type CountedScan, type TotalSaid } from '../../domain/ledger/counted-scans.ts';
import { derivedId } from '../../platform/ids.ts';
import { presumedPlaceId, type SiteRow } from '../catalogue/index.ts';
import { materialOf, purposeOf, type LotRow } from '../ledger/index.ts';
import type { ScanRow, TotalScan } from './store.ts';

export interface Retotal {
  /** entries to take back: another scan governs */
  readonly undo: readonly TotalScan[];
  /** scans that govern and have no entry */
  readonly make: readonly TotalScan[];
  /** what is recorded for each total now */
  readonly totals: ReadonlyMap<string, number>;
}

export const NO_TOTALS: Retotal = { undo: [], make: [], totals: new Map() };

const KINDS: readonly string[] = ['arrival', 'put-away', 'use', 'discard'] satisfies CountedScan['kind'][];
const textOr = (value: unknown): string | null => (typeof value === 'string' ? value : null);

/** Null for scans that set no total: of a serial, or counts of a place. */
function totalIdOf(row: ScanRow): string | null {
  if (row.serial !== null || row.lotId === null || !KINDS.includes(row.kind)) return null;
  const key = totalKeyOf({
    ...row,
    kind: row.kind as CountedScan['kind'],
    lotId: row.lotId,
    placeId: placeIdOf(row),
    astrayAtSiteId: row.note.expectedAtSiteId === undefined ? null : row.siteId,
    meal: textOr(row.note.meal),
    servicePoint: textOr(row.note.servicePoint),
    purpose: purposeOf(row.note.purpose) ?? null,
    material: materialOf(row.note.material) ?? null,
  });
  return derivedId('scan-total', key);
}

/** The place that a scan names; else where its lot was presumed to be. */
export const placeIdOf = (row: Pick<ScanRow, 'placeId' | 'presumedPlaceId'>): string =>
  row.placeId ?? row.presumedPlaceId ?? '';

/** A row whose lot is known, with where it is (set aside, said or presumed) and which total it sets. */
export function placed(
  site: SiteRow,
  row: ScanRow,
  lot: LotRow,
  purposeOf: (dispatchId: string | null) => string | undefined,
): ScanRow {
  const arrives = row.kind === 'arrival';
  // What comes back, or is to be destroyed, has a worse history than what stayed: it stands apart until somebody decides.
  const back = arrives && row.placeId === null && (purposeOf(row.dispatchId) ?? 'delivery') !== 'delivery';
  // Nobody here asked for it: its texture or allergens may be another ward's.
  const astray = arrives && row.placeId === null && row.note.expectedAtSiteId !== undefined;
  const setAside = arrives && ((row.condition ?? 'accepted') !== 'accepted' || back || astray);
  const known: ScanRow = {
    ...row,
    lotId: lot.lotId,
    placeId: setAside ? site.quarantinePlaceId : row.placeId,
    presumedPlaceId: presumedPlaceId(site, lot.storage),
  };
  return { ...known, totalId: totalIdOf(known) };
}

const said = (scan: TotalScan): TotalSaid & { readonly scan: TotalScan } => ({
  scanId: scan.scanId,
  occurredAtMs: scan.occurredAtMs,
  quantity: scan.quantity ?? 1,
  // a beep of a roll cage speaks of each crate in it by that crate's own code
  crateCode: scan.note.crateScanId === undefined ? null : (textOr(scan.note.crateCode) ?? scan.code),
  scan,
});

/**
 * @param history scans of these totals that stand already
 * @param added scans that come now
 * @param removed ids of standing scans that are undone; whoever undoes them takes back their entries
 */
export function retotal(
  history: readonly TotalScan[],
  added: readonly ScanRow[],
  removed: ReadonlySet<string> = new Set(),
): Retotal {
  const standing = new Map<string, TotalScan[]>();
  for (const scan of [...history, ...added.map((row): TotalScan => ({ ...row, entryId: null }))]) {
    if (scan.totalId === null || removed.has(scan.scanId)) continue;
    const scans = standing.get(scan.totalId);
    if (scans) scans.push(scan);
    else standing.set(scan.totalId, [scan]);
  }
  const undo: TotalScan[] = [];
  const make: TotalScan[] = [];
  const totals = new Map<string, number>();
  for (const [totalId, scans] of standing) {
    const words = scans.map(said);
    const counting = new Set(governing(words).map(({ scan }) => scan));
    undo.push(...scans.filter((scan) => scan.entryId !== null && !counting.has(scan)));
    make.push(...scans.filter((scan) => scan.entryId === null && counting.has(scan)));
    totals.set(totalId, totalOf(words));
  }
  return { undo, make, totals };
}
