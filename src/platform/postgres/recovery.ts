/**
 * What a crash leaves behind, and how the next start gets past it without harming anybody.
 *
 * Left behind may be: our claim on the folder, a server whose node process was killed, server processes whose main process was killed,
 * and lock files that hold the id of a dead, zombie or quite different process. Postgres itself only asks whether *a* process with that
 * id exists, and then refuses to start for good ("lock file already exists").
 *
 * Refuses: a folder that another living service uses. Its server is not stopped.
 */
import { linkSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { allWorkingOn, startOf, worksOn } from './process-table.ts';

const POLL_MS = 25;

/** Gives the folder back; safe to call twice. */
export type Release = () => void;

/**
 * Makes this process the only one that may start a server in `dir`, by the file service.pid (id and start of a node process).
 * Throws when its holder lives, be it this very process.
 */
export function claim(dir: string): Release {
  const file = path.join(dir, 'service.pid');
  const mine = `${process.pid} ${startOf(process.pid) ?? ''}\n`;
  const draft = `${file}.${process.pid}`;
  writeFileSync(draft, mine);
  try {
    // A link appears complete or not at all, and never replaces another starter's claim.
    while (!linkIfFree(draft, file)) takeAwayIfStale(file);
  } finally {
    rmSync(draft, { force: true });
  }
  return () => {
    if (readOrNull(file) === mine) rmSync(file, { force: true });
  };
}

/** Call with the folder claimed: afterwards no process works on `dataDir`, and no lock file stands in the way of the next server. */
export async function clearLeftovers(dataDir: string, socketFile: string, log: (line: string) => void): Promise<void> {
  const pidFile = path.join(dataDir, 'postmaster.pid');
  const pid = Number(readOrNull(pidFile)?.split('\n')[0] ?? Number.NaN);
  if (pid > 0 && worksOn(pid, dataDir)) {
    log(`a server (process ${pid}) is left over from an earlier start; stopping it`);
    process.kill(pid, 'SIGINT');
    const stopped = await until(() => !worksOn(pid, dataDir), 30_000);
    if (!stopped) process.kill(pid, 'SIGQUIT');
  }
  // Processes whose main process is gone end by themselves, except one that is deep in a computation.
  if (!(await until(() => allWorkingOn(dataDir).length === 0, 5_000))) {
    for (const orphan of allWorkingOn(dataDir)) killIfThere(orphan, 'SIGQUIT');
    if (!(await until(() => allWorkingOn(dataDir).length === 0, 5_000))) {
      throw new Error(
        `server processes of an earlier start do not end: ${allWorkingOn(dataDir).join(', ')} on ${dataDir}`,
      );
    }
  }
  // Nobody works on the data now, so whatever id these files hold is dead or belongs to somebody else, who is left alone.
  for (const file of [pidFile, socketFile, `${socketFile}.lock`]) {
    if (readOrNull(file) !== null) log(`removing the stale ${path.basename(file)}`);
    rmSync(file, { force: true });
  }
}

function takeAwayIfStale(file: string): void {
  const found = readOrNull(file);
  if (found === null) return;
  const [pid = '', ...start] = found.trim().split(' ');
  if (Number(pid) > 0 && startOf(Number(pid)) === start.join(' ')) {
    throw new Error(
      `the database in ${path.dirname(file)} is in use by a running service (process ${pid}); stop that one, or give this one another folder`,
    );
  }
  // Two starters may both have found the stale claim; only one gets to move it. If a fresh claim was moved instead, it goes back.
  const aside = `${file}.stale.${process.pid}`;
  try {
    renameSync(file, aside);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return;
    throw error;
  }
  if (readOrNull(aside) !== found) linkIfFree(aside, file);
  rmSync(aside, { force: true });
}

function linkIfFree(from: string, to: string): boolean {
  try {
    linkSync(from, to);
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false;
    throw error;
  }
}

function readOrNull(file: string): string | null {
  try {
    return readFileSync(file, 'utf8');
  } catch {
    return null; // Absent, or a socket, which cannot be read.
  }
}

function killIfThere(pid: number, signal: NodeJS.Signals): void {
  try {
    process.kill(pid, signal);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ESRCH') throw error;
  }
}

/** Polls `done` for about `limitMs`; false when it stayed false. */
async function until(done: () => boolean, limitMs: number): Promise<boolean> {
  for (let waitedMs = 0; waitedMs < limitMs; waitedMs += POLL_MS) {
    if (done()) return true;
    await sleep(POLL_MS);
  }
  return done();
}
