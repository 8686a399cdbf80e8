/**
 * Readings: POST /v1/readings with 50,000 a call against a bare COPY into a staging table plus insert on conflict into the same table, with
 * the same keys, role and policies, by hand on one connection. A hundred loggers, each in a place of its own. Then the same upload once more, against a fresh one. Bodies and COPY data are
 * made before the clock starts; the answer is read within the time and looked at after it.
 */
import { readFileSync } from 'node:fs';
import http from 'node:http';
import { randomUUID } from 'node:crypto';
import { createGzip, gzipSync } from 'node:zlib';
import pg from 'pg';
import { from as copyFrom } from 'pg-copy-streams';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { measure, versionsOf, type Measured, type Result, type Side } from './measure.ts';
import { startBenchService, type BenchService } from './service.ts';

const SENSORS = 100;
const EACH = 500;
const LINES = SENSORS * EACH;
const EVERY_MS = 5 * 60_000;
/** The least median ratio of uploads to the ceiling, and of repeated uploads to fresh ones. */
const GATE = 0.6;
const REPEAT_GATE = 1.5;
/** What the process may hold at most, in MiB. */
const MOST_MIB = 512;

type Say = (line: string) => void;
type Format = 'text/csv' | 'application/x-ndjson' | 'application/json';

interface Bench {
  readonly service: BenchService;
  readonly client: pg.Client;
  readonly codes: readonly string[];
  readonly sensorNos: readonly number[];
  readonly groupNo: number;
  readonly startMs: number;
}

/** Sensors in pairs: one side writes to the even ones, the other to the odd ones, over the same times. */
async function makeSensors(service: BenchService): Promise<{ codes: string[] }> {
  const site = randomUUID();
  const here = { timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };
  await service.post('/v1/sites', { id: site, code: 'CK', name: 'Kitchen', kind: 'central-kitchen', ...here });
  const codes: string[] = [];
  const from = new Date(Date.now() - 390 * 86_400_000).toISOString();
  for (let at = 0; at < 2 * SENSORS; at += 1) {
    const [id, place] = [randomUUID(), randomUUID()];
    const code = `LOGGER-${at}`;
    await service.post('/v1/places', { id: place, siteId: site, code: `COLD-${at}`, name: code, kind: 'chiller' });
    await service.post('/v1/sensors', { id, siteId: site, code, name: code, kind: 'air' });
    await service.post(`/v1/sensors/${id}/locations`, { id: randomUUID(), from, placeId: place });
    codes.push(code);
  }
  return { codes };
}

const celsius = (at: number): number => (200 + ((at * 37) % 450)) / 100;
const fromOf = (bench: Bench, turn: number): number => bench.startMs + turn * EACH * EVERY_MS;

function bodyOf(bench: Bench, turn: number, format: Format): string {
  const rows = Array.from({ length: LINES }, (_, at) => ({
    sensor: bench.codes[2 * Math.floor(at / EACH)] ?? '',
    at: new Date(fromOf(bench, turn) + (at % EACH) * EVERY_MS).toISOString(),
    temperatureC: celsius(at),
  }));
  if (format === 'application/json') return JSON.stringify({ readings: rows });
  if (format === 'application/x-ndjson') return rows.map((row) => `${JSON.stringify(row)}\n`).join('');
  return `sensor,at,temperatureC\n${rows.map((row) => `${row.sensor},${row.at},${row.temperatureC}\n`).join('')}`;
}

async function upload({ service }: Bench, body: string | Buffer, format: Format, packed: boolean): Promise<string> {
  const answer = await fetch(`${service.url}/v1/readings`, {
    method: 'POST',
    headers: {
      authorization: service.authorization,
      'content-type': format,
      ...(packed && { 'content-encoding': 'gzip' }),
    },
    body: body as string,
  });
  const text = await answer.text();
  if (answer.status !== 200) throw new Error(`readings answered ${answer.status}: ${text}`);
  return text;
}

function expectCounts(text: string, stored: number): void {
  const counts = JSON.parse(text) as Record<string, number>;
  const fits = counts['received'] === LINES && counts['stored'] === stored && counts['duplicates'] === LINES - stored;
  if (!fits) throw new Error(`the counts are wrong: ${text.slice(0, 300)}`);
}

/** The worker that follows uploads has done with the last one before the next is timed; it has a bench of its own. */
async function quiet({ client }: Bench): Promise<void> {
  for (;;) {
    const { rows } = await client.query<{ n: number }>('select count(*)::int as n from place_day_dirty');
    if (rows[0]?.n === 0) return;
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
}

interface Turns {
  next: number;
}

function freshOf(bench: Bench, turns: Turns, format: Format, packed = false): Side {
  return {
    async prepare() {
      const text = bodyOf(bench, turns.next, format);
      turns.next += 1;
      const body = packed ? gzipSync(text) : text;
      await quiet(bench);
      return { units: LINES, run: async () => expectCounts(await upload(bench, body, format, packed), LINES) };
    },
  };
}

function repeatOf(bench: Bench, turns: Turns, format: Format): Side {
  return {
    async prepare() {
      const body = bodyOf(bench, turns.next - 1, format);
      await quiet(bench);
      return { units: LINES, run: async () => expectCounts(await upload(bench, body, format, false), 0) };
    },
  };
}

/** Text COPY of prepared pieces, then the insert, in a transaction of the application's role with the group set. */
function ceilingOf(bench: Bench, turns: Turns): Side {
  const { client, groupNo } = bench;
  return {
    async prepare() {
      const fromMs = fromOf(bench, turns.next);
      turns.next += 1;
      const pieces: Buffer[] = [];
      for (let at = 0; at < LINES; at += 5000) {
        let piece = '';
        for (let one = at; one < at + 5000; one += 1) {
          const sensorNo = bench.sensorNos[2 * Math.floor(one / EACH) + 1];
          const when = new Date(fromMs + (one % EACH) * EVERY_MS).toISOString();
          piece += `${sensorNo}\t${when}\t${Math.round(celsius(one) * 100)}\tt\n`;
        }
        pieces.push(Buffer.from(piece));
      }
      await quiet(bench);
      return {
        units: LINES,
        async run() {
          await client.query(
            `begin; set local role sealtrail_app; select set_config('app.group_id', '${bench.service.groupId}', true);
             create temp table staging (sensor_no int, at timestamptz, centi_c int2, time_doubt boolean) on commit drop`,
          );
          const copy = client.query(copyFrom('copy staging from stdin'));
          await pipeline(Readable.from(pieces), copy);
          const { rowCount } = await client.query(
            `insert into reading (group_no, sensor_no, at, recorded_at, centi_c, time_doubt)
             select ${groupNo}, s.sensor_no, s.at, now(), s.centi_c, s.time_doubt from staging s
             on conflict (group_no, sensor_no, at, centi_c) do nothing`,
          );
          await client.query('commit');
          if (rowCount !== LINES) throw new Error(`the ceiling stored ${rowCount}`);
        },
      };
    },
  };
}

const IMPORT_LINES = 1_000_000;

/** A long file, from its first byte to the last reading being in the set. Answers readings per second. */
async function importRate(bench: Bench, lines: number): Promise<number> {
  const { service, codes } = bench;
  const fromMs = bench.startMs + 300 * 86_400_000;
  async function* text(): AsyncGenerator<Buffer> {
    yield Buffer.from('sensor,at,temperatureC\n');
    for (let at = 0; at < lines; at += 1000) {
      const rows = Array.from({ length: 1000 }, (_, one) => {
        const n = at + one;
        return `${codes[n % SENSORS]},${new Date(fromMs + Math.floor(n / SENSORS) * EVERY_MS).toISOString()},${celsius(n)}\n`;
      });
      yield Buffer.from(rows.join(''));
    }
  }
  const startedNs = process.hrtime.bigint();
  const { authorization } = service;
  const sent = await fetch(`${service.url}/v1/reading-imports`, {
    method: 'POST',
    headers: { authorization, 'content-type': 'text/csv', 'content-encoding': 'gzip' },
    body: Readable.toWeb(Readable.from(text()).pipe(createGzip({ level: 1 }))),
    duplex: 'half',
  });
  if (sent.status !== 202) throw new Error(`the import answered ${sent.status}: ${await sent.text()}`);
  const events = await fetch(`${service.url}${sent.headers.get('location')}/events`, { headers: { authorization } });
  const last = (await events.text()).trimEnd().split('\n\n').at(-1) ?? '';
  const done = JSON.parse(last.slice(last.indexOf('{'))) as Record<string, unknown>;
  if (done['state'] !== 'done' || done['stored'] !== lines)
    throw new Error(`the import ended with ${last.slice(0, 300)}`);
  return lines / (Number(process.hrtime.bigint() - startedNs) / 1e9);
}

/** A gigabyte without an announced length. Answers the status. */
async function sendGigabyte({ service }: Bench): Promise<number> {
  const piece = Buffer.alloc(1024 * 1024, ' \n');
  async function* endless(): AsyncGenerator<Buffer> {
    yield Buffer.from('sensor,at,temperatureC\n');
    for (let sent = 0; sent < 1024; sent += 1) yield piece;
  }
  const { hostname, port } = new URL(service.url);
  const headers = { authorization: service.authorization, 'content-type': 'text/csv' };
  return new Promise((resolve, reject) => {
    const request = http.request({ hostname, port, method: 'POST', path: '/v1/readings', headers }, (response) => {
      response.resume();
      resolve(response.statusCode ?? 0);
    });
    // The service hangs up on whoever goes on sending; its answer has come before that.
    request.on('error', reject);
    Readable.from(endless()).pipe(request);
  });
}

/** The most that the service's process has ever held, in MiB. */
function peakMib(pid: number): number {
  const kib = /^VmHWM:\s+(\d+) kB$/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1];
  return Number(kib) / 1024;
}

export async function readings(options: { seed: number; quick: boolean; say: Say }): Promise<Result> {
  const service = await startBenchService();
  const client = new pg.Client(service.databaseUrl);
  try {
    await client.connect();
    const { codes } = await makeSensors(service);
    const { rows } = await client.query<{ no: number; group_no: number }>(
      `select s.sensor_no as no, g.group_no from sensor s join groups g using (group_id)
        order by substr(s.code, 8)::int`,
    );
    // As the job does it ahead of time.
    await client.query(
      `select make_reading_month(m::date) from generate_series(now() - interval '400 days', now(), interval '1 month') m`,
    );
    const startMs = Math.floor(Date.now() / 86_400_000 - 380) * 86_400_000;
    const bench = {
      service,
      client,
      codes,
      sensorNos: rows.map((row) => row.no),
      groupNo: rows[0]?.group_no ?? 0,
      startMs,
    };
    return await compare(bench, options);
  } finally {
    await client.end();
    await service.stop();
  }
}

async function compare(
  bench: Bench,
  { seed, quick, say }: { seed: number; quick: boolean; say: Say },
): Promise<Result> {
  const turns = quick ? { pairs: 3, warmUps: 1 } : { pairs: 7, warmUps: 2 };
  const cases: Record<string, Measured> = {};
  // Each side its own times: what one wrote must not stand in the other's way.
  const [ours, theirs] = [{ next: 0 }, { next: 0 }];
  for (const [name, format, packed] of [
    ['CSV', 'text/csv', false],
    ['lines of JSON', 'application/x-ndjson', false],
    ['JSON', 'application/json', false],
    ['CSV, gzip', 'text/csv', true],
  ] as const) {
    const measured = await measure(freshOf(bench, ours, format, packed), ceilingOf(bench, theirs), turns);
    cases[name] = measured;
    say(
      `${name}: ours ${shown(measured.ours)}, ceiling ${shown(measured.ceiling)} readings/s, ratio ${measured.ratio.median.toFixed(2)}`,
    );
  }
  // Fresh goes second when repeats go first: a repeat is always of the last fresh one.
  const repeated = await measure(repeatOf(bench, ours, 'text/csv'), freshOf(bench, ours, 'text/csv'), turns);
  cases['CSV again, against fresh'] = repeated;
  say(
    `again: ${shown(repeated.ours)}, fresh ${shown(repeated.ceiling)} readings/s, ratio ${repeated.ratio.median.toFixed(2)}`,
  );
  const lines = quick ? IMPORT_LINES / 10 : IMPORT_LINES;
  const rate = await importRate(bench, lines);
  const refused = await sendGigabyte(bench);
  const peak = peakMib(bench.service.pid);
  const checks = [
    'every upload was stored whole, every repeat not at all, by the counts of the answers',
    `an import of ${lines} lines went in at ${Math.round(rate)} readings/s, from its first byte to its last reading`,
    `a body of 1 GiB answered ${refused}`,
    `the process held at most ${Math.round(peak)} MiB of ${MOST_MIB} MiB`,
  ];
  for (const line of checks) say(line);
  const passed = Object.entries(cases).every(
    ([name, { ratio }]) => ratio.median >= (name.includes('again') ? REPEAT_GATE : GATE),
  );
  const versions = { ...versionsOf(bench.service.serverVersion) };
  return {
    name: 'readings',
    unit: 'readings/s',
    gate: GATE,
    passed: passed && peak <= MOST_MIB && refused === 413,
    seed,
    versions,
    cases,
    checks,
  };
}

const shown = ({ min, median, max }: { min: number; median: number; max: number }): string =>
  `${Math.round(median)} (${Math.round(min)} to ${Math.round(max)})`;
