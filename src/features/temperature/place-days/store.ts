/** SQL on place_day and place_day_dirty. Days are 'YYYY-MM-DD', UTC. */
import type { Tx } from '../../../platform/db/db.ts';

/** When the newest reading of some sensors at or before a time was taken, each only while it was there; null when there is none. */
export async function newestBefore(
  tx: Tx,
  stays: readonly { readonly sensorNo: number; readonly fromMs: number; readonly toMs: number }[],
  atMs: number,
): Promise<number | null> {
  const rows = await tx.query<{ atMs: number | null }>(
    `select max(x.at_ms) as "atMs"
       from unnest($2::int4[], $3::float8[], $4::float8[]) as s(sensor_no, from_ms, to_ms)
      cross join lateral (
        select (extract(epoch from r.at) * 1000)::int8 as at_ms from reading r
         where r.group_no = (select g.group_no from groups g where g.group_id = $1::uuid) and r.sensor_no = s.sensor_no
           and r.at >= to_timestamp(s.from_ms / 1000) and r.at < to_timestamp(s.to_ms / 1000)
         order by r.at desc limit 1) x`,
    [
      tx.groupId,
      stays.map((stay) => stay.sensorNo),
      stays.map((stay) => stay.fromMs),
      stays.map((stay) => Math.min(stay.toMs, atMs + 1)),
    ],
  );
  return rows[0]?.atMs ?? null;
}

/** Subjects with days to compute, those that wait longest first. */
export async function listDirtySubjects(tx: Tx, most: number): Promise<{ subject: string; markedAtMs: number }[]> {
  return tx.query(
    `select d.subject, (extract(epoch from min(d.marked_at)) * 1000)::int8 as "markedAtMs"
       from place_day_dirty d where d.group_id = $1::uuid group by d.subject order by 2, 1 limit $2::int`,
    [tx.groupId, most],
  );
}

/** One worker a subject; false when another one has it. Held until the transaction ends. */
export async function tryLockSubject(tx: Tx, subject: string): Promise<boolean> {
  const rows = await tx.query<{ mine: boolean }>(
    `select pg_try_advisory_xact_lock(hashtextextended($1::text || ' ' || $2::text, 0)) as mine`,
    [tx.groupId, subject],
  );
  return rows[0]?.mine ?? false;
}

/** Days of a subject to compute. Those that an upload is just marking are left to come again. */
export async function lockDirtyDays(tx: Tx, subject: string, most: number): Promise<string[]> {
  const rows = await tx.query<{ day: string }>(
    `select d.day from place_day_dirty d where d.group_id = $1::uuid and d.subject = $2::text
      order by d.day limit $3::int for update skip locked`,
    [tx.groupId, subject, most],
  );
  return rows.map((row) => row.day);
}

export async function deleteDirtyDays(tx: Tx, subject: string, days: readonly string[]): Promise<void> {
  await tx.query(
    `delete from place_day_dirty d where d.group_id = $1::uuid and d.subject = $2::text and d.day = any($3::date[])`,
    [tx.groupId, subject, days],
  );
}

/** Days that wait to be computed, of some subjects. */
export async function listDirtyDays(tx: Tx, subjects: readonly string[]): Promise<{ subject: string; day: string }[]> {
  return tx.query(
    `select d.subject, d.day from place_day_dirty d where d.group_id = $1::uuid and d.subject = any($2::text[])`,
    [tx.groupId, subjects],
  );
}

/** Days from one on that were computed by an older rule. */
export async function markOlderRules(tx: Tx, ruleVersion: number, fromDay: string, most: number): Promise<number> {
  const rows = await tx.query<{ subject: string }>(
    `insert into place_day_dirty (group_id, subject, day)
     select d.group_id, d.subject, d.day from place_day d
      where d.group_id = $1::uuid and d.rule_version < $2::int and d.day >= $3::date
      order by d.subject, d.day limit $4::int
     on conflict (group_id, subject, day) do update set day = excluded.day returning subject`,
    [tx.groupId, ruleVersion, fromDay, most],
  );
  return rows.length;
}

export interface DayEdges {
  readonly day: string;
  readonly edgeFirst: string;
  readonly edgeLast: string;
}

export async function findEdges(tx: Tx, subject: string, days: readonly string[]): Promise<Map<string, DayEdges>> {
  const rows = await tx.query<DayEdges>(
    `select d.day, d.edge_first as "edgeFirst", d.edge_last as "edgeLast" from place_day d
      where d.group_id = $1::uuid and d.subject = $2::text and d.day = any($3::date[])`,
    [tx.groupId, subject, days],
  );
  return new Map(rows.map((row) => [row.day, row]));
}

/** The last day before, and the first one after, that has readings. */
export async function findBeside(
  tx: Tx,
  subject: string,
  day: string,
): Promise<{ before: string | null; after: string | null }> {
  const rows = await tx.query<{ before: string | null; after: string | null }>(
    `select (select max(d.day) from place_day d where d.group_id = $1::uuid and d.subject = $2::text and d.day < $3::date) as before,
            (select min(d.day) from place_day d where d.group_id = $1::uuid and d.subject = $2::text and d.day > $3::date) as after`,
    [tx.groupId, subject, day],
  );
  return rows[0] ?? { before: null, after: null };
}

export interface StoredDay extends DayEdges {
  readonly histCentiC: readonly number[];
  readonly histMs: readonly number[];
  readonly unseenCentiC: readonly number[];
  readonly unseenMs: readonly number[];
  readonly thresholdCentiC: readonly number[];
  readonly runMs: readonly number[];
  /** as bytea writes it: '\x…' */
  readonly segments: string;
  readonly air: string | null;
  readonly lastMs: number;
  readonly seenCentiC: number;
  readonly seenMs: number;
  readonly monitoringVersion: number;
}

export async function upsertDays(
  tx: Tx,
  subject: string,
  rows: readonly StoredDay[],
  about: { readonly ruleVersion: number; readonly nowMs: number },
): Promise<void> {
  await tx.query(
    `insert into place_day (group_id, subject, day, hist_centi_c, hist_ms, unseen_centi_c, unseen_ms, threshold_centi_c, run_ms,
            segments, air, last_ms, seen_centi_c, seen_ms, edge_first, edge_last, monitoring_version, rule_version, computed_at)
     select $1::uuid, $2::text, d.day, d."histCentiC", d."histMs", d."unseenCentiC", d."unseenMs", d."thresholdCentiC", d."runMs",
            d.segments::bytea, d.air::bytea, d."lastMs", d."seenCentiC", d."seenMs", d."edgeFirst", d."edgeLast", d."monitoringVersion", $4::int,
            to_timestamp($5::float8 / 1000)
       from jsonb_to_recordset($3::jsonb) as d(day date, "histCentiC" int2[], "histMs" int4[], "unseenCentiC" int2[],
            "unseenMs" int4[], "thresholdCentiC" int2[], "runMs" int4[], segments text, air text, "lastMs" int4, "seenCentiC" int2, "seenMs" int4,
            "edgeFirst" text, "edgeLast" text, "monitoringVersion" int4)
      order by d.day
     on conflict (group_id, subject, day) do update
        set hist_centi_c = excluded.hist_centi_c, hist_ms = excluded.hist_ms, unseen_centi_c = excluded.unseen_centi_c,
            unseen_ms = excluded.unseen_ms, threshold_centi_c = excluded.threshold_centi_c, run_ms = excluded.run_ms,
            segments = excluded.segments, air = excluded.air, last_ms = excluded.last_ms, seen_centi_c = excluded.seen_centi_c,
            seen_ms = excluded.seen_ms,
            edge_first = excluded.edge_first, edge_last = excluded.edge_last, monitoring_version = excluded.monitoring_version,
            rule_version = excluded.rule_version, computed_at = excluded.computed_at`,
    [tx.groupId, subject, JSON.stringify(rows), about.ruleVersion, about.nowMs],
  );
}

export async function deleteDays(tx: Tx, subject: string, days: readonly string[]): Promise<void> {
  await tx.query(
    `delete from place_day d where d.group_id = $1::uuid and d.subject = $2::text and d.day = any($3::date[])`,
    [tx.groupId, subject, days],
  );
}

/** A stretch of days of one subject, both ends in it. */
export interface DayRange {
  readonly subject: string;
  readonly fromDay: string;
  readonly toDay: string;
}

export interface SumsRow {
  readonly subject: string;
  readonly day: string;
  readonly histCentiC: readonly number[];
  readonly histMs: readonly number[];
  readonly unseenCentiC: readonly number[];
  readonly unseenMs: readonly number[];
  readonly runMs: readonly number[];
  readonly lastMs: number;
  readonly seenCentiC: number;
  readonly seenMs: number;
  readonly ruleVersion: number;
}

const SUMS = `d.subject, d.day, d.hist_centi_c as "histCentiC", d.hist_ms as "histMs", d.unseen_centi_c as "unseenCentiC",
  d.unseen_ms as "unseenMs", d.run_ms as "runMs", d.last_ms as "lastMs", d.seen_centi_c as "seenCentiC", d.seen_ms as "seenMs", d.rule_version as "ruleVersion"`;

const rangeValues = (tx: Tx, ranges: readonly DayRange[]): unknown[] => [
  tx.groupId,
  ranges.map((range) => range.subject),
  ranges.map((range) => range.fromDay),
  ranges.map((range) => range.toDay),
];

/** Days with readings in some ranges. */
export async function listSums(tx: Tx, ranges: readonly DayRange[]): Promise<SumsRow[]> {
  return tx.query<SumsRow>(
    `select ${SUMS} from unnest($2::text[], $3::date[], $4::date[]) as w(subject, from_day, to_day)
       join place_day d on d.group_id = $1::uuid and d.subject = w.subject and d.day between w.from_day and w.to_day
      order by d.subject, d.day`,
    rangeValues(tx, ranges),
  );
}

export interface BeforeRow {
  readonly subject: string;
  readonly day: string | null;
  readonly lastMs: number | null;
  readonly seenCentiC: number | null;
  readonly seenMs: number | null;
  readonly laterDay: string | null;
}

/** The last day with readings before each range begins, and whether one comes after it ends. */
export async function listBefore(tx: Tx, ranges: readonly DayRange[]): Promise<BeforeRow[]> {
  return tx.query(
    `select w.subject, b.day, b.last_ms as "lastMs", b.seen_centi_c as "seenCentiC", b.seen_ms as "seenMs",
            (select min(l.day) from place_day l where l.group_id = $1::uuid and l.subject = w.subject and l.day > w.to_day) as "laterDay"
       from unnest($2::text[], $3::date[], $4::date[]) as w(subject, from_day, to_day)
       left join lateral (
         select d.day, d.last_ms, d.seen_centi_c, d.seen_ms from place_day d
          where d.group_id = $1::uuid and d.subject = w.subject and d.day < w.from_day order by d.day desc limit 1) b on true`,
    rangeValues(tx, ranges),
  );
}

export interface TrackRow {
  readonly subject: string;
  readonly day: string;
  readonly segments: Buffer;
  readonly air: Buffer | null;
  readonly lastMs: number;
}

/** Segments of days that have readings. */
export async function listTracks(
  tx: Tx,
  days: readonly { readonly subject: string; readonly day: string }[],
): Promise<TrackRow[]> {
  return tx.query<TrackRow>(
    `select d.subject, d.day, d.segments, d.air, d.last_ms as "lastMs"
       from unnest($2::text[], $3::date[]) as w(subject, day)
       join place_day d on d.group_id = $1::uuid and d.subject = w.subject and d.day = w.day
      order by d.subject, d.day`,
    [tx.groupId, days.map((one) => one.subject), days.map((one) => one.day)],
  );
}

export interface DayTrackRow extends TrackRow {
  readonly seenCentiC: number;
}

/** Days with readings from one to another, both in it. */
export async function listDayTracks(tx: Tx, subject: string, fromDay: string, toDay: string): Promise<DayTrackRow[]> {
  return tx.query<DayTrackRow>(
    `select d.subject, d.day, d.segments, d.air, d.last_ms as "lastMs", d.seen_centi_c as "seenCentiC" from place_day d
      where d.group_id = $1::uuid and d.subject = $2::text and d.day between $3::date and $4::date
      order by d.day`,
    [tx.groupId, subject, fromDay, toDay],
  );
}
