/** Streamed answers: whole, in step with the reader, and never half for the whole. Numbers to send are counted by the test itself. */
import { createServer, type Server } from 'node:http';
import { connect, type AddressInfo } from 'node:net';
import { randomUUID } from 'node:crypto';
import express from 'express';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createDb, type Db } from '../../../src/platform/db/db.ts';
import { bind, defineOperation, type BoundOperation } from '../../../src/platform/http/contract.ts';
import { buildRouter } from '../../../src/platform/http/router.ts';
import type { StreamReply } from '../../../src/platform/http/streams.ts';
import { createTokens } from '../../../src/platform/auth/tokens.ts';
import { groupIdOf, randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import type { Tx } from '../../../src/platform/db/db.ts';
import { freshDatabase } from '../../support/database.ts';

const NDJSON = 'application/x-ndjson';
const LINES = 200_000;
const seen = { pulled: 0, ended: 0 };

function streaming(
  name: string,
  chunks: (tx: Tx) => StreamReply['chunks'],
  more: Partial<StreamReply> = {},
  mode: 'read' | 'write' = 'read',
): BoundOperation {
  const operation = defineOperation({
    id: name,
    method: 'get',
    path: `/${name}`,
    tag: 'x',
    summary: 'x',
    permission: 'trace.read',
    naming: 'none',
    mode,
    answers: { 200: { description: 'x', contentType: NDJSON } },
    errors: [],
    example: { status: 200 },
  });
  return bind(operation, async ({ tx }) => ({
    status: 200,
    stream: { contentType: NDJSON, chunks: chunks(tx), ...more },
  }));
}

async function* numbers(tx: Tx, to = LINES, failAt = Infinity): AsyncGenerator<string> {
  try {
    for await (const rows of tx.rows<{ n: number }>(
      'select g.n from generate_series(1, $1::int) as g(n) order by g.n',
      [to],
    )) {
      seen.pulled += rows.length;
      // A statement that the database refuses: the transaction is broken by then.
      if ((rows.at(-1)?.n ?? 0) >= failAt) await tx.query('select 1 / 0');
      for (const { n } of rows) yield `{"n":${n}}\n`;
    }
  } finally {
    seen.ended += 1;
  }
}

async function* atOnce(tx: Tx): AsyncGenerator<string> {
  await tx.query('select 1 / 0');
  yield 'never';
}

/** 200 MB: more than the sockets on both sides hold by themselves (a few MB each). */
async function* wide(tx: Tx): AsyncGenerator<string> {
  for await (const line of numbers(tx)) yield line.padStart(1_000);
}

const failed = (problem: Readonly<Record<string, unknown>>) => `${JSON.stringify({ failed: problem.code })}\n`;
const operations = [
  streaming('whole', (tx) => numbers(tx)),
  streaming('wide', wide),
  streaming('at-once', atOnce, { failed }),
  streaming('half-way', (tx) => numbers(tx, LINES, 5_000), { failed }),
  streaming('cut', (tx) => numbers(tx, LINES, 50_000)),
  streaming('written', (tx) => numbers(tx), {}, 'write'),
];

let database: Awaited<ReturnType<typeof freshDatabase>>;
let db: Db;
let server: Server;
let port: number;
let authorization: string;
beforeAll(async () => {
  database = await freshDatabase();
  const log = createLog('silent');
  // One connection: an answer that does not give it back stops the next one.
  db = createDb({ url: database.url, poolSize: 1, log });
  const tokens = createTokens({ secret: 'a secret for tests, of no other use', issuer: 'tests', external: null });
  const clock = { nowMs: () => Date.UTC(2026, 10, 25, 12) };
  const app = express();
  app.use(buildRouter({ db, clock, tokens, log, ids: randomIds, stallMs: 300 }, operations));
  server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  port = (server.address() as AddressInfo).port;
  const actor = { groupId: groupIdOf('streams'), kind: 'person' as const, actorId: randomUUID() };
  authorization = `Bearer ${tokens.sign({ ...actor, grants: [{ role: 'kitchen', siteId: null }] }, clock.nowMs())}`;
});
afterAll(async () => {
  server.closeAllConnections();
  await new Promise((resolve) => server.close(resolve));
  await db.end();
  await database.drop();
});

const get = (path: string, more: RequestInit = {}) =>
  fetch(`http://127.0.0.1:${port}/${path}`, { headers: { authorization }, ...more });

/** The transaction of what was asked before is over when another one gets the only connection. */
async function ended(): Promise<void> {
  await db.inGroup(groupIdOf('streams'), 'read', (tx) => tx.query('select 1'));
}

test('all of it arrives, in order', async () => {
  const answer = await get('whole');
  expect(answer.status).toBe(200);
  expect(answer.headers.get('content-type')).toBe(NDJSON);
  expect(answer.headers.get('cache-control')).toBe('no-store');
  const lines = (await answer.text()).trimEnd().split('\n');
  expect(lines).toHaveLength(LINES);
  expect(lines.every((line, at) => line === `{"n":${at + 1}}`)).toBe(true);
});

test('HEAD says what there would be, and reads nothing', async () => {
  const before = seen.pulled;
  const answer = await get('whole', { method: 'HEAD' });
  expect([answer.status, answer.headers.get('content-type'), await answer.text()]).toEqual([200, NDJSON, '']);
  expect(seen.pulled).toBe(before);
});

test('what fails before anything was sent is a problem like any other', async () => {
  const answer = await get('at-once');
  expect(answer.status).toBe(500);
  expect(await answer.json()).toMatchObject({ code: 'internal-error' });
  await ended();
});

test('what fails half-way ends with an error record, after all that came before it', async () => {
  const answer = await get('half-way');
  const lines = (await answer.text()).trimEnd().split('\n');
  expect(lines.slice(-2)).toEqual(['{"n":4000}', '{"failed":"internal-error"}']);
  await ended();
});

test('a format without room for such a record is cut off', async () => {
  const answer = await get('cut');
  expect(answer.status).toBe(200);
  await expect(answer.text()).rejects.toThrow();
  await ended();
});

test('a reader who goes away ends the reading', async () => {
  const before = { ...seen };
  const gone = new AbortController();
  const answer = await get('wide', { signal: gone.signal });
  await answer.body?.getReader().read();
  gone.abort();
  await ended();
  expect(seen.ended).toBe(before.ended + 1);
  expect(seen.pulled - before.pulled).toBeLessThan(LINES);
});

test('a reader who takes nothing is not read ahead for, and is cut off in the end', async () => {
  const before = { ...seen };
  const socket = connect(port, '127.0.0.1');
  socket.on('error', () => undefined);
  socket.pause();
  socket.write(`GET /wide HTTP/1.1\r\nHost: x\r\nAuthorization: ${authorization}\r\n\r\n`);
  await new Promise((resolve) => setTimeout(resolve, 100));
  await ended();
  expect(seen.ended).toBe(before.ended + 1);
  expect(seen.pulled - before.pulled).toBeLessThan(LINES);
  socket.destroy();
});

test('only reads stream', async () => {
  const answer = await get('written');
  expect(answer.status).toBe(500);
});
