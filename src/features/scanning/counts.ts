/** Count scans: each is a count of one lot, never a complete one; at a place used by count what is gone was served. */
import { enterCount, post, type Book, type CountDraft, type EntryDraft, type Move } from '../../domain/ledger/book.ts';
import { loadBalancesAt } from '../ledger/index.ts';
import type { ScanRow } from './store.ts';
import type { ScanWork, ScanWorld } from './work.ts';

/** Posts what they assert into the book; answers what is to be written of the counts themselves. */
export async function postCounts(
  work: Pick<ScanWork, 'tx'>,
  world: Pick<ScanWorld, 'places'>,
  book: Book,
  rows: readonly ScanRow[],
  draftOf: (row: ScanRow, entryId: string, kind: string, moves: readonly Move[]) => EntryDraft,
): Promise<CountDraft[]> {
  if (rows.length === 0) return [];
  const counts = rows.map((row): [ScanRow, CountDraft] => [row, countOf(world, row)]);
  const marks = counts.flatMap(([, count]) => count.lines.map(({ lotId }) => ({ ...count, lotId })));
  const before = await loadBalancesAt(work.tx, marks);
  return counts.map(([row, count]) => {
    const { moves } = enterCount(book, count, [], before);
    post(book, { ...draftOf(row, count.countId, 'stock-count', moves), countId: count.countId });
    return count;
  });
}

function countOf(world: Pick<ScanWorld, 'places'>, row: ScanRow): CountDraft {
  return {
    countId: row.scanId,
    accountId: row.placeId ?? '',
    siteId: row.siteId,
    occurredAtMs: row.occurredAtMs,
    occurredOn: row.occurredOn,
    usedByCount: world.places.get(row.placeId ?? '')?.usedByCount ?? false,
    complete: false,
    lines: [{ lotId: row.lotId ?? '', counted: row.quantity ?? 0 }],
  };
}
