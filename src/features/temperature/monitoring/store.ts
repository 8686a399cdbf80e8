/** SQL on place_monitoring, and what holds on a day. */
import { defaultMonitoring, type PlaceKind } from '../../../domain/exposure/defaults.ts';
import type { Monitoring } from '../../../domain/exposure/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';

const MINUTE_MS = 60_000;

export interface StatementRow {
  readonly placeId: string;
  readonly version: number;
  /** 'YYYY-MM-DD', UTC: the first day that it holds for */
  readonly fromDay: string;
  readonly how: Monitoring['how'];
  readonly upperCentiC: number;
  readonly lowerCentiC: number | null;
  readonly assumedCentiC: number | null;
  readonly between: Monitoring['between'];
  readonly gapMin: number;
  readonly delayMin: number;
  readonly lagMin: number;
  readonly lagValidatedBy: string | null;
  readonly note: string | null;
  readonly recordedAtMs: number;
  readonly recordedBy: string;
}

/** By place; within one, what overrules what comes first: the latest day, then the highest version. */
export async function listStatements(tx: Tx, placeIds: readonly string[]): Promise<StatementRow[]> {
  if (placeIds.length === 0) return [];
  return tx.query<StatementRow>(
    `select m.place_id as "placeId", m.version, m.from_day as "fromDay", m.how, m.upper_centi_c as "upperCentiC",
            m.lower_centi_c as "lowerCentiC", m.assumed_centi_c as "assumedCentiC", m.between_readings as "between",
            m.gap_min as "gapMin", m.delay_min as "delayMin", m.lag_min as "lagMin", m.lag_validated_by as "lagValidatedBy", m.note,
            (extract(epoch from m.recorded_at) * 1000)::int8 as "recordedAtMs", m.recorded_by as "recordedBy"
       from place_monitoring m
      where m.group_id = $1::uuid and m.place_id = any($2::uuid[])
      order by m.place_id, m.from_day desc, m.version desc`,
    [tx.groupId, placeIds],
  );
}

export async function insertStatement(tx: Tx, row: StatementRow): Promise<void> {
  await tx.query(
    `insert into place_monitoring (group_id, place_id, version, from_day, how, upper_centi_c, lower_centi_c, assumed_centi_c,
            between_readings, gap_min, delay_min, lag_min, lag_validated_by, note, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::int, $4::date, $5::text, $6::int2, $7::int2, $8::int2, $9::text, $10::int, $11::int, $12::int,
             $13::text, $14::text, to_timestamp($15::float8 / 1000), $16::uuid)`,
    [
      tx.groupId,
      row.placeId,
      row.version,
      row.fromDay,
      row.how,
      row.upperCentiC,
      row.lowerCentiC,
      row.assumedCentiC,
      row.between,
      row.gapMin,
      row.delayMin,
      row.lagMin,
      row.lagValidatedBy,
      row.note,
      row.recordedAtMs,
      row.recordedBy,
    ],
  );
}

/** Days of a place, from one on, that have readings on them. */
export async function listDaysSince(tx: Tx, subject: string, fromDay: string): Promise<string[]> {
  const rows = await tx.query<{ day: string }>(
    `select d.day from place_day d where d.group_id = $1::uuid and d.subject = $2::text and d.day >= $3::date order by d.day`,
    [tx.groupId, subject, fromDay],
  );
  return rows.map((row) => row.day);
}

function monitoringOf(row: StatementRow): Monitoring {
  return {
    how: row.how,
    upperCentiC: row.upperCentiC,
    lowerCentiC: row.lowerCentiC,
    assumedCentiC: row.assumedCentiC,
    between: row.between,
    gapMs: row.gapMin * MINUTE_MS,
    delayMs: row.delayMin * MINUTE_MS,
    lagMs: row.lagMin * MINUTE_MS,
    version: row.version,
  };
}

/**
 * What holds for a place on each day.
 * @param statements of one place, as listStatements orders them
 */
export function watchOf(kind: PlaceKind, statements: readonly StatementRow[]): (day: string) => Monitoring {
  const standard = defaultMonitoring(kind);
  const stated = statements.map((row) => ({ fromDay: row.fromDay, monitoring: monitoringOf(row) }));
  return (day) => stated.find((one) => one.fromDay <= day)?.monitoring ?? standard;
}
