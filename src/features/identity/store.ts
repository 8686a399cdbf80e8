/** SQL on groups, person, person_credential, person_grant and device; and one question to site. */
import type { Grant } from '../../platform/auth/actor.ts';
import type { Tx } from '../../platform/db/db.ts';

export interface PersonRow {
  readonly personId: string;
  readonly name: string;
  readonly signInName: string;
  readonly active: boolean;
  readonly version: number;
  /** in the order given */
  readonly grants: readonly Grant[];
}

const COLUMNS = `p.person_id as "personId", p.name, p.sign_in_name as "signInName", p.active, p.version,
  coalesce((select jsonb_agg(jsonb_build_object('role', g.role, 'siteId', g.site_id) order by g.grant_no)
    from person_grant g where g.group_id = p.group_id and g.person_id = p.person_id), '[]') as grants`;

export async function findPeople(tx: Tx, personIds: readonly string[]): Promise<Map<string, PersonRow>> {
  const rows = await tx.query<PersonRow>(
    `select ${COLUMNS} from person p where p.group_id = $1::uuid and p.person_id = any($2::uuid[])`,
    [tx.groupId, personIds],
  );
  return new Map(rows.map((row) => [row.personId, row]));
}

/** Names of people and of devices, by their id. */
export async function findPeopleNames(tx: Tx, actorIds: readonly string[]): Promise<Map<string, string>> {
  const rows = await tx.query<{ id: string; name: string }>(
    `select p.person_id as id, p.name from person p where p.group_id = $1::uuid and p.person_id = any($2::uuid[])
     union all
     select d.device_id, d.name from device d where d.group_id = $1::uuid and d.device_id = any($2::uuid[])`,
    [tx.groupId, actorIds],
  );
  return new Map(rows.map((row) => [row.id, row.name]));
}

/** Whether there is such a person in the group; a device is none. */
export async function isPerson(tx: Tx, personId: string): Promise<boolean> {
  const rows = await tx.query(
    `select p.person_id from person p where p.group_id = $1::uuid and p.person_id = $2::uuid`,
    [tx.groupId, personId],
  );
  return rows.length === 1;
}

export async function lockPerson(tx: Tx, personId: string): Promise<PersonRow | null> {
  const rows = await tx.query<PersonRow>(
    `select ${COLUMNS} from person p where p.group_id = $1::uuid and p.person_id = $2::uuid for update of p`,
    [tx.groupId, personId],
  );
  return rows[0] ?? null;
}

/** People by sign-in name, one more than `limit`. */
export async function listPeople(tx: Tx, after: readonly string[] | null, limit: number): Promise<PersonRow[]> {
  return tx.query<PersonRow>(
    `select ${COLUMNS} from person p
      where p.group_id = $1::uuid and ($2::text is null or (p.sign_in_name, p.person_id) > ($2::text, $3::uuid))
      order by p.sign_in_name, p.person_id limit $4::int`,
    [tx.groupId, after?.[0] ?? null, after?.[1] ?? null, limit + 1],
  );
}

export async function insertPerson(tx: Tx, person: Omit<PersonRow, 'grants'>): Promise<void> {
  await tx.query(
    `insert into person (group_id, person_id, name, sign_in_name, active, version)
     values ($1::uuid, $2::uuid, $3::text, $4::text, $5::boolean, $6::int)`,
    [tx.groupId, person.personId, person.name, person.signInName, person.active, person.version],
  );
}

export async function updatePerson(tx: Tx, person: PersonRow): Promise<void> {
  await tx.query(
    `update person set name = $3::text, active = $4::boolean, version = $5::int
      where group_id = $1::uuid and person_id = $2::uuid`,
    [tx.groupId, person.personId, person.name, person.active, person.version],
  );
}

export async function insertGrants(tx: Tx, personId: string, grants: readonly Grant[]): Promise<void> {
  await tx.query(
    `insert into person_grant (group_id, person_id, grant_no, role, site_id)
     select $1::uuid, $2::uuid, g.no, g.grant ->> 'role', (g.grant ->> 'siteId')::uuid
       from jsonb_array_elements($3::jsonb) with ordinality as g("grant", no)`,
    [tx.groupId, personId, JSON.stringify(grants)],
  );
}

export async function deleteGrants(tx: Tx, personId: string): Promise<void> {
  await tx.query(`delete from person_grant where group_id = $1::uuid and person_id = $2::uuid`, [tx.groupId, personId]);
}

/** Those of the sites that exist in the group. */
export async function findSiteIds(tx: Tx, siteIds: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ siteId: string }>(
    `select s.site_id as "siteId" from site s where s.group_id = $1::uuid and s.site_id = any($2::uuid[])`,
    [tx.groupId, siteIds],
  );
  return new Set(rows.map((row) => row.siteId));
}

export interface CredentialRow {
  readonly personId: string;
  readonly name: string;
  readonly active: boolean;
  readonly passwordHash: string;
  readonly failedCount: number;
  readonly lockedUntil: Date | null;
}

/** Locked, so that tries of one name at the same time are counted one after the other. */
export async function lockCredential(tx: Tx, signInName: string): Promise<CredentialRow | null> {
  const rows = await tx.query<CredentialRow>(
    `select p.person_id as "personId", p.name, p.active, c.password_hash as "passwordHash",
            c.failed_count as "failedCount", c.locked_until as "lockedUntil"
       from person p join person_credential c on c.group_id = p.group_id and c.person_id = p.person_id
      where p.group_id = $1::uuid and p.sign_in_name = $2::text for update of c`,
    [tx.groupId, signInName],
  );
  return rows[0] ?? null;
}

/** As lockCredential, by who it is. */
export async function lockOwnCredential(tx: Tx, personId: string): Promise<CredentialRow | null> {
  const rows = await tx.query<CredentialRow>(
    `select p.person_id as "personId", p.name, p.active, c.password_hash as "passwordHash",
            c.failed_count as "failedCount", c.locked_until as "lockedUntil"
       from person p join person_credential c on c.group_id = p.group_id and c.person_id = p.person_id
      where p.group_id = $1::uuid and p.person_id = $2::uuid for update of c`,
    [tx.groupId, personId],
  );
  return rows[0] ?? null;
}

export async function updateFailures(
  tx: Tx,
  personId: string,
  failedCount: number,
  lockedUntilMs: number | null,
): Promise<void> {
  await tx.query(
    `update person_credential set failed_count = $3::int, locked_until = to_timestamp($4::float8 / 1000)
      where group_id = $1::uuid and person_id = $2::uuid`,
    [tx.groupId, personId, failedCount, lockedUntilMs],
  );
}

/** A new password also ends a lock-out. */
export async function upsertCredential(tx: Tx, personId: string, passwordHash: string): Promise<void> {
  await tx.query(
    `insert into person_credential (group_id, person_id, password_hash) values ($1::uuid, $2::uuid, $3::text)
     on conflict (group_id, person_id) do update
       set password_hash = excluded.password_hash, failed_count = 0, locked_until = null`,
    [tx.groupId, personId, passwordHash],
  );
}
