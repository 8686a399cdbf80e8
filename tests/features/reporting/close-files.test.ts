/**
 * What is made after a month was closed: the files, their hashes and the chain of signatures, however often the making is killed. The hashes
 * are taken anew here, with Node's own SHA-256, over the RFC 8785 form of what the close says.
 */
import { createHash, randomUUID } from 'node:crypto';
import canonicalizeModule from 'canonicalize';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { makeMonthFiles } from '../../../src/features/reporting/closes/files-job.ts';
import type { Db } from '../../../src/platform/db/db.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const canonicalize = canonicalizeModule as unknown as (value: unknown) => string;
const KINDS = ['json', 'csv', 'xlsx', 'html', 'pdf'];
const accept = ['open-batches', 'uncosted-lots'].map((check) => ({ check, reason: 'Known' }));
const sha256 = (data: Buffer | string): string => createHash('sha256').update(data).digest('hex');

let service: TestService;
let world: World;
let kitchen: Kitchen;
const closeIds: string[] = [];

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-10-05T08:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  for (const month of ['2026-10', '2026-11']) {
    service.clock.set(Date.parse(`${month}-05T08:00:00Z`));
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(20_000), 20_000, 17_000);
    await kitchen.pack(batchId, lotId, 6_000, 20);
    await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, { losses: [] });
  }
  service.clock.set(Date.parse('2026-12-02T08:00:00Z'));
});
afterAll(() => service.stop());

const close = async (month: string): Promise<string> => {
  const { closeId } = await kitchen.post('finance', '/v1/month-closes', { month, accept });
  closeIds.push(closeId);
  return closeId;
};
const read = (closeId: string): Promise<Json> => kitchen.get('finance', `/v1/month-closes/${closeId}`);
const file = (closeId: string, kind: string, headers = {}) =>
  service.as('finance').get(`/v1/month-closes/${closeId}/files/${kind}`, headers);

/** A database that is gone from the n-th transaction on, as it is for a process that is killed. */
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

test('killed after any of its transactions, the making goes on where it stopped', async () => {
  const closeId = await close('2026-10');
  expect(await read(closeId)).toMatchObject({
    state: 'making',
    progress: { done: 0, of: 7, step: 'costs' },
    signature: null,
    files: [],
  });
  expect((await file(closeId, 'pdf')).body).toMatchObject({ code: 'wrong-state' });
  const { clock, groupId } = service;
  const seen: string[] = [];
  let kills = 0;
  for (let lives = 1, ended = false; !ended; lives += 1) {
    // Each life is one transaction longer than what is needed to get on by one, so that every place is the last of some life.
    try {
      await makeMonthFiles({ db: goneAfter(service.db, 1 + (lives % 8)), clock }).run({ groupId });
      ended = true;
    } catch (error) {
      expect((error as Error).message).toBe('killed');
      kills += 1;
    }
    const { progress, files } = await read(closeId);
    seen.push(`${progress.done} ${progress.step}`);
    for (const one of files) expect(sha256((await file(closeId, one.kind)).raw), one.kind).toBe(one.sha256);
    expect(kills).toBeLessThan(200);
  }
  expect(kills).toBeGreaterThan(10);
  expect([...new Set(seen)].at(-1)).toBe('7 null');
  expect([...new Set(seen)]).toEqual([...new Set(seen)].sort());
  const done = await read(closeId);
  expect(done).toMatchObject({ state: 'ready', failure: null });
  expect(done.files.map((one: Json) => one.kind)).toEqual(KINDS);
});

test('a failure is said while it lasts, and the next try clears it', async () => {
  const closeId = await close('2026-11');
  const { clock, groupId, db } = service;
  let begun = 0;
  const failing: Db = {
    ...db,
    inGroup(group, mode, fn) {
      begun += 1;
      // the first transaction looks for work, the second looks again, the third writes
      if (begun === 3) throw new Error('no space left');
      return db.inGroup(group, mode, fn);
    },
  };
  await expect(makeMonthFiles({ db: failing, clock }).run({ groupId })).rejects.toThrow('no space left');
  expect(await read(closeId)).toMatchObject({ state: 'failed', failure: expect.stringContaining('costs') });
  await makeMonthFiles({ db, clock }).run({ groupId });
  expect(await read(closeId)).toMatchObject({ state: 'ready', failure: null });
});

test('the signature can be worked out from what the close and its files say, and is a chain', async () => {
  const closes = await Promise.all(closeIds.map(read));
  for (const [at, one] of closes.entries()) {
    const { month, cut, checks, accepted, signature } = one;
    const report = await file(one.closeId, 'json');
    expect(report.text).toBe(canonicalize(JSON.parse(report.text)));
    expect(signature.reportSha256).toBe(sha256(report.raw));
    const previousHash = at === 0 ? null : closes[at - 1].signature.hash;
    const content = {
      month,
      cut: { seq: cut.seq, moneyNo: cut.moneyNo },
      reportSha256: sha256(report.raw),
      checks,
      accepted,
      previousHash,
    };
    expect(signature).toMatchObject({ algorithm: 'sha-256', hash: sha256(canonicalize(content)), previousHash });
    expect(JSON.parse(report.text)).toMatchObject({ month, state: 'closed', cut, allSites: true });
  }
});

test('a file says its hash, its name and its length, and is not sent again to whoever has it', async () => {
  const closeId = closeIds[0] ?? '';
  const { files } = await read(closeId);
  for (const one of files) {
    const answer = await file(closeId, one.kind);
    expect(answer.raw.length).toBe(one.bytes);
    expect(answer.headers).toMatchObject({
      etag: `"${one.sha256}"`,
      'content-length': String(one.bytes),
      'content-type': one.contentType,
      'content-disposition': `attachment; filename="waste-and-yield-2026-10-close-1.${one.kind}"`,
    });
    const again = await file(closeId, one.kind, { 'if-none-match': `"${one.sha256}"` });
    expect([again.status, again.raw.length]).toEqual([304, 0]);
  }
  expect((await file(randomUUID(), 'csv')).status).toBe(404);
});

test('reopened and closed again: both stay readable, and the chain goes through the one that does not count', async () => {
  const first = closeIds[1] ?? '';
  const before = (await file(first, 'json')).raw;
  const asked = await kitchen.post('finance', `/v1/month-closes/${first}/reopenings`, { reason: 'A late invoice' });
  await kitchen.post('operations', `/v1/month-reopenings/${asked.reopeningId}/confirmations`, {});
  // known again as an open month, with what is told now
  await kitchen.shin(1_000, {});
  const open = await kitchen.get('finance', '/v1/reports/waste-and-yield?month=2026-11');
  expect(open.state).toBe('open');
  const again = await close('2026-11');
  await makeMonthFiles({ db: service.db, clock: service.clock }).run({ groupId: service.groupId });
  const old = await read(first);
  expect(old).toMatchObject({
    counts: false,
    state: 'ready',
    reopening: { state: 'confirmed', reason: 'A late invoice' },
  });
  expect((await file(first, 'json')).raw.equals(before)).toBe(true);
  const next = await read(again);
  expect(next).toMatchObject({ version: 2, counts: true, state: 'ready' });
  expect(next.signature.previousHash).toBe(old.signature.hash);
});

test('a finished file can be neither changed nor lost, not even by the service itself', async () => {
  const closeId = closeIds[0] ?? '';
  const before = (await file(closeId, 'json')).raw;
  const inGroup = (text: string) => service.db.inGroup(service.groupId, 'write', (tx) => tx.query(text, [closeId]));
  await inGroup('delete from month_close_piece where close_id = $1::uuid');
  expect((await file(closeId, 'json')).raw.equals(before)).toBe(true);
  await expect(
    inGroup(
      `insert into month_close_piece (group_id, close_id, kind, piece_no, body)
       select group_id, close_id, 'json', 99, '\\x00' from month_close where close_id = $1::uuid`,
    ),
  ).rejects.toThrow('row-level security');
  for (const change of [
    `update month_close_file set sha256 = sha256 where close_id = $1::uuid`,
    `update month_close set cut_seq = 0 where close_id = $1::uuid`,
    `delete from month_close where close_id = $1::uuid`,
  ]) {
    await expect(inGroup(change)).rejects.toThrow('permission denied');
  }
});
