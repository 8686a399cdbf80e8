/**
 * What crossed the bounds of books, and what stands now, added up in the database by item, sides and why. Old history is not read: the
 * closing is the stock of today less what came later than the months asked for or was recorded after the cut, and that is little when the
 * months asked for are the newest, which they mostly are.
 */
import { ROAD, type Book } from '../../../domain/month/lines.ts';
import { segmentsOf, type Close, type Segment } from '../../../domain/month/periods.ts';
import type { LateFlow } from '../../../domain/month/late.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { costAt, type CostView } from '../costs/index.ts';
import { listStretches } from './digest.ts';
import { ACCOUNTS, CROSSES, FLOW_COLUMNS, FLOW_JOINS } from './flow-sql.ts';

export interface FlowQuestion {
  readonly month: string;
  readonly throughMonth: string;
  /** null: all books */
  readonly siteIds: readonly string[] | null;
  readonly cutSeq: number;
  readonly closes: readonly Close[];
  readonly costs: CostView;
  /** null: all items */
  readonly itemId: string | null;
}

/** How it crossed, and why. */
interface WayRow {
  readonly undoes: boolean;
  readonly entryKind: string;
  readonly fromKind: string;
  readonly fromSiteId?: string | null;
  readonly toKind: string;
  readonly toSiteId: string | null;
  readonly reason?: string | null;
  readonly destination?: string | null;
  readonly material?: 'food' | 'inedible-parts' | null;
}

interface SumRow {
  /** of what was summed before: its number; else the way itself. Few columns, because there are tens of thousands of rows. */
  readonly way: number | WayRow;
  readonly bucket: 'in' | 'after' | 'now';
  readonly lateMonth: string | null;
  readonly itemId: string;
  readonly massDenominator: string;
  readonly quantity: number;
  readonly massNumerator: string;
  readonly fine: string;
  readonly uncosted: number;
}

async function listWays(tx: Tx): Promise<(WayRow & { readonly wayNo: number })[]> {
  return tx.query<WayRow & { readonly wayNo: number }>(
    `select w.way_no as "wayNo", w.undoes, w.entry_kind as "entryKind", w.from_kind as "fromKind", w.from_site_id as "fromSiteId",
            w.to_kind as "toKind", w.to_site_id as "toSiteId", w.reason, w.destination, w.material
       from flow_way w where w.group_id = $1::uuid`,
    [tx.groupId],
  );
}

export const bookOf = (kind: string, siteId: string | null): Book =>
  kind === 'place' ? siteId : kind === 'transit' ? ROAD : null;

const firstDay = (month: string | null): string | null => (month === null ? null : `${month}-01`);

/** What a run is, as columns of one row; `at` is the number of its first parameter. */
const runColumns = (at: number): string => `$${at + 2}::date as floor, $${at + 3}::boolean as beyond`;

/** A run of entries read one by one. Entries are bounded as postings are, so that both are read by their range alone. */
const runOfPostings = (at: number): string => `
       select ${runColumns(at)}, ${FLOW_COLUMNS}
         from posting p ${FLOW_JOINS} and e.seq > $${at}::int8 and e.seq <= $${at + 1}::int8
        where p.group_id = $1::uuid and e.group_id = $1::uuid and p.seq > $${at}::int8 and p.seq <= $${at + 1}::int8 and ${CROSSES}`;

/** Money in two parts of whole numbers of 64 bits, this many fine units to the higher one: sums of them are far quicker than sums of any size. */
const RADIX = 10n ** 12n;
/** With these, quantity x part and quantity x mass stay below 2^63 (8 x 10^6 x 10^12); what is larger is summed as numbers of any size. */
const LIGHT_QUANTITY = 8_000_000;
const LIGHT_FINE = 10n ** 24n;
const LIGHT_MASS = 10n ** 12n;
/** Most packs are by 12, 25, 48 or 100: masses over one denominator are one row instead of several. 2^4 x 3^2 x 5^2 x 7. */
const COMMON = 25_200;

/** Of `n` (a quantity) and `l` (its lot). */
const LIGHT = `l.light and n.quantity between -${LIGHT_QUANTITY} and ${LIGHT_QUANTITY}`;
const SUMS = `l.item_id as "itemId", l.mass_denominator::text as "massDenominator", sum(n.quantity)::int8 as quantity,
            (coalesce(sum(n.quantity * l.unit_mass) filter (where ${LIGHT}), 0)
             + coalesce(sum(n.quantity::numeric * l.unit_mass) filter (where not (${LIGHT})), 0))::text as "massNumerator",
            (coalesce(sum(n.quantity * l.fine_high) filter (where ${LIGHT}), 0) * ${RADIX}
             + coalesce(sum(n.quantity * l.fine_low) filter (where ${LIGHT}), 0)
             + coalesce(sum(n.quantity * l.unit_fine) filter (where not (${LIGHT})), 0))::text as fine,
            coalesce(sum(n.quantity) filter (where l.uncosted), 0)::int8 as uncosted`;

const WAY_JSON = `json_build_object('undoes', n.undoes, 'entryKind', n.entry_kind, 'fromKind', n.from_kind, 'fromSiteId', n.from_site_id,
            'toKind', n.to_kind, 'toSiteId', n.to_site_id, 'reason', n.reason, 'destination', n.destination, 'material', n.material)`;

const FIRST_RUN = 14;
const RUN = 4;

/** Floors only rise with seq and are few, so they are told by comparing; a join of a million rows to the stretches takes a tenth of the time. */
function floorOfSum(count: number, at: number): string {
  if (count === 0) return '$7::date';
  const arms = Array.from(
    { length: count },
    (_, no) => `when mf.to_seq <= $${at + 2 * no}::int8 then $${at + 2 * no + 1}::date`,
  );
  return `(case ${arms.join(' ')} else $7::date end)`;
}

/** Rows are many and joined to small tables: whatever statistics say or lack, a loop over one of them for each row takes minutes. */
const setPlanner = (tx: Tx, value: 'on' | 'off') =>
  tx.query(`select set_config('enable_nestloop', $1::text, true), set_config('enable_sort', $1::text, true)`, [value]);

async function selectFlows(tx: Tx, asked: FlowQuestion, segments: readonly Segment[]): Promise<SumRow[]> {
  const summed = segments.filter((one) => one.summed);
  const single = segments.filter((one) => !one.summed);
  const { costs } = asked;
  const overrides = [...costs.overrides.values()];
  const last = summed.at(-1);
  const earlier = summed.filter((one, at) => one !== last && one.floor !== summed[at + 1]?.floor);
  const floor = floorOfSum(earlier.length, FIRST_RUN + single.length * RUN);
  return tx.query<SumRow>(
    `with ${ACCOUNTS}, later as materialized (
       select o.lot_id, o.unit_fine, o.uncosted from unnest($10::uuid[], $11::numeric[], $12::boolean[]) as o(lot_id, unit_fine, uncosted)
     ), cost as materialized (
       select o.lot_id, o.unit_fine, o.uncosted from later o
       union all
       select c.lot_id, c.unit_fine, c.uncosted_reason is not null
         from (${costAt('$8', '$9')}) c
        where not exists (select from later o where o.lot_id = c.lot_id)
     ), l as materialized (
       select l.lot_id, l.item_id, u.mass_denominator, u.unit_mass, f.unit_fine, f.light,
              case when f.light then div(f.unit_fine, ${RADIX})::int8 end as fine_high,
              case when f.light then mod(f.unit_fine, ${RADIX})::int8 end as fine_low, coalesce(c.uncosted, false) as uncosted
         from lot l
         left join cost c on c.lot_id = l.lot_id
         cross join lateral (
           select case when l.mass_mg % l.quantity = 0 then 1 else l.quantity / gcd(l.quantity, l.mass_mg) end as denominator) d
         cross join lateral (
           select case when ${COMMON} % d.denominator = 0 and l.mass_mg < ${LIGHT_MASS} then ${COMMON} else d.denominator end as mass_denominator,
                  case when ${COMMON} % d.denominator = 0 and l.mass_mg < ${LIGHT_MASS}
                    then l.mass_mg / (l.quantity / d.denominator) * (${COMMON} / d.denominator)
                    else l.mass_mg / (l.quantity / d.denominator) end as unit_mass) u
         cross join lateral (
           select coalesce(c.unit_fine, 0) as unit_fine,
                  u.unit_mass < ${LIGHT_MASS} and coalesce(c.unit_fine, 0) < ${LIGHT_FINE} as light) f
        where l.group_id = $1::uuid and ($13::uuid is null or l.item_id = $13::uuid)
     ), way as materialized (
       select w.way_no from flow_way w
        where w.group_id = $1::uuid and ($4::uuid[] is null or w.from_site_id = any($4::uuid[]) or w.to_site_id = any($4::uuid[]))
     ), single as (
       select s.*, s.beyond or greatest(s.month, s.floor) > $3::date as after, coalesce(s.floor > s.month, false) as late
         from (${single.map((_, at) => runOfPostings(FIRST_RUN + at * RUN)).join(' union all ')}) s
        where (s.beyond or greatest(s.month, s.floor) >= $2::date)
          and ($4::uuid[] is null or s.from_site_id = any($4::uuid[]) or s.to_site_id = any($4::uuid[]))
     )
     select to_json(n.way_no) as way, case when n.after then 'after' else 'in' end as bucket, to_char(n.late_month, 'YYYY-MM') as "lateMonth", ${SUMS}
       from (select mf.lot_id, mf.way_no, mf.quantity, mf.to_seq > $6::int8 or greatest(mf.month, ${floor}) > $3::date as after,
                    case when ${floor} > mf.month and mf.to_seq <= $6::int8 and ${floor} <= $3::date then mf.month end as late_month
               from month_flow mf
              where mf.group_id = $1::uuid and mf.to_seq = any($5::int8[])
                and (mf.to_seq > $6::int8 or greatest(mf.month, ${floor}) >= $2::date)
                and ($4::uuid[] is null or mf.way_no in (select w.way_no from way w))) n
       join l on l.lot_id = n.lot_id
      group by n.way_no, n.after, n.late_month, l.item_id, l.mass_denominator
     union all
     select ${WAY_JSON}, case when n.after then 'after' else 'in' end,
            to_char(case when n.late and not n.after then n.month end, 'YYYY-MM'), ${SUMS}
       from single n
       join l on l.lot_id = n.lot_id
      group by 2, 3, n.undoes, n.entry_kind, n.from_kind, n.from_site_id, n.to_kind, n.to_site_id, n.reason, n.destination, n.material,
               l.item_id, l.mass_denominator
     union all
     select json_build_object('undoes', false, 'entryKind', '', 'fromKind', '', 'toKind', n.kind, 'toSiteId', n.site_id), 'now', null, ${SUMS}
       from (select b.lot_id, b.quantity, a.kind, a.site_id
               from balance b
               join a on a.account_id = b.account_id and a.kind in ('place', 'transit')
                 and ($4::uuid[] is null or a.site_id = any($4::uuid[]))
              where b.group_id = $1::uuid and b.sign <> 0 and b.quantity <> 0) n
       join l on l.lot_id = n.lot_id
      group by n.kind, n.site_id, l.item_id, l.mass_denominator`,
    [
      tx.groupId,
      firstDay(asked.month),
      firstDay(asked.throughMonth),
      asked.siteIds,
      summed.map((one) => one.toSeq),
      asked.cutSeq,
      firstDay(last?.floor ?? null),
      costs.sqlAsOf.seq,
      costs.sqlAsOf.moneyNo,
      overrides.map((cost) => cost.lotId),
      overrides.map((cost) => cost.unitFine.toString()),
      overrides.map((cost) => cost.uncosted),
      asked.itemId,
      // bigint's largest for what has no end
      ...single.flatMap((one) => [one.fromSeq, one.toSeq ?? '9223372036854775807', firstDay(one.floor), one.beyond]),
      ...earlier.flatMap((one) => [one.toSeq, firstDay(one.floor)]),
    ],
  );
}

export async function readFlows(tx: Tx, asked: FlowQuestion): Promise<LateFlow[]> {
  const segments = segmentsOf(await listStretches(tx), { ...asked, since: asked.month });
  const ways = new Map((await listWays(tx)).map((row) => [row.wayNo, wayOf(row)]));
  await setPlanner(tx, 'off');
  const rows = await selectFlows(tx, asked, segments);
  await setPlanner(tx, 'on');
  return rows.map((row): LateFlow => {
    const way = typeof row.way === 'number' ? ways.get(row.way) : wayOf(row.way);
    if (!way) throw new Error('a sum names a way that there is not');
    // field by field: a spread of each of tens of thousands takes as long as the rest
    return {
      undoes: way.undoes,
      entryKind: way.entryKind,
      from: way.from,
      to: way.to,
      reason: way.reason,
      destination: way.destination,
      material: way.material,
      bucket: row.bucket,
      lateMonth: row.lateMonth,
      itemId: row.itemId,
      massDenominator: BigInt(row.massDenominator),
      quantity: row.quantity,
      massNumerator: BigInt(row.massNumerator),
      fine: BigInt(row.fine),
      uncosted: row.uncosted,
    };
  });
}

const wayOf = (row: WayRow) => ({
  undoes: row.undoes,
  entryKind: row.entryKind,
  from: { kind: row.fromKind, book: bookOf(row.fromKind, row.fromSiteId ?? null) },
  to: { kind: row.toKind, book: bookOf(row.toKind, row.toSiteId) },
  reason: row.reason ?? null,
  destination: row.destination ?? null,
  material: row.material ?? null,
});
