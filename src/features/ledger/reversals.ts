/**
 * Undoing an entry: the opposite of its postings, at its own time, once. Only the net is checked, a deficit becomes a
 * shortfall; edges that only this entry made are taken back; holds stay. Refusals: `already-reversed`, `not-reversible`.
 */
import { Refused } from '../../domain/errors.ts';
import { post, removeCount, type Book, type EntryDraft } from '../../domain/ledger/book.ts';
import type { Tx } from '../../platform/db/db.ts';
import { placeAccount, transitAccount } from './accounts.ts';
import type { PartRef } from './book.ts';
import { materialOf } from './discard-reasons.ts';
import { removeEdges } from './edges-store.ts';
import { clearFindingsOfFact } from './findings-store.ts';
import type { EntryLineRow, EntryRow, StopRow } from './queries.ts';

export function requireReversible(entry: EntryRow): void {
  if (entry.kind === 'reversal') throw new Refused('not-reversible', 'Reversals are not reversed.');
  if (entry.countId !== null && entry.countId !== entry.entryId) {
    throw new Refused('not-reversible', 'That entry follows from a count; reverse the count, or what came late.');
  }
  if (entry.reversedByEntryId) {
    throw new Refused('already-reversed', 'It was undone before.', {
      members: { reversedByEntryId: entry.reversedByEntryId },
    });
  }
}

function refOf(stop: StopRow, toSiteId: string | null): PartRef['account'] | null {
  if (stop.kind === 'place' && stop.placeId) return placeAccount(stop.placeId, stop.siteId);
  if (stop.kind === 'transit' && stop.dispatchId)
    return transitAccount(stop.dispatchId, stop.siteId, toSiteId ?? stop.siteId);
  return null;
}

/** The parts that a reversal of these lines touches. */
export function partsOfLines(lines: readonly EntryLineRow[], toSiteId: string | null): PartRef[] {
  return lines.flatMap((line) =>
    [refOf(line.from, toSiteId), refOf(line.to, toSiteId)].flatMap((account) =>
      account ? [{ lotId: line.lotId, account }] : [],
    ),
  );
}

/** Posts the reversal into the book. */
export function postReversal(
  book: Book,
  entry: EntryRow,
  lines: readonly EntryLineRow[],
  by: { entryId: string; factId: string; contentHash: Buffer; reason: string },
): void {
  if (entry.countId !== null) removeCount(book, entry.countId);
  const draft: EntryDraft = {
    entryId: by.entryId,
    kind: 'reversal',
    factId: by.factId,
    siteId: entry.siteId,
    occurredAtMs: entry.occurredAt.getTime(),
    occurredOn: entry.occurredOn,
    contentHash: by.contentHash,
    reversesEntryId: entry.entryId,
    ...(entry.batchId && { batchId: entry.batchId }),
    ...(entry.packingRunId && { packingRunId: entry.packingRunId }),
    ...(entry.dispatchId && { dispatchId: entry.dispatchId }),
    ...(entry.scanId && { scanId: entry.scanId }),
    // It stands where the count stood: before the same counts of its moment, and after the same.
    ...(entry.countId && { countId: entry.countId }),
    note: { reason: by.reason },
    moves: lines.map((line) => ({
      lotId: line.lotId,
      fromAccountId: line.toAccountId,
      toAccountId: line.fromAccountId,
      quantity: line.quantity,
      basis: line.basis as 'derived',
      reason: line.reason ?? undefined,
      destination: line.destination ?? undefined,
      material: materialOf(line.material),
    })),
  };
  post(book, draft);
}

/** Findings that one fact shows by itself. */
const OF_ONE_FACT = [
  'past-use-by',
  'used-while-held',
  'used-from-quarantine',
  'made-from-itself',
  'time-ahead',
  'refrozen',
  'regenerated-frozen',
  'regenerated-returned',
  'damaged-on-arrival',
  'too-warm-on-arrival',
  'wrong-site',
  'rejected-at-door',
  'allergens-differ',
  'label-understates',
  'allergen-not-named',
  'allergen-undeclared',
];

/** After the reversal is written: edges that nothing else supports go, and findings that the fact alone showed. */
export async function afterReversal(tx: Tx, entry: EntryRow, nowMs: number): Promise<void> {
  await removeUnsupportedEdges(tx, entry, nowMs);
  await clearFindingsOfFact(tx, OF_ONE_FACT, entry.scanId ?? entry.factId);
}

async function removeUnsupportedEdges(tx: Tx, entry: EntryRow, nowMs: number): Promise<void> {
  if (entry.kind === 'conversion') {
    await removeEdges(tx, nowMs, 'le.process_id = $3::uuid', [entry.factId]);
    return;
  }
  if (entry.kind !== 'batch-input' && entry.kind !== 'batch-output' && entry.kind !== 'packing') return;
  const which = `le.process_id = coalesce($4::uuid, $3::uuid)
        and (($5::text = 'batch-input' and not exists (
               select from entry e
                 join posting p on p.group_id = e.group_id and p.seq = e.seq and p.lot_id = le.parent_lot_id
                where e.group_id = $1::uuid and e.batch_id = $3::uuid and e.kind = 'batch-input'
                  and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id))
             and not exists (
               select from bin_input bi
                 join bin_input_lot m on m.group_id = bi.group_id and m.bin_input_id = bi.bin_input_id
                where bi.group_id = $1::uuid and bi.batch_id = $3::uuid and m.lot_id = le.parent_lot_id
                  and not exists (select from entry r where r.group_id = bi.group_id and r.reverses_entry_id = bi.entry_id)))
          or ($5::text <> 'batch-input' and exists (
               select from posting p where p.group_id = $1::uuid and p.seq = $6::int8 and p.lot_id = le.child_lot_id)))`;
  await removeEdges(tx, nowMs, which, [entry.batchId, entry.packingRunId, entry.kind, entry.seq]);
}
