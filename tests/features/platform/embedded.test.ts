import { spawn } from 'node:child_process';
import { chownSync, existsSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { beforeEach, describe, expect, test } from 'vitest';
import { startEmbedded } from '../../../src/platform/postgres/embedded.ts';
import { ask, embeddedWorkbench, exitOf, killed, readRow, writeRow } from '../../support/embedded.ts';

const isRoot = process.getuid?.() === 0;
const bench = embeddedWorkbench();

describe('an ordinary life', () => {
  test('start, stop and start again keeps the data', async () => {
    const first = await bench.start();
    await writeRow(first.url);
    const ended = exitOf(first);
    await first.stop();
    await first.stop();
    expect(await ended).toEqual({ code: 0, signal: null, expected: true });
    expect(existsSync(path.join(bench.dir, 'service.pid'))).toBe(false);
    expect(existsSync(path.join(bench.dir, 'pgdata', 'postmaster.pid'))).toBe(false);

    const second = await bench.start();
    expect(await readRow(second.url)).toEqual([{ n: 7 }]);
  });

  test('listens on a private socket only, with the settings that a record needs', async () => {
    const server = await startEmbedded({ dir: bench.dir });
    bench.clearAway(server);
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
    bench.seed();
    const server = await bench.start({ settings: { max_connections: 17, listen_addresses: '*' } });
    const rows = await ask(
      server.url,
      "select current_setting('max_connections') m, current_setting('listen_addresses') a",
    );
    expect(rows).toEqual([{ m: '17', a: '' }]);
  });

  test('a path too long for a socket gets a short socket folder', async () => {
    bench.dir = path.join(bench.base, 'a'.repeat(60), 'b'.repeat(60), 'c d ü');
    const server = await bench.start();
    expect(Buffer.byteLength(path.join(server.socketDir, '.s.PGSQL.5432'))).toBeLessThanOrEqual(107); // unix(7)
    await writeRow(server.url);
    await server.stop();
    const again = await bench.start();
    expect(again.socketDir).toBe(server.socketDir);
    expect(await readRow(again.url)).toEqual([{ n: 7 }]);
    rmSync(server.socketDir, { recursive: true });
  });

  test('what Postgres itself refuses is reported in its words, and the folder is free again', async () => {
    bench.seed();
    await expect(bench.start({ settings: { shared_buffers: 'plenty' } })).rejects.toThrow(
      'invalid value for parameter "shared_buffers"',
    );
    await bench.start();
  });
});

describe('the first start', () => {
  test('gets past an earlier one that was interrupted', async () => {
    mkdirSync(path.join(bench.dir, 'pgdata.init'), { recursive: true });
    writeFileSync(path.join(bench.dir, 'pgdata.init', 'PG_VERSION'), '18\n');
    await writeRow((await bench.start()).url);
  });

  test('refuses a pgdata with something else in it, and keeps it', async () => {
    mkdirSync(path.join(bench.dir, 'pgdata'), { recursive: true });
    writeFileSync(path.join(bench.dir, 'pgdata', 'precious'), 'x');
    if (isRoot) chownSync(path.join(bench.dir, 'pgdata'), 65534, 65534);
    await expect(bench.start()).rejects.toThrow('holds files but no database');
    expect(readFileSync(path.join(bench.dir, 'pgdata', 'precious'), 'utf8')).toBe('x');
  });
});

describe('after a crash', () => {
  beforeEach(() => bench.seed());

  test('the main server process was killed', async () => {
    const first = await bench.start();
    await writeRow(first.url);
    const ended = exitOf(first);
    process.kill(first.pid, 'SIGKILL');
    expect(await ended).toEqual({ code: null, signal: 'SIGKILL', expected: false });
    expect(existsSync(path.join(bench.dir, 'pgdata', 'postmaster.pid'))).toBe(true);

    const second = await bench.start();
    expect(await readRow(second.url)).toEqual([{ n: 7 }]);
  });

  test('the node process was killed', async () => {
    const { child, url } = await bench.startInService();
    await writeRow(url);
    await killed(child);
    const server = await bench.start();
    expect(await readRow(server.url)).toEqual([{ n: 7 }]);
  });

  test('the node process was killed and its server lives on', async () => {
    const { child, url, pid } = await bench.startInService();
    await writeRow(url);
    // Suspended, the server cannot act on the signal of its parent's death, as if there were none.
    process.kill(pid, 'SIGSTOP');
    await killed(child);
    setTimeout(() => process.kill(pid, 'SIGCONT'), 300);
    const lines: string[] = [];
    const server = await bench.start({ log: (line) => lines.push(line) });
    expect(lines).toContain(`a server (process ${pid}) is left over from an earlier start; stopping it`);
    expect(await readRow(server.url)).toEqual([{ n: 7 }]);
  });

  test('node and the main server process were killed at once', async () => {
    const { child, url, pid } = await bench.startInService();
    await writeRow(url);
    process.kill(pid, 'SIGKILL');
    await killed(child);
    const server = await bench.start();
    expect(await readRow(server.url)).toEqual([{ n: 7 }]);
  });

  test('the ids in the lock files belong to a foreign process by now, which is left alone', async () => {
    const first = await bench.start();
    await writeRow(first.url);
    const pidFile = path.join(bench.dir, 'pgdata', 'postmaster.pid');
    const socketLock = path.join(first.socketDir, '.s.PGSQL.5432.lock');
    const [pidText, lockText] = [readFileSync(pidFile, 'utf8'), readFileSync(socketLock, 'utf8')];
    const owner = statSync(pidFile);
    await first.stop();

    // The same user as the server's: only then Postgres itself takes the process for a server of its own.
    const as = isRoot ? { uid: owner.uid, gid: owner.gid } : {};
    const foreign = spawn('sleep', ['60'], { stdio: 'ignore', cwd: '/', ...as });
    bench.clearAway(foreign);
    for (const [file, text] of [
      [pidFile, pidText],
      [socketLock, lockText],
    ] as const) {
      writeFileSync(file, text.replace(/^\d+/, String(foreign.pid)));
      chownSync(file, owner.uid, owner.gid);
    }
    writeFileSync(path.join(bench.dir, 'service.pid'), `${foreign.pid} of-another-boot 1\n`);

    const second = await bench.start();
    expect(await readRow(second.url)).toEqual([{ n: 7 }]);
    expect(foreign.exitCode ?? foreign.signalCode).toBe(null);
  });
});

describe('a folder in use', () => {
  beforeEach(() => bench.seed());

  test('by another living service is refused, and its server keeps running', async () => {
    const { child, url } = await bench.startInService();
    await writeRow(url);
    await expect(bench.start()).rejects.toThrow(`in use by a running service (process ${child.pid})`);
    expect(await readRow(url)).toEqual([{ n: 7 }]);
  });

  test('by this very process is refused', async () => {
    const first = await bench.start();
    await expect(bench.start()).rejects.toThrow('in use by a running service');
    await writeRow(first.url);
  });

  test('many starters at once after a crash: one wins', async () => {
    writeFileSync(path.join(bench.dir, 'service.pid'), '1 of-another-boot 1\n');
    const outcomes = await Promise.allSettled(Array.from({ length: 4 }, () => bench.startInService()));
    expect(outcomes.filter((outcome) => outcome.status === 'fulfilled')).toHaveLength(1);
    for (const outcome of outcomes) {
      if (outcome.status === 'rejected') expect(String(outcome.reason)).toContain('in use by a running service');
    }
  });
});
