/** Packing runs of a month that lost more than nothing: of what was taken to fill packs, not all is in them. */
import { roundedQuotient } from '../../../domain/exact.ts';
import { FINE_PER_MINOR } from '../../../domain/month/printed.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { moneyOfProcesses, type CostView } from '../costs/index.ts';
import { floors, type BatchQuestion } from './queries.ts';
import type { MonthReportAnswer } from './shapes.ts';

const SHOWN = 50;

interface LossyRunRow {
  readonly packingRunId: string;
  readonly batchCode: string;
  readonly siteId: string;
  readonly itemName: string;
  readonly lossG: number;
  /** of all that lost */
  readonly count: number;
}

/** Runs that stand at the cut, by month of the books; the largest loss of mass first. Packaging has no part in the mass. */
async function listLossyRuns(tx: Tx, asked: BatchQuestion): Promise<LossyRunRow[]> {
  return tx.query<LossyRunRow>(
    `with k as materialized (select k.cut, k.next_month from unnest($6::int8[], $7::date[]) as k(cut, next_month)),
     run as materialized (
       select r.packing_run_id, r.batch_id, r.site_id, e.seq
         from packing_run r
         join entry e on e.group_id = r.group_id and e.packing_run_id = r.packing_run_id and e.kind = 'packing' and e.seq <= $5::int8
        where r.group_id = $1::uuid and ($4::uuid[] is null or r.site_id = any($4::uuid[]))
          and greatest(date_trunc('month', e.occurred_on)::date, (select max(k.next_month) from k where e.seq > k.cut))
              between $2::date and $3::date
          and not exists (select from entry u where u.group_id = e.group_id and u.reverses_entry_id = e.entry_id and u.seq <= $5::int8)
     ), x as materialized (
       select a.account_id, a.kind from account a
        where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('consumed', 'produced')
     ), lost as (
       select n.packing_run_id, n.batch_id, n.site_id, min(i.name) filter (where x.kind = 'produced') as item_name,
              sum(case when i.kind = 'packaging' then 0 when x.kind = 'consumed' then m.mass else -m.mass end) as loss_mg
         from run n
         join posting p on p.group_id = $1::uuid and p.seq = n.seq
         join x on x.account_id in (p.from_account_id, p.to_account_id)
         join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
         join item i on i.group_id = l.group_id and i.item_id = l.item_id
         cross join lateral (select p.quantity::numeric * l.mass_mg / l.quantity as mass) m
        group by n.packing_run_id, n.batch_id, n.site_id
       having sum(case when i.kind = 'packaging' then 0 when x.kind = 'consumed' then m.mass else -m.mass end) >= 1
     )
     select t.packing_run_id as "packingRunId", b.code as "batchCode", t.site_id as "siteId", coalesce(t.item_name, '') as "itemName",
            round(t.loss_mg / 1000)::int8 as "lossG", count(*) over ()::int8 as count
       from lost t
       join batch b on b.group_id = $1::uuid and b.batch_id = t.batch_id
      order by t.loss_mg desc, t.packing_run_id
      limit $8::int`,
    [
      tx.groupId,
      `${asked.month}-01`,
      `${asked.throughMonth}-01`,
      asked.siteIds,
      asked.cutSeq,
      ...floors(asked.closes, (close) => close.cutSeq),
      SHOWN,
    ],
  );
}

export async function readPackingRuns(
  tx: Tx,
  asked: BatchQuestion,
  costs: CostView,
): Promise<MonthReportAnswer['packingRuns']> {
  const rows = await listLossyRuns(tx, asked);
  const money = await moneyOfProcesses(
    tx,
    costs,
    rows.map((row) => row.packingRunId),
  );
  return {
    count: rows[0]?.count ?? 0,
    runs: rows.map(({ count: _, ...row }) => {
      const restFine = money.get(row.packingRunId)?.restFine ?? 0n;
      return { ...row, abnormalLossMinor: Number(roundedQuotient(restFine, FINE_PER_MINOR)) };
    }),
  };
}
