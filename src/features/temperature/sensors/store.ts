/** SQL on sensor. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface SensorRow {
  readonly sensorId: string;
  readonly siteId: string;
  readonly code: string;
  readonly name: string;
  readonly kind: 'air' | 'simulant' | 'between-packs';
  readonly deviceId: string | null;
  readonly active: boolean;
  readonly version: number;
}

const COLUMNS = `s.sensor_id as "sensorId", s.site_id as "siteId", s.code, s.name, s.kind, s.device_id as "deviceId", s.active, s.version`;

export async function findSensor(tx: Tx, sensorId: string): Promise<(SensorRow & { sensorNo: number }) | null> {
  const rows = await tx.query<SensorRow & { sensorNo: number }>(
    `select ${COLUMNS}, s.sensor_no as "sensorNo" from sensor s where s.group_id = $1::uuid and s.sensor_id = $2::uuid`,
    [tx.groupId, sensorId],
  );
  return rows[0] ?? null;
}

export async function lockSensor(tx: Tx, sensorId: string): Promise<(SensorRow & { sensorNo: number }) | null> {
  const rows = await tx.query<SensorRow & { sensorNo: number }>(
    `select ${COLUMNS}, s.sensor_no as "sensorNo" from sensor s
      where s.group_id = $1::uuid and s.sensor_id = $2::uuid for update`,
    [tx.groupId, sensorId],
  );
  return rows[0] ?? null;
}

export interface NamedSensor {
  readonly sensorId: string;
  readonly code: string;
  readonly siteId: string;
  readonly deviceId: string | null;
  readonly sensorNo: number;
  readonly groupNo: number;
}

/** By codes and ids mixed. */
export async function findSensorsByName(tx: Tx, names: readonly string[]): Promise<NamedSensor[]> {
  const ids = names.filter((name) => name.length === 36);
  return tx.query<NamedSensor>(
    `select s.sensor_id as "sensorId", s.code, s.site_id as "siteId", s.device_id as "deviceId", s.sensor_no as "sensorNo",
            g.group_no as "groupNo"
       from sensor s join groups g on g.group_id = s.group_id
      where s.group_id = $1::uuid and (s.code = any($2::text[]) or s.sensor_id = any($3::uuid[]))`,
    [tx.groupId, names, ids],
  );
}

/** Sensors in scope by code, one more than the page holds. */
export async function listSensors(tx: Tx, scope: SiteScope, siteId: string | null, page: Page): Promise<SensorRow[]> {
  return tx.query<SensorRow>(
    `select ${COLUMNS} from sensor s
      where s.group_id = $1::uuid and ($2::boolean or s.site_id = any($3::uuid[]))
        and ($4::uuid is null or s.site_id = $4::uuid)
        and ($5::text is null or (s.code, s.sensor_id) > ($5::text, $6::uuid))
      order by s.code, s.sensor_id limit $7::int`,
    [tx.groupId, scope.all, scope.siteIds, siteId, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export async function insertSensor(tx: Tx, sensor: SensorRow): Promise<void> {
  await tx.query(
    `insert into sensor (group_id, sensor_id, site_id, code, name, kind, device_id, active, version)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::text, $6::text, $7::uuid, $8::boolean, $9::int)`,
    [
      tx.groupId,
      sensor.sensorId,
      sensor.siteId,
      sensor.code,
      sensor.name,
      sensor.kind,
      sensor.deviceId,
      sensor.active,
      sensor.version,
    ],
  );
}

export async function updateSensor(tx: Tx, sensor: SensorRow): Promise<void> {
  await tx.query(
    `update sensor set name = $3::text, active = $4::boolean, device_id = $5::uuid, version = $6::int
      where group_id = $1::uuid and sensor_id = $2::uuid`,
    [tx.groupId, sensor.sensorId, sensor.name, sensor.active, sensor.deviceId, sensor.version],
  );
}
