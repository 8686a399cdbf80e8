/**
 * Folders that the server's user can reach.
 *
 * When node is root the server is another user, and that user cannot enter root's private home (mode 0700): a clone there can hold
 * neither the data nor programs that it may run. The data then go to /var/lib, or to the temporary folder where even that is closed, under a name that
 * is the same for every start from the same clone.
 *
 * Refuses: an existing database that the server's user cannot reach (an empty one elsewhere would look like lost records); a folder
 * under a guessable name that somebody else made.
 */
import { createHash } from 'node:crypto';
import { chmodSync, chownSync, existsSync, lstatSync, mkdirSync, realpathSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { canEnter, findServerUser, type ServerUser } from './server-user.ts';

/** sun_path holds 108 bytes including the closing NUL, unix(7). */
const SOCKET_PATH_LIMIT_BYTES = 107;

/** Where the data go when `wanted` is asked for. `movedBecause` is a sentence for the log, null when `dir` is what was wanted. */
export function chooseDataDir({ wanted }: { wanted: string }): { dir: string; movedBecause: string | null } {
  const dir = path.resolve(wanted);
  const user = findServerUser(dir);
  if (user === null) return { dir, movedBecause: null };

  const name = `sealtrail-${shortHash(dir)}`;
  const others = [path.join('/var/lib', name), path.join(os.tmpdir(), name)];
  const reachable = canEnter(user, nearestExisting(dir));
  const hasData = (candidate: string): boolean => existsSync(path.join(candidate, 'pgdata', 'PG_VERSION'));
  if (hasData(dir)) {
    if (reachable) return { dir, movedBecause: null };
    throw new Error(`the database in ${dir} cannot be reached by ${user.name}; open the folders above it (chmod o+x)`);
  }
  const earlier = others.find(hasData);
  if (earlier !== undefined) {
    assertOurs(earlier, 0);
    return { dir: earlier, movedBecause: `an earlier start had to keep the data of ${dir} in ${earlier}` };
  }
  if (reachable) return { dir, movedBecause: null };

  const movedBecause = `${user.name}, who runs the database server because root may not, cannot enter ${nearestExisting(dir)}`;
  for (const candidate of others) {
    try {
      makeEnterable(candidate, 0);
    } catch {
      continue;
    }
    if (canEnter(user, candidate)) return { dir: candidate, movedBecause };
  }
  throw new Error(`${movedBecause}, and neither ${others.join(' nor ')} can be used instead`);
}

/** Creates `dir` and whatever is missing above it so that everybody may enter, whatever the umask says. Returns its real path. */
export function makeEnterable(dir: string, ownerUid?: number): string {
  const first = mkdirSync(dir, { recursive: true });
  if (first !== undefined) {
    for (let each = path.resolve(dir); each.length >= first.length; each = path.dirname(each)) chmodSync(each, 0o755);
  } else if (ownerUid !== undefined) {
    assertOurs(dir, ownerUid);
  }
  return realpathSync(dir);
}

/** The private folder of the server's socket: in `dir`, or under a short name in the temporary folder if the path would be too long. */
export function makeSocketDir(dir: string, socketName: string, user: ServerUser | null): string {
  const name = `sealtrail-${shortHash(dir)}-sock`;
  const candidates = [path.join(dir, 'sock'), path.join(os.tmpdir(), name), path.join('/tmp', name)];
  const fits = (candidate: string): boolean =>
    Buffer.byteLength(path.join(candidate, socketName)) <= SOCKET_PATH_LIMIT_BYTES;
  const chosen = candidates.find(fits);
  if (chosen === undefined)
    throw new Error(`no folder with a path short enough for a socket: ${candidates.join(', ')}`);
  makePrivate(chosen, user);
  return chosen;
}

/** Creates a folder that only the server's user may enter. An existing one must be a real folder of that user. */
export function makePrivate(dir: string, user: ServerUser | null): void {
  if (lstatSync(dir, { throwIfNoEntry: false }) === undefined) {
    mkdirSync(dir, { mode: 0o700 });
    if (user !== null) chownSync(dir, user.uid, user.gid);
  }
  assertOurs(dir, user?.uid ?? process.getuid?.());
  chmodSync(dir, 0o700);
}

function assertOurs(dir: string, ownerUid: number | undefined): void {
  const found = lstatSync(dir);
  if (!found.isDirectory() || (ownerUid !== undefined && found.uid !== ownerUid)) {
    throw new Error(`${dir} is not a folder of uid ${ownerUid ?? 'this user'}; somebody else made it`);
  }
}

function nearestExisting(dir: string): string {
  return existsSync(dir) || dir === path.dirname(dir) ? dir : nearestExisting(path.dirname(dir));
}

function shortHash(text: string): string {
  return createHash('sha256').update(text).digest('hex').slice(0, 12);
}
