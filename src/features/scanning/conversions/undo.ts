/**
 * Undoing a conversion, asked for by either of its entries: what came of it and the end of the pack go together. Nothing is refused here;
 * what has been used of the new lot since becomes a shortfall.
 */
import type { Tx } from '../../../platform/db/db.ts';
import { findEntry, listEntryLines, type EntryRow } from '../../ledger/index.ts';
import { findConversion, findOutputEntryId } from './store.ts';

interface Partner {
  readonly entry: EntryRow;
  readonly lines: Awaited<ReturnType<typeof listEntryLines>>;
}

export interface ConversionUndo {
  /** the scan that leaves the path of the pack */
  readonly scanId: string | null;
  /** the entry beside the one that was named, when it stands */
  readonly partner: Partner | null;
}

/**
 * What else goes when this entry is undone; null when it is of no conversion.
 * @param scanEntryId the entry that stands for the pack's end, by the id of its scan
 */
export async function undoOf(
  tx: Tx,
  entry: EntryRow,
  scanEntryId: (scanId: string) => Promise<string | null>,
): Promise<ConversionUndo | null> {
  if (entry.kind !== 'conversion') return null;
  const conversion = await findConversion(tx, entry.factId, entry.scanId);
  if (!conversion) return null;
  const { scanId, conversionId } = conversion;
  if (scanId === null) return { scanId, partner: null };
  const named = entry.scanId === scanId;
  const otherId = named ? await findOutputEntryId(tx, conversionId) : await scanEntryId(scanId);
  const other = otherId === null ? null : await findEntry(tx, otherId);
  if (!other) return { scanId, partner: null };
  return { scanId, partner: { entry: other, lines: await listEntryLines(tx, other.seq, null) } };
}
