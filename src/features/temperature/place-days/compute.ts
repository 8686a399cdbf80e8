/** Days of one subject computed from its readings. Writes nothing. */
import { dayRecord, edgeReachMs, readingsFor, type DayRecord } from '../../../domain/exposure/days.ts';
import { DAY_MS, SEEN_BACK_MS, type Monitoring, type Source } from '../../../domain/exposure/shapes.ts';
import { dayText } from '../../../domain/readings.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listReadings } from '../readings/store.ts';
import { sensorsAt, type SensorStay } from '../sensors/locations.ts';
import { groupBy } from '../../../domain/grouping.ts';
import { newestBefore } from './store.ts';
import type { Watch } from './watch.ts';

/** Most days that one load of readings serves; of a place with many sensors fewer, so that memory stays small. */
const CHUNK_DAYS = 7;
const CHUNK_SENSOR_DAYS = 28;

/** A sensor that was said to be where it was already never left. */
function joinStays(stays: readonly SensorStay[]): SensorStay[] {
  const out: SensorStay[] = [];
  for (const stay of stays) {
    const last = out.at(-1);
    if (last?.sensorNo === stay.sensorNo && last.toMs === stay.fromMs)
      out[out.length - 1] = { ...last, toMs: stay.toMs };
    else out.push(stay);
  }
  return out;
}

/**
 * Everything that is needed to know the subject's temperature in [fromMs, toMs]: readings from there on, and before it back to what was seen last.
 */
async function loadSources(
  tx: Tx,
  stays: readonly SensorStay[],
  bounds: { readonly fromMs: number; readonly gapMs: number; readonly toMs: number },
): Promise<Source[]> {
  const { fromMs, gapMs, toMs } = bounds;
  if (stays.length === 0) return [];
  const seenMs = await newestBefore(tx, stays, fromMs);
  const sinceMs = Math.min(seenMs ?? fromMs, fromMs - gapMs) - SEEN_BACK_MS;
  const sensorNos = [...new Set(stays.map((stay) => stay.sensorNo))];
  const rows = groupBy(await listReadings(tx, sensorNos, sinceMs, toMs + 1), (row) => row.sensorNo);
  return stays.map((stay) => ({
    kind: stay.kind === 'simulant' ? 'simulant' : 'air',
    readings: (rows.get(stay.sensorNo) ?? [])
      .filter((row) => row.atMs >= stay.fromMs && row.atMs < stay.toMs)
      .map((row) => ({ atMs: row.atMs, centiC: row.centiC, doubt: row.timeDoubt })),
  }));
}

export interface ComputedDay {
  readonly day: number;
  readonly monitoring: Monitoring;
  /** null: no reading is on it */
  readonly record: DayRecord | null;
}

/** Day numbers that follow each other, at most so many together. */
function chunksOf(days: readonly number[], most: number): number[][] {
  const chunks: number[][] = [];
  for (const day of [...new Set(days)].sort((a, b) => a - b)) {
    const last = chunks.at(-1);
    if (last && last.at(-1) === day - 1 && last.length < most) last.push(day);
    else chunks.push([day]);
  }
  return chunks;
}

/** The sensors that count, for some days and the one after; of all times before as well, for what was seen last. */
async function staysFor(tx: Tx, subject: string, days: readonly number[]): Promise<SensorStay[]> {
  const toMs = (Math.max(...days) + 2) * DAY_MS;
  const stays = joinStays(await sensorsAt(tx, { subject }, 0, toMs));
  return stays.filter((stay) => stay.kind !== 'between-packs');
}

/** The sources for days that follow each other, and how each is watched with those beside it. */
export async function loadForDays(
  tx: Tx,
  watch: Watch,
  days: readonly number[],
  known?: readonly SensorStay[],
): Promise<(day: number) => { sources: Source[]; monitoring: Monitoring; beside: Monitoring[] }> {
  const on = (day: number): Monitoring => watch.on(dayText(day));
  const [first, last] = [Math.min(...days), Math.max(...days)];
  const near = days.flatMap((day) => [on(day - 1), on(day), on(day + 1)]);
  const lagMs = Math.max(...near.map((one) => one.lagMs));
  const stays = known ?? (await staysFor(tx, watch.subject, days));
  const sources = await loadSources(tx, stays, {
    fromMs: first * DAY_MS - 2 * lagMs,
    gapMs: Math.max(...near.map((one) => one.gapMs)),
    toMs: (last + 1) * DAY_MS + edgeReachMs(near),
  });
  return (day) => {
    const [monitoring, beside] = [on(day), [on(day - 1), on(day + 1)]];
    return { sources: readingsFor(sources, monitoring, day * DAY_MS, beside), monitoring, beside };
  };
}

export async function computeDays(tx: Tx, watch: Watch, days: readonly number[]): Promise<ComputedDay[]> {
  const out: ComputedDay[] = [];
  if (days.length === 0) return out;
  const stays = await staysFor(tx, watch.subject, days);
  const most = Math.max(1, Math.min(CHUNK_DAYS, Math.floor(CHUNK_SENSOR_DAYS / Math.max(1, stays.length))));
  for (const chunk of chunksOf(days, most)) {
    const forDay = await loadForDays(tx, watch, chunk, stays);
    for (const day of chunk) {
      const { sources, monitoring, beside } = forDay(day);
      out.push({ day, monitoring, record: dayRecord(sources, monitoring, day * DAY_MS, beside) });
    }
  }
  return out;
}
