/** SQL of the write path: accounts, balances, head, entries, postings. One exported function per statement. */
import type { PartDate } from '../../domain/ledger/book.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { AccountRow } from './accounts.ts';

export interface PartId {
  readonly lot_id: string;
  readonly account_id: string;
}

/** Of two who need an account first, either of its unique keys may be met first: no key is named, since an id says all that the others say. */
export async function ensureAccounts(tx: Tx, rows: readonly AccountRow[]): Promise<void> {
  await tx.query(
    `insert into account (group_id, account_id, kind, site_id, to_site_id, twin_of, sign)
     select $1::uuid, r.account_id, r.kind, r.site_id, r.to_site_id, r.twin_of, r.sign
       from jsonb_to_recordset($2::jsonb)
         as r(account_id uuid, kind text, site_id uuid, to_site_id uuid, twin_of uuid, sign smallint)
      where not exists (select from account a where a.group_id = $1::uuid and a.account_id = r.account_id)
      order by r.account_id
     on conflict do nothing`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

/** A part that was never used has no row to lock: make the zero rows first, in key order. */
export async function ensureBalances(tx: Tx, parts: readonly PartId[]): Promise<void> {
  await tx.query(
    `insert into balance (group_id, lot_id, account_id, sign, quantity)
     select $1::uuid, r.lot_id, r.account_id, 1, 0
       from unnest($2::uuid[], $3::uuid[]) as r(lot_id, account_id)
      where not exists (select from balance b
              where b.group_id = $1::uuid and b.lot_id = r.lot_id and b.account_id = r.account_id)
      order by r.lot_id, r.account_id
     on conflict (group_id, lot_id, account_id) do nothing`,
    [tx.groupId, parts.map((part) => part.lot_id), parts.map((part) => part.account_id)],
  );
}

export async function lockBalances(tx: Tx, parts: readonly PartId[]): Promise<void> {
  await tx.query(
    `select b.quantity
       from balance b
      where b.group_id = $1::uuid
        and (b.lot_id, b.account_id) in (select * from unnest($2::uuid[], $3::uuid[]))
      order by b.lot_id, b.account_id
        for no key update`,
    [tx.groupId, parts.map((part) => part.lot_id), parts.map((part) => part.account_id)],
  );
}

/** Account and twin together, and the part's own date where it has one; read in a statement of its own after the lock. */
export async function readNets(
  tx: Tx,
  parts: readonly PartId[],
): Promise<{ lotId: string; accountId: string; net: number; ownDate: PartDate | null }[]> {
  return tx.query(
    `select r.lot_id as "lotId", r.account_id as "accountId",
            coalesce(b.quantity, 0) + coalesce(t.quantity, 0) as net,
            case when h.hold_id is not null then json_build_object('holdId', h.hold_id, 'labelled', h.labelled_at is not null,
              'useByAtMs', (extract(epoch from h.use_by_at) * 1000)::int8) end as "ownDate"
       from unnest($2::uuid[], $3::uuid[], $4::uuid[]) as r(lot_id, account_id, twin_id)
       left join balance b on b.group_id = $1::uuid and b.lot_id = r.lot_id and b.account_id = r.account_id
       left join balance t on t.group_id = $1::uuid and t.lot_id = r.lot_id and t.account_id = r.twin_id
       left join hold h on h.group_id = $1::uuid and h.lot_id = r.lot_id and h.account_id = r.account_id and h.kind = 'use-by'
                       and h.lifted_at is null`,
    [
      tx.groupId,
      parts.map((part) => part.lot_id),
      parts.map((part) => part.account_id),
      parts.map((part) => (part as PartId & { twin_id: string }).twin_id),
    ],
  );
}

export interface CountRow {
  readonly countId: string;
  /** null: a complete count, with what it says of every lot that it does not name */
  readonly lotId: string | null;
  readonly accountId: string;
  readonly siteId: string;
  readonly occurredAt: Date;
  readonly occurredOn: string;
  readonly usedByCount: boolean;
}

/**
 * Counts that say something of these parts and stand (a reversed count asserts nothing): the lines that name them, and the
 * complete counts of their accounts, one row each however many lots are asked for.
 * @param sinceMs complete counts before it are left out
 */
export async function readCounts(tx: Tx, parts: readonly PartId[], sinceMs: number | null): Promise<CountRow[]> {
  return tx.query<CountRow>(
    `select c.count_id as "countId", c.lot_id as "lotId", c.account_id as "accountId", h.site_id as "siteId",
            h.occurred_at as "occurredAt", h.occurred_on as "occurredOn", h.used_by_count as "usedByCount"
       from count_line c
       join stock_count h on h.group_id = c.group_id and h.count_id = c.count_id
      where c.group_id = $1::uuid
        and (c.lot_id, c.account_id) in (select * from unnest($2::uuid[], $3::uuid[]))
        and not exists (select from entry r where r.group_id = c.group_id and r.reverses_entry_id = c.count_id)
     union all
     select h.count_id, null, h.account_id, h.site_id, h.occurred_at, h.occurred_on, h.used_by_count
       from stock_count h
      where h.group_id = $1::uuid and h.account_id = any($4::uuid[]) and h.complete
        and h.occurred_at >= coalesce(to_timestamp($5::float8 / 1000), '-infinity')
        and not exists (select from entry r where r.group_id = h.group_id and r.reverses_entry_id = h.count_id)`,
    [
      tx.groupId,
      parts.map((part) => part.lot_id),
      parts.map((part) => part.account_id),
      [...new Set(parts.map((part) => part.account_id))],
      sinceMs,
    ],
  );
}

/** What is posted for counts of places used by count, into the place less out of it, adjustments included. */
export async function readDifferences(
  tx: Tx,
  lotIds: readonly string[],
  accountIds: readonly string[],
): Promise<{ countId: string; lotId: string; accountId: string; difference: number }[]> {
  return tx.query(
    `select h.count_id as "countId", p.lot_id as "lotId", h.account_id as "accountId",
            sum(case when i.sign <> 0 then p.quantity else -p.quantity end)::int8 as difference
       from stock_count h
       join entry e on e.group_id = h.group_id and e.count_id = h.count_id and e.kind = 'stock-count'
       join posting p on p.group_id = e.group_id and p.seq = e.seq and p.lot_id = any($2::uuid[])
       join account i on i.group_id = p.group_id and i.account_id = p.to_account_id
      where h.group_id = $1::uuid and h.account_id = any($3::uuid[]) and h.used_by_count
      group by h.count_id, p.lot_id, h.account_id`,
    [tx.groupId, lotIds, accountIds],
  );
}

/** The balance of parts by event time, just before a count: what was recorded with a time up to it. */
export async function readBalancesAt(
  tx: Tx,
  asked: readonly { lotId: string; accountId: string; twinId: string; countId: string; at: string }[],
): Promise<{ lotId: string; accountId: string; countId: string; quantity: number }[]> {
  return tx.query(
    `select r.lot_id as "lotId", r.account_id as "accountId", r.count_id as "countId",
            coalesce(sum(case when p.to_account_id in (r.account_id, r.twin_id) then p.quantity else -p.quantity end), 0)::int8
              as quantity
       from jsonb_to_recordset($2::jsonb)
         as r("lot_id" uuid, "account_id" uuid, "twin_id" uuid, "count_id" uuid, "at" timestamptz)
       left join (posting p join entry e on e.group_id = p.group_id and e.seq = p.seq)
         on p.group_id = $1::uuid and p.lot_id = r.lot_id
        and (p.from_account_id in (r.account_id, r.twin_id) or p.to_account_id in (r.account_id, r.twin_id))
        and (p.occurred_at < r.at or (p.occurred_at = r.at and (e.count_id is null or e.count_id < r.count_id)))
      group by r.lot_id, r.account_id, r.count_id`,
    [
      tx.groupId,
      JSON.stringify(
        asked.map((one) => ({
          lot_id: one.lotId,
          account_id: one.accountId,
          twin_id: one.twinId,
          count_id: one.countId,
          at: one.at,
        })),
      ),
    ],
  );
}

/** The write phase begins here: the group's head gives gapless numbers and a time that never goes back. */
export async function takeSeqs(
  tx: Tx,
  howMany: number,
  nowMs: number,
): Promise<{ lastSeq: number; recordedAtUs: number }> {
  const rows = await tx.query<{ lastSeq: number; recordedAtUs: number }>(
    `update group_head h
        set last_seq = h.last_seq + $2::int8,
            last_recorded_at = greatest(h.last_recorded_at, to_timestamp($3::float8 / 1000))
      where h.group_id = $1::uuid
     returning h.last_seq as "lastSeq", (extract(epoch from h.last_recorded_at) * 1000000)::int8 as "recordedAtUs"`,
    [tx.groupId, howMany, nowMs],
  );
  const row = rows[0];
  if (!row) throw new Error('the group has no head row');
  return row;
}

export async function insertEntries(tx: Tx, rows: readonly object[], recordedAtUs: number): Promise<void> {
  await tx.query(
    `insert into entry (group_id, seq, entry_id, kind, fact_id, site_id, occurred_at, occurred_on, recorded_at, actor_id,
            clock_offset_ms, content_hash, leaf_hash, reverses_entry_id, batch_id, packing_run_id, dispatch_id, count_id,
            scan_id, note)
     select $1::uuid, r.seq, r.entry_id, r.kind, r.fact_id, r.site_id, to_timestamp(r.occurred_at_ms / 1000.0), r.occurred_on,
            to_timestamp($3::int8 / 1000000.0), r.actor_id, r.clock_offset_ms, decode(r.content_hash, 'hex'),
            decode(r.leaf_hash, 'hex'), r.reverses_entry_id, r.batch_id, r.packing_run_id, r.dispatch_id, r.count_id,
            r.scan_id, coalesce(r.note, '{}'::jsonb)
       from jsonb_to_recordset($2::jsonb) as r(seq int8, entry_id uuid, kind text, fact_id uuid, site_id uuid,
            occurred_at_ms numeric, occurred_on date, actor_id uuid, clock_offset_ms int8, content_hash text, leaf_hash text,
            reverses_entry_id uuid, batch_id uuid, packing_run_id uuid, dispatch_id uuid, count_id uuid, scan_id uuid,
            note jsonb)`,
    [tx.groupId, JSON.stringify(rows), recordedAtUs],
  );
}

export async function insertPostings(tx: Tx, rows: readonly object[]): Promise<void> {
  if (rows.length === 0) return;
  await tx.query(
    `insert into posting (group_id, seq, line_no, lot_id, from_account_id, to_account_id, quantity, basis, reason, destination,
            material, occurred_at, occurred_on)
     select $1::uuid, r.seq, r.line_no, r.lot_id, r.from_account_id, r.to_account_id, r.quantity, r.basis, r.reason,
            r.destination, r.material, to_timestamp(r.occurred_at_ms / 1000.0), r.occurred_on
       from jsonb_to_recordset($2::jsonb) as r(seq int8, line_no int, lot_id uuid, from_account_id uuid, to_account_id uuid,
            quantity int8, basis text, reason text, destination text, material text, occurred_at_ms numeric,
            occurred_on date)`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

export interface BalanceDelta {
  readonly lot_id: string;
  readonly account_id: string;
  readonly sign: number;
  readonly delta: number;
}

/**
 * Physical accounts and their twins: the row of the account is locked already and is the lock of its twin as well, so
 * plain updates are safe. The twin's row is made with its first shortfall.
 */
export async function addToPhysical(tx: Tx, rows: readonly BalanceDelta[]): Promise<void> {
  if (rows.length === 0) return;
  const twins = rows.filter((row) => row.sign === -1);
  if (twins.length > 0) {
    await tx.query(
      `insert into balance (group_id, lot_id, account_id, sign, quantity)
       select $1::uuid, r.lot_id, r.account_id, -1, 0 from jsonb_to_recordset($2::jsonb) as r(lot_id uuid, account_id uuid)
        order by r.lot_id, r.account_id
       on conflict (group_id, lot_id, account_id) do nothing`,
      [tx.groupId, JSON.stringify(twins)],
    );
  }
  await tx.query(
    `update balance b set quantity = b.quantity + r.delta
       from jsonb_to_recordset($2::jsonb) as r(lot_id uuid, account_id uuid, delta int8)
      where b.group_id = $1::uuid and b.lot_id = r.lot_id and b.account_id = r.account_id`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

/** Outside accounts are not read before they are written: they are added to, in key order, after every physical row. */
export async function addToOutside(tx: Tx, rows: readonly BalanceDelta[]): Promise<void> {
  if (rows.length === 0) return;
  await tx.query(
    `insert into balance (group_id, lot_id, account_id, sign, quantity)
     select $1::uuid, r.lot_id, r.account_id, 0, r.delta
       from jsonb_to_recordset($2::jsonb) as r(lot_id uuid, account_id uuid, delta int8)
      order by r.lot_id, r.account_id
     on conflict (group_id, lot_id, account_id) do update set quantity = balance.quantity + excluded.quantity`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

export interface NewCount {
  readonly countId: string;
  readonly accountId: string;
  readonly siteId: string;
  readonly occurredAtMs: number;
  readonly occurredOn: string;
  readonly complete: boolean;
  readonly usedByCount: boolean;
}

export async function insertCounts(tx: Tx, rows: readonly NewCount[]): Promise<void> {
  if (rows.length === 0) return;
  await tx.query(
    `insert into stock_count (group_id, count_id, account_id, site_id, occurred_at, occurred_on, complete, used_by_count)
     select $1::uuid, r."countId", r."accountId", r."siteId", to_timestamp(r."occurredAtMs" / 1000.0), r."occurredOn",
            r.complete, r."usedByCount"
       from jsonb_to_recordset($2::jsonb) as r("countId" uuid, "accountId" uuid, "siteId" uuid, "occurredAtMs" numeric,
            "occurredOn" date, complete boolean, "usedByCount" boolean)`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

export async function insertCountLines(
  tx: Tx,
  rows: readonly { countId: string; lotId: string; accountId: string; occurredAtMs: number; counted: number }[],
): Promise<void> {
  if (rows.length === 0) return;
  await tx.query(
    `insert into count_line (group_id, count_id, lot_id, account_id, occurred_at, counted)
     select $1::uuid, r."countId", r."lotId", r."accountId", to_timestamp(r."occurredAtMs" / 1000.0), r.counted
       from jsonb_to_recordset($2::jsonb)
         as r("countId" uuid, "lotId" uuid, "accountId" uuid, "occurredAtMs" numeric, counted int8)`,
    [tx.groupId, JSON.stringify(rows)],
  );
}
