/** SQL of lots in use. */
import type { Tx } from '../../../platform/db/db.ts';

export interface LotInUseRow {
  readonly useId: string;
  readonly placeId: string;
  readonly siteId: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly fromAt: Date;
  readonly recordedAt: Date;
}

const COLUMNS = `u.use_id as "useId", u.place_id as "placeId", u.site_id as "siteId", u.item_id as "itemId", i.name as "itemName",
  u.lot_id as "lotId", l.code as "lotCode", u.from_at as "fromAt", u.recorded_at as "recordedAt"`;
const FROM = `lot_in_use u
  join lot l on l.group_id = u.group_id and l.lot_id = u.lot_id
  join item i on i.group_id = u.group_id and i.item_id = u.item_id`;

export async function insertLotInUse(
  tx: Tx,
  row: Pick<LotInUseRow, 'useId' | 'placeId' | 'siteId' | 'itemId' | 'lotId'> & { fromAtMs: number; actorId: string },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into lot_in_use (group_id, use_id, place_id, site_id, item_id, lot_id, from_at, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::uuid, $6::uuid, to_timestamp($7::float8 / 1000),
       to_timestamp($8::float8 / 1000), $9::uuid)`,
    [tx.groupId, row.useId, row.placeId, row.siteId, row.itemId, row.lotId, row.fromAtMs, nowMs, row.actorId],
  );
}

/** The lot in use of each item at a moment: the latest that began before it, at a tie the one whose id sorts last. */
export async function listLotsInUse(
  tx: Tx,
  placeId: string,
  itemId: string | null,
  atMs: number,
): Promise<LotInUseRow[]> {
  return tx.query<LotInUseRow>(
    `select distinct on (u.item_id) ${COLUMNS} from ${FROM}
      where u.group_id = $1::uuid and u.place_id = $2::uuid and ($3::uuid is null or u.item_id = $3::uuid)
        and u.from_at <= to_timestamp($4::float8 / 1000)
      order by u.item_id, u.from_at desc, u.use_id desc
      limit 500`,
    [tx.groupId, placeId, itemId, atMs],
  );
}

export interface NamedByItemRow {
  readonly factId: string;
  readonly batchCode: string;
  readonly lotId: string;
  readonly quantity: number;
  readonly occurredAtMs: number;
}

/** Inputs that named the item alone from a time until the next lot was in use, and were booked from another lot. */
export async function listBookedElsewhere(
  tx: Tx,
  use: { placeId: string; itemId: string; lotId: string; fromAtMs: number },
): Promise<NamedByItemRow[]> {
  return tx.query<NamedByItemRow>(
    `select e.fact_id as "factId", b.code as "batchCode", p.lot_id as "lotId", p.quantity,
            (extract(epoch from e.occurred_at) * 1000)::int8 as "occurredAtMs"
       from posting p
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id and l.item_id = $3::uuid and l.lot_id <> $4::uuid
       join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind = 'batch-input'
        and e.note ->> 'namedByItemAt' = $2::text
       join batch b on b.group_id = e.group_id and b.batch_id = e.batch_id
      where p.group_id = $1::uuid and p.occurred_at >= to_timestamp($5::float8 / 1000)
        and p.occurred_at < coalesce((select min(u.from_at) from lot_in_use u
              where u.group_id = $1::uuid and u.place_id = $2::uuid and u.item_id = $3::uuid
                and u.from_at > to_timestamp($5::float8 / 1000)), 'infinity')
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
      order by e.seq limit 500`,
    [tx.groupId, use.placeId, use.itemId, use.lotId, use.fromAtMs],
  );
}
