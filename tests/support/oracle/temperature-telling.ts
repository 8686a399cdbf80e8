/** Tells a story of food on its way to the service over HTTP, in any order and in any pieces, and reads what it says at the end. */
import { randomUUID } from 'node:crypto';
import { recomputeShelfLife } from '../../../src/features/shelf-life/index.ts';
import { recomputeTemperature } from '../../../src/features/temperature/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import type { Json, Kitchen } from '../kitchen.ts';
import { ACCOUNTS, BORN, PACKS, SENSORS } from './temperature-story.ts';
import type { Facts, Moved, Reading } from './exposure.ts';

const iso = (minute: number): string => new Date(minute * 60_000).toISOString();
const minuteOf = (instant: string | null): number | null => (instant === null ? null : Date.parse(instant) / 60_000);

/** A piece of the story as it arrives. */
export type Arrival = () => Promise<void>;

export interface Told {
  readonly lotId: string;
  readonly uploads: readonly Arrival[];
  readonly facts: readonly Arrival[];
  /** as the workers do when they are woken */
  work(): Promise<void>;
  send(readings: readonly Reading[]): Promise<Json>;
  /** what the service says, in the story's own names */
  end(): Promise<End>;
}

export interface End {
  readonly parts: Readonly<Record<string, Json>>;
  /** by subject; times in minutes from 1970 */
  readonly excursions: Readonly<Record<string, Json[]>>;
}

let told = 0;

/** Places, sensors and packs of a telling's own; nothing has happened to the packs yet, and no reading has come. */
export async function begin(kitchen: Kitchen, facts: Facts): Promise<Told> {
  const { service, world } = kitchen;
  told += 1;
  const name = (of: string) => `${of}-${told}`;
  service.clock.set(BORN * 60_000);
  const ids: Record<string, string> = {};
  for (const [account, siteId] of [
    ['CK', world.ckId],
    ['A', world.w3Id],
    ['B', world.w3Id],
  ] as const) {
    const place = { siteId, code: name(account), name: name(account), kind: 'chiller' };
    ids[account] = (await kitchen.post('operations', '/v1/places', place)).placeId;
  }
  const vehicle = name('Van');
  const where = (subject: string) => (subject === 'V' ? { vehicle } : { placeId: ids[subject] });
  for (const sensor of SENSORS) {
    const made = { siteId: world.ckId, code: name(sensor), name: sensor, kind: 'air' };
    ids[sensor] = (await kitchen.post('operations', '/v1/sensors', made)).sensorId;
  }
  const locate = (at: Facts['located'][number]) =>
    kitchen.post('operations', `/v1/sensors/${ids[at.sensor]}/locations`, { from: iso(at.from), ...where(at.subject) });
  for (const at of facts.located.filter((one) => one.from < BORN)) await locate(at);

  const shin = await kitchen.shin(PACKS * 400);
  const { batchId, lotId } = await kitchen.stew(shin, PACKS * 400, PACKS * 300);
  const own = { toPlaceId: ids['CK'], serialised: false };
  const packs = await kitchen.pack(batchId, lotId, PACKS * 300, PACKS, own);
  await kitchen.release(batchId);
  const of = (quantity: number) => ({ lotId: packs, quantity, unit: 'piece' });
  const line = { ...of(40), placeId: ids['CK'] };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, vehicle, lines: [line] };
  ids['road'] = (await kitchen.post('operations', '/v1/dispatches', plan)).dispatchId;
  service.clock.set(facts.now * 60_000);

  function happen({ minute, from, to, quantity }: Moved): Arrival {
    const id = randomUUID();
    const occurredAt = iso(minute);
    const send = async (path: string, body: object) => void (await kitchen.post('operations', path, { id, ...body }));
    if (to === 'road')
      return () => send(`/v1/dispatches/${ids['road']}/recorded-departure`, { departedAt: occurredAt });
    if (from === 'road') {
      const lines = [{ ...of(quantity), condition: 'accepted', placeId: ids[to ?? ''] }];
      return () => send(`/v1/dispatches/${ids['road']}/receipts`, { occurredAt, closes: false, lines });
    }
    if (to === null)
      return () => send('/v1/uses', { ...of(quantity), placeId: ids[from ?? ''], occurredAt, meal: 'lunch' });
    const places = { fromPlaceId: ids[from ?? ''], toPlaceId: ids[to] };
    return () => send('/v1/recorded-moves', { ...of(quantity), ...places, occurredAt });
  }

  async function send(readings: readonly Reading[]): Promise<Json> {
    const lines = readings.map((one) => `${name(one.sensor)},${iso(one.minute)},${(one.centiC / 100).toFixed(2)}`);
    const path = `/v1/readings?deviceTime=${encodeURIComponent(new Date(service.clock.nowMs()).toISOString())}`;
    const text = ['sensor,at,temperatureC', ...lines, ''].join('\n');
    const answer = await service.as('device', world.ckId).post(path, text, { 'content-type': 'text/csv' });
    if (answer.status !== 200 || answer.body.refused > 0) throw new Error(answer.text);
    return answer.body;
  }

  const relocations = facts.located.filter((one) => one.from >= BORN);
  return {
    lotId: packs,
    uploads: piecesOf(facts.readings).map((piece) => async () => void (await send(piece))),
    facts: [
      ...facts.moved.filter((one) => one.from !== null).map(happen),
      ...relocations.map((one) => {
        const id = randomUUID();
        const body = { id, from: iso(one.from), ...where(one.subject) };
        return async () => void (await kitchen.post('operations', `/v1/sensors/${ids[one.sensor]}/locations`, body));
      }),
    ],
    send,
    async work() {
      const parts = { db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') };
      await recomputeTemperature(parts).run({ groupId: service.groupId });
      await recomputeShelfLife(parts).run({ groupId: service.groupId });
    },
    async end() {
      const answer = await kitchen.get('quality', `/v1/lots/${packs}/shelf-life`);
      const parts: Record<string, Json> = {};
      for (const part of answer.parts as Json[]) {
        const account = ACCOUNTS.find((one) => ids[one] === (part.placeId ?? part.dispatchId));
        parts[account ?? part.where] = part;
      }
      const excursions: Record<string, Json[]> = {};
      for (const subject of ['CK', 'A', 'B', 'V']) {
        const query = subject === 'V' ? `siteId=${world.ckId}&limit=500` : `placeId=${ids[subject]}&limit=500`;
        const { items } = await kitchen.get('quality', `/v1/excursions?${query}`);
        const here = (items as Json[]).filter((one) => subject !== 'V' || one.vehicle === vehicle);
        excursions[subject] = here
          .map((one) => ({
            from: minuteOf(one.startAt),
            to: minuteOf(one.endAt),
            peakCentiC: Math.round(one.peakC * 100),
            minutes: one.outsideMs / 60_000,
            areaCMin: one.areaCMin,
            unseenMin: one.unmonitoredMs / 60_000,
          }))
          .sort((a, b) => (a.from ?? 0) - (b.from ?? 0));
      }
      return { parts, excursions };
    },
  };
}

/** Files of a sensor each, cut in three. */
function piecesOf(readings: readonly Reading[]): Reading[][] {
  const pieces: Reading[][] = [];
  for (const sensor of SENSORS) {
    const own = readings.filter((one) => one.sensor === sensor);
    const third = Math.ceil(own.length / 3);
    for (let at = 0; at < own.length; at += third) pieces.push(own.slice(at, at + third));
  }
  return pieces;
}
