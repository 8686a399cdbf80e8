/** Puts an upload into the set, and marks what has to be computed anew. Used by uploads and, piece by piece, by imports. */
import { dayOf, dayText } from '../../../domain/readings.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listLocations, subjectsOn, type LocationRow } from '../sensors/locations.ts';
import { findSensorsByName, type NamedSensor } from '../sensors/store.ts';
import { MOST_PROBLEMS, problemAt, type Collected, type LineProblem } from './collect.ts';
import { markPlaceDays } from './dirty.ts';
import { rowsOf, type Rows } from './rows.ts';
import * as store from './store.ts';

export interface Sender {
  readonly actorId: string;
  readonly isDevice: boolean;
  readonly scope: Pick<SiteScope, 'includes'>;
  readonly receivedAtMs: number;
  /** the sender's clock minus ours; null when it did not say */
  readonly clockOffsetMs: number | null;
}

export interface Taken {
  readonly received: number;
  readonly stored: number;
  readonly duplicates: number;
  readonly conflicts: number;
  readonly refused: number;
  readonly problems: readonly LineProblem[];
  readonly placeDays: number;
}

/** `received` is always the sum of `stored`, `duplicates` and `refused`. `pointerOf`: where a line's sensor stands in the body. */
export async function takeReadings(
  tx: Tx,
  collected: Collected,
  sender: Sender,
  pointerOf: (line: number) => string = () => '/sensor',
): Promise<Taken> {
  const sensors = await findSensorsByName(tx, collected.names);
  const sensorNoOf = numbersOf(collected.names, sensors, sender);
  const { unknown, problems } = unknownIn(collected, sensorNoOf, pointerOf);
  const rows = rowsOf(collected, sensorNoOf, sender);
  const refused = collected.refused + unknown;
  const { received } = collected;
  if (rows.count === 0) {
    return { received, stored: 0, duplicates: 0, conflicts: 0, refused, problems, placeDays: 0 };
  }
  const groupNo = sensors[0]?.groupNo ?? 0;
  const changed = await putIn(tx, groupNo, rows, sender.receivedAtMs);
  const placeDays = await markPlaceDays(tx, await touchedBy(tx, changed));
  const stored = changed.reduce((sum, day) => sum + day.stored, 0);
  const conflicts = changed.reduce((sum, day) => sum + day.conflicts, 0);
  return { received, stored, duplicates: received - refused - stored, conflicts, refused, problems, placeDays };
}

/** 0 for one that is unknown, at a site of somebody else's, or that another device sends for. */
function numbersOf(names: readonly string[], sensors: readonly NamedSensor[], sender: Sender): Int32Array {
  const byName = new Map(
    sensors.flatMap((sensor) => [[sensor.code, sensor] as const, [sensor.sensorId, sensor] as const]),
  );
  return Int32Array.from(names, (name) => {
    const sensor = byName.get(name);
    if (!sensor || !sender.scope.includes(sensor.siteId)) return 0;
    const isOthers = sender.isDevice && sensor.deviceId !== null && sensor.deviceId !== sender.actorId;
    return isOthers ? 0 : sensor.sensorNo;
  });
}

function unknownIn(
  { problems, count, nameNo, lineNo }: Collected,
  sensorNoOf: Int32Array,
  pointerOf: (line: number) => string,
): { unknown: number; problems: LineProblem[] } {
  if (!sensorNoOf.includes(0)) return { unknown: 0, problems: [...problems] };
  const found: LineProblem[] = [];
  let unknown = 0;
  for (let at = 0; at < count; at += 1) {
    if (sensorNoOf[nameNo[at] ?? 0] !== 0) continue;
    unknown += 1;
    const line = lineNo[at] ?? 0;
    if (found.length < MOST_PROBLEMS) found.push(problemAt(line, pointerOf(line), 'sensor-unknown'));
  }
  const all = [...problems, ...found].sort((a, b) => a.line - b.line);
  return { unknown, problems: all.slice(0, MOST_PROBLEMS) };
}

async function putIn(tx: Tx, groupNo: number, rows: Rows, nowMs: number): Promise<store.SensorDay[]> {
  const prior = await store.findPrior(tx, groupNo, rows.spans);
  await store.ensureMonths(tx, monthsOf(rows));
  await store.ensureStaging(tx);
  await store.copyToStaging(tx, rows.data);
  // Where nothing is kept of those times nothing can contradict: looking at each row is spared.
  const alone = rows.contradicting === 0 && !prior.some((span) => span.prior);
  const insert = alone ? store.insertStaged : store.insertStagedBesideOthers;
  const stored = await insert(tx, groupNo, nowMs);
  if (rows.doubted === rows.count || !prior.some((span) => span.doubted)) return stored;
  const settled = await store.settleDoubts(tx, groupNo);
  return [...stored, ...settled.map((day) => ({ ...day, stored: 0, conflicts: 0 }))];
}

function monthsOf({ spans }: Rows): string[] {
  const first = spans.reduce((least, { fromMs }) => Math.min(least, fromMs), Infinity);
  const last = spans.reduce((most, { toMs }) => Math.max(most, toMs), -Infinity);
  const months = new Set<string>();
  for (let day = dayOf(first); day <= dayOf(last); day += 1) months.add(`${dayText(day).slice(0, 7)}-01`);
  return [...months];
}

/** Where the sensors were on those days. */
async function touchedBy(
  tx: Tx,
  days: readonly { readonly sensorNo: number; readonly day: string }[],
): Promise<{ subject: string; day: string }[]> {
  if (days.length === 0) return [];
  const bySensor = new Map<number, LocationRow[]>();
  for (const row of await listLocations(tx, [...new Set(days.map((one) => one.sensorNo))])) {
    bySensor.set(row.sensorNo, [...(bySensor.get(row.sensorNo) ?? []), row]);
  }
  return days.flatMap(({ sensorNo, day }) =>
    subjectsOn(bySensor.get(sensorNo) ?? [], day).map((subject) => ({ subject, day })),
  );
}
