/** Long exports: what is asked for, how far it is, the file; killed half-way they go on. Quantities are those that the test records. */
import { createHash, randomUUID } from 'node:crypto';
import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { makeReportExports } from '../../../src/features/reporting/exports/job.ts';
import type { Db } from '../../../src/platform/db/db.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const DELIVERIES = 2_000;

let service: TestService;
let world: World;
let kitchen: Kitchen;

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-10-05T08:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  // many lines on few receipts: 1 g, 2 g, 3 g ...
  for (let first = 1; first <= DELIVERIES; first += 100) {
    const lines = Array.from({ length: 100 }, (_, at) => ({
      itemId: world.beefShinId,
      placeId: world.ckChillerId,
      quantity: first + at,
      unit: 'g',
      // of codes that follow from ids two of 2,000 on one day may be the same
      lotCode: `LINE-${first + at}`,
    }));
    const receipt = { siteId: world.ckId, supplierId: world.supplierId, occurredAt: '2026-10-05T07:00:00Z', lines };
    await kitchen.post('kitchen', '/v1/goods-receipts', receipt);
  }
});
afterAll(() => service.stop());

const ask = (fields: object, role = 'finance') =>
  service.as(role).post('/v1/report-exports', { id: randomUUID(), month: '2026-10', ...fields });
const read = (exportId: string): Promise<Json> => kitchen.get('finance', `/v1/report-exports/${exportId}`);
const file = (exportId: string, headers = {}) =>
  service.as('finance').get(`/v1/report-exports/${exportId}/file`, headers);
const run = (db: Db = service.db) => makeReportExports({ db, clock: service.clock }).run({ groupId: service.groupId });

/** Gone from the n-th transaction on. */
function goneAfter(db: Db, transactions: number): Db {
  let begun = 0;
  return {
    ...db,
    inGroup(groupId, mode, fn) {
      begun += 1;
      if (begun > transactions) throw new Error('killed');
      return db.inGroup(groupId, mode, fn);
    },
  };
}

test('lines are made in pieces at the cut of the asking; killed half-way the file goes on and is the same', async () => {
  const asked = await ask({ report: 'lines', format: 'csv' });
  expect(asked.status, asked.text).toBe(201);
  const { exportId } = asked.body;
  expect(asked.body).toMatchObject({ state: 'waiting', progress: { done: 0, unit: 'lines' }, file: null });
  expect((await file(exportId)).body).toMatchObject({ code: 'wrong-state' });
  service.clock.set(service.clock.nowMs() + 1_000);
  const whole = (await ask({ report: 'lines', format: 'csv' })).body.exportId;
  // told after the asking, about the same month: not in the file
  await kitchen.shin(999_999, { placeId: world.ckChillerId });

  const seen: number[] = [];
  // dies after its first piece, then after its last
  for (const transactions of [4, 4]) {
    await expect(run(goneAfter(service.db, transactions))).rejects.toThrow('killed');
    const { state, progress } = await read(exportId);
    expect([state, progress.of]).toEqual(['making', DELIVERIES]);
    seen.push(progress.done);
  }
  expect(seen[0]).toBeGreaterThan(0);
  expect(seen[1]).toBeGreaterThan(seen[0] ?? 0);
  expect(seen[0]).toBeLessThan(DELIVERIES);
  await run();
  const done = await read(exportId);
  expect(done).toMatchObject({ state: 'ready', progress: { done: DELIVERIES, of: DELIVERIES } });

  const answer = await file(exportId);
  const rows = parse<Record<string, string>>(answer.raw, { columns: true });
  // 1 + 2 + ... + n = n (n + 1) / 2
  expect(rows.length).toBe(DELIVERIES);
  expect(rows.reduce((sum, row) => sum + Number(row['Quantity']), 0)).toBe((DELIVERIES * (DELIVERIES + 1)) / 2);
  expect(new Set(rows.map((row) => row['Line']))).toEqual(new Set(['received']));
  expect(done.file.sha256).toBe(createHash('sha256').update(answer.raw).digest('hex'));
  expect((await read(whole)).file.sha256).toBe(done.file.sha256);
  expect(answer.headers).toMatchObject({
    etag: `"${done.file.sha256}"`,
    'content-length': String(answer.raw.length),
    'content-disposition': 'attachment; filename="lines-2026-10.csv"',
  });
  expect((await file(exportId, { 'if-none-match': `"${done.file.sha256}"` })).status).toBe(304);
});

test('the report comes in every format, lines in two', async () => {
  const ids: string[] = [];
  for (const format of ['json', 'csv', 'xlsx', 'html', 'pdf']) {
    ids.push((await ask({ report: 'waste-and-yield', format, site: 'CK' })).body.exportId);
  }
  ids.push((await ask({ report: 'lines', format: 'json', site: world.ckId })).body.exportId);
  await run();
  const answers = await Promise.all(ids.map((id) => file(id)));
  expect(answers.map((answer) => answer.status)).toEqual([200, 200, 200, 200, 200, 200]);
  expect(answers[0]?.body).toMatchObject({ month: '2026-10', allSites: false, sites: [{ siteId: world.ckId }] });
  expect(answers.slice(2, 5).map((answer) => answer.raw.subarray(0, 4).toString('latin1').toLowerCase())).toEqual([
    'pk\u0003\u0004',
    '<!do',
    '%pdf',
  ]);
  const lines = (answers[5]?.text ?? '')
    .trim()
    .split('\n')
    .map((one) => JSON.parse(one));
  expect(lines.length).toBe(DELIVERIES + 1);
  const workbook = await read(ids[2] ?? '');
  expect(workbook.progress).toEqual({ done: DELIVERIES + 1, of: DELIVERIES + 1, unit: 'lines' });
  const { items } = await kitchen.get('finance', '/v1/report-exports?limit=3');
  expect(items.map((one: Json) => one.exportId)).toHaveLength(3);
});

test('what cannot be asked for', async () => {
  const said = async (fields: object, role = 'finance') => (await ask(fields, role)).body.code;
  expect(await said({ report: 'lines', format: 'pdf' })).toBe('rule-broken');
  expect(await said({ report: 'lines', format: 'csv', month: '2026-11' })).toBe('rule-broken');
  expect(await said({ report: 'lines', format: 'csv', throughMonth: '2026-09' })).toBe('rule-broken');
  expect(await said({ report: 'lines', format: 'csv', month: '2024-10', throughMonth: '2026-10' })).toBe(
    'period-too-long',
  );
  expect(await said({ report: 'lines', format: 'csv', recordedAt: '2026-10-06T00:00:00Z' })).toBe('rule-broken');
  expect(await said({ report: 'lines', format: 'csv', site: 'NOWHERE' })).toBe('not-found');
  const chef = service.as('quality', world.w3Id);
  const asked = await chef.post('/v1/report-exports', {
    id: randomUUID(),
    report: 'lines',
    month: '2026-10',
    format: 'csv',
  });
  expect(asked.body.code).toBe('rule-broken');
  const { items } = await kitchen.get('finance', '/v1/report-exports');
  expect((await chef.get(`/v1/report-exports/${items[0].exportId}`)).status).toBe(404);
  expect((await chef.get('/v1/report-exports')).body.items).toEqual([]);
});

test('three tries that get nowhere are given up; files go after thirty days', async () => {
  const { exportId } = (await ask({ report: 'waste-and-yield', format: 'json' })).body;
  // the first transaction reads, the second begins the try, the third would count or keep
  for (const _ of [1, 2, 3]) await expect(run(goneAfter(service.db, 2))).rejects.toThrow('killed');
  await run();
  expect(await read(exportId)).toMatchObject({ state: 'failed', failure: expect.stringContaining('Three') });
  const { items } = await kitchen.get('finance', '/v1/report-exports');
  const ready = items.find((one: Json) => one.state === 'ready');
  service.clock.set(Date.parse('2026-11-04T07:59:00Z'));
  await run();
  expect((await read(ready.exportId)).state).toBe('ready');
  // more than 30 days after 08:00:01 on 5 October
  service.clock.set(Date.parse('2026-11-04T08:00:02Z'));
  await run();
  expect(await read(ready.exportId)).toMatchObject({ state: 'trimmed', file: null });
  expect((await file(ready.exportId)).body).toMatchObject({ code: 'wrong-state' });
});
