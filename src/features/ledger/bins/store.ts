/** SQL of bins: what is known of one item in one bin, inputs from it, and the lots that may be in them. */
import type { BinCount, BinMove } from '../../../domain/ledger/bins.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { shortfallOf } from '../accounts.ts';
import { removeEdges } from '../edges-store.ts';

export interface BinRef {
  readonly placeId: string;
  readonly siteId: string;
  readonly itemId: string;
}

const STANDS = (entry: string) =>
  `not exists (select from entry r where r.group_id = ${entry}.group_id and r.reverses_entry_id = ${entry}.entry_id)`;
const COUNT_STANDS = `not exists (select from entry r where r.group_id = h.group_id and r.reverses_entry_id = h.count_id)`;
const ms = (column: string) => `(extract(epoch from ${column}) * 1000)::int8`;

/** The last time before `beforeMs` at which a complete count said that nothing of the item was there; null when none did. */
export async function findLastEmpty(tx: Tx, bin: BinRef, beforeMs: number): Promise<number | null> {
  const rows = await tx.query<{ atMs: number | null }>(
    `select ${ms('max(h.occurred_at)')} as "atMs"
       from stock_count h
      where h.group_id = $1::uuid and h.account_id = $2::uuid and h.complete
        and h.occurred_at < to_timestamp($4::float8 / 1000) and ${COUNT_STANDS}
        and not exists (select from count_line c
                          join lot l on l.group_id = c.group_id and l.lot_id = c.lot_id and l.item_id = $3::uuid
                         where c.group_id = h.group_id and c.count_id = h.count_id and c.counted > 0)`,
    [tx.groupId, bin.placeId, bin.itemId, beforeMs],
  );
  return rows[0]?.atMs ?? null;
}

/** What went in and out as lots after a time; counts and what was taken from the bin as such are left out. */
export async function listBinMoves(tx: Tx, bin: BinRef, afterMs: number): Promise<BinMove[]> {
  return tx.query<BinMove>(
    `with l as materialized (
       select l.lot_id from lot l
        where l.group_id = $1::uuid and l.item_id = $4::uuid
          and exists (select from balance b where b.group_id = l.group_id and b.lot_id = l.lot_id
                         and b.account_id in ($2::uuid, $3::uuid))
     )
     select p.lot_id as "lotId", ${ms('p.occurred_at')} as "atMs",
            sum(case when p.to_account_id in ($2::uuid, $3::uuid) then p.quantity else -p.quantity end)::int8 as quantity
       from l
       join posting p on p.group_id = $1::uuid and p.lot_id = l.lot_id and p.occurred_at > to_timestamp($5::float8 / 1000)
        and (p.from_account_id in ($2::uuid, $3::uuid) or p.to_account_id in ($2::uuid, $3::uuid))
       join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind <> 'reversal' and e.count_id is null
      where ${STANDS('e')}
        and not exists (select from bin_input bi
              where bi.group_id = $1::uuid and bi.place_id = $2::uuid and bi.item_id = $4::uuid and bi.entry_id = e.entry_id)
      group by p.lot_id, p.occurred_at, e.seq
      order by e.seq`,
    [tx.groupId, bin.placeId, shortfallOf(bin.placeId), bin.itemId, afterMs],
  );
}

export async function listBinCounts(tx: Tx, bin: BinRef, afterMs: number): Promise<BinCount[]> {
  return tx.query<BinCount>(
    `select h.count_id as "countId", ${ms('h.occurred_at')} as "atMs", h.complete,
            (select coalesce(json_agg(json_build_object('lotId', c.lot_id, 'counted', c.counted)), '[]'::json)
               from count_line c
               join lot l on l.group_id = c.group_id and l.lot_id = c.lot_id and l.item_id = $3::uuid
              where c.group_id = h.group_id and c.count_id = h.count_id) as lines
       from stock_count h
      where h.group_id = $1::uuid and h.account_id = $2::uuid and h.occurred_at > to_timestamp($4::float8 / 1000)
        and ${COUNT_STANDS}`,
    [tx.groupId, bin.placeId, bin.itemId, afterMs],
  );
}

export interface BinInputRow {
  readonly inputId: string;
  readonly batchId: string;
  readonly batchCode: string;
  readonly quantity: number;
  readonly capsUseBy: boolean;
  readonly contentHash: Buffer;
  readonly atMs: number;
  readonly occurredOn: string;
  /** null: not posted yet */
  readonly entryId: string | null;
  readonly lotIds: readonly string[];
  readonly shares: readonly { readonly lotId: string; readonly quantity: number }[];
}

/** Those that stand. */
export async function listBinInputs(tx: Tx, bin: BinRef, afterMs: number): Promise<BinInputRow[]> {
  return tx.query<BinInputRow>(
    `select bi.bin_input_id as "inputId", bi.batch_id as "batchId", b.code as "batchCode", bi.quantity, bi.caps_use_by as "capsUseBy",
            bi.content_hash as "contentHash", ${ms('bi.occurred_at')} as "atMs", bi.occurred_on as "occurredOn",
            bi.entry_id as "entryId",
            array(select m.lot_id from bin_input_lot m where m.group_id = bi.group_id and m.bin_input_id = bi.bin_input_id) as "lotIds",
            (select coalesce(json_agg(json_build_object('lotId', s.lot_id, 'quantity', s.quantity)), '[]'::json)
               from (select p.lot_id, sum(p.quantity)::int8 as quantity
                       from entry e join posting p on p.group_id = e.group_id and p.seq = e.seq
                      where e.group_id = bi.group_id and e.entry_id = bi.entry_id group by p.lot_id) s) as shares
       from bin_input bi
       join batch b on b.group_id = bi.group_id and b.batch_id = bi.batch_id
      where bi.group_id = $1::uuid and bi.place_id = $2::uuid and bi.item_id = $3::uuid
        and bi.occurred_at > to_timestamp($4::float8 / 1000) and ${STANDS('bi')}
      order by bi.occurred_at, bi.bin_input_id`,
    [tx.groupId, bin.placeId, bin.itemId, afterMs],
  );
}

export interface NewBinInput extends BinRef {
  readonly inputId: string;
  readonly batchId: string;
  readonly quantity: number;
  readonly capsUseBy: boolean;
  readonly contentHash: Buffer;
  readonly atMs: number;
  readonly occurredOn: string;
}

export async function insertBinInput(tx: Tx, input: NewBinInput): Promise<void> {
  await tx.query(
    `insert into bin_input (group_id, bin_input_id, batch_id, place_id, site_id, item_id, quantity, caps_use_by, content_hash,
            occurred_at, occurred_on)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::uuid, $6::uuid, $7::int8, $8::boolean, $9::bytea,
             to_timestamp($10::int8 / 1000.0), $11::date)`,
    [
      tx.groupId,
      input.inputId,
      input.batchId,
      input.placeId,
      input.siteId,
      input.itemId,
      input.quantity,
      input.capsUseBy,
      input.contentHash,
      input.atMs,
      input.occurredOn,
    ],
  );
}

export async function setStandingEntry(tx: Tx, inputId: string, entryId: string): Promise<void> {
  await tx.query(`update bin_input set entry_id = $3::uuid where group_id = $1::uuid and bin_input_id = $2::uuid`, [
    tx.groupId,
    inputId,
    entryId,
  ]);
}

export async function insertMembers(tx: Tx, inputId: string, lotIds: readonly string[]): Promise<void> {
  await tx.query(
    `insert into bin_input_lot (group_id, bin_input_id, lot_id) select $1::uuid, $2::uuid, r from unnest($3::uuid[]) as r`,
    [tx.groupId, inputId, lotIds],
  );
}

/** Of these lots, those that a standing fact put into the bin up to a time, emptied since or not. */
export async function listEverIn(
  tx: Tx,
  placeId: string,
  lotIds: readonly string[],
  untilMs: number,
): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select distinct p.lot_id as "lotId"
       from posting p
       join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind <> 'reversal'
      where p.group_id = $1::uuid and p.lot_id = any($4::uuid[]) and p.to_account_id in ($2::uuid, $3::uuid)
        and p.occurred_at <= to_timestamp($5::float8 / 1000) and ${STANDS('e')}`,
    [tx.groupId, placeId, shortfallOf(placeId), lotIds, untilMs],
  );
  return rows.map((row) => row.lotId);
}

/** Takes lots out of an input, and the edges that nothing else of the batch supports. Holds stay. */
export async function deleteMembers(
  tx: Tx,
  batchId: string,
  inputId: string,
  lotIds: readonly string[],
  nowMs: number,
): Promise<void> {
  await tx.query(
    `delete from bin_input_lot where group_id = $1::uuid and bin_input_id = $2::uuid and lot_id = any($3::uuid[])`,
    [tx.groupId, inputId, lotIds],
  );
  const which = `le.process_id = $3::uuid and le.parent_lot_id = any($4::uuid[])
        and not exists (
          select from bin_input_lot m
            join bin_input bi on bi.group_id = m.group_id and bi.bin_input_id = m.bin_input_id and bi.batch_id = $3::uuid
           where m.group_id = $1::uuid and m.lot_id = le.parent_lot_id and ${STANDS('bi')})
        and not exists (
          select from entry e
            join posting p on p.group_id = e.group_id and p.seq = e.seq and p.lot_id = le.parent_lot_id
           where e.group_id = $1::uuid and e.batch_id = $3::uuid and e.kind = 'batch-input' and ${STANDS('e')})`;
  await removeEdges(tx, nowMs, which, [batchId, lotIds]);
}

export interface BinMemberRow {
  readonly lotId: string;
  /** the date that it has of its own in the bin */
  readonly ownUseByAtMs: number | null;
}

/** The lots that may be in the batch because of what it took from bins. */
export async function listBinMembers(tx: Tx, batchId: string): Promise<BinMemberRow[]> {
  return tx.query<BinMemberRow>(
    `select m.lot_id as "lotId", (extract(epoch from min(h.use_by_at)) * 1000)::int8 as "ownUseByAtMs"
       from bin_input bi
       join bin_input_lot m on m.group_id = bi.group_id and m.bin_input_id = bi.bin_input_id
       left join hold h on h.group_id = m.group_id and h.lot_id = m.lot_id and h.account_id = bi.place_id and h.kind = 'use-by'
                       and h.lifted_at is null
      where bi.group_id = $1::uuid and bi.batch_id = $2::uuid and ${STANDS('bi')}
      group by m.lot_id
      order by m.lot_id`,
    [tx.groupId, batchId],
  );
}

/** What came out of a batch already. */
export async function listOutputIds(tx: Tx, batchId: string): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select l.lot_id as "lotId" from lot l
      where l.group_id = $1::uuid and l.batch_id = $2::uuid and l.origin = 'produced' order by 1`,
    [tx.groupId, batchId],
  );
  return rows.map((row) => row.lotId);
}

/** Bins from which something was taken at or after a time, of an item that one of these lots is. */
export async function listBinsTouched(
  tx: Tx,
  placeIds: readonly string[],
  lotIds: readonly string[],
  fromMs: number,
): Promise<BinRef[]> {
  return tx.query<BinRef>(
    `select distinct bi.place_id as "placeId", bi.site_id as "siteId", bi.item_id as "itemId"
       from bin_input bi
      where bi.group_id = $1::uuid and bi.place_id = any($2::uuid[]) and bi.occurred_at >= to_timestamp($4::float8 / 1000)
        and bi.item_id in (select l.item_id from lot l where l.group_id = $1::uuid and l.lot_id = any($3::uuid[]))
      order by 1, 3`,
    [tx.groupId, placeIds, lotIds, fromMs],
  );
}

export interface HeldItemRow {
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
}

/** Items of which the book says anything in the place, or that something is missing. */
export async function listItemsIn(tx: Tx, placeId: string): Promise<HeldItemRow[]> {
  return tx.query<HeldItemRow>(
    `select distinct i.item_id as "itemId", i.name as "itemName", i.unit
       from balance b
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where b.group_id = $1::uuid and b.account_id in ($2::uuid, $3::uuid) and b.quantity <> 0
      order by i.name, 1`,
    [tx.groupId, placeId, shortfallOf(placeId)],
  );
}

export async function insertEmptying(
  tx: Tx,
  row: { emptyingId: string; placeId: string; siteId: string; note: string | null; atMs: number; actorId: string },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into bin_emptying (group_id, emptying_id, place_id, site_id, note, occurred_at, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, to_timestamp($6::int8 / 1000.0),
             to_timestamp($7::int8 / 1000.0), $8::uuid)`,
    [tx.groupId, row.emptyingId, row.placeId, row.siteId, row.note, row.atMs, nowMs, row.actorId],
  );
}

export async function findLastEmptying(tx: Tx, placeId: string): Promise<Date | null> {
  const rows = await tx.query<{ at: Date | null }>(
    `select max(m.occurred_at) as at from bin_emptying m
      where m.group_id = $1::uuid and m.place_id = $2::uuid
        and not exists (select from entry r where r.group_id = m.group_id and r.reverses_entry_id = m.emptying_id)`,
    [tx.groupId, placeId],
  );
  return rows[0]?.at ?? null;
}
