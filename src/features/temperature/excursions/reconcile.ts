/** Makes the standing excursions of a subject what its days say. The same days always make the same ones, whatever was believed before. */
import { excursionsOf, isOutside, type Excursion, type WatchedStretch } from '../../../domain/exposure/excursions.ts';
import { DAY_MS, unseenLevel, type Segment } from '../../../domain/exposure/shapes.ts';
import { segmentsIn, unpack } from '../../../domain/exposure/track.ts';
import { dayOf, dayText } from '../../../domain/readings.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findBeside, listDayTracks, type DayTrackRow } from '../place-days/store.ts';
import type { Watch } from '../place-days/watch.ts';
import { excursionIdOf } from './names.ts';
import * as store from './store.ts';

interface WatchedDay {
  readonly day: number;
  readonly stretch: WatchedStretch;
  readonly lastMs: number;
  readonly seenCentiC: number;
}

const numberOf = (day: string): number => dayOf(Date.parse(`${day}T00:00:00Z`));

function stretchOf(watch: Watch, day: number, segments: readonly Segment[]): WatchedStretch {
  const { upperCentiC, lowerCentiC, assumedCentiC, delayMs } = watch.on(dayText(day));
  return { segments, upperCentiC, lowerCentiC, assumedCentiC, delayMs };
}

function watchedDay(watch: Watch, row: DayTrackRow): WatchedDay {
  const day = numberOf(row.day);
  const segments = segmentsIn(unpack(row.air ?? row.segments), day * DAY_MS);
  return { day, stretch: stretchOf(watch, day, segments), lastMs: row.lastMs, seenCentiC: row.seenCentiC };
}

/** Days without readings between two that have them: what was seen last goes on. */
function silentDays(watch: Watch, after: WatchedDay, before: WatchedDay): WatchedStretch[] {
  const out: WatchedStretch[] = [];
  for (let day = after.day + 1; day < before.day; day += 1) {
    const centiC = unseenLevel(watch.on(dayText(day)), after.seenCentiC);
    const span = { fromMs: day * DAY_MS, toMs: (day + 1) * DAY_MS };
    out.push(stretchOf(watch, day, [{ ...span, centiC, monitored: false, doubt: false }]));
  }
  return out;
}

function reaches(day: WatchedDay, end: 0 | -1): boolean {
  const segment = day.stretch.segments.at(end);
  return segment !== undefined && isOutside(segment, day.stretch);
}

/** The days from the first to the last, widened as long as an excursion reaches over either end. */
async function loadWindow(tx: Tx, watch: Watch, first: number, last: number): Promise<WatchedDay[]> {
  const rows = await listDayTracks(tx, watch.subject, dayText(first), dayText(last));
  const days = rows.map((row) => watchedDay(watch, row));
  const one = async (day: string): Promise<WatchedDay | null> => {
    const [row] = await listDayTracks(tx, watch.subject, day, day);
    return row ? watchedDay(watch, row) : null;
  };
  let edge = days.length > 0 ? (days[0] as WatchedDay).day : first;
  // An empty window still has days beside it that an excursion may join.
  for (;;) {
    const head = days[0];
    if (head && !reaches(head, 0)) break;
    const { before } = await findBeside(tx, watch.subject, dayText(edge));
    const found = before === null ? null : await one(before);
    if (!found || !reaches(found, -1)) break;
    days.unshift(found);
    edge = found.day;
  }
  edge = days.length > 0 ? (days.at(-1) as WatchedDay).day : last;
  for (;;) {
    const tail = days.at(-1);
    if (tail && !reaches(tail, -1)) break;
    const { after } = await findBeside(tx, watch.subject, dayText(edge));
    const found = after === null ? null : await one(after);
    if (!found || !reaches(found, 0)) break;
    days.push(found);
    edge = found.day;
  }
  return days;
}

/** What was there after the last reading of all is not known: the last day ends with it. */
function untilHeard(day: WatchedDay): WatchedStretch {
  const heardMs = day.day * DAY_MS + day.lastMs;
  const segments = day.stretch.segments
    .filter((one) => one.fromMs < heardMs)
    .map((one) => ({ ...one, toMs: Math.min(one.toMs, heardMs) }));
  return { ...day.stretch, segments };
}

async function excursionsIn(tx: Tx, watch: Watch, days: readonly WatchedDay[]): Promise<Excursion[]> {
  const last = days.at(-1);
  if (!last) return [];
  const { after } = await findBeside(tx, watch.subject, dayText(last.day));
  const stretches = days.flatMap((day, index) => {
    const next = days[index + 1];
    if (!next) return [after === null ? untilHeard(day) : day.stretch];
    return [day.stretch, ...silentDays(watch, day, next)];
  });
  const heard = { atMs: last.day * DAY_MS + last.lastMs, centiC: last.seenCentiC };
  return excursionsOf(stretches, after === null ? heard : null);
}

export async function reconcileExcursions(
  tx: Tx,
  watch: Watch,
  computed: readonly number[],
  nowMs: number,
): Promise<void> {
  let [first, last] = [Math.min(...computed), Math.max(...computed)];
  let days: WatchedDay[] = [];
  let standing: store.StandingRow[] = [];
  for (;;) {
    days = await loadWindow(tx, watch, first, last);
    const fromMs = Math.min(first, days[0]?.day ?? first) * DAY_MS;
    const toMs = (Math.max(last, days.at(-1)?.day ?? last) + 1) * DAY_MS;
    standing = await store.listStanding(tx, watch.subject, fromMs, toMs);
    // What stood and reaches further is looked at as a whole.
    const startsMs = standing.map((one) => one.startMs);
    const endsMs = standing.map((one) => one.endMs ?? one.seenToMs);
    const wider = [Math.min(first, ...startsMs.map(dayOf)), Math.max(last, ...endsMs.map((ms) => dayOf(ms - 1)))];
    if (wider[0] === first && wider[1] === last) break;
    [first, last] = wider as [number, number];
  }
  const found = await excursionsIn(tx, watch, days);
  await put(tx, watch, found, standing, nowMs);
}

async function put(
  tx: Tx,
  watch: Watch,
  found: readonly Excursion[],
  standing: readonly store.StandingRow[],
  nowMs: number,
): Promise<void> {
  const rows = found.map((one) => ({ excursionId: excursionIdOf(tx.groupId, watch.subject, one), ...one }));
  const ids = new Set(rows.map((row) => row.excursionId));
  const gone = standing.filter((one) => !ids.has(one.excursionId)).map((one) => one.excursionId);
  if (gone.length > 0) await store.supersede(tx, gone, nowMs);
  if (rows.length === 0) return;
  const siteId = watch.siteId ?? (await store.findSensorSite(tx, watch.subject));
  if (siteId === null) return;
  await store.upsertExcursions(tx, { subject: watch.subject, siteId, placeId: watch.placeId }, rows, nowMs);
}
