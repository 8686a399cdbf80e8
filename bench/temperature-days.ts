/**
 * Temperature history. First: what 10,000 lots went through in 30 days of readings, a reading each five minutes, from the place-days in the database,
 * against a loop in memory over the same numbers that makes the same sums. Then: one new reading where there are ten times as many days of history,
 * against one where there are few.
 */
import { randomUUID } from 'node:crypto';
import pg from 'pg';
import { exposuresOf, recomputeTemperature, type Exposure } from '../src/features/temperature/index.ts';
import { createDb, type Db } from '../src/platform/db/db.ts';
import { createLog } from '../src/platform/log.ts';
import { measure, versionsOf, type Measured, type Result, type Side } from './measure.ts';
import { startBenchService, type BenchService } from './service.ts';

const PLACES = 50;
const HISTORY_DAYS = 45;
const STAY_DAYS = 30;
const LOTS = 10_000;
const EVERY_MS = 5 * 60_000;
const DAY_MS = 86_400_000;
const A_DAY = DAY_MS / EVERY_MS;
const SHORT_DAYS = 30;
const LONG_DAYS = 300;
/** At most twice the loop; ten times the history at most 1.2 times the cost. */
const GATE = 0.5;
const FLAT_GATE = 1 / 1.2;
const THRESHOLDS = [300, 500, 800, 1000, 800];

type Say = (line: string) => void;

interface Bench {
  readonly service: BenchService;
  readonly client: pg.Client;
  readonly db: Db;
  /** midnight, UTC: readings are of the days before it */
  readonly endMs: number;
  readonly placeIds: readonly string[];
  /** by place: each reading, oldest first, in hundredths of a degree */
  readonly readings: readonly Int16Array[];
}

/** A chiller: a degree up and down, now and then a warm hour. */
function readingsOf(seed: number, place: number, days: number): Int16Array {
  let state = (seed * 7919 + place * 104_729 + 1) >>> 0;
  const next = (): number => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
  let warm = 0;
  return Int16Array.from({ length: days * A_DAY }, (_, at) => {
    if (next() < 0.001) warm = 12;
    warm = Math.max(0, warm - 1);
    return Math.round(320 + 80 * Math.sin(at / 14) + 20 * next() + (warm > 0 ? 600 : 0));
  });
}

async function addPlace(service: BenchService, siteId: string, no: number, fromMs: number): Promise<string> {
  const [placeId, sensorId] = [randomUUID(), randomUUID()];
  await service.post('/v1/places', { id: placeId, siteId, code: `C-${no}`, name: `Chiller ${no}`, kind: 'chiller' });
  await service.post('/v1/sensors', { id: sensorId, siteId, code: `S-${no}`, name: `Logger ${no}`, kind: 'air' });
  const from = new Date(fromMs).toISOString();
  await service.post(`/v1/sensors/${sensorId}/locations`, { id: randomUUID(), from, placeId });
  return placeId;
}

/** By hand: that uploads are quick is measured elsewhere. */
async function putReadings(client: pg.Client, no: number, readings: Int16Array, endMs: number): Promise<void> {
  const fromMs = endMs - readings.length * EVERY_MS;
  await client.query(
    `insert into reading (group_no, sensor_no, at, recorded_at, centi_c, time_doubt)
     select g.group_no, s.sensor_no, to_timestamp(($2::float8 + (r.no - 1) * $3::float8) / 1000), now(), r.centi_c, false
       from sensor s join groups g using (group_id), unnest($4::int2[]) with ordinality as r(centi_c, no)
      where s.code = $1`,
    [`S-${no}`, fromMs, EVERY_MS, Array.from(readings)],
  );
  await client.query(
    `insert into place_day_dirty (group_id, subject, day)
     select p.group_id, 'place:' || p.place_id, d::date from place p, generate_series($2::date, $3::date, '1 day') d
      where p.code = $1 on conflict do nothing`,
    [`C-${no}`, new Date(fromMs).toISOString().slice(0, 10), new Date(endMs - 1).toISOString().slice(0, 10)],
  );
}

const recompute = (bench: Bench): Promise<void> =>
  recomputeTemperature({
    db: bench.db,
    clock: { nowMs: () => bench.endMs + DAY_MS / 2 },
    log: createLog('error'),
  }).run({ groupId: bench.service.groupId });

interface Stay {
  readonly place: number;
  /** indexes of readings: from one to another */
  readonly from: number;
  readonly to: number;
}

/** Each lot stood in one place, then in another; it came and went at some reading of a day. */
function staysOf(seed: number, lot: number): Stay[] {
  const start = (lot * 977 + seed) % ((HISTORY_DAYS - STAY_DAYS - 1) * A_DAY);
  const moved = start + 5 * A_DAY + ((lot * 131) % A_DAY);
  return [
    { place: lot % PLACES, from: start, to: moved },
    { place: (lot * 7 + 3) % PLACES, from: moved, to: start + STAY_DAYS * A_DAY },
  ];
}

function ours(bench: Bench, lots: readonly (readonly Stay[])[], keep: (answer: Exposure[]) => void): Side {
  const beginMs = bench.endMs - HISTORY_DAYS * DAY_MS;
  const lists = lots.map((stays) =>
    stays.map(({ place, from, to }) => ({
      subject: `place:${bench.placeIds[place] ?? ''}`,
      fromMs: beginMs + from * EVERY_MS,
      toMs: beginMs + to * EVERY_MS,
    })),
  );
  return {
    prepare: async () => ({
      units: lots.length,
      run: async () => keep(await bench.db.inGroup(bench.service.groupId, 'read', (tx) => exposuresOf(tx, lists))),
    }),
  };
}

interface Summed {
  readonly ms: Float64Array;
  readonly longestMs: number[];
  readonly totalMs: number[];
}

/** The same sums by one loop: between two readings the warmer one counts. */
function loopOver(readings: readonly Int16Array[], stays: readonly Stay[]): Summed {
  const ms = new Float64Array(2_000);
  const longestMs = [0, 0, 0, 0, 0];
  const totalMs = [0, 0, 0, 0, 0];
  const runMs = [0, 0, 0, 0, 0];
  for (const { place, from, to } of stays) {
    const values = readings[place] as Int16Array;
    for (let at = from; at < to; at += 1) {
      const here = values[at] as number;
      const next = values[at + 1] as number;
      const warmer = next > here ? next : here;
      ms[warmer] = (ms[warmer] as number) + EVERY_MS;
      for (let no = 0; no < 5; no += 1) {
        if (warmer > (THRESHOLDS[no] as number)) {
          runMs[no] = (runMs[no] as number) + EVERY_MS;
          totalMs[no] = (totalMs[no] as number) + EVERY_MS;
          if ((runMs[no] as number) > (longestMs[no] as number)) longestMs[no] = runMs[no] as number;
        } else runMs[no] = 0;
      }
    }
  }
  return { ms, longestMs, totalMs };
}

function loop(bench: Bench, lots: readonly (readonly Stay[])[], keep: (answer: Summed[]) => void): Side {
  return {
    prepare: async () => ({
      units: lots.length,
      run: async () => keep(lots.map((stays) => loopOver(bench.readings, stays))),
    }),
  };
}

/** Both made the same sums, to the millisecond. */
function compare(answers: readonly Exposure[], loops: readonly Summed[]): void {
  answers.forEach((answer, lot) => {
    const summed = loops[lot] as Summed;
    const wrong = answer.hist.centiC.some((centiC, at) => summed.ms[centiC] !== answer.hist.ms[at]);
    const whole = answer.hist.ms.reduce((sum, one) => sum + one, 0) === STAY_DAYS * DAY_MS;
    const runs = answer.runs.every(
      ({ counted }, no) => counted.longestMs === summed.longestMs[no] && counted.totalMs === summed.totalMs[no],
    );
    if (wrong || !whole || !runs || answer.unmonitoredMs !== 0) throw new Error(`lot ${lot} is summed otherwise`);
  });
}

/** One reading after the last one of a place, and everything that follows from it. */
function oneReading(bench: Bench, no: number): Side {
  let count = 0;
  return {
    async prepare() {
      const atMs = bench.endMs + count * EVERY_MS;
      count += 1;
      return {
        units: 1,
        async run() {
          await bench.client.query(
            `with r as (
               insert into reading (group_no, sensor_no, at, recorded_at, centi_c, time_doubt)
               select g.group_no, s.sensor_no, to_timestamp($2::float8 / 1000), now(), 310, false
                 from sensor s join groups g using (group_id) where s.code = $1)
             insert into place_day_dirty (group_id, subject, day)
             select p.group_id, 'place:' || p.place_id, (to_timestamp($2::float8 / 1000) at time zone 'UTC')::date
               from place p where p.code = $3`,
            [`S-${no}`, atMs, `C-${no}`],
          );
          await recompute(bench);
        },
      };
    },
  };
}

const shown = ({ min, median, max }: { min: number; median: number; max: number }): string =>
  `${Math.round(median)} (${Math.round(min)} to ${Math.round(max)})`;

export async function temperatureDays(options: { seed: number; quick: boolean; say: Say }): Promise<Result> {
  const service = await startBenchService();
  const client = new pg.Client(service.databaseUrl);
  const db = createDb({
    url: service.databaseUrl,
    poolSize: 2,
    preparedStatements: true,
    log: createLog('error'),
    statementTimeoutMs: 600_000,
  });
  try {
    await client.connect();
    return await run({ service, client, db }, options);
  } finally {
    await client.end();
    await db.end();
    await service.stop();
  }
}

async function run(
  parts: Pick<Bench, 'service' | 'client' | 'db'>,
  { seed, quick, say }: { seed: number; quick: boolean; say: Say },
): Promise<Result> {
  const { service, client } = parts;
  const endMs = Math.floor(Date.now() / DAY_MS) * DAY_MS - DAY_MS;
  const siteId = randomUUID();
  const here = { timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };
  await service.post('/v1/sites', { id: siteId, code: 'CK', name: 'Kitchen', kind: 'central-kitchen', ...here });
  await client.query(
    `select make_reading_month(m::date) from generate_series(now() - interval '400 days', now(), interval '1 month') m`,
  );
  const placeIds: string[] = [];
  const readings: Int16Array[] = [];
  for (let no = 0; no < PLACES + 2; no += 1) {
    const days = no < PLACES ? HISTORY_DAYS : no === PLACES ? SHORT_DAYS : LONG_DAYS;
    placeIds.push(await addPlace(service, siteId, no, endMs - (LONG_DAYS + 1) * DAY_MS));
    readings.push(readingsOf(seed, no, days));
    await putReadings(client, no, readings[no] as Int16Array, endMs);
  }
  const bench: Bench = { ...parts, endMs, placeIds, readings };
  const startedMs = Date.now();
  // The service's own worker may be at it as well.
  do await recompute(bench);
  while ((await client.query('select from place_day_dirty limit 1')).rowCount !== 0);
  await client.query('analyze');
  const days = PLACES * HISTORY_DAYS + SHORT_DAYS + LONG_DAYS;
  say(`${days} place-days of ${A_DAY} readings computed in ${Date.now() - startedMs} ms`);

  const cases: Record<string, Measured> = {};
  const lots = Array.from({ length: LOTS }, (_, lot) => staysOf(seed, lot));
  const last: { answers: Exposure[]; loops: Summed[] } = { answers: [], loops: [] };
  const exposures = await measure(
    ours(bench, lots, (answers) => void (last.answers = answers)),
    loop(bench, lots, (loops) => void (last.loops = loops)),
    quick ? { pairs: 3, warmUps: 1 } : { pairs: 7, warmUps: 2 },
  );
  compare(last.answers, last.loops);
  cases['exposure of 10,000 lots'] = exposures;
  say(
    `lots/s: ours ${shown(exposures.ours)}, loop ${shown(exposures.ceiling)}, ratio ${exposures.ratio.median.toFixed(2)}`,
  );
  const flat = await measure(
    oneReading(bench, PLACES + 1),
    oneReading(bench, PLACES),
    quick ? { pairs: 40, warmUps: 10 } : { pairs: 150, warmUps: 20 },
  );
  cases['one new reading, ten times the history'] = flat;
  say(
    `readings/s one at a time: ${LONG_DAYS} days ${shown(flat.ours)}, ${SHORT_DAYS} days ${shown(flat.ceiling)}, ratio ${flat.ratio.median.toFixed(2)}`,
  );
  return {
    name: 'temperature-days',
    unit: 'lots/s, readings/s',
    gate: GATE,
    passed: exposures.ratio.median >= GATE && flat.ratio.median >= FLAT_GATE,
    seed,
    versions: versionsOf(service.serverVersion),
    cases,
    checks: ['all sums of all lots are those of the loop, to the millisecond; runs above each threshold too'],
  };
}
