/** SQL on excursion. */
import type { Excursion } from '../../../domain/exposure/excursions.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

const ms = (column: string): string => `(extract(epoch from ${column}) * 1000)::int8`;

export interface StandingRow {
  readonly excursionId: string;
  readonly startMs: number;
  readonly endMs: number | null;
  readonly seenToMs: number;
}

/** Standing ones that touch a time, its ends included. */
export async function listStanding(tx: Tx, subject: string, fromMs: number, toMs: number): Promise<StandingRow[]> {
  return tx.query<StandingRow>(
    `select e.excursion_id as "excursionId", ${ms('e.start_at')} as "startMs", ${ms('e.end_at')} as "endMs",
            ${ms('e.seen_to_at')} as "seenToMs"
       from excursion e
      where e.group_id = $1::uuid and e.subject = $2::text and e.state <> 'superseded'
        and e.start_at <= to_timestamp($4::float8 / 1000) and e.seen_to_at >= to_timestamp($3::float8 / 1000)
      order by e.start_at, e.excursion_id`,
    [tx.groupId, subject, fromMs, toMs],
  );
}

export async function supersede(tx: Tx, excursionIds: readonly string[], nowMs: number): Promise<void> {
  await tx.query(
    `update excursion e set state = 'superseded', version = e.version + 1, updated_at = to_timestamp($3::float8 / 1000)
      where e.group_id = $1::uuid and e.excursion_id = any($2::uuid[])`,
    [tx.groupId, excursionIds, nowMs],
  );
}

/** Where a vehicle or crate belongs: the site of the sensor that was put there last. */
export async function findSensorSite(tx: Tx, subject: string): Promise<string | null> {
  const vehicle = subject.startsWith('vehicle:') ? subject.slice('vehicle:'.length) : null;
  const crate = subject.startsWith('crate:') ? subject.slice('crate:'.length) : null;
  const rows = await tx.query<{ siteId: string }>(
    `select s.site_id as "siteId" from sensor_location l
       join sensor s on s.group_id = l.group_id and s.sensor_id = l.sensor_id
      where l.group_id = $1::uuid and (l.vehicle = $2::text or l.crate_code = $3::text)
      order by l.from_at desc, l.location_id desc limit 1`,
    [tx.groupId, vehicle, crate],
  );
  return rows[0]?.siteId ?? null;
}

/** Where everything is as it was, nothing is written. */
export async function upsertExcursions(
  tx: Tx,
  where: { readonly subject: string; readonly siteId: string; readonly placeId: string | null },
  rows: readonly (Excursion & { readonly excursionId: string })[],
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into excursion (group_id, excursion_id, subject, side, site_id, place_id, limit_centi_c, delay_ms, start_at, end_at,
            seen_to_at, peak_centi_c, peak_at, outside_ms, area_centi_ms, unmonitored_ms, suspected, state, first_found_at, updated_at)
     select $1::uuid, x."excursionId", $2::text, x.side, $3::uuid, $4::uuid, x."limitCentiC", x."delayMs",
            to_timestamp(x."startMs" / 1000), to_timestamp(x."endMs" / 1000), to_timestamp(x."seenToMs" / 1000), x."peakCentiC",
            to_timestamp(x."peakAtMs" / 1000), x."outsideMs", x."areaCentiMs", x."unmonitoredMs", x.suspected,
            case when x."endMs" is null then 'open' else 'ended' end, to_timestamp($6::float8 / 1000), to_timestamp($6::float8 / 1000)
       from jsonb_to_recordset($5::jsonb) as x("excursionId" uuid, side text, "limitCentiC" int2, "delayMs" int4, "startMs" float8,
            "endMs" float8, "seenToMs" float8, "peakCentiC" int2, "peakAtMs" float8, "outsideMs" int8, "areaCentiMs" int8,
            "unmonitoredMs" int8, suspected boolean)
      order by x."excursionId"
     on conflict (group_id, excursion_id) do update
        set site_id = excluded.site_id, limit_centi_c = excluded.limit_centi_c, delay_ms = excluded.delay_ms, end_at = excluded.end_at,
            seen_to_at = excluded.seen_to_at, peak_centi_c = excluded.peak_centi_c, peak_at = excluded.peak_at,
            outside_ms = excluded.outside_ms, area_centi_ms = excluded.area_centi_ms, unmonitored_ms = excluded.unmonitored_ms,
            suspected = excluded.suspected, state = excluded.state, version = excursion.version + 1, updated_at = excluded.updated_at
      where (excursion.limit_centi_c, excursion.delay_ms, excursion.seen_to_at, excursion.peak_centi_c, excursion.peak_at,
             excursion.outside_ms, excursion.area_centi_ms, excursion.unmonitored_ms, excursion.suspected, excursion.state)
         is distinct from
            (excluded.limit_centi_c, excluded.delay_ms, excluded.seen_to_at, excluded.peak_centi_c, excluded.peak_at,
             excluded.outside_ms, excluded.area_centi_ms, excluded.unmonitored_ms, excluded.suspected, excluded.state)`,
    [tx.groupId, where.subject, where.siteId, where.placeId, JSON.stringify(rows), nowMs],
  );
}

export interface ExcursionRow {
  readonly excursionId: string;
  readonly subject: string;
  readonly siteId: string;
  readonly placeId: string | null;
  readonly side: 'above' | 'below';
  readonly state: 'open' | 'ended' | 'superseded';
  readonly suspected: boolean;
  readonly limitCentiC: number;
  readonly delayMs: number;
  readonly startMs: number;
  readonly endMs: number | null;
  readonly seenToMs: number;
  readonly peakCentiC: number;
  readonly peakAtMs: number;
  readonly outsideMs: number;
  readonly areaCentiMs: number;
  readonly unmonitoredMs: number;
  readonly version: number;
  readonly updatedAtMs: number;
}

const COLUMNS = `e.excursion_id as "excursionId", e.subject, e.site_id as "siteId", e.place_id as "placeId", e.side, e.state, e.suspected,
  e.limit_centi_c as "limitCentiC", e.delay_ms as "delayMs", ${ms('e.start_at')} as "startMs", ${ms('e.end_at')} as "endMs",
  ${ms('e.seen_to_at')} as "seenToMs", e.peak_centi_c as "peakCentiC", ${ms('e.peak_at')} as "peakAtMs", e.outside_ms as "outsideMs",
  e.area_centi_ms as "areaCentiMs", e.unmonitored_ms as "unmonitoredMs", e.version, ${ms('e.updated_at')} as "updatedAtMs"`;

/**
 * Dispatches that were on the road on e's vehicle, or with its crate, for longer than its delay. On the road: from departure until the last of it
 * arrived, also where it was seen to arrive before it was known to have left (the shortfall twin); what is missing after its receipt was
 * closed is nowhere.
 */
const TRIPS = `(
  select d.dispatch_id, d.code, d.from_site_id, d.to_site_id, greatest(e.start_at, d.departed_at) as from_at,
         least(coalesce(e.end_at, 'infinity'), r.arrived_at) as to_at
    from dispatch d
   cross join lateral (
     select case when d.state <> 'closed' and exists (
                   select from balance b where b.group_id = d.group_id and b.account_id = d.dispatch_id and b.quantity <> 0)
                 then 'infinity'::timestamptz
                 else coalesce(
                   (select max(p.occurred_at) from posting p
                     where p.group_id = d.group_id and p.from_account_id = any(array(
                       select a.account_id from account a
                        where a.group_id = d.group_id and (a.account_id = d.dispatch_id or a.twin_of = d.dispatch_id)))),
                   (select max(c.occurred_at) from receipt c where c.group_id = d.group_id and c.dispatch_id = d.dispatch_id),
                   d.departed_at)
            end as arrived_at) r
   where d.group_id = e.group_id and e.place_id is null
     and d.departed_at < e.seen_to_at and d.departed_at > e.start_at - interval '31 days'
     and (d.vehicle = substr(e.subject, 9)
          or e.subject like 'crate:%' and d.dispatch_id in (
               select l.dispatch_id from dispatch_line l where l.group_id = e.group_id and l.crate_code = substr(e.subject, 7)))
     and least(e.seen_to_at, r.arrived_at) - greatest(e.start_at, d.departed_at) > e.delay_ms * interval '1 millisecond')`;

const TO_SHOW = (scope: string, sites: string): string =>
  `(case when e.place_id is not null then ${scope} or e.site_id = any(${sites})
         else exists (select from ${TRIPS} t where ${scope} or t.from_site_id = any(${sites}) or t.to_site_id = any(${sites})) end)`;

export interface Wanted {
  readonly siteId: string | null;
  readonly placeId: string | null;
  readonly state: string | null;
  readonly fromMs: number | null;
  readonly toMs: number | null;
}

/** In scope, the latest first, one more than the page holds. */
export async function listExcursions(tx: Tx, scope: SiteScope, wanted: Wanted, page: Page): Promise<ExcursionRow[]> {
  return tx.query<ExcursionRow>(
    `select ${COLUMNS} from excursion e
      where e.group_id = $1::uuid and ${TO_SHOW('$2::boolean', '$3::uuid[]')}
        and ($4::uuid is null or ${TO_SHOW('false', 'array[$4::uuid]')})
        and ($5::uuid is null or e.place_id = $5::uuid)
        and (case when $6::text is null then e.state <> 'superseded' else e.state = $6::text end)
        and ($7::float8 is null or coalesce(e.end_at, 'infinity') > to_timestamp($7::float8 / 1000))
        and ($8::float8 is null or e.start_at < to_timestamp($8::float8 / 1000))
        and ($9::timestamptz is null or (e.start_at, e.excursion_id) < ($9::timestamptz, $10::uuid))
      order by e.start_at desc, e.excursion_id desc limit $11::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      wanted.siteId,
      wanted.placeId,
      wanted.state,
      wanted.fromMs,
      wanted.toMs,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export async function findExcursion(tx: Tx, scope: SiteScope, excursionId: string): Promise<ExcursionRow | null> {
  const rows = await tx.query<ExcursionRow>(
    `select ${COLUMNS} from excursion e
      where e.group_id = $1::uuid and e.excursion_id = $2::uuid and ${TO_SHOW('$3::boolean', '$4::uuid[]')}`,
    [tx.groupId, excursionId, scope.all, scope.siteIds],
  );
  return rows[0] ?? null;
}

export interface TripRow {
  readonly excursionId: string;
  readonly dispatchId: string;
  readonly code: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly fromMs: number;
  readonly toMs: number | null;
}

/** What was on the road during some excursions, as far as the reader's sites have to do with it. */
export async function listTrips(tx: Tx, scope: SiteScope, excursionIds: readonly string[]): Promise<TripRow[]> {
  if (excursionIds.length === 0) return [];
  return tx.query<TripRow>(
    `select e.excursion_id as "excursionId", t.dispatch_id as "dispatchId", t.code, t.from_site_id as "fromSiteId",
            t.to_site_id as "toSiteId", ${ms('t.from_at')} as "fromMs",
            case when t.to_at = 'infinity' then null else ${ms('t.to_at')} end as "toMs"
       from excursion e
      cross join lateral ${TRIPS} t
      where e.group_id = $1::uuid and e.excursion_id = any($2::uuid[])
        and ($3::boolean or t.from_site_id = any($4::uuid[]) or t.to_site_id = any($4::uuid[]))
      order by e.excursion_id, t.from_at, t.dispatch_id`,
    [tx.groupId, excursionIds, scope.all, scope.siteIds],
  );
}

/** Standing ones at a subject that touch a time, by start; for whoever shows a lot's history. */
export async function listExcursionsAt(
  tx: Tx,
  stays: readonly { readonly subject: string; readonly fromMs: number; readonly toMs: number }[],
): Promise<ExcursionRow[]> {
  return tx.query<ExcursionRow>(
    `select distinct on (e.start_at, e.excursion_id) ${COLUMNS}
       from unnest($2::text[], $3::float8[], $4::float8[]) as w(subject, from_ms, to_ms)
       join excursion e on e.group_id = $1::uuid and e.subject = w.subject and e.state <> 'superseded'
        and e.start_at < to_timestamp(w.to_ms / 1000) and coalesce(e.end_at, 'infinity') > to_timestamp(w.from_ms / 1000)
      order by e.start_at, e.excursion_id`,
    [tx.groupId, stays.map((one) => one.subject), stays.map((one) => one.fromMs), stays.map((one) => one.toMs)],
  );
}
