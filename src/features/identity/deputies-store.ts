/** SQL on deputy. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface DeputyRow {
  readonly deputyId: string;
  readonly personId: string;
  readonly personName: string;
  readonly role: string;
  readonly siteId: string | null;
  readonly from: Date;
  readonly to: Date;
  readonly reason: string;
  readonly appointedBy: string;
  readonly appointedAt: Date;
  readonly endedAt: Date | null;
  readonly endedBy: string | null;
}

const COLUMNS = `y.deputy_id as "deputyId", y.person_id as "personId", p.name as "personName", y.role, y.site_id as "siteId",
  y.from_at as "from", y.to_at as "to", y.reason, y.appointed_by as "appointedBy", y.appointed_at as "appointedAt",
  y.ended_at as "endedAt", y.ended_by as "endedBy"`;
const FROM = `deputy y join person p on p.group_id = y.group_id and p.person_id = y.person_id`;

export async function insertDeputy(
  tx: Tx,
  deputy: Omit<DeputyRow, 'personName' | 'from' | 'to' | 'appointedAt' | 'endedAt' | 'endedBy'>,
  fromMs: number,
  toMs: number,
  nowMs: number,
): Promise<void> {
  const { deputyId, personId, role, siteId, reason, appointedBy } = deputy;
  await tx.query(
    `insert into deputy (group_id, deputy_id, person_id, role, site_id, from_at, to_at, reason, appointed_by, appointed_at)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::uuid, to_timestamp($6::float8 / 1000), to_timestamp($7::float8 / 1000),
             $8::text, $9::uuid, to_timestamp($10::float8 / 1000))`,
    [tx.groupId, deputyId, personId, role, siteId, fromMs, toMs, reason, appointedBy, nowMs],
  );
}

export async function findDeputy(tx: Tx, deputyId: string): Promise<DeputyRow | null> {
  const rows = await tx.query<DeputyRow>(
    `select ${COLUMNS} from ${FROM} where y.group_id = $1::uuid and y.deputy_id = $2::uuid`,
    [tx.groupId, deputyId],
  );
  return rows[0] ?? null;
}

export async function lockDeputy(tx: Tx, deputyId: string): Promise<DeputyRow | null> {
  const rows = await tx.query<DeputyRow>(
    `select ${COLUMNS} from ${FROM} where y.group_id = $1::uuid and y.deputy_id = $2::uuid for update of y`,
    [tx.groupId, deputyId],
  );
  return rows[0] ?? null;
}

export async function endDeputy(tx: Tx, deputyId: string, actorId: string, nowMs: number): Promise<void> {
  await tx.query(
    `update deputy set ended_at = to_timestamp($4::float8 / 1000), ended_by = $3::uuid
      where group_id = $1::uuid and deputy_id = $2::uuid`,
    [tx.groupId, deputyId, actorId, nowMs],
  );
}

/** Appointments of a person that have begun and are not over; `to` is when they end. */
export async function listDeputiesNow(
  tx: Tx,
  personId: string,
  nowMs: number,
): Promise<{ deputyId: string; role: string; siteId: string | null; to: Date }[]> {
  return tx.query(
    `select y.deputy_id as "deputyId", y.role, y.site_id as "siteId", y.to_at as "to"
       from deputy y
      where y.group_id = $1::uuid and y.person_id = $2::uuid and y.ended_at is null
        and y.from_at <= to_timestamp($3::float8 / 1000) and y.to_at > to_timestamp($3::float8 / 1000)
      order by y.from_at, y.deputy_id`,
    [tx.groupId, personId, nowMs],
  );
}

export async function findDeputies(tx: Tx, deputyIds: readonly string[]): Promise<DeputyRow[]> {
  return tx.query<DeputyRow>(
    `select ${COLUMNS} from ${FROM} where y.group_id = $1::uuid and y.deputy_id = any($2::uuid[])
      order by y.from_at, y.deputy_id`,
    [tx.groupId, deputyIds],
  );
}

/** Those for sites in scope and those for every site, by their beginning; one more than the page holds. */
export async function listDeputies(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; personId: string | null; open: boolean | null },
  nowMs: number,
  page: Page,
): Promise<DeputyRow[]> {
  return tx.query<DeputyRow>(
    `select ${COLUMNS} from ${FROM}
      where y.group_id = $1::uuid and ($2::boolean or y.site_id is null or y.site_id = any($3::uuid[]))
        and ($4::uuid is null or y.site_id is null or y.site_id = $4::uuid)
        and ($5::uuid is null or y.person_id = $5::uuid)
        and ($6::boolean is null or (y.ended_at is null and y.to_at > to_timestamp($7::float8 / 1000)) = $6::boolean)
        and ($8::timestamptz is null or (y.from_at, y.deputy_id) > ($8::timestamptz, $9::uuid))
      order by y.from_at, y.deputy_id limit $10::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.personId,
      filter.open,
      nowMs,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}
