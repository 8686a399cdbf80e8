/** Days of places that are over, as events; again, with the old one declared wrong, when late readings change what one reports. */
import type { Named } from '../../../domain/epcis/entries.ts';
import { placeDayEvent, sameReport } from '../../../domain/epcis/place-days.ts';
import { declareWrong, type EventDraft } from '../../../domain/epcis/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listPlaceDays, markPlaceDays, type PlaceDayRow } from './sources-days.ts';
import { findToldBySource, type ToldRow } from './store.ts';

type Site = Pick<Named, 'sites' | 'eventIdOf'>;

function eventsOfDay(row: PlaceDayRow, named: Site, told: ToldRow | null): EventDraft[] {
  const site = named.sites.get(row.place.siteId);
  if (!site) return [];
  const next = placeDayEvent({ ...row, site }, row.version + 1, named.eventIdOf);
  if (!next || (told && sameReport(told.event, next.event))) return [];
  if (!told) return [next];
  const wrong: EventDraft = {
    ...told,
    source: `${told.source}|wrong`,
    recordedAtMs: row.computedAtMs,
    event: declareWrong(told.event, row.computedAtMs, 'incorrect_data', [next.event.eventID]),
  };
  return [wrong, next];
}

/** At most `limit` days that were not looked at since they were computed; marks them as looked at. */
export async function daysToTell(
  tx: Tx,
  nowMs: number,
  named: Site,
  limit: number,
): Promise<{ drafts: EventDraft[]; looked: number }> {
  const rows = await listPlaceDays(tx, nowMs, limit);
  if (rows.length === 0) return { drafts: [], looked: 0 };
  const sourceOf = (row: PlaceDayRow) => `day|${row.place.placeId}|${row.day}|${row.version}`;
  const told = await findToldBySource(tx, rows.filter((row) => row.version > 0).map(sourceOf));
  const made = rows.map((row) => ({ row, drafts: eventsOfDay(row, named, told.get(sourceOf(row)) ?? null) }));
  await markPlaceDays(
    tx,
    made.map(({ row, drafts }) => ({
      place_id: row.place.placeId,
      day: row.day,
      version: row.version + (drafts.length > 0 ? 1 : 0),
      computed_at: row.computedAt,
    })),
  );
  return { drafts: made.flatMap((one) => one.drafts), looked: rows.length };
}
