/**
 * What came of an opened pack stands where the pack stood, unless somebody said otherwise. Where that was follows from all scans of the
 * pack; when a late one shows that it was elsewhere, what came of it is posted anew there, so that any order of arrival ends the same.
 */
import { post, type Book } from '../../../domain/ledger/book.ts';
import type { Tx } from '../../../platform/db/db.ts';
import {
  findEntry,
  listEntryLines,
  outside,
  partsOfLines,
  placeAccount,
  postReversal,
  type EntryRow,
  type PartRef,
} from '../../ledger/index.ts';
import type { Rework } from '../serials.ts';
import type { ScanWork } from '../work.ts';
import { listOutputs, type OutputRow } from './store.ts';

interface Moved {
  readonly output: OutputRow;
  readonly entry: EntryRow;
  readonly lines: Awaited<ReturnType<typeof listEntryLines>>;
  readonly placeId: string;
}

export interface MovedOutputs {
  readonly list: readonly Moved[];
  readonly parts: readonly PartRef[];
}

/** Reads what has to be posted anew, before the book is loaded. */
export async function loadMoved(tx: Tx, stood: Rework['stood']): Promise<MovedOutputs> {
  if (stood.length === 0) return { list: [], parts: [] };
  const places = new Map(stood.map((one) => [one.scan.scanId, one]));
  const outputs = await listOutputs(tx, [...places.keys()]);
  const list: Moved[] = [];
  for (const output of outputs) {
    const now = places.get(output.scanId ?? '');
    if (!output.stays || output.entryId === null || now === undefined) continue;
    const entry = await findEntry(tx, output.entryId);
    // where it was said, or known already, a scan that says the same changes nothing
    if (!entry || (!now.moved && entry.note['presumed'] === undefined)) continue;
    list.push({ output, entry, lines: await listEntryLines(tx, entry.seq, null), placeId: now.placeId });
  }
  const parts = list.flatMap(({ output, lines, placeId }) => [
    ...partsOfLines(lines, null),
    { lotId: output.toLotId, account: placeAccount(placeId, output.siteId) },
  ]);
  return { list, parts };
}

export function postMoved(work: Pick<ScanWork, 'ids'>, book: Book, moved: MovedOutputs): void {
  for (const { output, entry, lines, placeId } of moved.list) {
    const { factId, contentHash } = entry;
    const reason = 'A scan that came later says where the pack stood';
    postReversal(book, entry, lines, { entryId: work.ids.newId(), factId, contentHash, reason });
    const quantity = lines.reduce((sum, line) => sum + line.quantity, 0);
    const { presumed: _presumed, ...note } = entry.note;
    post(book, {
      entryId: work.ids.newId(),
      kind: 'conversion',
      factId,
      siteId: entry.siteId,
      occurredAtMs: entry.occurredAt.getTime(),
      occurredOn: entry.occurredOn,
      contentHash,
      note,
      moves: [
        {
          lotId: output.toLotId,
          fromAccountId: outside('produced', output.siteId),
          toAccountId: placeId,
          quantity,
          basis: lines[0]?.basis === 'weighed' ? 'weighed' : 'counted',
        },
      ],
    });
  }
}
