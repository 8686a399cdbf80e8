/** SQL of the month: flows by lot and line, batches completed in it. */
import type { MonthFlow } from '../../domain/report.ts';
import type { Tx } from '../../platform/db/db.ts';

export interface Period {
  /** 'YYYY-MM-DD', the first day */
  readonly from: string;
  /** 'YYYY-MM-DD', the first day after */
  readonly to: string;
  /** null: the whole group */
  readonly siteId: string | null;
}

/** The zones of the scope's sites: a month has begun when it has begun at one of them. */
export async function listTimeZones(tx: Tx): Promise<string[]> {
  const rows = await tx.query<{ timeZone: string }>(
    `select distinct s.time_zone as "timeZone" from site s where s.group_id = $1::uuid order by 1`,
    [tx.groupId],
  );
  return rows.map((row) => row.timeZone);
}

export interface ItemFlowRow extends MonthFlow {
  readonly itemCode: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
}

/**
 * Inside are the site's places, or every place and dispatch of the group; a shortfall twin counts as its place. A posting
 * that stays inside, or outside, is no line. A reversal is read as its original with the sign turned, so that it nets on the
 * line, reason and day of what it undid. Use derived from counts that a later fact takes back is less served, not returned. Reads from the month's first day on; what was before is in the balances. The lines are
 * materialized: without statistics (a database just filled or restored) the planner works them out again for every lot.
 */
export async function listMonthFlows(tx: Tx, { from, to, siteId }: Period): Promise<ItemFlowRow[]> {
  return tx.query<ItemFlowRow>(
    `with a as materialized (
       select a.account_id, replace(a.kind, '-shortfall', '') as kind,
              a.kind in ('place', 'place-shortfall', 'transit', 'transit-shortfall')
                and ($4::uuid is null or (a.site_id = $4::uuid and a.kind like 'place%')) as inside
         from account a where a.group_id = $1::uuid
     ), p as (
       select p.lot_id, p.occurred_on >= $3::date as after, p.reason, coalesce(o.kind, e.kind) as entry_kind,
              case when o.seq is null then p.from_account_id else p.to_account_id end as from_id,
              case when o.seq is null then p.to_account_id else p.from_account_id end as to_id,
              case when o.seq is null then p.quantity else -p.quantity end as quantity
         from posting p
         join entry e on e.group_id = p.group_id and e.seq = p.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where p.group_id = $1::uuid and p.occurred_on >= $2::date
     ), crossed as (
       select p.lot_id, p.after, p.reason, p.entry_kind, t.inside as comes, p.quantity,
              case when t.inside then f.kind else t.kind end as other
         from p
         join a f on f.account_id = p.from_id
         join a t on t.account_id = p.to_id
        where f.inside <> t.inside
     ), flow as (
       select c.lot_id,
              case when c.after then 'after'
                   when c.entry_kind = 'opening-stock' then 'received'
                   when c.other = 'supplier' then case when c.comes then 'received' else 'returnedToSupplier' end
                   when c.other = 'served' and c.entry_kind = 'stock-count' then 'servedDerived'
                   when c.other = 'served' then case when c.comes then 'returnedIn' else 'served' end
                   when c.other in ('place', 'transit') then case when c.comes then 'transferIn' else 'transferOut' end
                   when c.other = 'waste' then 'wasted'
                   when c.other = 'variance' then 'adjusted'
                   else c.other end as line,
              case when c.other = 'waste' and not c.after then coalesce(c.reason, 'other') end as reason,
              case when c.after or c.other in ('produced', 'variance') or c.entry_kind = 'opening-stock'
                     then case when c.comes then c.quantity else -c.quantity end
                   when c.other in ('consumed', 'waste') or (c.other = 'served' and c.entry_kind = 'stock-count') then case when c.comes then -c.quantity else c.quantity end
                   else c.quantity end as quantity
         from crossed c
     ), line as materialized (
       select f.lot_id, f.line, f.reason, f.quantity from flow f
       union all
       select b.lot_id, 'now', null, b.quantity
         from balance b join a on a.account_id = b.account_id and a.inside
        where b.group_id = $1::uuid and b.quantity <> 0
     )
     select l.item_id as "itemId", i.code as "itemCode", i.name as "itemName", l.unit, l.quantity as "lotQuantity",
            l.mass_mg as "lotMassMg", n.line, n.reason, sum(n.quantity)::int8 as quantity
       from line n
       join lot l on l.group_id = $1::uuid and l.lot_id = n.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      group by l.item_id, i.code, i.name, l.unit, l.lot_id, l.quantity, l.mass_mg, n.line, n.reason
     having sum(n.quantity) <> 0
      order by i.code, l.lot_id, n.line, n.reason`,
    [tx.groupId, from, to, siteId],
  );
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

/** Batches completed in the period by their site's calendar. */
export async function listCompletedBatches(tx: Tx, { from, to, siteId }: Period): Promise<CompletedBatchRow[]> {
  return tx.query<CompletedBatchRow>(
    `select b.batch_id as "batchId", b.code, b.site_id as "siteId", b.recipe_id as "recipeId", r.code as "recipeCode",
            i.name as "itemName", (b.completed_at at time zone s.time_zone)::date as "completedOn",
            b.expected_yield_ppm as "expectedYieldPpm",
            coalesce((select json_object_agg(g.kind, g.mass_mg) from batch_gain g
                       where g.group_id = b.group_id and g.batch_id = b.batch_id), '{}') as "gainsMg",
            coalesce((select json_object_agg(l.kind, l.mass_mg) from batch_loss l
                       where l.group_id = b.group_id and l.batch_id = b.batch_id), '{}') as "lossesMg"
       from batch b
       join site s on s.group_id = b.group_id and s.site_id = b.site_id
       join recipe r on r.group_id = b.group_id and r.recipe_id = b.recipe_id
       join item i on i.group_id = b.group_id and i.item_id = b.item_id
      where b.group_id = $1::uuid and b.state = 'completed' and ($4::uuid is null or b.site_id = $4::uuid)
        and (b.completed_at at time zone s.time_zone)::date >= $2::date
        and (b.completed_at at time zone s.time_zone)::date < $3::date
      order by b.completed_at, b.batch_id`,
    [tx.groupId, from, to, siteId],
  );
}

export interface BatchFlowRow {
  readonly batchId: string;
  readonly side: 'input' | 'output';
  readonly lotQuantity: number;
  readonly lotMassMg: number;
  readonly quantity: number;
}

/** What went into and came out of batches, by lot, reversals netted. */
export async function listBatchFlows(tx: Tx, batchIds: readonly string[]): Promise<BatchFlowRow[]> {
  return tx.query<BatchFlowRow>(
    `with e as (
       select e.seq, e.batch_id, o.seq is not null as undoes,
              case coalesce(o.kind, e.kind) when 'batch-input' then 'input' else 'output' end as side
         from entry e
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
        where e.group_id = $1::uuid and e.batch_id = any($2::uuid[])
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
    [tx.groupId, batchIds],
  );
}
