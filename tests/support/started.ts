/** The real service as a process of its own, for tests of how it starts and ends. */
import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import path from 'node:path';

const ROOT = path.resolve(import.meta.dirname, '../..');

interface Ended {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

export interface Started {
  readonly child: ChildProcess;
  /** resolves when the process is gone and all that it said is read */
  readonly ended: Promise<Ended>;
  /** all that it said on standard output so far */
  readonly said: () => string;
}

/** Runs a program of the repository with `env` and nothing else of the caller's environment but PATH. `input`: its standard input. */
export function run(file: string, args: readonly string[], env: Readonly<Record<string, string>>, input = ''): Started {
  const child = spawn(process.execPath, ['--import', 'tsx', file, ...args], {
    cwd: ROOT,
    env: { PATH: process.env['PATH'] ?? '', TMPDIR: process.env['TMPDIR'] ?? '/tmp', ...env },
    stdio: ['pipe', 'pipe', 'pipe'],
  });
  // A program that ends without reading breaks the pipe, which is its own business.
  child.stdin.on('error', () => undefined).end(input);
  let stdout = '';
  let stderr = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => (stdout += text));
  child.stderr.setEncoding('utf8').on('data', (text: string) => (stderr += text));
  const ended = once(child, 'close').then(() => ({ code: child.exitCode, stdout, stderr }));
  return { child, ended, said: () => stdout };
}

/** Waits until the service says where it is. Fails with what it said when it ends before that. */
export async function urlOf(started: Started): Promise<string> {
  for (;;) {
    const url = /Start here\s+(http:\/\/\S+?)\/\s/.exec(started.said())?.[1];
    if (url !== undefined) return url;
    const pause = new Promise<null>((resolve) => setTimeout(() => resolve(null), 50));
    const gone = await Promise.race([started.ended, pause]);
    if (gone !== null) throw new Error(`the service ended with ${gone.code}: ${gone.stdout}${gone.stderr}`);
  }
}
