/** SQL on device. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface DeviceRow {
  readonly deviceId: string;
  readonly name: string;
  readonly siteId: string;
  readonly active: boolean;
  readonly version: number;
}

const COLUMNS = `d.device_id as "deviceId", d.name, d.site_id as "siteId", d.active, d.version`;

export async function findDevice(tx: Tx, deviceId: string): Promise<DeviceRow | null> {
  const rows = await tx.query<DeviceRow>(
    `select ${COLUMNS} from device d where d.group_id = $1::uuid and d.device_id = $2::uuid`,
    [tx.groupId, deviceId],
  );
  return rows[0] ?? null;
}

export async function lockDevice(tx: Tx, deviceId: string): Promise<DeviceRow | null> {
  const rows = await tx.query<DeviceRow>(
    `select ${COLUMNS} from device d where d.group_id = $1::uuid and d.device_id = $2::uuid for update`,
    [tx.groupId, deviceId],
  );
  return rows[0] ?? null;
}

/** sha256 of its secret; null when there is no such device, or no token has been made for it. */
export async function findDeviceSecret(
  tx: Tx,
  deviceId: string,
): Promise<(DeviceRow & { readonly secretHash: Buffer | null }) | null> {
  const rows = await tx.query<DeviceRow & { secretHash: Buffer | null }>(
    `select ${COLUMNS}, d.secret_hash as "secretHash" from device d
      where d.group_id = $1::uuid and d.device_id = $2::uuid`,
    [tx.groupId, deviceId],
  );
  return rows[0] ?? null;
}

/** Devices in scope by name, one more than the page holds. */
export async function listDevices(tx: Tx, scope: SiteScope, siteId: string | null, page: Page): Promise<DeviceRow[]> {
  return tx.query<DeviceRow>(
    `select ${COLUMNS} from device d
      where d.group_id = $1::uuid and ($2::boolean or d.site_id = any($3::uuid[]))
        and ($4::uuid is null or d.site_id = $4::uuid)
        and ($5::text is null or (d.name, d.device_id) > ($5::text, $6::uuid))
      order by d.name, d.device_id limit $7::int`,
    [tx.groupId, scope.all, scope.siteIds, siteId, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export async function insertDevice(tx: Tx, device: DeviceRow): Promise<void> {
  await tx.query(
    `insert into device (group_id, device_id, name, site_id, active, version)
     values ($1::uuid, $2::uuid, $3::text, $4::uuid, $5::boolean, $6::int)`,
    [tx.groupId, device.deviceId, device.name, device.siteId, device.active, device.version],
  );
}

export async function updateDevice(tx: Tx, device: DeviceRow): Promise<void> {
  await tx.query(
    `update device set name = $3::text, active = $4::boolean, version = $5::int
      where group_id = $1::uuid and device_id = $2::uuid`,
    [tx.groupId, device.deviceId, device.name, device.active, device.version],
  );
}

export async function updateDeviceSecret(tx: Tx, deviceId: string, secretHash: Buffer): Promise<void> {
  await tx.query(`update device set secret_hash = $3::bytea where group_id = $1::uuid and device_id = $2::uuid`, [
    tx.groupId,
    deviceId,
    secretHash,
  ]);
}
