/** SQL on shelf_life_result, its cursor, and what waits to be computed. */
import { LIMITS_VERSION, type Limit } from '../../../domain/limits/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';

const ms = (column: string): string => `(extract(epoch from ${column}) * 1000)::int8`;

export interface ResultRow {
  readonly lotId: string;
  readonly partId: string;
  readonly resultNo: number;
  readonly resultId: string;
  readonly kind: 'part' | 'taken';
  readonly computedAtMs: number;
  readonly ruleVersion: number;
  readonly effectiveAtMs: number | null;
  readonly rulingCode: string | null;
  readonly forbiddenCode: string | null;
  readonly holdId: string | null;
  readonly limits: readonly Limit[];
  /** sha256 of the facts and exposures, hex */
  readonly inputsHash: string;
}

const COLUMNS = `r.lot_id as "lotId", r.part_id as "partId", r.result_no as "resultNo", r.result_id as "resultId", r.kind,
  ${ms('r.computed_at')} as "computedAtMs", r.rule_version as "ruleVersion", ${ms('r.effective_at')} as "effectiveAtMs",
  r.ruling_code as "rulingCode", r.forbidden_code as "forbiddenCode", r.hold_id as "holdId", r.limits,
  encode(r.inputs_hash, 'hex') as "inputsHash"`;

/** The one that holds, of each part. */
export async function listLatestResults(tx: Tx, lotIds: readonly string[]): Promise<ResultRow[]> {
  return tx.query<ResultRow>(
    `select distinct on (r.lot_id, r.part_id) ${COLUMNS}
       from shelf_life_result r
      where r.group_id = $1::uuid and r.lot_id = any($2::uuid[])
      order by r.lot_id, r.part_id, r.result_no desc`,
    [tx.groupId, lotIds],
  );
}

/** All of one lot, the latest first. */
export async function listResults(tx: Tx, lotId: string): Promise<ResultRow[]> {
  return tx.query<ResultRow>(
    `select ${COLUMNS} from shelf_life_result r
      where r.group_id = $1::uuid and r.lot_id = $2::uuid
      order by r.computed_at desc, r.part_id, r.result_no desc limit 500`,
    [tx.groupId, lotId],
  );
}

export async function insertResults(tx: Tx, rows: readonly ResultRow[]): Promise<void> {
  if (rows.length === 0) return;
  await tx.query(
    `insert into shelf_life_result (group_id, lot_id, part_id, result_no, result_id, kind, computed_at, rule_version, effective_at,
            ruling_code, forbidden_code, hold_id, limits, inputs_hash)
     select $1::uuid, r."lotId", r."partId", r."resultNo", r."resultId", r.kind, to_timestamp(r."computedAtMs" / 1000),
            r."ruleVersion", to_timestamp(r."effectiveAtMs" / 1000), r."rulingCode", r."forbiddenCode", r."holdId", r.limits,
            decode(r."inputsHash", 'hex')
       from jsonb_to_recordset($2::jsonb) as r("lotId" uuid, "partId" uuid, "resultNo" int, "resultId" uuid, kind text,
            "computedAtMs" float8, "ruleVersion" int, "effectiveAtMs" float8, "rulingCode" text, "forbiddenCode" text, "holdId" uuid,
            limits jsonb, "inputsHash" text)`,
    [tx.groupId, JSON.stringify(rows)],
  );
}

const MARK = 'on conflict (group_id, lot_id) do update set lot_id = excluded.lot_id';

/** Lots that are in stock: of some sites, of an item, of a batch, or all. */
export async function markStock(
  tx: Tx,
  which: { readonly siteId?: string; readonly itemId?: string; readonly batchId?: string },
): Promise<void> {
  await tx.query(
    `insert into lot_exposure_dirty (group_id, lot_id)
     select distinct $1::uuid, b.lot_id
       from balance b
       join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.sign = 1
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id and l.origin <> 'pseudo'
       left join packing_run pr on pr.group_id = l.group_id and pr.packing_run_id = l.packing_run_id
      where b.group_id = $1::uuid and b.quantity > 0
        and ($2::uuid is null or a.site_id = $2::uuid or a.to_site_id = $2::uuid)
        and ($3::uuid is null or l.item_id = $3::uuid)
        and ($4::uuid is null or coalesce(l.batch_id, pr.batch_id) = $4::uuid)
      order by b.lot_id ${MARK}`,
    [tx.groupId, which.siteId ?? null, which.itemId ?? null, which.batchId ?? null],
  );
}

/** Lots in stock at a site, for a look at what other rules would change. */
export async function listLotsAt(tx: Tx, siteId: string, limit: number): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select distinct b.lot_id as "lotId"
       from balance b
       join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.sign = 1
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id and l.origin <> 'pseudo'
      where b.group_id = $1::uuid and b.quantity > 0 and (a.site_id = $2::uuid or a.to_site_id = $2::uuid)
      order by b.lot_id limit $3::int`,
    [tx.groupId, siteId, limit],
  );
  return rows.map((row) => row.lotId);
}

/** What was made from lots by processes whose result changed. */
export async function markMadeFrom(
  tx: Tx,
  taken: readonly { readonly lotId: string; readonly partId: string }[],
): Promise<void> {
  if (taken.length === 0) return;
  await tx.query(
    `insert into lot_exposure_dirty (group_id, lot_id)
     select distinct $1::uuid, e.child_lot_id
       from unnest($2::uuid[], $3::uuid[]) as x(lot_id, process_id)
       join lot_edge e on e.group_id = $1::uuid and e.parent_lot_id = x.lot_id and e.process_id = x.process_id and e.caps_use_by
      order by e.child_lot_id ${MARK}`,
    [tx.groupId, taken.map((one) => one.lotId), taken.map((one) => one.partId)],
  );
}

/**
 * Reads on in the ledger from where it was read to and marks what moved. Locks the cursor: of two workers one waits and finds nothing.
 * Answers how many lots, and whether there is more.
 */
export async function markMoved(tx: Tx, entries: number): Promise<{ marked: number; more: boolean }> {
  await tx.query(
    `insert into shelf_life_cursor (group_id, seq, limits_version) values ($1::uuid, 0, 0) on conflict (group_id) do nothing`,
    [tx.groupId],
  );
  const [cursor] = await tx.query<{ seq: number; limitsVersion: number }>(
    `select c.seq, c.limits_version as "limitsVersion" from shelf_life_cursor c where c.group_id = $1::uuid for update`,
    [tx.groupId],
  );
  const fromSeq = cursor?.seq ?? 0;
  const [last] = await tx.query<{ seq: number | null }>(
    `select max(x.seq) as seq from (select e.seq from entry e where e.group_id = $1::uuid and e.seq > $2::bigint
                                     order by e.seq limit $3::int) x`,
    [tx.groupId, fromSeq, entries],
  );
  const toSeq = last?.seq ?? fromSeq;
  const rows = await tx.query<{ lotId: string }>(
    `insert into lot_exposure_dirty (group_id, lot_id)
     select distinct $1::uuid, p.lot_id
       from posting p
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id and l.origin <> 'pseudo'
      where p.group_id = $1::uuid and p.seq > $2::bigint and p.seq <= $3::bigint
      order by p.lot_id ${MARK}
     returning lot_id as "lotId"`,
    [tx.groupId, fromSeq, toSeq],
  );
  if (cursor?.limitsVersion !== LIMITS_VERSION) await markStock(tx, {});
  await tx.query(
    `update shelf_life_cursor c set seq = $2::bigint, limits_version = $3::int where c.group_id = $1::uuid`,
    [tx.groupId, toSeq, LIMITS_VERSION],
  );
  return { marked: rows.length, more: toSeq > fromSeq };
}

/** Parts whose computed end has come since, and which nothing holds: what time does is seen by the sweep. */
export async function markEnded(tx: Tx, nowMs: number): Promise<void> {
  await tx.query(
    `insert into lot_exposure_dirty (group_id, lot_id)
     select distinct $1::uuid, r.lot_id
       from shelf_life_result r
       join balance b on b.group_id = r.group_id and b.lot_id = r.lot_id and b.account_id = r.part_id and b.quantity > 0
      where r.group_id = $1::uuid and r.kind = 'part' and r.hold_id is null and r.effective_at <= to_timestamp($2::float8 / 1000)
        and r.ruling_code not in ('printed-use-by', 'lot-use-by') and r.ruling_code not like 'born-%'
        and not exists (select from shelf_life_result n where n.group_id = r.group_id and n.lot_id = r.lot_id
                           and n.part_id = r.part_id and n.result_no > r.result_no)
      order by r.lot_id ${MARK}`,
    [tx.groupId, nowMs],
  );
}

/** Food that was too warm where it was only presumed to be, and has been seen there since: a count may say so and post nothing. */
export async function markSeen(tx: Tx): Promise<void> {
  await tx.query(
    `insert into lot_exposure_dirty (group_id, lot_id)
     select distinct $1::uuid, f.lot_id
       from finding f
      where f.group_id = $1::uuid and f.kind = 'warm-where-presumed' and f.status = 'open'
        and not exists (select from finding p where p.group_id = f.group_id and p.kind = 'place-presumed' and p.subject = f.subject
                           and p.status = 'open')
      order by f.lot_id ${MARK}`,
    [tx.groupId],
  );
}

/** Lots that wait, locked, and taken off the list: the rows are gone when the transaction ends. */
export async function takeDirty(tx: Tx, limit: number): Promise<{ lotId: string; markedAtMs: number }[]> {
  return tx.query(
    `delete from lot_exposure_dirty d
      using (select x.lot_id from lot_exposure_dirty x where x.group_id = $1::uuid
              order by x.marked_at, x.lot_id limit $2::int for update skip locked) t
      where d.group_id = $1::uuid and d.lot_id = t.lot_id
     returning d.lot_id as "lotId", ${ms('d.marked_at')} as "markedAtMs"`,
    [tx.groupId, limit],
  );
}
