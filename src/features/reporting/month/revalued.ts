/**
 * What later prices changed in the worth of what had moved before the months asked for, when the month before them is closed: those lots
 * alone are read again, from their own history.
 */
import { monthsOn, type Close } from '../../../domain/month/periods.ts';
import type { LateFlow } from '../../../domain/month/late.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';
import { listChangedLots, type CostView } from '../costs/index.ts';
import { ACCOUNTS, CROSSES, FLOW_COLUMNS, FLOW_JOINS } from './flow-sql.ts';
import { bookOf } from './flows.ts';

interface EarlierRow {
  readonly period: string;
  readonly itemId: string;
  readonly entryKind: string;
  readonly fromKind: string;
  readonly fromSiteId: string | null;
  readonly toKind: string;
  readonly toSiteId: string | null;
  readonly reason: string | null;
  readonly massDenominator: string;
  readonly quantity: number;
  readonly massNumerator: string;
  readonly fine: string;
}

interface Earlier {
  /** months before this one */
  readonly month: string;
  readonly cutSeq: number;
  readonly closes: readonly Close[];
  readonly itemId: string | null;
}

interface Changed {
  readonly lotId: string;
  readonly beforeFine: bigint;
  readonly afterFine: bigint;
}

async function listEarlier(tx: Tx, changed: readonly Changed[], asked: Earlier): Promise<EarlierRow[]> {
  return tx.query<EarlierRow>(
    `with ${ACCOUNTS}, k as materialized (select k.cut, k.next_month from unnest($3::int8[], $4::date[]) as k(cut, next_month)),
     flow as (
       select c.change_fine, p.seq, ${FLOW_COLUMNS}
         from unnest($6::uuid[], $7::numeric[]) as c(lot_id, change_fine)
         join posting p on p.group_id = $1::uuid and p.lot_id = c.lot_id and p.seq <= $5::int8
         ${FLOW_JOINS}
        where ${CROSSES}
     ), placed as (
       select f.*, greatest(f.month, (select max(k.next_month) from k where f.seq > k.cut)) as period from flow f
     )
     select to_char(p.period, 'YYYY-MM') as period, l.item_id as "itemId", p.entry_kind as "entryKind", p.from_kind as "fromKind",
            p.from_site_id as "fromSiteId", p.to_kind as "toKind", p.to_site_id as "toSiteId", p.reason, l.quantity::text as "massDenominator",
            sum(p.quantity)::int8 as quantity, sum(p.quantity::numeric * l.mass_mg)::text as "massNumerator",
            sum(p.quantity * p.change_fine)::text as fine
       from placed p
       join lot l on l.group_id = $1::uuid and l.lot_id = p.lot_id
      where p.period < $2::date and ($8::uuid is null or l.item_id = $8::uuid)
      group by p.period, l.item_id, p.entry_kind, p.from_kind, p.from_site_id, p.to_kind, p.to_site_id, p.reason, l.quantity`,
    [
      tx.groupId,
      `${asked.month}-01`,
      asked.closes.map((close) => close.cutSeq),
      asked.closes.map((close) => `${monthsOn(close.month, 1)}-01`),
      asked.cutSeq,
      changed.map((one) => one.lotId),
      changed.map((one) => (one.afterFine - one.beforeFine).toString()),
      asked.itemId,
    ],
  );
}

/** What moved in earlier months, of lots that cost something else now: its money is quantity x change. `lateMonth` is when it moved. */
export async function readRevalued(tx: Tx, before: Cut, now: CostView, asked: Earlier): Promise<LateFlow[]> {
  const changed = await listChangedLots(tx, before, now);
  if (changed.length === 0) return [];
  const rows = await listEarlier(tx, changed, asked);
  return rows.map((row) => ({
    bucket: 'in',
    lateMonth: row.period,
    undoes: false,
    itemId: row.itemId,
    entryKind: row.entryKind,
    from: { kind: row.fromKind, book: bookOf(row.fromKind, row.fromSiteId) },
    to: { kind: row.toKind, book: bookOf(row.toKind, row.toSiteId) },
    reason: row.reason,
    destination: null,
    material: null,
    massDenominator: BigInt(row.massDenominator),
    quantity: row.quantity,
    massNumerator: BigInt(row.massNumerator),
    fine: BigInt(row.fine),
    uncosted: 0,
  }));
}
