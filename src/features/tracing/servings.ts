/** Reading who could have eaten a lot, or what was made from it. Refusals: `not-found`, `trace-too-large`. */
import { Refused } from '../../domain/errors.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { getVisibleLot } from '../ledger/index.ts';
import type { getLotServings, ServingsAnswer } from './contract-servings.ts';

/** As many lots as a trace walks, and as many lines as one can go through with the telephone in hand (common practice). */
const MOST_LOTS = 20_000;
const MOST_LINES = 50_000;

interface ServedRow {
  readonly lotCount: number;
  readonly entryId: string | null;
  readonly kind: string;
  /** out to be served, or back */
  readonly out: boolean;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly siteId: string;
  readonly siteName: string;
  readonly placeId: string | null;
  readonly occurredAt: Date;
  readonly quantity: number;
  readonly basis: string;
  readonly note: Readonly<Record<string, unknown>>;
}

/**
 * One walk, and what of it crossed into or out of service. What was undone is left out; a count that was undone takes the adjustments
 * with it that were made to it. At least one row: it says how many lots there are.
 */
async function listServed(tx: Tx, lotId: string, mostLots: number, mostLines: number): Promise<ServedRow[]> {
  return tx.query<ServedRow>(
    `with recursive walk (lot_id) as (
       select $2::uuid
       union
       select le.child_lot_id from walk w join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = w.lot_id
     ), reached as materialized (select w.lot_id from walk w limit $3::int),
     served as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'served'
     ), crossed as (
       select p.seq, p.lot_id, p.basis, s.account_id = p.to_account_id as out, sum(p.quantity)::int8 as quantity,
              min(case when s.account_id = p.to_account_id then p.from_account_id::text else p.to_account_id::text end)::uuid as other_id
         from reached r
         join posting p on p.group_id = $1::uuid and p.lot_id = r.lot_id
         join served s on s.account_id in (p.from_account_id, p.to_account_id)
         join entry e on e.group_id = p.group_id and e.seq = p.seq
        where e.kind <> 'reversal'
          and not exists (select from entry u
                where u.group_id = e.group_id and u.reverses_entry_id in (e.entry_id, coalesce(e.count_id, e.entry_id)))
        group by 1, 2, 3, 4
        order by p.seq desc limit $4::int
     )
     select n.lots as "lotCount", e.entry_id as "entryId", e.kind, c.out, c.lot_id as "lotId", l.code as "lotCode",
            i.name as "itemName", l.unit, e.site_id as "siteId", si.name as "siteName",
            coalesce(a.twin_of, a.account_id) as "placeId", e.occurred_at as "occurredAt", c.quantity, c.basis, e.note
       from (select count(*)::int as lots from reached) n
       left join (crossed c
         join entry e on e.group_id = $1::uuid and e.seq = c.seq
         join lot l on l.group_id = $1::uuid and l.lot_id = c.lot_id
         join item i on i.group_id = l.group_id and i.item_id = l.item_id
         join site si on si.group_id = $1::uuid and si.site_id = e.site_id
         join account a on a.group_id = $1::uuid and a.account_id = c.other_id and a.kind like 'place%') on true
      order by e.occurred_at desc, e.entry_id, c.lot_id`,
    [tx.groupId, lotId, mostLots, mostLines],
  );
}

const text = (value: unknown): string | null => (typeof value === 'string' ? value : null);
const number = (value: unknown): number | null => (typeof value === 'number' ? value : null);

export async function readServings(context: Context<typeof getLotServings>): Promise<Reply> {
  const { tx, scope, params } = context;
  const start = await getVisibleLot(tx, scope, params.lotId);
  const rows = await listServed(tx, start.lotId, MOST_LOTS + 1, MOST_LINES + 1);
  const lotCount = rows[0]?.lotCount ?? 1;
  if (lotCount > MOST_LOTS) {
    throw new Refused('trace-too-large', `More than ${MOST_LOTS} lots hang on lot ${start.code}.`);
  }
  if (rows.length > MOST_LINES) {
    throw new Refused('trace-too-large', `Lot ${start.code} was served more than ${MOST_LINES} times.`);
  }
  const found = rows.filter((row) => row.entryId !== null);
  const body: ServingsAnswer = {
    startLotId: start.lotId,
    lotCount,
    servings: found.filter((row) => row.kind !== 'return').map(servingOf),
    lots: sumsOf(found),
  };
  return { status: 200, body };
}

function servingOf(row: ServedRow): ServingsAnswer['servings'][number] {
  const { note } = row;
  return {
    entryId: row.entryId ?? '',
    lotId: row.lotId,
    lotCode: row.lotCode,
    itemName: row.itemName,
    siteId: row.siteId,
    siteName: row.siteName,
    placeId: row.placeId,
    servicePoint: text(note.servicePoint),
    meal: text(note.meal),
    purpose: text(note.purpose) ?? 'service',
    recipient: text(note.recipient),
    occurredAt: row.occurredAt.toISOString(),
    quantity: row.out ? row.quantity : -row.quantity,
    unit: row.unit,
    portions: number(note.portions),
    coreTemperatureC: number(note.coreTemperatureC),
    basis: row.basis,
  };
}

function sumsOf(rows: readonly ServedRow[]): ServingsAnswer['lots'] {
  const sums = new Map<string, ServingsAnswer['lots'][number]>();
  for (const { lotId, lotCode, itemName, unit, kind, out, quantity } of rows) {
    const sum = sums.get(lotId) ?? { lotId, lotCode, itemName, unit, served: 0, returned: 0 };
    if (kind === 'return') sum.returned += quantity;
    else sum.served += out ? quantity : -quantity;
    sums.set(lotId, sum);
  }
  return [...sums.values()];
}
