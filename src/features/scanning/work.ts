/** What the steps of processing scans share. */
import type { Tx } from '../../platform/db/db.ts';
import type { Ids } from '../../platform/ids.ts';
import type { PlaceRow, SiteRow } from '../catalogue/index.ts';
import type { AstrayRow, CarriedRow, DispatchRow } from '../distribution/index.ts';
import {
  findingsOf,
  type checkDiscardReason,
  type FindingDraft,
  type LotRow,
  type ReachingHold,
} from '../ledger/index.ts';
import type { PathScan } from './serials.ts';
import type { ScanRow } from './store.ts';

export interface IncomingScan {
  readonly scanId: string;
  readonly kind: ScanRow['kind'];
  readonly code: string;
  readonly occurredAtMs: number;
  readonly dispatchId?: string | undefined;
  readonly placeId?: string | undefined;
  readonly quantity?: number | undefined;
  readonly condition?: string | undefined;
  readonly temperatureC?: number | undefined;
  readonly reason?: string | undefined;
  readonly destination?: string | undefined;
  readonly note: Readonly<Record<string, unknown>>;
  readonly contentHash: Buffer;
  readonly clockOffsetMs: number | null;
  readonly actorId: string;
}

export interface ScanWork {
  readonly tx: Tx;
  readonly ids: Ids;
  readonly nowMs: number;
  readonly site: SiteRow;
}

export interface ScanWorld {
  readonly lots: ReadonlyMap<string, LotRow>;
  readonly carried: readonly CarriedRow[];
  /** lines to other sites that arrivals here may belong to; read only when lines to this site do not say so */
  readonly astray: readonly AstrayRow[];
  readonly places: ReadonlyMap<string, PlaceRow>;
  readonly dispatches: ReadonlyMap<string, DispatchRow>;
  /** by id: lots of crates that are scanned now; a crate's code does not name them */
  readonly crateLots: ReadonlyMap<string, LotRow>;
  readonly seenCrates: Set<string>;
  /** why the site throws food away; read when something is thrown away */
  readonly reasons: Parameters<typeof checkDiscardReason>[0];
  /** standing scans of the packs that are scanned now, read when nobody else can add to them */
  readonly history: readonly PathScan[];
}

/** One row that goes into the scan table; several for a crate. */
export interface ResolvedScan {
  readonly row: ScanRow;
  readonly lot: LotRow | null;
  /** what the scan shows whatever becomes of its posting; not when it says nothing new */
  readonly shows?: readonly FindingDraft[];
}

/** A scan that is posted anew may be of another site than the one that scans now; it knows where its lot is presumed to be. */
export function placeOf(
  work: Pick<ScanWork, 'site'>,
  world: Pick<ScanWorld, 'places'>,
  row: ScanRow & { readonly receivingPlaceId?: string },
) {
  const placeId = row.placeId ?? row.presumedPlaceId ?? row.receivingPlaceId ?? work.site.receivingPlaceId;
  const quarantine = world.places.get(placeId)?.quarantine ?? false;
  return { placeId, siteId: row.siteId, quarantine };
}

/** What a posted scan shows beside its quantity. */
export function observed(
  work: Pick<ScanWork, 'site' | 'nowMs'>,
  world: Pick<ScanWorld, 'places'>,
  row: ScanRow,
  lot: LotRow,
  holds: readonly ReachingHold[],
): FindingDraft[] {
  const seen = {
    factId: row.scanId,
    lot,
    place: placeOf(work, world, row),
    occurredAtMs: row.occurredAtMs,
    // the laboratory does not eat it
    serving: row.kind === 'use' && row.note.purpose !== 'laboratory',
  };
  return findingsOf(seen, holds, work.nowMs);
}
