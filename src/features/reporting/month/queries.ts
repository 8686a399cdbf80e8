/** SQL of what a month's report names: sites, items, the currency, and batches. */
import type { MakingFlow } from '../../../domain/month/making.ts';
import type { Close } from '../../../domain/month/periods.ts';
import { monthsOn } from '../../../domain/month/periods.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface ReportSite {
  readonly siteId: string;
  readonly siteCode: string;
  readonly siteName: string;
  readonly timeZone: string;
}

/** By code; null: every site of the group. */
export async function listReportSites(tx: Tx, siteIds: readonly string[] | null): Promise<ReportSite[]> {
  return tx.query<ReportSite>(
    `select s.site_id as "siteId", s.code as "siteCode", s.name as "siteName", s.time_zone as "timeZone"
       from site s
      where s.group_id = $1::uuid and ($2::uuid[] is null or s.site_id = any($2::uuid[]))
      order by s.code, s.site_id`,
    [tx.groupId, siteIds],
  );
}

export interface ReportItem {
  readonly itemId: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly itemKind: 'ingredient' | 'prepared' | 'packed' | 'packaging';
  readonly category: string | null;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly portionsPerUnit: number | null;
}

/** By code. */
export async function listReportItems(tx: Tx, itemIds: readonly string[]): Promise<ReportItem[]> {
  return tx.query<ReportItem>(
    `select i.item_id as "itemId", i.code as "itemCode", i.name as "itemName", i.kind as "itemKind", i.category, i.unit,
            i.portions_per_unit as "portionsPerUnit"
       from item i where i.group_id = $1::uuid and i.item_id = any($2::uuid[])
      order by i.code, i.item_id`,
    [tx.groupId, itemIds],
  );
}

/** True when something that happened then was recorded by the cut. */
export async function wasAnythingRecorded(tx: Tx, from: string, to: string, cutSeq: number): Promise<boolean> {
  const [row] = await tx.query<{ found: boolean }>(
    `select exists (select from posting p
                     where p.group_id = $1::uuid and p.occurred_on >= $2::date and p.occurred_on < $3::date and p.seq <= $4::int8
                   ) as found`,
    [tx.groupId, from, to, cutSeq],
  );
  return row?.found ?? false;
}

export interface BatchQuestion {
  readonly month: string;
  readonly throughMonth: string;
  readonly siteIds: readonly string[] | null;
  readonly cutSeq: number;
  readonly cutMoneyNo: number;
  readonly closes: readonly (Close & { readonly cutMoneyNo: number })[];
}

export interface CompletedBatchRow {
  readonly batchId: string;
  readonly code: string;
  readonly siteId: string;
  readonly recipeId: string;
  readonly recipeCode: string;
  readonly itemName: string;
  readonly completedOn: string;
  readonly expectedYieldPpm: number;
  readonly gainsMg: Readonly<Record<string, number>>;
  readonly lossesMg: Readonly<Record<string, number>>;
}

/** Parameters 6 and 7 of statements that ask for the month of the books: cuts of closes, and the months after them. */
export const floors = (closes: BatchQuestion['closes'], cutOf: (close: BatchQuestion['closes'][number]) => number) => [
  closes.map(cutOf),
  closes.map((close) => `${monthsOn(close.month, 1)}-01`),
];

/**
 * Batches completed in the months asked for by their site's calendar, as known at the cut; one whose completion was recorded after its month
 * was closed counts in the next month that was open.
 */
export async function listCompletedBatches(tx: Tx, asked: BatchQuestion): Promise<CompletedBatchRow[]> {
  return tx.query<CompletedBatchRow>(
    `with k as materialized (select k.cut, k.next_month from unnest($6::int8[], $7::date[]) as k(cut, next_month)),
     made as (
       select b.batch_id, (b.completed_at at time zone s.time_zone)::date as completed_on,
              (select max(k.next_month) from k where b.completed_no > k.cut) as floor
         from batch b
         join site s on s.group_id = b.group_id and s.site_id = b.site_id
        where b.group_id = $1::uuid and b.completed_no <= $5::int8 and ($4::uuid[] is null or b.site_id = any($4::uuid[]))
     )
     select b.batch_id as "batchId", b.code, b.site_id as "siteId", b.recipe_id as "recipeId", r.code as "recipeCode",
            i.name as "itemName", m.completed_on as "completedOn", b.expected_yield_ppm as "expectedYieldPpm",
            coalesce((select json_object_agg(g.kind, g.mass_mg) from batch_gain g
                       where g.group_id = b.group_id and g.batch_id = b.batch_id), '{}') as "gainsMg",
            coalesce((select json_object_agg(l.kind, l.mass_mg) from batch_loss l
                       where l.group_id = b.group_id and l.batch_id = b.batch_id), '{}') as "lossesMg"
       from made m
       join batch b on b.group_id = $1::uuid and b.batch_id = m.batch_id
       join recipe r on r.group_id = b.group_id and r.recipe_id = b.recipe_id
       join item i on i.group_id = b.group_id and i.item_id = b.item_id
      where greatest(date_trunc('month', m.completed_on)::date, m.floor) between $2::date and $3::date
      order by b.completed_at, b.batch_id`,
    [
      tx.groupId,
      `${asked.month}-01`,
      `${asked.throughMonth}-01`,
      asked.siteIds,
      asked.cutMoneyNo,
      ...floors(asked.closes, (close) => close.cutMoneyNo),
    ],
  );
}

export interface BatchFlowRow {
  readonly batchId: string;
  readonly side: 'input' | 'output';
  readonly lotQuantity: number;
  readonly lotMassMg: number;
  readonly quantity: number;
}

/** What had gone into and come out of batches by this entry, by lot, reversals netted. */
export async function listBatchFlows(tx: Tx, batchIds: readonly string[], cutSeq: number): Promise<BatchFlowRow[]> {
  return tx.query<BatchFlowRow>(
    `with e as (
       select e.seq, e.batch_id, o.seq is not null as undoes,
              case coalesce(o.kind, e.kind) when 'batch-input' then 'input' else 'output' end as side
         from entry e
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where e.group_id = $1::uuid and e.batch_id = any($2::uuid[]) and e.seq <= $3::int8
          and coalesce(o.kind, e.kind) in ('batch-input', 'batch-output')
     ), x as materialized (
       select a.account_id, a.kind from account a
        where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('consumed', 'produced')
     )
     select e.batch_id as "batchId", e.side, l.quantity as "lotQuantity", l.mass_mg as "lotMassMg",
            sum(case when e.undoes then -p.quantity else p.quantity end)::int8 as quantity
       from e
       join posting p on p.group_id = $1::uuid and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
      where exists (select from x where x.account_id in (p.from_account_id, p.to_account_id)
                      and x.kind = case e.side when 'input' then 'consumed' else 'produced' end)
      group by e.batch_id, e.side, l.lot_id, l.quantity, l.mass_mg
      order by e.batch_id, e.side, l.lot_id`,
    [tx.groupId, batchIds, cutSeq],
  );
}

/**
 * Inputs and outputs by month of the books, of batches that were not completed before the months asked for, and of those to which
 * something happened in them nevertheless, or was recorded after the month before was closed.
 * @param lateSeq the last entry that is in the month before, if it is closed
 */
export async function listMakingRows(tx: Tx, asked: BatchQuestion, lateSeq: number | null): Promise<MakingFlow[]> {
  return tx.query<MakingFlow>(
    `with k as materialized (
       select k.cut, k.next_month, k.money_cut from unnest($6::int8[], $7::date[], $8::int8[]) as k(cut, next_month, money_cut)
     ), b as materialized (
       select b.batch_id, b.site_id,
              case when b.completed_no <= $5::int8
                then greatest(date_trunc('month', (b.completed_at at time zone s.time_zone)::date)::date,
                              (select max(k.next_month) from k where b.completed_no > k.money_cut)) end as completed_period
         from batch b
         join site s on s.group_id = b.group_id and s.site_id = b.site_id
        where b.group_id = $1::uuid and ($4::uuid[] is null or b.site_id = any($4::uuid[]))
     ), e as (
       select e.seq, e.batch_id, b.site_id, b.completed_period, o.seq is not null as undoes, coalesce(o.kind, e.kind) as kind,
              greatest(date_trunc('month', e.occurred_on)::date, (select max(k.next_month) from k where e.seq > k.cut)) as period
         from b
         join entry e on e.group_id = $1::uuid and e.batch_id = b.batch_id and e.seq <= $9::int8
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where (b.completed_period is null or b.completed_period >= $2::date
               or exists (
                 select from entry n
                  where n.group_id = $1::uuid and n.batch_id = b.batch_id and n.seq <= $9::int8
                    and (n.seq > $10::int8 or n.occurred_on >= $2::date)))
          and coalesce(o.kind, e.kind) in ('batch-input', 'batch-output')
     )
     select e.batch_id as "batchId", e.site_id as "siteId", p.lot_id as "lotId", l.quantity as "lotQuantity",
            l.mass_mg as "lotMassMg", case e.kind when 'batch-input' then 'input' else 'output' end as side,
            to_char(e.period, 'YYYY-MM') as period, to_char(e.completed_period, 'YYYY-MM') as "completedPeriod",
            sum(case when e.undoes then -p.quantity else p.quantity end)::int8 as quantity
       from e
       join posting p on p.group_id = $1::uuid and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       join account f on f.group_id = p.group_id and f.account_id = p.from_account_id
       join account t on t.group_id = p.group_id and t.account_id = p.to_account_id
      where e.period <= $3::date
        and case e.kind when 'batch-input' then 'consumed' else 'produced' end in (f.kind, t.kind)
      group by e.batch_id, e.site_id, p.lot_id, l.quantity, l.mass_mg, e.kind, e.period, e.completed_period`,
    [
      tx.groupId,
      `${asked.month}-01`,
      `${asked.throughMonth}-01`,
      asked.siteIds,
      asked.cutMoneyNo,
      ...floors(asked.closes, (close) => close.cutSeq),
      asked.closes.map((close) => close.cutMoneyNo),
      asked.cutSeq,
      lateSeq,
    ],
  );
}
