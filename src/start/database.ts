/**
 * The database that the service runs on, brought to this release's state: a server of its own in the data folder, or the one that
 * DATABASE_URL names.
 *
 * Refuses: a server that cannot be reached or is older than Postgres 15; a data folder that another service uses; a database that a
 * newer release has migrated. The password in DATABASE_URL is in none of the messages.
 */
import path from 'node:path';
import pg from 'pg';
import type { Config } from '../config.ts';
import { migrate } from '../platform/db/migrate.ts';
import { prepareQueue } from '../platform/jobs.ts';
import type { Log } from '../platform/log.ts';
import { chooseDataDir, startEmbedded } from '../platform/postgres/embedded.ts';
import { StartRefused, wordsOf } from './refused.ts';

const MIGRATIONS = path.resolve(import.meta.dirname, '../../migrations');
const DATABASE = 'sealtrail';
/** What the migrations use: security_invoker views, unique nulls not distinct. */
const OLDEST_MAJOR = 15;
/** Any number that nobody else locks in this database: two services that start at once prepare it one after the other. */
const PREPARE_LOCK_KEY = 7_283_116_003;

export interface DataFolder {
  readonly dir: string;
  /** a sentence; null when the folder is the one that was asked for */
  readonly movedBecause: string | null;
}

export interface OpenedDatabase {
  /** of an owner's direct connection */
  readonly url: string;
  /** for people, without password */
  readonly where: string;
  /** Calls `listener` if the service's own server ends without having been stopped. */
  onLost(listener: (why: string) => void): void;
  stop(): Promise<void>;
}

/** Where the service keeps what is not in a database server elsewhere. */
export function dataFolderOf(config: Config): DataFolder {
  if (config.databaseUrl !== null) return { dir: path.resolve(config.dataDir), movedBecause: null };
  try {
    return chooseDataDir({ wanted: config.dataDir });
  } catch (error) {
    throw new StartRefused(`There is no folder for the data: ${wordsOf(error)}`);
  }
}

/** Starts the server if it is ours, and makes its database on the first start. Nothing is migrated yet. */
export async function openDatabase(config: Config, folder: DataFolder, log: Log): Promise<OpenedDatabase> {
  if (config.databaseUrl !== null) {
    const url = config.databaseUrl;
    return { url, where: nameOf(url), onLost: () => undefined, stop: async () => undefined };
  }
  const server = await startEmbedded({
    dir: folder.dir,
    // Lines of the server's own begin with a time or go on from one that does; the others are the launcher's, which says what it cleared away.
    log: (line) => (/^(\d{4}-|\s)/.test(line) ? log.debug({ postgres: line }) : log.info({ postgres: line })),
  }).catch((error: unknown) => {
    throw new StartRefused(`The database did not start: ${wordsOf(error)}`);
  });
  try {
    await createIfMissing(server.url);
  } catch (error) {
    await server.stop();
    throw error;
  }
  const url = new URL(server.url);
  url.pathname = `/${DATABASE}`;
  return {
    url: url.href,
    where: `${server.dataDir} (a Postgres of its own)`,
    onLost(listener) {
      server.onExit((exit) => {
        if (!exit.expected) listener(`the database server ended by itself (${exit.signal ?? `code ${exit.code}`})`);
      });
    },
    stop: () => server.stop(),
  };
}

/** Migrations and the queue's own tables. Answers the names of the migrations that were missing. */
export async function prepareDatabase(url: string, log: Log): Promise<readonly string[]> {
  const holder = new pg.Client({
    connectionString: url,
    connectionTimeoutMillis: 10_000,
    application_name: 'sealtrail-start',
  });
  holder.on('error', (error) => log.warn({ err: error }, 'the starting connection failed'));
  try {
    await holder.connect();
  } catch (error) {
    throw new StartRefused(`The database at ${nameOf(url)} cannot be used: ${wordsOf(error)}`);
  }
  try {
    await refuseOldServer(holder);
    await holder.query('set statement_timeout = 0; set lock_timeout = 0; set idle_session_timeout = 0');
    await holder.query('select pg_advisory_lock($1::bigint)', [PREPARE_LOCK_KEY]);
    const { applied } = await migrate(url, { dir: MIGRATIONS, log: (line) => log.info(line) }).catch(
      (error: unknown) => {
        throw new StartRefused(`The database could not be migrated: ${wordsOf(error)}`);
      },
    );
    await prepareQueue(url);
    return applied;
  } finally {
    await holder.end();
  }
}

async function refuseOldServer(client: pg.Client): Promise<void> {
  const { rows } = await client.query<{ number: number; version: string }>(
    `select current_setting('server_version_num')::int4 as number, current_setting('server_version') as version`,
  );
  const found = rows[0];
  if (found === undefined || found.number >= OLDEST_MAJOR * 10_000) return;
  throw new StartRefused(
    `The database server is Postgres ${found.version}; Sealtrail needs ${OLDEST_MAJOR} or newer. Nothing was changed in it.`,
  );
}

async function createIfMissing(serverUrl: string): Promise<void> {
  const client = new pg.Client(serverUrl);
  await client.connect();
  try {
    const { rows } = await client.query('select 1 from pg_database where datname = $1::text', [DATABASE]);
    if (rows.length === 0) await client.query(`create database ${DATABASE}`);
  } finally {
    await client.end();
  }
}

/** host:port/database of a connection URL, for messages: never its user or password. */
function nameOf(url: string): string {
  try {
    const { host, pathname } = new URL(url);
    return `${decodeURIComponent(host)}${pathname}`;
  } catch {
    return 'DATABASE_URL';
  }
}
