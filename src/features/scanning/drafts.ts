/** An entry as a scan makes it. */
import type { EntryDraft, Move } from '../../domain/ledger/book.ts';
import { materialOf, purposeOf } from '../ledger/index.ts';
import type { ScanRow } from './store.ts';

/** What a scan's posting says besides how much, in the same words when it is taken back. */
export function saidOf(row: ScanRow): Pick<Move, 'reason' | 'destination' | 'material'> {
  if (row.kind === 'use') return { reason: purposeOf(row.note.purpose) };
  return {
    reason: row.reason ?? row.condition ?? undefined,
    destination: row.destination ?? undefined,
    material: materialOf(row.note.material),
  };
}

export function draftOf(row: ScanRow, entryId: string, kind: string, moves: readonly Move[]): EntryDraft {
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
    note: { ...row.note, ...presumedNote(row) },
    moves,
  };
}

/** Nobody said where it was put, so it is not known but presumed. */
function presumedNote(row: ScanRow): object {
  if (row.kind !== 'arrival' || row.placeId !== null || row.presumedPlaceId === null) return {};
  return { presumed: [{ lotId: row.lotId, placeId: row.presumedPlaceId }] };
}

const KINDS = {
  arrival: 'receipt',
  'put-away': 'move',
  use: 'use',
  discard: 'discard',
  count: 'stock-count',
  conversion: 'conversion',
} as const;
export const kindOf = (row: ScanRow): string => KINDS[row.kind];
