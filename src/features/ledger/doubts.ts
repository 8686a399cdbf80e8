/**
 * Inputs that should not have gone in, and the holds on what was made with them. Ids follow from the facts, so that neither the order
 * in which they arrive nor a second sending holds anything twice. Refusals: none.
 */
import type { Tx } from '../../platform/db/db.ts';
import { derivedId } from '../../platform/ids.ts';
import type { HoldDraft } from './holds-store.ts';

/** An input recorded afterwards that a request would have been refused. */
export interface DoubtfulInput {
  /** the fact's id */
  readonly entryId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly reasons: readonly string[];
}

export function qualityHold(what: string, lotId: string, note: string): HoldDraft {
  return {
    holdId: derivedId(what, lotId),
    kind: 'quality',
    lotId,
    siteId: null,
    accountId: null,
    propagates: true,
    note,
  };
}

/** One hold for each lot that was made with what should not have gone in; the quality lead lifts it or not. */
export function holdsOfDoubt(doubt: DoubtfulInput, childLotIds: readonly string[]): HoldDraft[] {
  const note = `Made with lot ${doubt.lotCode}, which was ${doubt.reasons.join(', ')} when it was taken. Decide before it is used.`;
  return childLotIds.map((lotId) => qualityHold(`doubtful-input-${doubt.entryId}-${doubt.lotId}`, lotId, note));
}

export async function insertDoubtfulInput(tx: Tx, batchId: string, doubt: DoubtfulInput): Promise<void> {
  await tx.query(
    `insert into doubtful_input (group_id, entry_id, batch_id, lot_id, reasons)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text[])
     on conflict (group_id, entry_id, lot_id) do nothing`,
    [tx.groupId, doubt.entryId, batchId, doubt.lotId, doubt.reasons],
  );
}

/** Those of the batch that stand. What was taken from a bin may stand by a later entry than its first. */
export async function listDoubtfulInputs(tx: Tx, batchId: string): Promise<DoubtfulInput[]> {
  return tx.query<DoubtfulInput>(
    `select d.entry_id as "entryId", d.lot_id as "lotId", l.code as "lotCode", d.reasons
       from doubtful_input d
       left join bin_input bi on bi.group_id = d.group_id and bi.bin_input_id = d.entry_id
       join entry e on e.group_id = d.group_id and e.entry_id = coalesce(bi.entry_id, d.entry_id)
       join lot l on l.group_id = d.group_id and l.lot_id = d.lot_id
      where d.group_id = $1::uuid and d.batch_id = $2::uuid
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
        and (bi.bin_input_id is null or exists (
          select from bin_input_lot m
           where m.group_id = d.group_id and m.bin_input_id = d.entry_id and m.lot_id = d.lot_id))
      order by d.entry_id, d.lot_id`,
    [tx.groupId, batchId],
  );
}
