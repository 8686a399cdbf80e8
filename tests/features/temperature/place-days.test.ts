/**
 * The worker: two of them beside each other while readings come in any order and in any parts, a worker that dies half-way, a minute's sweep. Whatever
 * happened, what is kept in the end is what one pass over everything gives.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { exposureOf, recomputeTemperature } from '../../../src/features/temperature/index.ts';
import type { Db } from '../../../src/platform/db/db.ts';
import { createLog } from '../../../src/platform/log.ts';
import { startService, type TestService } from '../../support/service.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const NOON_MS = Date.UTC(2026, 10, 25, 12);
const BEGIN_MS = Date.UTC(2026, 10, 20);

let service: TestService;
let world: World;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
});
afterAll(() => service.stop());

const iso = (ms: number): string => new Date(ms).toISOString();

async function logger(placeId: string, kind = 'air'): Promise<string> {
  const sensorId = randomUUID();
  const code = `L-${sensorId.slice(0, 8)}`;
  const sensor = { id: sensorId, siteId: world.ckId, code, name: 'A logger', kind };
  expect((await service.as('operations').post('/v1/sensors', sensor)).status).toBe(201);
  const where = { id: randomUUID(), from: iso(BEGIN_MS - DAY_MS), placeId };
  expect((await service.as('operations').post(`/v1/sensors/${sensorId}/locations`, where)).status).toBe(201);
  return code;
}

const worker = (db: Db = service.db) =>
  recomputeTemperature({ db, clock: service.clock, log: createLog('error') }).run({ groupId: service.groupId });

type Line = readonly [atMs: number, temperatureC: number];

async function send(code: string, lines: readonly Line[]): Promise<void> {
  const readings = lines.map(([atMs, temperatureC]) => ({ sensor: code, at: iso(atMs), temperatureC }));
  const body = { deviceTime: iso(NOON_MS), readings };
  const answer = await service.as('device', world.ckId).post('/v1/readings', body);
  expect(answer.status, answer.text).toBe(200);
}

/** What is kept of a place, without when it was computed. */
async function kept(placeId: string): Promise<unknown[]> {
  return asAdmin(service.databaseUrl, async (owner) => {
    const { rows: days } = await owner.query(
      `select day::text, hist_centi_c, hist_ms, unseen_centi_c, unseen_ms, threshold_centi_c, run_ms, encode(segments, 'hex') as segments,
              last_ms, seen_centi_c, edge_first, edge_last from place_day where subject = $1 order by day`,
      [`place:${placeId}`],
    );
    const { rows: excursions } = await owner.query(
      `select side, start_at, end_at, peak_centi_c, outside_ms, area_centi_ms, unmonitored_ms, suspected from excursion
        where place_id = $1 and state <> 'superseded' order by start_at`,
      [placeId],
    );
    return [days, excursions];
  });
}

/** Mulberry32: the same numbers on every run. */
function chance(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** Five days with gaps, silent days, warm hours over midnight. */
function history(seed: number): Line[] {
  const next = chance(seed);
  const lines: Line[] = [];
  for (let atMs = BEGIN_MS; atMs < NOON_MS; atMs += 15 * MINUTE_MS) {
    if (next() < 0.02) atMs += Math.floor(next() * 30) * 60 * MINUTE_MS;
    const warm = Math.floor(atMs / (7 * 3_600_000)) % 4 === 0;
    if (atMs < NOON_MS) lines.push([atMs, Math.round((warm ? 9 : 3) * 100 + next() * 200) / 100]);
  }
  return lines;
}

function shuffled<T>(list: readonly T[], next: () => number): T[] {
  const out = [...list];
  for (let at = out.length - 1; at > 0; at -= 1) {
    const other = Math.floor(next() * (at + 1));
    [out[at], out[other]] = [out[other] as T, out[at] as T];
  }
  return out;
}

test('two workers beside each other, parts in any order and twice: kept is what one pass gives', async () => {
  const lines = history(11);
  const once = await logger(world.ckFreezerId);
  await send(once, lines);
  await worker();
  const wanted = await kept(world.ckFreezerId);
  expect((wanted[0] as unknown[]).length).toBeGreaterThan(3);
  expect((wanted[1] as unknown[]).length).toBeGreaterThan(0);

  const next = chance(5);
  const other = await logger(world.ckChillerId);
  // As the freezer is watched, so that the same must come out.
  const watched = {
    upperC: -15,
    gapMin: 60,
    delayMin: 60,
    between: 'warmer-end',
    from: iso(BEGIN_MS - DAY_MS).slice(0, 10),
  };
  const stated = await service
    .as('quality')
    .post(`/v1/places/${world.ckChillerId}/monitoring`, { id: randomUUID(), ...watched });
  expect(stated.status, stated.text).toBe(201);
  const mixed = shuffled([...lines, ...lines.slice(0, 60)], next);
  const parts = Array.from({ length: 12 }, (_, at) => mixed.filter((_line, no) => no % 12 === at));
  await Promise.all([
    ...parts.map((part) => send(other, part)),
    worker(),
    (async () => {
      for (let round = 0; round < 6; round += 1) await worker();
    })(),
  ]);
  await worker();
  expect(await kept(world.ckChillerId)).toEqual(wanted);
}, 60_000);

test('a worker that dies after computing leaves the days waiting, and the next one takes them up', async () => {
  const code = await logger(world.w3ChillerId);
  await send(code, [
    [NOON_MS - 60 * MINUTE_MS, 3],
    [NOON_MS - 30 * MINUTE_MS, 4],
  ]);
  const dying: Db = {
    ...service.db,
    inGroup: (groupId, mode, fn) =>
      service.db.inGroup(groupId, mode, async (tx) => {
        const answer = await fn(tx);
        if (
          mode === 'write' &&
          (await tx.query('select from place_day d where d.subject = $1', [`place:${world.w3ChillerId}`])).length > 0
        )
          throw new Error('power cut');
        return answer;
      }),
  };
  await expect(worker(dying)).rejects.toThrow('power cut');
  const stay = { subject: `place:${world.w3ChillerId}`, fromMs: NOON_MS - 60 * MINUTE_MS, toMs: NOON_MS };
  const exposure = (ongoing: boolean) =>
    service.db.inGroup(service.groupId, 'read', (tx) => exposureOf(tx, [{ ...stay, ongoing }]));
  const rows = () =>
    asAdmin(service.databaseUrl, async (owner) => [
      (await owner.query('select from place_day where subject = $1', [stay.subject])).rowCount,
      (await owner.query('select from place_day_dirty where subject = $1', [stay.subject])).rowCount,
    ]);
  // Every day since the logger was put there waits.
  expect(await rows()).toEqual([0, 7]);
  // Half an hour at 4 °C between the readings; since the last one nothing has been heard. 8 °C is the chiller's limit.
  const waiting = await exposure(false);
  expect(waiting.hist).toEqual({ centiC: [400, 800], ms: [30 * MINUTE_MS, 30 * MINUTE_MS] });
  expect(waiting.unmonitoredMs).toBe(30 * MINUTE_MS);
  await worker();
  expect(await rows()).toEqual([1, 0]);
  expect(await exposure(false)).toEqual(waiting);
  // Food that is still there: the next reading is only due.
  expect((await exposure(true)).hist).toEqual({ centiC: [400], ms: [60 * MINUTE_MS] });
  expect((await exposure(true)).unmonitoredMs).toBe(0);
});

test('a sensor that was elsewhere after all: its days go from one place and come to the other', async () => {
  const code = await logger(world.ckQuarantineId);
  await send(code, [
    [NOON_MS - 2 * DAY_MS, 12],
    [NOON_MS - 2 * DAY_MS + 30 * MINUTE_MS, 12],
  ]);
  await worker();
  expect((await kept(world.ckQuarantineId))[0]).toHaveLength(1);
  const stay = { subject: `place:${world.ckQuarantineId}`, fromMs: NOON_MS - 60 * MINUTE_MS, toMs: NOON_MS };
  const counted = async () =>
    (await service.db.inGroup(service.groupId, 'read', (tx) => exposureOf(tx, [stay]))).hist.centiC;
  // 12 °C was seen last.
  expect(await counted()).toEqual([1200]);
  const sensors = await service.as('quality').get('/v1/sensors');
  const found = (sensors.body.items as { code: string; sensorId: string }[]).find((one) => one.code === code);
  const moved = { id: randomUUID(), from: iso(BEGIN_MS), placeId: world.ckPrepId };
  const answer = await service.as('operations').post(`/v1/sensors/${found?.sensorId}/locations`, moved);
  expect(answer.status, answer.text).toBe(201);
  // Nothing was ever seen there; the limit of a chiller is 8 °C. The same before and after the worker has been there.
  expect(await counted()).toEqual([800]);
  await worker();
  expect(await counted()).toEqual([800]);
  expect((await kept(world.ckQuarantineId))[0]).toHaveLength(0);
  expect((await kept(world.ckPrepId))[0]).toHaveLength(1);
});

test('what lies between packs counts for nothing, and a lag that somebody validated makes a warm quarter of an hour none', async () => {
  const cold = await logger(world.ckReceivingId);
  const between = await logger(world.ckReceivingId, 'between-packs');
  const quality = service.as('quality');
  const path = `/v1/places/${world.ckReceivingId}/monitoring`;
  const lag = { how: 'sensor', from: '2026-11-24', upperC: 8, gapMin: 60, lagMin: 30 };
  const alone = await quality.post(path, { id: randomUUID(), ...lag });
  expect([alone.status, alone.body.code]).toEqual([422, 'rule-broken']);
  const stated = await quality.post(path, { id: randomUUID(), ...lag, lagValidatedBy: 'Nora Pell' });
  expect(stated.status, stated.text).toBe(201);
  const at = (minutes: number): number => NOON_MS - 4 * 60 * MINUTE_MS + minutes * MINUTE_MS;
  await send(between, [
    [at(0), 40],
    [at(60), 40],
  ]);
  // A quarter of an hour warm from 20 minutes on, then three quarters from 75 on: of these 45, 30 are the lag; food is as long warm, later.
  const warm = (minute: number): boolean => (minute >= 25 && minute <= 30) || (minute >= 80 && minute <= 115);
  const minutes = Array.from({ length: 49 }, (_, no) => no * 5);
  await send(
    cold,
    minutes.map((minute) => [at(minute), warm(minute) ? 12 : 3]),
  );
  await worker();
  const stay = { subject: `place:${world.ckReceivingId}`, fromMs: at(61), toMs: at(240) };
  const { hist } = await service.db.inGroup(service.groupId, 'read', (tx) => exposureOf(tx, [stay]));
  expect(hist).toEqual({ centiC: [300, 1200], ms: [(179 - 45) * MINUTE_MS, 45 * MINUTE_MS] });
});
