/** The days that some stays need, loaded at once: sums of whole days, segments of those that are needed in part. */
import { foodAndAir } from '../../../domain/exposure/days.ts';
import { DAY_MS, type Segment } from '../../../domain/exposure/shapes.ts';
import { sumsOf, type Sums } from '../../../domain/exposure/sums.ts';
import { RULE_VERSION } from '../../../domain/exposure/days.ts';
import { eachIn, pack, unpack, type Track } from '../../../domain/exposure/track.ts';
import { dayOf, dayText } from '../../../domain/readings.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { computeDays, loadForDays } from './compute.ts';
import { groupBy } from '../../../domain/grouping.ts';
import * as store from './store.ts';
import { sumsOfRow } from './stored.ts';
import { loadWatches, type Watch } from './watch.ts';

interface DayEnd {
  readonly day: number;
  /** ms of the day of its last reading */
  readonly lastMs: number;
  readonly seenCentiC: number;
  /** ms of the day when that was */
  readonly seenMs: number;
}

export interface SubjectDays {
  readonly watch: Watch;
  /** null for a day without readings */
  sumsOf(day: number): Sums | null;
  /** false for a day whose segments were not loaded because it has no readings */
  segmentsIn(day: number, fromMs: number, toMs: number, visit: (segment: Segment) => void): boolean;
  /** the last day before it that has readings */
  lastBefore(day: number): DayEnd | null;
  /** whether a later day than it has readings */
  isLaterThan(day: number): boolean;
}

export type KnownDays = ReadonlyMap<string, SubjectDays>;

interface Stay {
  readonly subject: string | null;
  readonly fromMs: number;
  readonly toMs: number;
  readonly ongoing?: boolean;
}

interface Needed {
  readonly subject: string;
  first: number;
  last: number;
  /** days of which a part is needed */
  readonly parts: Set<number>;
}

function neededBy(stays: readonly Stay[], every: boolean): Needed[] {
  const needed = new Map<string, Needed>();
  for (const { subject, fromMs, toMs, ongoing } of stays) {
    if (subject === null || toMs <= fromMs) continue;
    const [first, last] = [dayOf(fromMs), dayOf(toMs - 1)];
    const one = needed.get(subject) ?? { subject, first, last, parts: new Set<number>() };
    needed.set(subject, one);
    one.first = Math.min(one.first, first);
    one.last = Math.max(one.last, last);
    if (every) for (let day = first; day <= last; day += 1) one.parts.add(day);
    if (fromMs > first * DAY_MS) one.parts.add(first);
    if (toMs < (last + 1) * DAY_MS) one.parts.add(last);
    // The stay of food that is still there is cut at the last reading, which may be yesterday's.
    if (ongoing) for (const day of [last - 1, last]) if (day >= first) one.parts.add(day);
  }
  return [...needed.values()];
}

interface Loaded {
  readonly sums: Map<number, Sums>;
  readonly tracks: Map<number, Track>;
  readonly ends: DayEnd[];
  before: DayEnd | null;
  readonly isLater: boolean;
}

function daysOf(watch: Watch, one: Needed, loaded: Loaded): SubjectDays {
  const { sums, tracks, before } = loaded;
  const ends = loaded.ends.sort((a, b) => a.day - b.day);
  const lastBefore = (day: number): DayEnd | null => {
    let [low, high] = [0, ends.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if ((ends[middle] as DayEnd).day < day) low = middle + 1;
      else high = middle;
    }
    return ends[low - 1] ?? before;
  };
  return {
    watch,
    sumsOf: (day) => sums.get(day) ?? null,
    segmentsIn(day, fromMs, toMs, visit) {
      const track = tracks.get(day);
      if (!track && sums.has(day))
        throw new Error(`the segments of ${watch.subject} on ${dayText(day)} were not loaded`);
      if (!track) return false;
      const startMs = day * DAY_MS;
      eachIn(track, fromMs - startMs, toMs - startMs, (spanMs, centiC, monitored, doubt, atMs) =>
        visit({ fromMs: startMs + atMs, toMs: startMs + atMs + spanMs, centiC, monitored, doubt }),
      );
      return true;
    },
    lastBefore,
    isLaterThan: (day) => loaded.isLater || (ends.at(-1)?.day ?? -Infinity) > day,
  };
}

/** Days that are not, or no longer, what the table says: those that wait, those beside them, and those of an older rule. */
function stale(
  one: Needed,
  dirty: readonly { readonly day: string }[],
  rows: readonly store.SumsRow[],
  before: DayEnd | null,
): number[] {
  const days = new Set<number>();
  const rowDays = rows.map((row) => dayNumber(row.day));
  for (const { day } of dirty) {
    const number = dayNumber(day);
    const next = rowDays.find((row) => row > number);
    for (const near of [number - 1, number, number + 1, next ?? number]) days.add(near);
  }
  for (const row of rows) if (row.ruleVersion !== RULE_VERSION) days.add(dayNumber(row.day));
  // A day further back than the one that was seen last has no say.
  const sinceDay = Math.min(one.first - 1, before?.day ?? -Infinity);
  return [...days].filter((day) => day >= sinceDay && day <= one.last);
}

const dayNumber = (text: string): number => dayOf(Date.parse(`${text}T00:00:00Z`));

/** Sums and segments of days that the table does not have, or not any more. */
async function computeNow(
  tx: Tx,
  watch: Watch,
  days: readonly number[],
  loaded: Loaded,
  isWaiting: (day: number) => boolean,
): Promise<void> {
  for (const { day, record, monitoring } of await computeDays(tx, watch, days)) {
    // Readings of long ago are dropped once their days are summed: what was kept by an older rule is all there is.
    if (!record && !isWaiting(day)) continue;
    loaded.sums.delete(day);
    loaded.tracks.delete(day);
    const at = loaded.ends.findIndex((end) => end.day === day);
    if (at !== -1) loaded.ends.splice(at, 1);
    if (record) {
      loaded.sums.set(day, sumsOf(record.segments, monitoring.upperCentiC));
      loaded.tracks.set(day, unpack(pack(record.segments, day * DAY_MS)));
      loaded.ends.push({ day, lastMs: record.lastMs, seenCentiC: record.seenCentiC, seenMs: record.seenMs });
    }
  }
}

/** Where the day that was seen last before the stays turns out to have no readings any more, the one before that was. */
async function settleBefore(tx: Tx, watch: Watch, loaded: Loaded, isWaiting: (day: number) => boolean): Promise<void> {
  const { subject } = watch;
  for (;;) {
    const day = loaded.before?.day;
    if (day === undefined || !isWaiting(day) || loaded.ends.some((end) => end.day === day)) return;
    const range = { subject, fromDay: dayText(day), toDay: dayText(day) };
    loaded.before = priorOf((await store.listBefore(tx, [range]))[0]);
    const earlier = loaded.before?.day;
    if (earlier !== undefined && isWaiting(earlier)) await computeNow(tx, watch, [earlier], loaded, isWaiting);
  }
}

/** Silent days right after one with readings, where a lag reaches over: food of them needs the readings. */
async function computeLagged(tx: Tx, watch: Watch, one: Needed, loaded: Loaded): Promise<void> {
  const known = new Set(loaded.ends.map((end) => end.day));
  if (loaded.before) known.add(loaded.before.day);
  for (let day = one.first; day <= one.last; day += 1) {
    const monitoring = watch.on(dayText(day));
    if (monitoring.lagMs === 0 || known.has(day) || !known.has(day - 1)) continue;
    const { sources } = (await loadForDays(tx, watch, [day]))(day);
    const { food } = foodAndAir(sources, monitoring, day * DAY_MS);
    loaded.sums.set(day, sumsOf(food, monitoring.upperCentiC));
    loaded.tracks.set(day, unpack(pack(food, day * DAY_MS)));
  }
}

/** `every-track`: segments of all days, for pictures. */
export async function loadDays(
  tx: Tx,
  stays: readonly Stay[],
  which: 'parts' | 'every-track' = 'parts',
): Promise<KnownDays> {
  const needed = neededBy(stays, which === 'every-track');
  if (needed.length === 0) return new Map();
  const watches = await loadWatches(
    tx,
    needed.map((one) => one.subject),
  );
  const ranges = needed.map((one) => ({
    subject: one.subject,
    fromDay: dayText(one.first),
    toDay: dayText(one.last),
  }));
  const subjects = needed.map((one) => one.subject);
  const dirty = groupBy(await store.listDirtyDays(tx, subjects), (row) => row.subject);
  const rows = groupBy(await store.listSums(tx, ranges), (row) => row.subject);
  const before = new Map((await store.listBefore(tx, ranges)).map((row) => [row.subject, row]));
  const parts = needed.flatMap(({ subject, parts: days }) => [...days].map((day) => ({ subject, day: dayText(day) })));
  const tracks = groupBy(await store.listTracks(tx, parts), (row) => row.subject);
  const known = new Map<string, SubjectDays>();
  for (const one of needed) {
    const watch = watches.get(one.subject);
    if (!watch) continue;
    const loaded = loadedFrom(rows.get(one.subject) ?? [], tracks.get(one.subject) ?? [], before.get(one.subject));
    const waiting = dirty.get(one.subject) ?? [];
    const late = stale(one, waiting, rows.get(one.subject) ?? [], loaded.before);
    const isWaiting = (day: number): boolean => waiting.some((row) => row.day === dayText(day));
    if (late.length > 0) await computeNow(tx, watch, late, loaded, isWaiting);
    await settleBefore(tx, watch, loaded, isWaiting);
    await computeLagged(tx, watch, one, loaded);
    known.set(one.subject, daysOf(watch, one, loaded));
  }
  return known;
}

function priorOf(row: store.BeforeRow | undefined): DayEnd | null {
  if (!row || row.day === null || row.lastMs === null || row.seenCentiC === null || row.seenMs === null) return null;
  return { day: dayNumber(row.day), lastMs: row.lastMs, seenCentiC: row.seenCentiC, seenMs: row.seenMs };
}

function loadedFrom(
  rows: readonly store.SumsRow[],
  tracks: readonly store.TrackRow[],
  before: store.BeforeRow | undefined,
): Loaded {
  return {
    sums: new Map(rows.map((row) => [dayNumber(row.day), sumsOfRow(row)])),
    tracks: new Map(tracks.map((row) => [dayNumber(row.day), unpack(row.segments)])),
    ends: rows.map((row) => ({
      day: dayNumber(row.day),
      lastMs: row.lastMs,
      seenCentiC: row.seenCentiC,
      seenMs: row.seenMs,
    })),
    before: priorOf(before),
    isLater: (before?.laterDay ?? null) !== null,
  };
}
