/** Long files: kept at once, worked through piece by piece, counted exactly, and told about as they go on. */
import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { temperatureJobs } from '../../../src/features/temperature/index.ts';
import { startService, type TestService } from '../../support/service.ts';
import { run } from '../../support/started.ts';
import { asAdmin } from '../../support/test-server.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  for (const code of ['A', 'B']) {
    const siteId = code === 'A' ? world.ckId : world.w3Id;
    const answer = await service
      .as('operations')
      .post('/v1/sensors', { id: randomUUID(), siteId, code, name: code, kind: 'air' });
    expect(answer.status, answer.text).toBe(201);
  }
});
afterAll(() => service.stop());

const work = async (name = 'import-readings') => {
  const job = temperatureJobs(service).find((one) => one.name === name);
  await job?.run({ groupId: service.groupId });
};
const START_MS = Date.UTC(2026, 9, 1);
const at = (n: number) => new Date(START_MS + n * 1000).toISOString();
const owner = (sql: string) =>
  asAdmin(service.databaseUrl, (client) =>
    client.query(sql).then((result) => result.rows as Record<string, unknown>[]),
  );

test('a file of several pieces is the set of its lines; every line is counted, problems keep their numbers', async () => {
  const count = 120_000;
  const lines = Array.from({ length: count }, (_, n) => `A,${at(n)},${(n % 100) / 10}`);
  lines[70_000] = `B,${at(70_000)},4`; // another site's sensor
  lines[90_000] = `A,${at(90_000)},warm`;
  lines[110_000] = lines[3] ?? '';
  const body = gzipSync(`sensor,at,temperatureC\n${lines.join('\n')}\n`);
  const key = randomUUID();
  const headers = { 'content-type': 'text/csv', 'content-encoding': 'gzip', 'idempotency-key': key };
  const device = service.as('device', world.ckId);
  const answer = await device.post('/v1/reading-imports', body, headers);
  expect(answer.status, answer.text).toBe(202);
  expect(answer.headers.location).toBe(`/v1/reading-imports/${key}`);
  expect(answer.body).toMatchObject({ state: 'waiting', percent: 0, received: 0 });
  expect((await owner('select count(*)::int as n from reading_import_chunk'))[0]?.n).toBeGreaterThan(1);

  const path = `/v1/reading-imports/${key}`;
  const listening = device.get(`${path}/events`);
  await work();
  const { text, headers: said } = await listening;
  expect(said['content-type']).toBe('text/event-stream');
  expect(text.startsWith('event: progress\ndata: {')).toBe(true);
  const last = text.trimEnd().split('\n\n').at(-1) ?? '';
  expect(last.startsWith('event: done\ndata: ')).toBe(true);
  const done = await device.get(path);
  expect(JSON.parse(last.slice(last.indexOf('{')))).toEqual(done.body);
  expect(done.body).toMatchObject({
    state: 'done',
    percent: 100,
    received: count,
    stored: count - 3,
    duplicates: 1,
    conflicts: 0,
    refused: 2,
    problems: [
      { line: 70_002, pointer: '/sensor', code: 'sensor-unknown' },
      { line: 90_002, pointer: '/temperatureC', code: 'temperature-unreadable' },
    ],
  });
  expect(await owner('select count(*)::int as n from reading')).toEqual([{ n: count - 3 }]);
  expect(await owner('select count(*)::int as n from reading_import_chunk')).toEqual([{ n: 0 }]);

  // Sent again: the same import, and no piece of it stays. Another file under that name is refused.
  expect((await device.post('/v1/reading-imports', body, headers)).body).toEqual(done.body);
  expect(await owner('select count(*)::int as n from reading_import_chunk')).toEqual([{ n: 0 }]);
  const other = gzipSync('sensor,at,temperatureC\n');
  expect((await device.post('/v1/reading-imports', other, headers)).body.code).toBe('id-used-with-other-content');
  // At another site nobody knows of it.
  expect((await service.as('device', world.w3Id).get(path)).status).toBe(404);
  expect((await service.as('device').get(path)).status).toBe(200);
});

test('JSON and an empty file are imports as well', async () => {
  const device = service.as('device', world.ckId);
  const readings = [{ sensor: 'A', at: at(0), temperatureC: 20 }, 7, { sensor: 'A', at: at(0), temperatureC: 0 }];
  const json = await device.post('/v1/reading-imports', { readings });
  const empty = await device.post('/v1/reading-imports', '', { 'content-type': 'application/x-ndjson' });
  await work();
  const { body } = await device.get(json.headers.location ?? '');
  expect(body).toMatchObject({ received: 3, stored: 1, duplicates: 1, conflicts: 1, refused: 1, percent: 100 });
  expect(body.problems).toMatchObject([{ line: 2, pointer: '/readings/1', code: 'line-unreadable' }]);
  expect((await device.get(empty.headers.location ?? '')).body).toMatchObject({ received: 0, state: 'done' });
});

test('a wrong heading or a broken stream leaves no import behind', async () => {
  const device = service.as('device', world.ckId);
  const headers = { 'content-type': 'text/csv' };
  expect((await device.post('/v1/reading-imports', 'time,value\n1,2\n', headers)).body.code).toBe('csv-unreadable');
  const cut = gzipSync(`sensor,at,temperatureC\n${'A,2026-11-25T11:00:00Z,4\n'.repeat(9)}`).subarray(0, -9);
  const answer = await device.post('/v1/reading-imports', cut, { ...headers, 'content-encoding': 'gzip' });
  expect(answer.body.code).toBe('body-unreadable');
  // 200 MiB without a line end, in 200 KiB
  const endless = gzipSync(Buffer.alloc(200 * 1024 * 1024, 'x'));
  const never = await device.post('/v1/reading-imports', endless, { ...headers, 'content-encoding': 'gzip' });
  expect(never.body.code).toBe('csv-unreadable');
  expect(await owner(`select count(*)::int as n from reading_import where state <> 'done'`)).toEqual([{ n: 0 }]);
});

test('months are made ahead, and dropped when they are past the limit and every day of theirs has been summed up', async () => {
  const parts = async () =>
    (
      await owner(
        `select relname from pg_class where relnamespace = 'reading_parts'::regnamespace and relkind = 'r' order by 1`,
      )
    ).map((row) => row.relname);
  await work('make-reading-months');
  // 400 days before and 32 days after 25 November 2026: 21 October 2025 to 27 December 2026
  expect([(await parts())[0], (await parts()).at(-1)]).toEqual(['m2025_10', 'm2026_12']);
  await owner(`select make_reading_month('2024-03-01')`);
  await owner(`select make_reading_month('2024-04-01')`);
  const subject = `insert into place_day_dirty (group_id, subject, day) values ('${service.groupId}', 'vehicle:V', '2024-04-30')`;
  await owner(subject);
  const job = temperatureJobs({ ...service, readingsKeepDays: 500 }).find((one) => one.name === 'drop-reading-months');
  await job?.run({ groupId: service.groupId });
  await asAdmin(service.databaseUrl, async (client) => {
    await client.query('begin; set local role sealtrail_queue');
    await client.query(job?.afterSweep ?? '');
    await client.query('commit');
    await client.query('begin; set local role sealtrail_queue');
    await expect(client.query(`select drop_reading_month(now()::date)`)).rejects.toThrow(/still taken/);
    await client.query('rollback');
  });
  expect((await parts()).slice(0, 2)).toEqual(['m2024_04', 'm2025_10']);
  expect(temperatureJobs(service).map((one) => one.name)).not.toContain('drop-reading-months');
});

test('the command-line importer sends a logger file, follows it to its end, and lists what was refused', async () => {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'sealtrail-logger-'));
  try {
    const file = path.join(folder, 'logger.csv');
    writeFileSync(file, 'at,temperatureF\n2026-11-24T10:00:00Z,41\n2026-11-24T10:05:00,41\n2026-11-24T10:10:00Z,50\n');
    const actor = { groupId: service.groupId, kind: 'device' as const, actorId: randomUUID() };
    const token = service.tokens.sign(
      { ...actor, grants: [{ role: 'device', siteId: world.ckId }] },
      service.clock.nowMs(),
    );
    const args = [file, '--url', service.url, '--sensor', 'A', '--token', token];
    for (const wanted of ['3 lines: 2 new, 0 known already, 1 refused', '3 lines: 2 new, 0 known already, 1 refused']) {
      const started = run('scripts/import-readings.ts', args, {});
      let ended = false;
      void started.ended.then(() => (ended = true));
      while (!ended) {
        await work();
        await new Promise((resolve) => setTimeout(resolve, 100));
      }
      const { code, stdout, stderr } = await started.ended;
      expect([code, stdout.split(';')[0]], stderr).toEqual([1, wanted]);
      expect(stdout).toContain('line 3: time-without-offset');
      expect(stderr).toContain(`[${'#'.repeat(40)}] 100 % reading in`);
    }
    const failed = await run('scripts/import-readings.ts', [...args.slice(0, -1), 'no-token'], {}).ended;
    expect([failed.code, failed.stderr]).toEqual([2, expect.stringContaining('answered 401')]);
  } finally {
    rmSync(folder, { recursive: true });
  }
}, 60_000);
