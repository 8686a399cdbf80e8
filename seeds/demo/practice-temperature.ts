/**
 * Temperature history: loggers in every chiller and in the other van, a chiller that is read by hand, a door that stood open, and a van whose cooling
 * was off for two hours of its morning round. What follows from it is computed by the service's own worker.
 */
import { recomputeTemperature } from '../../src/features/temperature/index.ts';
import { groupIdOf } from '../../src/platform/ids.ts';
import { createLog } from '../../src/platform/log.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { DEMO_GROUP } from '../../src/start/try-out.ts';
import { LAST_DAY, type Calendar } from './calendar.ts';
import { as, type Door } from './door.ts';
import { id } from './story.ts';

/** A van is unmonitored after 20 minutes without a reading, a chiller after an hour. */
const VAN_EVERY_MS = 15 * 60_000;
const EVERY_MS = 30 * 60_000;
const BEGIN = '05:00';
const MIDDAY = '12:00';

interface Logger {
  readonly key: string;
  readonly code: string;
  readonly name: string;
  readonly site: string;
  readonly where: { readonly place: string } | { readonly vehicle: string };
  readonly aboutCentiC: number;
}

const LOGGERS: readonly Logger[] = [
  {
    key: 'ck-freezer-air',
    code: 'CK-FREEZE-AIR',
    name: 'Freezer 1',
    site: 'site/ck',
    where: { place: 'place/ck-freezer' },
    aboutCentiC: -2050,
  },
  ...['w7', 'w9', 'sch', 'hot'].map((site, at) => ({
    key: `${site}-chiller-air`,
    code: `${site.toUpperCase()}-CHILL-AIR`,
    name: `${site.toUpperCase()} chiller`,
    site: `site/${site}`,
    where: { place: `place/${site}-chiller` },
    aboutCentiC: 300 + 25 * at,
  })),
  {
    key: 'van-1-air',
    code: 'VAN-1-AIR',
    name: 'Van 1, load space',
    site: 'site/ck',
    where: { vehicle: 'Van 1' },
    aboutCentiC: 350,
  },
];

const BY_HAND = { key: 'care-chiller-sheet', code: 'CARE-CHILL-SHEET', place: 'place/care-chiller', site: 'site/care' };

export async function addTemperaturePractice(door: Door, calendar: Calendar): Promise<void> {
  const from = calendar.at(0, BEGIN);
  for (const { key, code, name, site, where } of LOGGERS) {
    await door.post(as('operations'), '/v1/sensors', `sensor/${key}`, { siteId: id(site), code, name, kind: 'air' });
    const there = 'place' in where ? { placeId: id(where.place) } : where;
    const path = `/v1/sensors/${id(`sensor/${key}`)}/locations`;
    await door.post(as('operations'), path, `sensor-location/${key}`, { from, ...there });
  }
  const { key, code, place, site } = BY_HAND;
  const sheet = { siteId: id(site), code, name: 'Sheet on the chiller door', kind: 'air' };
  await door.post(as('operations'), '/v1/sensors', `sensor/${key}`, sheet);
  const path = `/v1/sensors/${id(`sensor/${key}`)}/locations`;
  await door.post(as('operations'), path, `sensor-location/${key}`, { from, placeId: id(place) });
  await door.post(as('quality'), `/v1/places/${id(place)}/monitoring`, 'monitoring/care-chiller', {
    from: calendar.date(0),
    how: 'by-hand',
    gapMin: 13 * 60,
    note: 'Read at opening and at closing; nobody has fitted a logger yet',
  });
}

/** About a degree up and down over 90 minutes, each place at its own time. */
function usualCentiC(logger: Logger, atMs: number): number {
  const shift = logger.code.length * 11 * 60_000;
  return Math.round(logger.aboutCentiC + 50 * Math.sin((2 * Math.PI * (atMs + shift)) / (90 * 60_000)));
}

/** What was out of the ordinary, by sensor: from, to, and what it said. */
function unusual(calendar: Calendar): Readonly<Record<string, readonly (readonly [string, string, number])[]>> {
  const at = (day: number, time: string) => calendar.at(day, time);
  return {
    'VAN-1-AIR': [
      [at(LAST_DAY, '06:00'), at(LAST_DAY, '06:00'), 540],
      [at(LAST_DAY, '06:15'), at(LAST_DAY, '08:00'), 1100],
      [at(LAST_DAY, '08:15'), at(LAST_DAY, '08:15'), 610],
    ],
    // A door that stood open while a delivery was put away.
    'W9-CHILL-AIR': [[at(11, '07:30'), at(11, '07:30'), 790]],
  };
}

function linesOf(logger: Logger, calendar: Calendar, toMs: number): string {
  const odd = unusual(calendar)[logger.code] ?? [];
  const lines: string[] = [];
  const everyMs = 'vehicle' in logger.where ? VAN_EVERY_MS : EVERY_MS;
  for (let atMs = Date.parse(calendar.at(0, BEGIN)); atMs <= toMs; atMs += everyMs) {
    const then = odd.find(([from, to]) => atMs >= Date.parse(from) && atMs <= Date.parse(to));
    const centiC = then?.[2] ?? usualCentiC(logger, atMs);
    lines.push(`${logger.code},${new Date(atMs).toISOString()},${(centiC / 100).toFixed(2)}\n`);
  }
  return lines.join('');
}

function sheetOf(calendar: Calendar): string {
  const lines: string[] = [];
  for (let day = 0; day <= LAST_DAY; day += 1) {
    lines.push(`${BY_HAND.code},${calendar.at(day, '07:05')},${(3.1 + (day % 3) * 0.4).toFixed(1)}\n`);
    if (day < LAST_DAY)
      lines.push(`${BY_HAND.code},${calendar.at(day, '19:40')},${(3.6 + (day % 2) * 0.5).toFixed(1)}\n`);
  }
  return lines.join('');
}

/** Sends what the loggers and the sheet say, and lets the worker compute what follows. */
export async function sendTemperatures(door: Door, calendar: Calendar, db: Db): Promise<void> {
  const deviceTime = calendar.at(LAST_DAY, MIDDAY);
  door.setTime(deviceTime);
  const toMs = Date.parse(deviceTime);
  const clock = `?deviceTime=${encodeURIComponent(deviceTime)}`;
  const send = (site: string, lines: string) =>
    door.send(as('device', site), `/v1/readings${clock}`, `sensor,at,temperatureC\n${lines}`);
  for (const logger of LOGGERS) await send(logger.site, linesOf(logger, calendar, toMs));
  await send(BY_HAND.site, sheetOf(calendar));
  const job = recomputeTemperature({ db, clock: { nowMs: () => toMs }, log: createLog('error') });
  await job.run({ groupId: groupIdOf(DEMO_GROUP) });
}
