/** SQL of packing programmes. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { ProgrammeAnswer } from './contract.ts';

export type ProgrammeRow = Readonly<ProgrammeAnswer>;

const COLUMNS = `p.programme_id as "programmeId", p.code, p.name, p.food_type as "foodType", p.vacuum_mbar as "vacuumMbar", p.pulses,
  p.early_stop as "earlyStop", p.tilted_insert as "tiltedInsert", p.gentle_air_return as "gentleAirReturn",
  p.double_seam as "doubleSeam", p.seal_temperature_c as "sealTemperatureC", p.seal_s as "sealS",
  p.most_core_temperature_c as "mostCoreTemperatureC", p.reasons, p.basis, p.active, p.version`;

export async function findProgramme(tx: Tx, programmeId: string): Promise<ProgrammeRow | null> {
  const rows = await tx.query<ProgrammeRow>(
    `select ${COLUMNS} from packing_programme p where p.group_id = $1::uuid and p.programme_id = $2::uuid`,
    [tx.groupId, programmeId],
  );
  return rows[0] ?? null;
}

export async function lockProgramme(tx: Tx, programmeId: string): Promise<ProgrammeRow | null> {
  const rows = await tx.query<ProgrammeRow>(
    `select ${COLUMNS} from packing_programme p where p.group_id = $1::uuid and p.programme_id = $2::uuid for update`,
    [tx.groupId, programmeId],
  );
  return rows[0] ?? null;
}

export async function listProgrammes(tx: Tx, foodType: string | null, page: Page): Promise<ProgrammeRow[]> {
  return tx.query<ProgrammeRow>(
    `select ${COLUMNS} from packing_programme p
      where p.group_id = $1::uuid and ($2::text is null or p.food_type = $2::text)
        and ($3::text is null or (p.code, p.programme_id) > ($3::text, $4::uuid))
      order by p.code, p.programme_id limit $5::int`,
    [tx.groupId, foodType, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

const valuesOf = (row: ProgrammeRow): unknown[] => [
  row.name,
  row.foodType,
  row.vacuumMbar,
  row.pulses,
  row.earlyStop,
  row.tiltedInsert,
  row.gentleAirReturn,
  row.doubleSeam,
  row.sealTemperatureC,
  row.sealS,
  row.mostCoreTemperatureC,
  row.reasons,
  row.basis,
  row.active,
  row.version,
];

export async function insertProgramme(tx: Tx, row: ProgrammeRow): Promise<void> {
  await tx.query(
    `insert into packing_programme (group_id, programme_id, name, food_type, vacuum_mbar, pulses, early_stop, tilted_insert,
            gentle_air_return, double_seam, seal_temperature_c, seal_s, most_core_temperature_c, reasons, basis, active, version, code)
     values ($1::uuid, $2::uuid, $3::text, $4::text, $5::int, $6::int, $7::boolean, $8::boolean, $9::boolean, $10::boolean,
            $11::float8, $12::float8, $13::float8, $14::text[], $15::text, $16::boolean, $17::int, $18::text)`,
    [tx.groupId, row.programmeId, ...valuesOf(row), row.code],
  );
}

export async function updateProgramme(tx: Tx, row: ProgrammeRow): Promise<void> {
  await tx.query(
    `update packing_programme
        set name = $3::text, food_type = $4::text, vacuum_mbar = $5::int, pulses = $6::int, early_stop = $7::boolean,
            tilted_insert = $8::boolean, gentle_air_return = $9::boolean, double_seam = $10::boolean,
            seal_temperature_c = $11::float8, seal_s = $12::float8, most_core_temperature_c = $13::float8,
            reasons = $14::text[], basis = $15::text, active = $16::boolean, version = $17::int
      where group_id = $1::uuid and programme_id = $2::uuid`,
    [tx.groupId, row.programmeId, ...valuesOf(row)],
  );
}

export async function insertProgrammeVersion(
  tx: Tx,
  row: ProgrammeRow,
  recordedBy: string,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into packing_programme_version (group_id, programme_id, version, content, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::int, $4::jsonb, to_timestamp($5::float8 / 1000), $6::uuid)`,
    [tx.groupId, row.programmeId, row.version, JSON.stringify(row), nowMs, recordedBy],
  );
}
