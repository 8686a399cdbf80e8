/** SQL of boxes that come back: kinds, counts, movements, and what left with food. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface BoxTypeRow {
  readonly boxTypeId: string;
  readonly code: string;
  readonly name: string;
}

export async function findBoxTypes(tx: Tx, boxTypeIds: readonly string[]): Promise<Map<string, BoxTypeRow>> {
  const rows = await tx.query<BoxTypeRow>(
    `select b.box_type_id as "boxTypeId", b.code, b.name from box_type b
      where b.group_id = $1::uuid and b.box_type_id = any($2::uuid[])`,
    [tx.groupId, boxTypeIds],
  );
  return new Map(rows.map((row) => [row.boxTypeId, row]));
}

export async function listBoxTypeRows(tx: Tx, page: Page): Promise<BoxTypeRow[]> {
  return tx.query<BoxTypeRow>(
    `select b.box_type_id as "boxTypeId", b.code, b.name from box_type b
      where b.group_id = $1::uuid and ($2::text is null or b.code > $2::text)
      order by b.code limit $3::int`,
    [tx.groupId, page.after?.[0] ?? null, page.limit + 1],
  );
}

export async function insertBoxType(tx: Tx, row: BoxTypeRow): Promise<void> {
  await tx.query(
    `insert into box_type (group_id, box_type_id, code, name) values ($1::uuid, $2::uuid, $3::text, $4::text)`,
    [tx.groupId, row.boxTypeId, row.code, row.name],
  );
}

interface Recorded {
  readonly occurredAtMs: number;
  readonly recordedBy: string;
}

export async function insertBoxCount(
  tx: Tx,
  row: Recorded & {
    readonly countId: string;
    readonly siteId: string;
    readonly boxTypeId: string;
    readonly quantity: number;
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into box_count (group_id, box_count_id, site_id, box_type_id, quantity, occurred_at, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::int, to_timestamp($6::float8 / 1000), to_timestamp($7::float8 / 1000),
            $8::uuid)`,
    [tx.groupId, row.countId, row.siteId, row.boxTypeId, row.quantity, row.occurredAtMs, nowMs, row.recordedBy],
  );
}

export async function insertBoxMovement(
  tx: Tx,
  row: Recorded & {
    readonly movementId: string;
    readonly boxTypeId: string;
    readonly fromSiteId: string | null;
    readonly toSiteId: string | null;
    readonly supplierId: string | null;
    readonly dispatchId: string | null;
    readonly quantity: number;
    readonly note: string | null;
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into box_movement (group_id, box_movement_id, box_type_id, from_site_id, to_site_id, supplier_id, dispatch_id,
            quantity, note, occurred_at, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::uuid, $6::uuid, $7::uuid, $8::int, $9::text,
            to_timestamp($10::float8 / 1000), to_timestamp($11::float8 / 1000), $12::uuid)`,
    [
      tx.groupId,
      row.movementId,
      row.boxTypeId,
      row.fromSiteId,
      row.toSiteId,
      row.supplierId,
      row.dispatchId,
      row.quantity,
      row.note,
      row.occurredAtMs,
      nowMs,
      row.recordedBy,
    ],
  );
}

export interface SiteCountRow {
  readonly siteId: string;
  readonly boxTypeId: string;
  readonly countId: string;
  readonly occurredAtMs: number;
  readonly quantity: number;
}

/** The two latest counts of each kind of box at each of these sites. */
export async function listLatestCounts(tx: Tx, siteIds: readonly string[] | null): Promise<SiteCountRow[]> {
  return tx.query<SiteCountRow>(
    `select t.site_id as "siteId", t.box_type_id as "boxTypeId", t.box_count_id as "countId",
            (extract(epoch from t.occurred_at) * 1000)::int8 as "occurredAtMs", t.quantity
       from (select c.*, row_number() over (partition by c.site_id, c.box_type_id
                      order by c.occurred_at desc, c.box_count_id desc) as nth
               from box_count c where c.group_id = $1::uuid and ($2::uuid[] is null or c.site_id = any($2::uuid[]))) t
      where t.nth <= 2`,
    [tx.groupId, siteIds],
  );
}

export interface MovementFlowRow {
  readonly boxTypeId: string;
  readonly fromSiteId: string | null;
  readonly toSiteId: string | null;
  readonly quantity: number;
  readonly occurredAtMs: number;
}

export async function listMovements(tx: Tx, siteIds: readonly string[] | null): Promise<MovementFlowRow[]> {
  return tx.query<MovementFlowRow>(
    `select m.box_type_id as "boxTypeId", m.from_site_id as "fromSiteId", m.to_site_id as "toSiteId", m.quantity,
            (extract(epoch from m.occurred_at) * 1000)::int8 as "occurredAtMs"
       from box_movement m
      where m.group_id = $1::uuid
        and ($2::uuid[] is null or m.from_site_id = any($2::uuid[]) or m.to_site_id = any($2::uuid[]))`,
    [tx.groupId, siteIds],
  );
}

export interface CrateJourneyRow {
  readonly dispatchId: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly crateCode: string;
  /** when it left */
  readonly atMs: number;
  /** when it was first received; null while it is on the road */
  readonly cameAtMs: number | null;
}

/** Every crate on every dispatch that left from or for these sites, each once. */
export async function listCrateJourneys(tx: Tx, siteIds: readonly string[] | null): Promise<CrateJourneyRow[]> {
  return tx.query<CrateJourneyRow>(
    `select d.dispatch_id as "dispatchId", d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId", n.crate_code as "crateCode",
            (extract(epoch from d.departed_at) * 1000)::int8 as "atMs",
            case when d.state = 'closed' then (extract(epoch from coalesce(
              (select min(r.occurred_at) from receipt r where r.group_id = d.group_id and r.dispatch_id = d.dispatch_id),
              d.departed_at)) * 1000)::int8 end as "cameAtMs"
       from dispatch d
       join (select distinct l.group_id, l.dispatch_id, l.crate_code from dispatch_line l
              where l.group_id = $1::uuid and l.crate_code is not null) n
         on n.group_id = d.group_id and n.dispatch_id = d.dispatch_id
       join crate c on c.group_id = n.group_id and c.code = n.crate_code
      where d.group_id = $1::uuid and d.departed_at is not null
        and ($2::uuid[] is null or d.from_site_id = any($2::uuid[]) or d.to_site_id = any($2::uuid[]))`,
    [tx.groupId, siteIds],
  );
}
