/**
 * Questions to the operating system about processes.
 *
 * A process id alone proves nothing: ids are reused, and a zombie keeps its id although it can do nothing any more. So a process is
 * named by its id together with its start, and the start by the boot it belongs to (a container or a machine that boots the same way
 * every time may start the same program with the same id at the same tick).
 */
import { spawnSync } from 'node:child_process';
import { readFileSync, readdirSync, readlinkSync } from 'node:fs';

const onLinux = process.platform === 'linux';

/** When process `pid` started, as an opaque text; null when no such process lives (a zombie does not). */
export function startOf(pid: number): string | null {
  if (!onLinux) return ps(pid, 'lstart=');
  try {
    const fields = statFields(pid);
    if (fields.state === 'Z' || fields.state === 'X') return null;
    return `${readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim()} ${fields.startTicks}`;
  } catch {
    return null;
  }
}

/**
 * True when `pid` is a Postgres process that works on `dataDir`. Every Postgres process makes its data directory its working
 * directory, and a zombie has none.
 */
export function worksOn(pid: number, dataDir: string): boolean {
  if (!onLinux) return ps(pid, 'command=')?.includes(dataDir) ?? false;
  try {
    if (readlinkSync(`/proc/${pid}/cwd`) !== dataDir) return false;
    return /\/postgres( \(deleted\))?$/.test(readlinkSync(`/proc/${pid}/exe`));
  } catch {
    return false;
  }
}

/** Every Postgres process that works on `dataDir`, also those whose main process is gone. Linux only; elsewhere empty. */
export function allWorkingOn(dataDir: string): number[] {
  if (!onLinux) return [];
  return readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .map(Number)
    .filter((pid) => worksOn(pid, dataDir));
}

/** Fields 3 (state) and 22 (start time) of /proc/<pid>/stat, proc(5). The name in field 2 may hold spaces and brackets. */
function statFields(pid: number): { state: string; startTicks: string } {
  const text = readFileSync(`/proc/${pid}/stat`, 'utf8');
  const fields = text.slice(text.lastIndexOf(')') + 2).split(' ');
  const [state, startTicks] = [fields[0], fields[19]];
  if (state === undefined || startTicks === undefined) throw new Error(`/proc/${pid}/stat is not as proc(5) says`);
  return { state, startTicks };
}

function ps(pid: number, column: string): string | null {
  const result = spawnSync('ps', ['-p', String(pid), '-o', column], { encoding: 'utf8' });
  const text = result.status === 0 ? result.stdout.trim() : '';
  return text === '' ? null : text;
}
