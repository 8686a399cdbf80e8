/** SQL of relabelling. A relabel is the row of the ledger that keeps the date of the part; what was done stands beside it. */
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface RelabelRow {
  readonly relabelId: string;
  readonly siteId: string;
  readonly timeZone: string;
  readonly placeId: string;
  readonly placeName: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly lotQuantity: number;
  readonly itemName: string;
  readonly serialised: boolean;
  readonly quantity: number;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly left: number;
  readonly printedUseByAt: Date | null;
  readonly printedUseByDate: string | null;
  readonly newUseByAt: Date;
  readonly ruling: string;
  readonly reason: string;
  readonly openedAt: Date;
  readonly state: 'open' | 'done' | 'gone' | 'replaced';
}

/**
 * What may still carry the old date: of all that stood there since (what is there now, and what left), less what was relabelled, but no
 * more than is there. What left and came back by an undo did not leave.
 */
const LEFT = `case when r.state <> 'open' then 0 else greatest(0, least(r.quantity, r.quantity + (
    select coalesce(sum(p.quantity), 0)
      from posting p
      join account pa on pa.group_id = p.group_id and pa.account_id = p.from_account_id
      join entry e on e.group_id = p.group_id and e.seq = p.seq
     where p.group_id = $1::uuid and p.lot_id = r."lotId" and coalesce(pa.twin_of, pa.account_id) = r."placeId"
       and e.recorded_at >= r."openedAt" and e.reverses_entry_id is null
       and not exists (select from entry u where u.group_id = e.group_id and u.reverses_entry_id = e.entry_id)) - (
    select coalesce(sum(d.quantity), 0) from relabel_done d
     where d.group_id = $1::uuid and d.relabel_id = r."relabelId"))) end::int8 as left`;

/** @param which SQL over `h` (the date), `a` (its account), with parameters from $4 on */
const relabels = (which: string): string => `(
  select h.hold_id as "relabelId", a.site_id as "siteId", si.time_zone as "timeZone", h.account_id as "placeId",
         pl.name as "placeName", h.lot_id as "lotId", l.code as "lotCode", l.quantity as "lotQuantity", i.name as "itemName",
         l.serialised, coalesce(b.quantity, 0) as quantity, l.unit, l.printed_use_by_at as "printedUseByAt",
         l.printed_use_by_date as "printedUseByDate", h.use_by_at as "newUseByAt", h.ruling, h.note as reason,
         h.placed_at as "openedAt",
         case when h.lifted_at is not null then 'replaced' when coalesce(b.quantity, 0) = 0 then 'gone'
              when h.labelled_at is not null then 'done' else 'open' end as state
    from hold h
    join account a on a.group_id = h.group_id and a.account_id = h.account_id and a.kind = 'place'
    join place pl on pl.group_id = a.group_id and pl.place_id = a.account_id
    join site si on si.group_id = a.group_id and si.site_id = a.site_id
    join lot l on l.group_id = h.group_id and l.lot_id = h.lot_id
    join item i on i.group_id = l.group_id and i.item_id = l.item_id
    left join balance b on b.group_id = h.group_id and b.lot_id = h.lot_id and b.account_id = h.account_id
   where h.group_id = $1::uuid and h.kind = 'use-by' and ($2::boolean or a.site_id = any($3::uuid[]))
     and (l.printed_use_by_at is null or l.printed_use_by_at > h.use_by_at) and ${which}) r`;

const COLUMNS = `r."relabelId", r."siteId", r."timeZone", r."placeId", r."placeName", r."lotId", r."lotCode", r."lotQuantity",
  r."itemName", r.serialised, r.quantity, r.unit, ${LEFT}, r."printedUseByAt", r."printedUseByDate", r."newUseByAt", r.ruling,
  r.reason, r."openedAt", r.state`;

export async function listRelabelRows(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; open: boolean | null },
  page: Page,
): Promise<RelabelRow[]> {
  return tx.query<RelabelRow>(
    `select ${COLUMNS}
       from ${relabels(`($4::uuid is null or a.site_id = $4::uuid)
         and ($5::boolean is distinct from true or h.lifted_at is null)
         and ($6::timestamptz is null or (h.use_by_at, h.hold_id) > ($6::timestamptz, $7::uuid))`)}
      where $5::boolean is null or (r.state = 'open') = $5::boolean
      order by r."newUseByAt", r."relabelId"
      limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.open,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export async function findRelabel(tx: Tx, scope: SiteScope, relabelId: string): Promise<RelabelRow | null> {
  const rows = await tx.query<RelabelRow>(`select ${COLUMNS} from ${relabels('h.hold_id = $4::uuid')}`, [
    tx.groupId,
    scope.all,
    scope.siteIds,
    relabelId,
  ]);
  return rows[0] ?? null;
}

export interface DoneRow {
  readonly doneId: string;
  readonly how: 'scanned' | 'written-witnessed';
  readonly quantity: number;
  readonly serials: readonly string[];
  readonly witnessId: string | null;
  readonly nothingLeft: boolean;
  readonly doneAt: Date;
  readonly doneBy: string;
  readonly recordedAt: Date;
}

export async function listDone(tx: Tx, relabelId: string): Promise<DoneRow[]> {
  return tx.query<DoneRow>(
    `select d.done_id as "doneId", d.how, d.quantity, d.serials, d.witness_id as "witnessId", d.nothing_left as "nothingLeft",
            d.done_at as "doneAt", d.done_by as "doneBy", d.recorded_at as "recordedAt"
       from relabel_done d
      where d.group_id = $1::uuid and d.relabel_id = $2::uuid
      order by d.done_no`,
    [tx.groupId, relabelId],
  );
}

export async function insertDone(
  tx: Tx,
  relabelId: string,
  done: Omit<DoneRow, 'doneAt' | 'recordedAt'> & { readonly doneAtMs: number },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into relabel_done (group_id, done_id, relabel_id, how, quantity, serials, witness_id, nothing_left, done_at, done_by,
            recorded_at)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::int8, $6::text[], $7::uuid, $8::boolean,
            to_timestamp($9::float8 / 1000), $10::uuid, to_timestamp($11::float8 / 1000))`,
    [
      tx.groupId,
      done.doneId,
      relabelId,
      done.how,
      done.quantity,
      done.serials,
      done.witnessId,
      done.nothingLeft,
      done.doneAtMs,
      done.doneBy,
      nowMs,
    ],
  );
}
