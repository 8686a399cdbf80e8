/** Read SQL for answers: lots, history, stock, entries, findings. */
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';
import type { Tx } from '../../platform/db/db.ts';
import { partUseBy } from './part-dates-store.ts';
import { LOT_COLUMNS, LOT_JOINS, LOT_VISIBLE, type LotRow } from './lots-store.ts';

export async function listLotRows(
  tx: Tx,
  scope: SiteScope,
  filter: {
    code: string | null;
    itemId: string | null;
    batchId: string | null;
    supplierLotCode: string | null;
    supplierId: string | null;
  },
  page: Page,
): Promise<LotRow[]> {
  return tx.query<LotRow>(
    `select ${LOT_COLUMNS} from lot l ${LOT_JOINS}
      where l.group_id = $1::uuid and ${LOT_VISIBLE('$2', '$3')}
        and ($4::text is null or l.code = $4::text)
        and ($5::uuid is null or l.item_id = $5::uuid)
        and ($6::uuid is null or l.batch_id = $6::uuid
             or l.packing_run_id in (select p.packing_run_id from packing_run p where p.group_id = $1::uuid and p.batch_id = $6::uuid))
        and ($7::text is null or l.supplier_lot_code = $7::text)
        and ($8::uuid is null or l.supplier_id = $8::uuid)
        and ($9::uuid is null or l.lot_id > $9::uuid)
      order by l.lot_id
      limit $10::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.code,
      filter.itemId,
      filter.batchId,
      filter.supplierLotCode,
      filter.supplierId,
      page.after?.[0] ?? null,
      page.limit + 1,
    ],
  );
}

export interface StopRow {
  readonly kind: 'place' | 'transit' | 'supplier' | 'consumed' | 'produced' | 'served' | 'waste' | 'variance';
  readonly siteId: string;
  readonly placeId: string | null;
  readonly placeName: string | null;
  readonly dispatchId: string | null;
  readonly shortfall: boolean;
}

/** One side of a posting as a Stop; `a` is the alias of its account, `pl` of its place. */
const stop = (
  a: string,
  pl: string,
) => `json_build_object('kind', replace(${a}.kind, '-shortfall', ''), 'siteId', ${a}.site_id,
  'placeId', ${pl}.place_id, 'placeName', ${pl}.name,
  'dispatchId', case when ${a}.kind like 'transit%' then coalesce(${a}.twin_of, ${a}.account_id) end,
  'shortfall', ${a}.sign < 0)`;

const SIDES = `join account fa on fa.group_id = p.group_id and fa.account_id = p.from_account_id
  join account ta on ta.group_id = p.group_id and ta.account_id = p.to_account_id
  left join place fp on fp.group_id = fa.group_id and fp.place_id = coalesce(fa.twin_of, fa.account_id)
  left join place tp on tp.group_id = ta.group_id and tp.place_id = coalesce(ta.twin_of, ta.account_id)`;

export interface HistoryRow {
  readonly seq: number;
  readonly lineNo: number;
  readonly entryId: string;
  readonly kind: string;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly actorId: string;
  readonly from: StopRow;
  readonly to: StopRow;
  readonly quantity: number;
  readonly reason: string | null;
  readonly reversesEntryId: string | null;
}

export async function listHistory(tx: Tx, lotId: string, page: Page): Promise<HistoryRow[]> {
  return tx.query<HistoryRow>(
    `select p.seq, p.line_no as "lineNo", e.entry_id as "entryId", e.kind, e.occurred_at as "occurredAt",
            e.recorded_at as "recordedAt", e.actor_id as "actorId", ${stop('fa', 'fp')} as "from", ${stop('ta', 'tp')} as "to",
            p.quantity, p.reason, e.reverses_entry_id as "reversesEntryId"
       from posting p
       join entry e on e.group_id = p.group_id and e.seq = p.seq
       ${SIDES}
      where p.group_id = $1::uuid and p.lot_id = $2::uuid
        and ($3::int8 is null or (p.seq, p.line_no) > ($3::int8, $4::int))
      order by p.seq, p.line_no
      limit $5::int`,
    [tx.groupId, lotId, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export interface StockRow {
  readonly siteId: string;
  readonly placeId: string;
  readonly placeName: string;
  readonly quarantine: boolean;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly useByAt: Date | null;
  readonly useByKey: string;
  readonly useByDate: string | null;
}

/** Balances as of an entry: those of now, less what was recorded since. Each posting names its very account, so the sums are what stood. */
const balancesAt = (cutSeq: string): string => `(
  select b.group_id, b.lot_id, b.account_id, (b.quantity - coalesce(since.change, 0))::int8 as quantity
    from balance b
    left join (
      select x.lot_id, x.account_id, sum(x.change) as change
        from (select p.lot_id, p.to_account_id as account_id, p.quantity as change
                from posting p where p.group_id = $1::uuid and p.seq > ${cutSeq}
              union all
              select p.lot_id, p.from_account_id, -p.quantity
                from posting p where p.group_id = $1::uuid and p.seq > ${cutSeq}) x
       group by x.lot_id, x.account_id
    ) since on since.lot_id = b.lot_id and since.account_id = b.account_id)`;

/** @param cutSeq as recorded by this entry; null: now */
export async function listStockRows(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; placeId: string | null; itemId: string | null; cutSeq: number | null },
  page: Page,
): Promise<StockRow[]> {
  return tx.query<StockRow>(
    `select a.site_id as "siteId", b.account_id as "placeId", pl.name as "placeName", pl.quarantine, b.lot_id as "lotId",
            l.code as "lotCode", l.item_id as "itemId", i.name as "itemName", b.quantity, l.unit,
            nullif(d.use_by_at, 'infinity') as "useByAt",
            case when d.use_by_at = 'infinity' then 'infinity'
                 else to_char(d.use_by_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"') end as "useByKey",
            case when d.use_by_at = s.use_by_at then s.use_by_date end as "useByDate"
       from ${filter.cutSeq === null ? 'balance' : balancesAt('$11::int8')} b
       join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.kind = 'place'
       join place pl on pl.group_id = b.group_id and pl.place_id = b.account_id
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       cross join lateral (select ${partUseBy()} as use_by_at) d
      where b.group_id = $1::uuid and b.quantity > 0
        and ($2::boolean or a.site_id = any($3::uuid[]))
        and ($4::uuid is null or a.site_id = $4::uuid)
        and ($5::uuid is null or b.account_id = $5::uuid)
        and ($6::uuid is null or l.item_id = $6::uuid)
        and ($7::timestamptz is null or (d.use_by_at, b.lot_id, b.account_id) > ($7::timestamptz, $8::uuid, $9::uuid))
      order by d.use_by_at, b.lot_id, b.account_id
      limit $10::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.placeId,
      filter.itemId,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.after?.[2] ?? null,
      page.limit + 1,
      ...(filter.cutSeq === null ? [] : [filter.cutSeq]),
    ],
  );
}

export interface EntryRow {
  readonly entryId: string;
  readonly seq: number;
  readonly kind: string;
  readonly factId: string;
  readonly siteId: string;
  readonly occurredAt: Date;
  readonly occurredOn: string;
  readonly recordedAt: Date;
  readonly actorId: string;
  readonly contentHash: Buffer;
  readonly leafHash: Buffer;
  readonly reversesEntryId: string | null;
  readonly reversedByEntryId: string | null;
  readonly batchId: string | null;
  readonly packingRunId: string | null;
  readonly dispatchId: string | null;
  readonly countId: string | null;
  readonly scanId: string | null;
  readonly note: Readonly<Record<string, unknown>>;
  /** of its fact: the tablet, and the deputy's appointment */
  readonly deviceId: string | null;
  readonly deputyId: string | null;
}

/** An entry is visible at its own site, and at the other end when it is a dispatch. */
export async function findEntry(tx: Tx, entryId: string): Promise<(EntryRow & { toSiteId: string | null }) | null> {
  const rows = await tx.query<EntryRow & { toSiteId: string | null }>(
    `select e.entry_id as "entryId", e.seq, e.kind, e.fact_id as "factId", e.site_id as "siteId", e.occurred_at as "occurredAt",
            e.occurred_on as "occurredOn", e.recorded_at as "recordedAt", e.actor_id as "actorId",
            e.content_hash as "contentHash", e.leaf_hash as "leafHash", e.reverses_entry_id as "reversesEntryId",
            r.entry_id as "reversedByEntryId", e.batch_id as "batchId", e.packing_run_id as "packingRunId",
            e.dispatch_id as "dispatchId", e.count_id as "countId", e.scan_id as "scanId", e.note, f.device_id as "deviceId",
            f.deputy_id as "deputyId", a.to_site_id as "toSiteId"
       from entry e
       left join fact f on f.group_id = e.group_id and f.fact_id = e.fact_id
       left join entry r on r.group_id = e.group_id and r.reverses_entry_id = e.entry_id
       left join account a on a.group_id = e.group_id and a.account_id = e.dispatch_id
      where e.group_id = $1::uuid and e.entry_id = $2::uuid`,
    [tx.groupId, entryId],
  );
  return rows[0] ?? null;
}

export interface EntryLineRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly fromAccountId: string;
  readonly toAccountId: string;
  readonly from: StopRow;
  readonly to: StopRow;
  readonly quantity: number;
  readonly unit: string;
  readonly basis: string;
  readonly reason: string | null;
  readonly destination: string | null;
  readonly material: string | null;
}

/** The postings of one entry; of a count, with the adjustments that were made to it since. */
export async function listEntryLines(tx: Tx, seq: number, countId: string | null): Promise<EntryLineRow[]> {
  return tx.query<EntryLineRow>(
    `select p.lot_id as "lotId", l.code as "lotCode", coalesce(fa.twin_of, fa.account_id) as "fromAccountId",
            coalesce(ta.twin_of, ta.account_id) as "toAccountId", ${stop('fa', 'fp')} as "from", ${stop('ta', 'tp')} as "to",
            p.quantity, l.unit, p.basis, p.reason, p.destination, p.material
       from posting p
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       ${SIDES}
      where p.group_id = $1::uuid
        and (p.seq = $2::int8 or p.seq in (
          select e.seq from entry e where e.group_id = $1::uuid and e.count_id = $3::uuid and e.kind = 'stock-count'))
      order by p.seq, p.line_no`,
    [tx.groupId, seq, countId],
  );
}
