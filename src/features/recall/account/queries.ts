/**
 * SQL of the account, set by set over the whole scope: what the ledger says of each lot at each site, and what was typed.
 * What is on the road stands at the site that it is going to; a shortfall counts with its place.
 */
import type { AccountPart, AccountSaid } from '../../../domain/recall/account.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface AccountLotRow {
  readonly lotId: string;
  readonly unit: string;
  readonly quantity: number;
  readonly massMg: number;
}

export async function listAccountLots(tx: Tx, holdId: string): Promise<AccountLotRow[]> {
  return tx.query<AccountLotRow>(
    `select l.lot_id as "lotId", l.unit, l.quantity, l.mass_mg as "massMg"
       from hold_reach hr
       join lot l on l.group_id = hr.group_id and l.lot_id = hr.lot_id
      where hr.group_id = $1::uuid and hr.hold_id = $2::uuid`,
    [tx.groupId, holdId],
  );
}

type LedgerPart = Omit<AccountPart, 'returned' | 'inProcess'>;

/** @param siteId one site only; null: all */
export async function listAccountParts(tx: Tx, holdId: string, siteId: string | null): Promise<LedgerPart[]> {
  return tx.query<LedgerPart>(
    `with x as materialized (
       select a.account_id, case when a.kind like 'transit%' then a.to_site_id else a.site_id end as site_id,
              replace(a.kind, '-shortfall', '') as kind, coalesce(p.quarantine, false) as quarantine
         from account a
         left join place p on p.group_id = a.group_id and p.place_id = coalesce(a.twin_of, a.account_id)
        where a.group_id = $1::uuid and a.kind not in ('supplier', 'produced')
     )
     select b.lot_id as "lotId", x.site_id as "siteId",
            coalesce(sum(b.quantity) filter (where x.kind = 'place'), 0)::int8 as "onHand",
            coalesce(sum(b.quantity) filter (where x.kind = 'place' and x.quarantine), 0)::int8 as "inQuarantine",
            coalesce(sum(b.quantity) filter (where x.kind = 'transit'), 0)::int8 as "inTransit",
            coalesce(sum(b.quantity) filter (where x.kind = 'served'), 0)::int8 as served,
            coalesce(sum(b.quantity) filter (where x.kind = 'waste'), 0)::int8 as wasted,
            coalesce(sum(b.quantity) filter (where x.kind = 'consumed'), 0)::int8 as consumed,
            coalesce(sum(b.quantity) filter (where x.kind = 'variance'), 0)::int8 as unexplained
       from hold_reach hr
       join balance b on b.group_id = hr.group_id and b.lot_id = hr.lot_id
       join x on x.account_id = b.account_id
      where hr.group_id = $1::uuid and hr.hold_id = $2::uuid and ($3::uuid is null or x.site_id = $3::uuid)
      group by b.lot_id, x.site_id`,
    [tx.groupId, holdId, siteId],
  );
}

export interface AsideRow {
  readonly lotId: string;
  readonly siteId: string;
  /** to the supplier, net of reversals */
  readonly returned: number;
  /** in a batch from which no lot came, net of reversals */
  readonly inProcess: number;
}

/**
 * What balances do not tell. Only lots that have anything in those accounts are looked at. What came of a lot is in the scope with it, but
 * where a starting point said not to walk on: then it is the decision of who opened the case that it need not be counted.
 */
export async function listAsides(tx: Tx, holdId: string, siteId: string | null): Promise<AsideRow[]> {
  return tx.query<AsideRow>(
    `with x as materialized (
       select a.account_id, a.kind, a.site_id from account a
        where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('consumed', 'supplier')
          and ($3::uuid is null or a.site_id = $3::uuid)
     ), stood as materialized (
       select b.lot_id, x.account_id, x.kind, x.site_id
         from hold_reach hr
         join balance b on b.group_id = hr.group_id and b.lot_id = hr.lot_id
         join x on x.account_id = b.account_id
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid
     ), flow as (
       select s.lot_id, s.site_id, s.kind, e.batch_id,
              sum(case when p.to_account_id = s.account_id then p.quantity else -p.quantity end) as quantity
         from stood s
         join posting p on p.group_id = $1::uuid and p.lot_id = s.lot_id
              and (p.to_account_id = s.account_id or p.from_account_id = s.account_id)
         join entry e on e.group_id = p.group_id and e.seq = p.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where (s.kind = 'consumed' and coalesce(o.kind, e.kind) = 'batch-input')
           or (s.kind = 'supplier' and coalesce(o.kind, e.kind) = 'return')
        group by s.lot_id, s.site_id, s.kind, e.batch_id
     )
     select f.lot_id as "lotId", f.site_id as "siteId",
            coalesce(sum(f.quantity) filter (where f.kind = 'supplier'), 0)::int8 as returned,
            coalesce(sum(f.quantity) filter (where f.kind = 'consumed' and not exists (
              select from lot_edge le
               where le.group_id = $1::uuid and le.parent_lot_id = f.lot_id and le.process_id = f.batch_id)), 0)::int8 as "inProcess"
       from flow f
      group by f.lot_id, f.site_id`,
    [tx.groupId, holdId, siteId],
  );
}

/**
 * What sites typed: of statements those of the newest answer about a lot at a site; what was recorded in the ledger, until it is
 * reversed. leftSince: what has gone off to another site or the supplier since the lot came into the scope, where some was said to go back;
 * clocks may tie, numbers of entries do not.
 */
export async function listSaid(
  tx: Tx,
  recallId: string,
  holdId: string,
  siteId: string | null,
): Promise<AccountSaid[]> {
  return tx.query<AccountSaid>(
    `with line as (
       select rl.lot_id, r.site_id, rl.outcome, rl.quantity, rl.entry_fact_id, r.response_no,
              max(r.response_no) over (partition by rl.lot_id, r.site_id) as newest_no
         from recall_response r
         join recall_response_line rl on rl.group_id = r.group_id and rl.response_id = r.response_id
        where r.group_id = $1::uuid and r.recall_id = $2::uuid and ($4::uuid is null or r.site_id = $4::uuid)
     ), said as (
       select l.lot_id, l.site_id, l.outcome, l.quantity, l.entry_fact_id is not null as posted
         from line l
        where case when l.entry_fact_id is null then l.response_no = l.newest_no
              else not exists (select from entry e where e.group_id = $1::uuid and e.reverses_entry_id = l.entry_fact_id) end
     ), sums as (
       select s.lot_id, s.site_id,
              coalesce(sum(s.quantity) filter (where s.outcome = 'found'), 0)::int8 as found,
              coalesce(sum(s.quantity) filter (where s.outcome = 'quarantined'), 0)::int8 as quarantined,
              coalesce(sum(s.quantity) filter (where s.outcome = 'destroyed'), 0)::int8 as destroyed,
              coalesce(sum(s.quantity) filter (where s.outcome = 'destroyed' and s.posted), 0)::int8 as destroyed_posted,
              coalesce(sum(s.quantity) filter (where s.outcome = 'returned'), 0)::int8 as returned,
              coalesce(sum(s.quantity) filter (where s.outcome = 'already-served'), 0)::int8 as already_served,
              coalesce(sum(s.quantity) filter (where s.outcome = 'already-served' and s.posted), 0)::int8 as already_served_posted,
              coalesce(sum(s.quantity) filter (where s.outcome = 'not-found'), 0)::int8 as not_found
         from said s
        group by s.lot_id, s.site_id
     )
     select s.lot_id as "lotId", s.site_id as "siteId", s.found, s.quarantined, s.destroyed, s.destroyed_posted as "destroyedPosted",
            s.returned, coalesce(gone.quantity, 0)::int8 as "leftSince", s.already_served as "alreadyServed",
            s.already_served_posted as "alreadyServedPosted", s.not_found as "notFound"
       from sums s
       join hold_reach hr on hr.group_id = $1::uuid and hr.hold_id = $3::uuid and hr.lot_id = s.lot_id
       join recall c on c.group_id = $1::uuid and c.recall_id = $2::uuid
       left join lateral (
         select sum(case when f.kind like 'place%' then p.quantity else -p.quantity end) as quantity
           from posting p
           join entry e on e.group_id = p.group_id and e.seq = p.seq and e.recorded_at >= hr.reached_at and e.seq > c.opened_seq
           join account f on f.group_id = p.group_id and f.account_id = p.from_account_id and f.site_id = s.site_id
           join account t on t.group_id = p.group_id and t.account_id = p.to_account_id and t.site_id = s.site_id
          where s.returned > 0 and p.group_id = $1::uuid and p.lot_id = s.lot_id
            and ((f.kind like 'place%' and t.kind in ('transit', 'supplier'))
              or (f.kind in ('transit', 'supplier') and t.kind like 'place%' and e.kind = 'reversal'))) gone on true`,
    [tx.groupId, recallId, holdId, siteId],
  );
}

export interface ToldRow {
  readonly siteId: string;
  readonly siteName: string;
  /** of the newest notice */
  readonly noticeNo: number;
  readonly noticedAt: Date;
  readonly firstNoticedAt: Date;
  /** of the newest notice */
  readonly acknowledgedAt: Date | null;
  readonly firstAcknowledgedAt: Date | null;
  /** there was some of it, or some on its way, when the site was told */
  readonly awaitsAnswer: boolean;
  /** signed since the newest notice */
  readonly answeredAt: Date | null;
  readonly everAnswered: boolean;
}

/** Each site that was told, by name. */
export async function listTold(tx: Tx, recallId: string): Promise<ToldRow[]> {
  return tx.query<ToldRow>(
    `with told as (
       select n.site_id, max(n.notice_no) as notice_no, max(n.sent_at) as noticed_at, min(n.sent_at) as first_noticed_at,
              (array_agg(a.acknowledged_at order by n.notice_no desc))[1] as acknowledged_at,
              min(a.acknowledged_at) as first_acknowledged_at, bool_or(n.awaits_answer) as awaits_answer
         from recall_notice n
         left join recall_acknowledgement a on a.group_id = n.group_id and a.notice_id = n.notice_id
        where n.group_id = $1::uuid and n.recall_id = $2::uuid
        group by n.site_id
     )
     select t.site_id as "siteId", s.name as "siteName", t.notice_no as "noticeNo", t.noticed_at as "noticedAt",
            t.first_noticed_at as "firstNoticedAt", t.acknowledged_at as "acknowledgedAt",
            t.first_acknowledged_at as "firstAcknowledgedAt", t.awaits_answer as "awaitsAnswer", p.answered_at as "answeredAt",
            p.ever as "everAnswered"
       from told t
       join site s on s.group_id = $1::uuid and s.site_id = t.site_id
       cross join lateral (
         select max(r.recorded_at) filter (where r.recorded_at >= t.noticed_at) as answered_at, count(*) > 0 as ever
           from recall_response r
          where r.group_id = $1::uuid and r.recall_id = $2::uuid and r.site_id = t.site_id) p
      order by s.name, t.site_id`,
    [tx.groupId, recallId],
  );
}

export interface LotNameRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
}

export async function findLotNames(tx: Tx, lotIds: readonly string[]): Promise<Map<string, LotNameRow>> {
  const rows = await tx.query<LotNameRow>(
    `select l.lot_id as "lotId", l.code as "lotCode", i.name as "itemName"
       from lot l join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
  return new Map(rows.map((row) => [row.lotId, row]));
}

export async function findSiteNames(tx: Tx, siteIds: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ siteId: string; name: string }>(
    `select s.site_id as "siteId", s.name from site s where s.group_id = $1::uuid and s.site_id = any($2::uuid[])`,
    [tx.groupId, siteIds],
  );
  return new Map(rows.map((row) => [row.siteId, row.name]));
}
