/** SQL of places' days: what is to be told, and what was looked at. */
import type { PlaceFacts } from '../../../domain/epcis/names.ts';
import type { Tx } from '../../../platform/db/db.ts';

/** place_day has the place in its subject, as `place:` and its id. The days that are over and were computed since they were looked at. */
const UNTOLD = `place_day d
  join place p on p.group_id = d.group_id and d.subject = 'place:' || p.place_id
  left join epcis_place_day t on t.group_id = d.group_id and t.place_id = p.place_id and t.day = d.day
 where d.group_id = $1::uuid
   and (d.day + 1)::timestamp at time zone 'utc' <= to_timestamp($2::float8 / 1000)
   and (t.computed_at is null or t.computed_at < d.computed_at)`;

export interface PlaceDayRow {
  readonly place: PlaceFacts;
  /** YYYY-MM-DD, UTC */
  readonly day: string;
  readonly centiC: readonly number[];
  readonly ms: readonly number[];
  readonly computedAtMs: number;
  /** to the microsecond, as it is stored */
  readonly computedAt: string;
  /** how often it was told */
  readonly version: number;
}

export async function listPlaceDays(tx: Tx, nowMs: number, limit: number): Promise<PlaceDayRow[]> {
  return tx.query<PlaceDayRow>(
    `select json_build_object('placeId', p.place_id, 'code', p.code, 'siteId', p.site_id) as place, d.day::text as day,
            d.hist_centi_c as "centiC", d.hist_ms as ms, (extract(epoch from d.computed_at) * 1000)::int8 as "computedAtMs",
            d.computed_at::text as "computedAt", coalesce(t.version, 0) as version
       from ${UNTOLD}
      order by d.day, p.place_id
      limit $3::int`,
    [tx.groupId, nowMs, limit],
  );
}

export async function hasPlaceDays(tx: Tx, nowMs: number): Promise<boolean> {
  const rows = await tx.query<{ some: boolean }>(`select exists (select from ${UNTOLD}) as some`, [tx.groupId, nowMs]);
  return rows[0]?.some ?? false;
}

interface LookedAt {
  readonly place_id: string;
  readonly day: string;
  readonly version: number;
  readonly computed_at: string;
}

export async function markPlaceDays(tx: Tx, days: readonly LookedAt[]): Promise<void> {
  await tx.query(
    `insert into epcis_place_day (group_id, place_id, day, version, computed_at)
     select $1::uuid, r.place_id, r.day, r.version, r.computed_at
       from jsonb_to_recordset($2::jsonb) as r(place_id uuid, day date, version int4, computed_at timestamptz)
     on conflict (group_id, place_id, day) do update set version = excluded.version, computed_at = excluded.computed_at`,
    [tx.groupId, JSON.stringify(days)],
  );
}
