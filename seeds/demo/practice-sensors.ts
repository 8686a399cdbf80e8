/** Loggers in the cold room, in ward 3's chiller and in a van, and what they said through the fortnight: nothing out of the ordinary. */
import { temperatureJobs } from '../../src/features/temperature/index.ts';
import { groupIdOf } from '../../src/platform/ids.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { DEMO_GROUP } from '../../src/start/try-out.ts';
import { LAST_DAY, type Calendar } from './calendar.ts';
import { as, type Door } from './door.ts';
import { id } from './story.ts';

const EVERY_MS = 15 * 60_000;
const MIDDAY = '12:00';

/** example name, code, name, site, where it is, what it says about, in hundredths of a degree */
const SENSORS = [
  ['ck-chiller-air', 'CK-CHILL-AIR', 'Cold room 1, by the door', 'site/ck', { placeId: 'place/ck-chiller' }, 290],
  ['w3-chiller-air', 'W3-CHILL-AIR', 'Ward 3 chiller', 'site/w3', { placeId: 'place/w3-chiller' }, 350],
  ['van-2-air', 'VAN-2-AIR', 'Van 2, load space', 'site/ck', { vehicle: 'Van 2' }, 330],
] as const;

export async function addSensors(door: Door, calendar: Calendar): Promise<void> {
  for (const [key, code, name, site, where, _about] of SENSORS) {
    const sensor = { siteId: id(site), code, name, kind: 'air' };
    await door.post(as('operations'), '/v1/sensors', `sensor/${key}`, sensor);
    const there = 'placeId' in where ? { placeId: id(where.placeId) } : where;
    const from = { from: calendar.at(0, '05:00'), ...there };
    await door.post(as('operations'), `/v1/sensors/${id(`sensor/${key}`)}/locations`, `sensor-location/${key}`, from);
  }
}

/** A cold room breathes: about a degree up and down over two hours, a little more by day. */
function centiC(about: number, atMs: number): number {
  const swing = Math.sin((2 * Math.PI * atMs) / (2 * 3_600_000));
  const day = Math.max(0, Math.sin((2 * Math.PI * (atMs - 6 * 3_600_000)) / 86_400_000));
  return Math.round(about + 45 * swing + 30 * day);
}

function linesOf(code: string, about: number, fromMs: number, toMs: number): string {
  const lines: string[] = [];
  for (let atMs = fromMs; atMs <= toMs; atMs += EVERY_MS) {
    lines.push(`${code},${new Date(atMs).toISOString()},${(centiC(about, atMs) / 100).toFixed(2)}\n`);
  }
  return lines.join('');
}

/** The loggers' own sendings; the van's is a file that was read out at the end. */
export async function sendReadings(door: Door, calendar: Calendar, db: Db): Promise<void> {
  const deviceTime = calendar.at(LAST_DAY, MIDDAY);
  door.setTime(deviceTime);
  const [fromMs, toMs] = [Date.parse(calendar.at(0, '05:00')), Date.parse(deviceTime)];
  const file = (of: (typeof SENSORS)[number]) => `sensor,at,temperatureC\n${linesOf(of[1], of[5], fromMs, toMs)}`;
  const clock = `?deviceTime=${encodeURIComponent(deviceTime)}`;
  const [cold, ward, van] = SENSORS;
  await door.send(as('device', 'site/ck'), `/v1/readings${clock}`, file(cold));
  await door.send(as('device', 'site/w3'), `/v1/readings${clock}`, file(ward));
  await door.send(as('device', 'site/ck'), `/v1/reading-imports${clock}`, file(van), id('reading-import/van-logger'));
  const jobs = temperatureJobs({ db, clock: { nowMs: () => toMs } });
  await jobs.find((job) => job.name === 'import-readings')?.run({ groupId: groupIdOf(DEMO_GROUP) });
}
