/**
 * A workbench for tests of the database launcher: a folder per test, servers and service processes that are gone afterwards, and a
 * cluster made once per file, because initdb takes most of a second.
 */
import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import pg from 'pg';
import { afterAll, afterEach, beforeAll, beforeEach } from 'vitest';
import { startEmbedded, type EmbeddedOptions, type EmbeddedPostgres } from '../../src/platform/postgres/embedded.ts';

type Told = { url: string; pid: number; uid: number };

export type Workbench = {
  /** Folder of this test; everybody may enter. */
  base: string;
  /** Where the database of this test goes; not there yet. */
  dir: string;
  /** Starts on `dir` by default. Stopped after the test. */
  start(options?: Partial<EmbeddedOptions>): Promise<EmbeddedPostgres>;
  /** Starts the database from another node process; rejects with what that process complained about. Killed after the test. */
  startInService(): Promise<Told & { child: ChildProcess }>;
  serviceArgs(): string[];
  /** Has this stopped or killed after the test. */
  clearAway(thing: EmbeddedPostgres | ChildProcess): void;
  /** Puts a cluster, as initdb makes it, in `dir`. */
  seed(): void;
};

const LAUNCHER = path.resolve(import.meta.dirname, '../../src/platform/postgres/embedded.ts');
/** Quick to start. A killed process loses nothing by fsync=off; only a power cut would. */
const SMALL = { shared_buffers: '16MB', fsync: 'off' };

/** A service's node process: starts the database in argv[1], prints where it is, and stays until its input ends. */
const SERVICE = `
  const { startEmbedded, chooseDataDir } = await import(${JSON.stringify(LAUNCHER)});
  const chosen = chooseDataDir({ wanted: process.argv[1] });
  const server = await startEmbedded({ ...chosen, settings: ${JSON.stringify(SMALL)} });
  console.log(JSON.stringify({ url: server.url, pid: server.pid, uid: process.getuid() }));
  process.stdin.on('close', () => server.stop()).resume();`;

/** Call at the top of a test file. */
export function embeddedWorkbench(): Workbench {
  let pattern = '';
  const servers: EmbeddedPostgres[] = [];
  const children: ChildProcess[] = [];

  const bench: Workbench = {
    base: '',
    dir: '',
    async start(options = {}) {
      const server = await startEmbedded({ dir: bench.dir, ...options, settings: { ...SMALL, ...options.settings } });
      servers.push(server);
      return server;
    },
    async startInService() {
      const child = spawn(process.execPath, bench.serviceArgs(), { stdio: ['pipe', 'pipe', 'pipe'] });
      children.push(child);
      let complaint = '';
      child.stderr.on('data', (text: Buffer) => (complaint += text.toString()));
      const told = await Promise.race([once(child.stdout, 'data'), once(child, 'close')]);
      if (!Buffer.isBuffer(told[0])) throw new Error(complaint);
      return { child, ...(JSON.parse(told[0].toString()) as Told) };
    },
    serviceArgs: () => ['--import', 'tsx', '--input-type=module', '-e', SERVICE, bench.dir],
    clearAway(thing) {
      if ('stop' in thing) servers.push(thing);
      else children.push(thing);
    },
    seed() {
      mkdirSync(bench.dir);
      chmodSync(bench.dir, 0o755);
      // cp -a keeps the owner, who may be another user than node's.
      const copied = spawnSync('cp', ['-a', path.join(pattern, 'pgdata'), bench.dir], { encoding: 'utf8' });
      if (copied.status !== 0) throw new Error(copied.stderr);
    },
  };

  beforeAll(async () => {
    pattern = publicFolder();
    await (await startEmbedded({ dir: pattern, settings: SMALL })).stop();
  });
  afterAll(() => rmSync(pattern, { recursive: true, force: true }));
  beforeEach(() => {
    bench.base = publicFolder();
    bench.dir = path.join(bench.base, 'db');
  });
  afterEach(async () => {
    for (const child of children.splice(0)) child.kill('SIGKILL');
    for (const server of servers.splice(0)) await server.stop();
    rmSync(bench.base, { recursive: true, force: true });
  });
  return bench;
}

export async function killed(child: ChildProcess): Promise<void> {
  const gone = once(child, 'exit');
  child.kill('SIGKILL');
  await gone;
}

export const exitOf = (server: EmbeddedPostgres): Promise<unknown> => new Promise((resolve) => server.onExit(resolve));

export async function ask(url: string, sql: string): Promise<unknown[]> {
  const client = new pg.Client(url);
  client.on('error', () => undefined); // the server is killed under it in some tests
  await client.connect();
  try {
    return (await client.query<Record<string, unknown>>(sql)).rows;
  } finally {
    await client.end();
  }
}

export const writeRow = (url: string): Promise<unknown> =>
  ask(url, 'create table kept (n int); insert into kept values (7)');
export const readRow = (url: string): Promise<unknown> => ask(url, 'select n from kept');

function publicFolder(): string {
  const made = mkdtempSync(path.join(os.tmpdir(), 'emb-'));
  chmodSync(made, 0o755);
  return made;
}
