/** SQL on person_pin and person_badge, and on what a tablet has seen of wrong tries. */
import type { Tx } from '../../platform/db/db.ts';
import type { DeviceRow } from './devices-store.ts';
import type { Tried } from './lockout.ts';

export interface TabletRow extends DeviceRow {
  /** oldest first */
  readonly pinFailedAt: readonly Date[];
}

/** Locked, so that tries on one tablet at the same time are counted one after the other. */
export async function lockTablet(tx: Tx, deviceId: string): Promise<TabletRow | null> {
  const rows = await tx.query<TabletRow>(
    `select d.device_id as "deviceId", d.name, d.site_id as "siteId", d.active, d.version, d.pin_failed_at as "pinFailedAt"
       from device d where d.group_id = $1::uuid and d.device_id = $2::uuid for update`,
    [tx.groupId, deviceId],
  );
  return rows[0] ?? null;
}

/** `failedMs`: oldest first, in milliseconds. */
export async function updateTabletFailures(tx: Tx, deviceId: string, failedMs: readonly number[]): Promise<void> {
  await tx.query(
    `update device set pin_failed_at =
            array(select to_timestamp(f.ms / 1000) from unnest($3::float8[]) with ordinality as f(ms, no) order by f.no)
      where group_id = $1::uuid and device_id = $2::uuid`,
    [tx.groupId, deviceId, failedMs],
  );
}

export interface Shown {
  readonly personId: string;
  readonly name: string;
  readonly active: boolean;
  /** of the badge that was shown; false for a name */
  readonly needsPin: boolean;
}

export async function findBySignInName(tx: Tx, signInName: string): Promise<Shown | null> {
  const rows = await tx.query<Shown>(
    `select p.person_id as "personId", p.name, p.active, false as "needsPin"
       from person p where p.group_id = $1::uuid and p.sign_in_name = $2::text`,
    [tx.groupId, signInName],
  );
  return rows[0] ?? null;
}

export async function findByBadge(tx: Tx, badgeHash: Buffer): Promise<Shown | null> {
  const rows = await tx.query<Shown>(
    `select p.person_id as "personId", p.name, p.active, b.needs_pin as "needsPin"
       from person_badge b join person p on p.group_id = b.group_id and p.person_id = b.person_id
      where b.group_id = $1::uuid and b.badge_hash = $2::bytea`,
    [tx.groupId, badgeHash],
  );
  return rows[0] ?? null;
}

export interface PinRow extends Tried {
  readonly pinHash: string;
}

/** Locked, so that tries of one person on several tablets are counted one after the other. */
export async function lockPin(tx: Tx, personId: string): Promise<PinRow | null> {
  const rows = await tx.query<PinRow>(
    `select c.pin_hash as "pinHash", c.failed_count as "failedCount", c.locked_until as "lockedUntil"
       from person_pin c where c.group_id = $1::uuid and c.person_id = $2::uuid for update`,
    [tx.groupId, personId],
  );
  return rows[0] ?? null;
}

export async function updatePinFailures(
  tx: Tx,
  personId: string,
  failedCount: number,
  lockedUntilMs: number | null,
): Promise<void> {
  await tx.query(
    `update person_pin set failed_count = $3::int, locked_until = to_timestamp($4::float8 / 1000)
      where group_id = $1::uuid and person_id = $2::uuid`,
    [tx.groupId, personId, failedCount, lockedUntilMs],
  );
}

/** A new PIN also ends a lock-out. */
export async function upsertPin(tx: Tx, personId: string, pinHash: string): Promise<void> {
  await tx.query(
    `insert into person_pin (group_id, person_id, pin_hash) values ($1::uuid, $2::uuid, $3::text)
     on conflict (group_id, person_id) do update
       set pin_hash = excluded.pin_hash, failed_count = 0, locked_until = null`,
    [tx.groupId, personId, pinHash],
  );
}

/** The badge before it lets in no more. */
export async function upsertBadge(tx: Tx, personId: string, badgeHash: Buffer, needsPin: boolean): Promise<void> {
  await tx.query(
    `insert into person_badge (group_id, person_id, badge_hash, needs_pin)
     values ($1::uuid, $2::uuid, $3::bytea, $4::boolean)
     on conflict (group_id, person_id) do update set badge_hash = excluded.badge_hash, needs_pin = excluded.needs_pin`,
    [tx.groupId, personId, badgeHash, needsPin],
  );
}

export async function deleteBadge(tx: Tx, personId: string): Promise<void> {
  await tx.query(`delete from person_badge where group_id = $1::uuid and person_id = $2::uuid`, [tx.groupId, personId]);
}

export interface MeansRow {
  readonly hasPin: boolean;
  readonly hasBadge: boolean;
  readonly badgeNeedsPin: boolean;
}

/** How a person can sign in on a tablet. */
export async function findMeans(tx: Tx, personId: string): Promise<MeansRow> {
  const rows = await tx.query<MeansRow>(
    `select c.person_id is not null as "hasPin", b.person_id is not null as "hasBadge",
            coalesce(b.needs_pin, false) as "badgeNeedsPin"
       from (select $1::uuid as group_id, $2::uuid as person_id) p
       left join person_pin c on c.group_id = p.group_id and c.person_id = p.person_id
       left join person_badge b on b.group_id = p.group_id and b.person_id = p.person_id`,
    [tx.groupId, personId],
  );
  return rows[0] ?? { hasPin: false, hasBadge: false, badgeNeedsPin: false };
}
