/** Where sensors are over time. A statement says "from this time it is there"; the next one ends it. */
import { dayOf, dayText, subjectOf } from '../../../domain/readings.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface LocationRow {
  readonly locationId: string;
  readonly sensorId: string;
  readonly sensorNo: number;
  readonly fromMs: number;
  /** null: until now */
  readonly toMs: number | null;
  readonly placeId: string | null;
  readonly vehicle: string | null;
  readonly crateCode: string | null;
}

/**
 * $1 group, then a condition on sensors as s. Of two statements about one time the one recorded later stands. "fromMs" and "toMs" are ends
 * of stays.
 */
const stays = (sensors: string): string => `
  select l.location_id as "locationId", l.sensor_id as "sensorId", s.sensor_no as "sensorNo", l.place_id as "placeId", l.vehicle,
         l.crate_code as "crateCode", (extract(epoch from l.from_at) * 1000)::int8 as "fromMs",
         (extract(epoch from lead(l.from_at) over (partition by l.sensor_id order by l.from_at)) * 1000)::int8 as "toMs"
    from (select distinct on (a.sensor_id, a.from_at) a.location_id, a.sensor_id, a.from_at, a.place_id, a.vehicle, a.crate_code
            from sensor_location a join sensor s on s.group_id = a.group_id and s.sensor_id = a.sensor_id
           where a.group_id = $1::uuid and ${sensors}
           order by a.sensor_id, a.from_at, a.statement_no desc) l
    join sensor s on s.group_id = $1::uuid and s.sensor_id = l.sensor_id
   order by s.sensor_no, l.from_at`;

/** All stays of some sensors, by sensor and time. */
export async function listLocations(tx: Tx, sensorNos: readonly number[]): Promise<LocationRow[]> {
  return tx.query<LocationRow>(stays('s.sensor_no = any($2::int4[])'), [tx.groupId, sensorNos]);
}

export interface SensorStay {
  readonly sensorNo: number;
  readonly sensorId: string;
  readonly kind: 'air' | 'simulant' | 'between-packs';
  readonly fromMs: number;
  readonly toMs: number;
}

/**
 * Which sensors were where, of all that have ever been there, cut to the time asked for.
 * @param places of subjectOf
 */
async function listStaysAt(tx: Tx, places: readonly string[], fromMs: number, toMs: number): Promise<SensorStay[]> {
  const named = (kind: string) =>
    places.filter((one) => one.startsWith(`${kind}:`)).map((one) => one.slice(kind.length + 1));
  return tx.query<SensorStay>(
    `select t."sensorNo", t."sensorId", s.kind, greatest(t."fromMs", $5::int8) as "fromMs", least(t."toMs", $6::int8) as "toMs"
       from (${stays(`a.sensor_id in (
               select o.sensor_id from sensor_location o
                where o.group_id = $1::uuid and (o.place_id = any($2::uuid[]) or o.vehicle = any($3::text[]) or o.crate_code = any($4::text[])))`)}) t
       join sensor s on s.group_id = $1::uuid and s.sensor_id = t."sensorId"
      where (t."placeId" = any($2::uuid[]) or t.vehicle = any($3::text[]) or t."crateCode" = any($4::text[]))
        and t."fromMs" < $6::int8 and coalesce(t."toMs", $6::int8) > $5::int8
      order by t."sensorNo", t."fromMs"`,
    [tx.groupId, named('place'), named('vehicle'), named('crate'), fromMs, toMs],
  );
}

interface Journey {
  readonly vehicle: string | null;
  readonly crateCodes: readonly string[];
  readonly departedAtMs: number | null;
  readonly receivedAtMs: number | null;
}

/** A dispatch on the road: its vehicle, its crates, when it left and when it was first received. */
async function findJourney(tx: Tx, dispatchId: string): Promise<Journey | null> {
  const rows = await tx.query<Journey>(
    `select d.vehicle, (extract(epoch from d.departed_at) * 1000)::int8 as "departedAtMs",
            array(select distinct l.crate_code from dispatch_line l
                   where l.group_id = d.group_id and l.dispatch_id = d.dispatch_id and l.crate_code is not null) as "crateCodes",
            (select (extract(epoch from min(r.occurred_at)) * 1000)::int8 from receipt r
              where r.group_id = d.group_id and r.dispatch_id = d.dispatch_id) as "receivedAtMs"
       from dispatch d where d.group_id = $1::uuid and d.dispatch_id = $2::uuid`,
    [tx.groupId, dispatchId],
  );
  return rows[0] ?? null;
}

/** Where to look: a place, a dispatch on the road, or a subject of subjectOf. */
export type Whereabouts = { readonly placeId: string } | { readonly dispatchId: string } | { readonly subject: string };

/** The sensors that were there between two times, each with the part of that time it was there. A dispatch: from departure to receipt. */
export async function sensorsAt(tx: Tx, where: Whereabouts, fromMs: number, toMs: number): Promise<SensorStay[]> {
  if ('placeId' in where) return listStaysAt(tx, [`place:${where.placeId}`], fromMs, toMs);
  if ('subject' in where) return listStaysAt(tx, [where.subject], fromMs, toMs);
  const journey = await findJourney(tx, where.dispatchId);
  if (!journey || journey.departedAtMs === null) return [];
  const [from, to] = [Math.max(fromMs, journey.departedAtMs), Math.min(toMs, journey.receivedAtMs ?? toMs)];
  if (from >= to) return [];
  const places = journey.crateCodes.map((code) => `crate:${code}`);
  return listStaysAt(tx, journey.vehicle === null ? places : [`vehicle:${journey.vehicle}`, ...places], from, to);
}

/** The subjects at which a sensor with these stays was on a day, 'YYYY-MM-DD' UTC. */
export function subjectsOn(stays: readonly LocationRow[], day: string): string[] {
  const startMs = Date.parse(`${day}T00:00:00Z`);
  const endMs = startMs + 86_400_000;
  const there = stays.filter((stay) => stay.fromMs < endMs && (stay.toMs ?? Infinity) > startMs);
  return [...new Set(there.flatMap((stay) => subjectOf(stay) ?? []))];
}

/**
 * Days that a statement about `fromMs` changes, up to the next one's time or to now: at the places where the sensor was said to be on them
 * before and after.
 */
export function daysChanged(
  before: readonly LocationRow[],
  after: readonly LocationRow[],
  fromMs: number,
  nowMs: number,
): { subject: string; day: string }[] {
  const next = after.find((stay) => stay.fromMs > fromMs);
  const days: { subject: string; day: string }[] = [];
  for (let day = dayOf(fromMs); day <= dayOf(Math.min((next?.fromMs ?? Infinity) - 1, nowMs)); day += 1) {
    const text = dayText(day);
    for (const subject of [...subjectsOn(before, text), ...subjectsOn(after, text)]) days.push({ subject, day: text });
  }
  return days;
}

export interface NewLocation {
  readonly locationId: string;
  readonly sensorId: string;
  readonly fromMs: number;
  readonly placeId: string | null;
  readonly vehicle: string | null;
  readonly crateCode: string | null;
  readonly recordedAtMs: number;
  readonly recordedBy: string;
}

/** The sensor is locked, so the numbers of its statements follow each other. */
export async function insertLocation(tx: Tx, location: NewLocation): Promise<void> {
  await tx.query(
    `insert into sensor_location (group_id, location_id, sensor_id, statement_no, from_at, place_id, vehicle, crate_code, recorded_at,
            recorded_by)
     select $1::uuid, $2::uuid, $3::uuid, coalesce(max(l.statement_no), 0) + 1, to_timestamp($4::float8 / 1000), $5::uuid, $6::text,
            $7::text, to_timestamp($8::float8 / 1000), $9::uuid
       from sensor_location l where l.group_id = $1::uuid and l.sensor_id = $3::uuid`,
    [
      tx.groupId,
      location.locationId,
      location.sensorId,
      location.fromMs,
      location.placeId,
      location.vehicle,
      location.crateCode,
      location.recordedAtMs,
      location.recordedBy,
    ],
  );
}
