/**
 * Who the database server runs as.
 *
 * Postgres refuses to run as root, and containers and CI machines usually are root. Then the server runs as `postgres` where that user
 * exists, else as `nobody`, which exists everywhere. Data that an earlier start left keep their owner: a `postgres` user that a
 * package created since then must not lock a site out of its own records.
 *
 * Refuses: root on a machine with neither user.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync, statSync } from 'node:fs';
import path from 'node:path';

/** A user other than the one node runs as. */
export type ServerUser = { name: string; uid: number; gid: number };

/** The server's user when node is root; null when node is an ordinary user (or on Windows) and the server simply runs as that user. */
export function findServerUser(dir: string): ServerUser | null {
  if (process.getuid?.() !== 0) return null;
  const owner = ownerOfData(dir);
  if (owner !== null && owner.uid !== 0) return { name: `uid ${owner.uid}`, ...owner };
  for (const name of ['postgres', 'nobody']) {
    const ids = lookUp(name);
    if (ids !== null) return { name, ...ids };
  }
  throw new Error('Postgres does not run as root, and this machine has neither a user "postgres" nor a user "nobody"');
}

/** The part of spawn's options that makes a child run as `user`. */
export function asUser(user: ServerUser | null): { uid?: number; gid?: number; cwd: string } {
  // cwd: a child that cannot enter node's working directory would not start at all.
  return user === null ? { cwd: '/' } : { uid: user.uid, gid: user.gid, cwd: '/' };
}

/** True when `user` can enter `dir`. Asked of the kernel, not computed from mode bits: access lists and mounts count too. */
export function canEnter(user: ServerUser | null, dir: string): boolean {
  if (user === null) return true;
  return spawnSync('sh', ['-c', 'cd "$1"', 'sh', dir], { ...asUser(user), stdio: 'ignore' }).status === 0;
}

function ownerOfData(dir: string): { uid: number; gid: number } | null {
  const found = statSync(path.join(dir, 'pgdata'), { throwIfNoEntry: false });
  return found === undefined ? null : { uid: found.uid, gid: found.gid };
}

function lookUp(name: string): { uid: number; gid: number } | null {
  const uid = spawnSync('id', ['-u', name], { encoding: 'utf8' });
  const gid = spawnSync('id', ['-g', name], { encoding: 'utf8' });
  if (uid.status === 0 && gid.status === 0) return { uid: Number(uid.stdout), gid: Number(gid.stdout) };
  if (uid.error === undefined) return null;
  // An image without coreutils: only the file is left to ask.
  const line = readFileSync('/etc/passwd', 'utf8')
    .split('\n')
    .find((entry) => entry.startsWith(`${name}:`));
  const fields = line?.split(':') ?? [];
  return fields[2] === undefined || fields[3] === undefined ? null : { uid: Number(fields[2]), gid: Number(fields[3]) };
}
