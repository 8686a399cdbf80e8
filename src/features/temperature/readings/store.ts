/** SQL on reading. */
import type { Tx } from '../../../platform/db/db.ts';

const STAGING = 'reading_staging_1';

/** Of the connection, emptied by every commit, so that uploads do not write the catalogue over and over. */
export async function ensureStaging(tx: Tx): Promise<void> {
  await tx.query(
    `create temporary table if not exists ${STAGING}
       (sensor_no integer not null, at timestamptz not null, centi_c smallint not null, time_doubt boolean not null)
     on commit delete rows`,
  );
}

export async function copyToStaging(tx: Tx, data: Buffer): Promise<number> {
  return tx.copyIn(`copy ${STAGING} (sensor_no, at, centi_c, time_doubt) from stdin (format binary)`, [data]);
}

/** Months as their first days. A job makes partitions ahead; this is for what it did not foresee. */
export async function ensureMonths(tx: Tx, months: readonly string[]): Promise<void> {
  await tx.query(`select make_reading_month(m.month) from unnest($1::date[]) as m(month)`, [months]);
}

export interface SpanRow {
  readonly sensorNo: number;
  /** something is kept of that time already */
  readonly prior: boolean;
  /** something of that time has its time in doubt */
  readonly doubted: boolean;
}

/** What is kept already between the first and last time of each sensor. */
export async function findPrior(
  tx: Tx,
  groupNo: number,
  spans: readonly { readonly sensorNo: number; readonly fromMs: number; readonly toMs: number }[],
): Promise<SpanRow[]> {
  return tx.query<SpanRow>(
    `select s.sensor_no as "sensorNo",
            exists (select from reading r where r.group_no = $1::int4 and r.sensor_no = s.sensor_no
                       and r.at between to_timestamp(s.from_ms / 1000) and to_timestamp(s.to_ms / 1000)) as prior,
            exists (select from reading r where r.time_doubt and r.group_no = $1::int4 and r.sensor_no = s.sensor_no
                       and r.at between to_timestamp(s.from_ms / 1000) and to_timestamp(s.to_ms / 1000)) as doubted
       from unnest($2::int4[], $3::float8[], $4::float8[]) as s(sensor_no, from_ms, to_ms)`,
    [groupNo, spans.map((span) => span.sensorNo), spans.map((span) => span.fromMs), spans.map((span) => span.toMs)],
  );
}

export interface SensorDay {
  readonly sensorNo: number;
  /** 'YYYY-MM-DD', UTC */
  readonly day: string;
  readonly stored: number;
  /** of those stored, how many contradict what was kept for their time already, or one stored with them */
  readonly conflicts: number;
}

const INSERT = `insert into reading (group_no, sensor_no, at, recorded_at, centi_c, time_doubt)
  select $1::int4, s.sensor_no, s.at, to_timestamp($2::float8 / 1000), s.centi_c, s.time_doubt from ${STAGING} s
  on conflict (group_no, sensor_no, at, centi_c) do nothing
  returning sensor_no, at`;

/** Puts what is staged into the set. Answers what was new, by sensor and day. Nothing contradicts anything. */
export async function insertStaged(tx: Tx, groupNo: number, nowMs: number): Promise<SensorDay[]> {
  return tx.query<SensorDay>(
    `with ins as (${INSERT})
     select i.sensor_no as "sensorNo", (i.at at time zone 'UTC')::date as day, count(*)::int4 as stored, 0 as conflicts
       from ins i group by 1, 2`,
    [groupNo, nowMs],
  );
}

/** As insertStaged, and looks at each new one whether another value stands beside it. The statement sees what was kept before it. */
export async function insertStagedBesideOthers(tx: Tx, groupNo: number, nowMs: number): Promise<SensorDay[]> {
  return tx.query<SensorDay>(
    `with ins as (${INSERT}),
     times as (
       select i.sensor_no, i.at, count(*)::int4 as stored,
              exists (select from reading r where r.group_no = $1::int4 and r.sensor_no = i.sensor_no and r.at = i.at) as prior
         from ins i group by 1, 2)
     select t.sensor_no as "sensorNo", (t.at at time zone 'UTC')::date as day, sum(t.stored)::int4 as stored,
            sum(case when t.prior then t.stored else t.stored - 1 end)::int4 as conflicts
       from times t group by 1, 2`,
    [groupNo, nowMs],
  );
}

/** Somebody whose clock is right has sent them too. Answers the days whose doubt has gone. */
export async function settleDoubts(tx: Tx, groupNo: number): Promise<{ sensorNo: number; day: string }[]> {
  return tx.query(
    `with settled as (
       update reading r set time_doubt = false from ${STAGING} s
        where r.group_no = $1::int4 and r.sensor_no = s.sensor_no and r.at = s.at and r.centi_c = s.centi_c
          and r.time_doubt and not s.time_doubt
       returning r.sensor_no, r.at)
     select distinct s.sensor_no as "sensorNo", (s.at at time zone 'UTC')::date as day from settled s`,
    [groupNo],
  );
}

export interface ReadingRow {
  readonly sensorNo: number;
  readonly atMs: number;
  /** hundredths of a degree Celsius */
  readonly centiC: number;
  /** nobody has said that the sensor's clock was right */
  readonly timeDoubt: boolean;
}

const READING = `r.sensor_no as "sensorNo", (extract(epoch from r.at) * 1000)::int8 as "atMs", r.centi_c as "centiC",
  r.time_doubt as "timeDoubt"`;
const GROUP_NO = `(select g.group_no from groups g where g.group_id = $1::uuid)`;

/** Readings of some sensors from `fromMs` up to and not including `toMs`, by sensor, time and temperature; conflicting values are all there. */
export async function listReadings(
  tx: Tx,
  sensorNos: readonly number[],
  fromMs: number,
  toMs: number,
): Promise<ReadingRow[]> {
  return tx.query<ReadingRow>(
    `select ${READING} from reading r
      where r.group_no = ${GROUP_NO} and r.sensor_no = any($2::int4[])
        and r.at >= to_timestamp($3::float8 / 1000) and r.at < to_timestamp($4::float8 / 1000)
      order by r.sensor_no, r.at, r.centi_c`,
    [tx.groupId, sensorNos, fromMs, toMs],
  );
}

/** A sensor, and from when up to and not including when its readings are wanted. */
export interface Span {
  readonly sensorNo: number;
  readonly fromMs: number;
  readonly toMs: number;
}

export interface ShownReading extends ReadingRow {
  readonly sensorId: string;
  readonly code: string;
}

/** $1 group, $2 to $4 spans, $5 to $7 after which key (or null). */
const SHOWN = `
  select ${READING}, s.sensor_id as "sensorId", s.code
    from unnest($2::int4[], $3::float8[], $4::float8[]) as w(sensor_no, from_ms, to_ms)
    join sensor s on s.group_id = $1::uuid and s.sensor_no = w.sensor_no
    join reading r on r.group_no = ${GROUP_NO} and r.sensor_no = w.sensor_no
     and r.at >= to_timestamp(w.from_ms / 1000) and r.at < to_timestamp(w.to_ms / 1000)
   where $5::int4 is null or (r.sensor_no, r.at, r.centi_c) > ($5::int4, $6::timestamptz, $7::int2)
   order by r.sensor_no, r.at, r.centi_c`;

const spanValues = (tx: Tx, spans: readonly Span[]): unknown[] => [
  tx.groupId,
  spans.map((span) => span.sensorNo),
  spans.map((span) => span.fromMs),
  spans.map((span) => span.toMs),
];

/** One more than the page holds. `after`: sensor number, time, hundredths. */
export async function pageOfReadings(
  tx: Tx,
  spans: readonly Span[],
  after: readonly string[] | null,
  limit: number,
): Promise<ShownReading[]> {
  const key = [after?.[0] ?? null, after?.[1] ?? null, after?.[2] ?? null];
  return tx.query<ShownReading>(`${SHOWN} limit $8::int`, [...spanValues(tx, spans), ...key, limit + 1]);
}

export function allReadings(tx: Tx, spans: readonly Span[]): AsyncIterable<ShownReading[]> {
  return tx.rows<ShownReading>(SHOWN, [...spanValues(tx, spans), null, null, null], 2000);
}
