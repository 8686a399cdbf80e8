/**
 * Brings a database to the state that this release needs, by the plain SQL files migrations/NNNN-slug.sql.
 *
 * Forward only: a mistake is put right by a further file. knex keeps the list of what has been applied; a migration's name there is the
 * file's name without extension. Any number of processes may call this at once: they queue for an advisory lock, the first does the
 * work and the others find nothing to do. The server drops that lock when its holder dies, unlike knex's own lock row, which a killed
 * process leaves behind for good; that row is therefore freed by whoever holds the advisory lock.
 *
 * The connection must be a direct one: behind a pooler in transaction mode a session's advisory lock means nothing.
 *
 * Refuses: a folder with anything in it but gapless numbered SQL files (and schema.sql, the generated dump); a database that knows
 * migrations which this release does not, because a newer release has been here.
 */
import { readFileSync, readdirSync } from 'node:fs';
import path from 'node:path';
import knex, { type Knex } from 'knex';
import pg from 'pg';

type Migration = { /** '0001-platform' */ name: string; file: string };

/** Any number that nobody else locks in this database. */
const LOCK_KEY = 7_283_116_001;
const TABLE = { schemaName: 'public', tableName: 'knex_migrations' } as const;
const FILE_NAME = /^(\d{4})-[a-z0-9]+(-[a-z0-9]+)*\.sql$/;
const GENERATED = 'schema.sql';

/**
 * Applies what is missing, each migration in a transaction of its own. `applied`: the names that this call applied, in order.
 * A migration that fails is rolled back and reported with its name; those before it stay.
 */
export async function migrate(
  connection: string | pg.ClientConfig,
  { dir, log = () => undefined }: { dir: string; log?: (line: string) => void },
): Promise<{ applied: string[] }> {
  const known = readMigrations(dir);
  const config: pg.ClientConfig = typeof connection === 'string' ? { connectionString: connection } : connection;
  const holder = new pg.Client(config);
  await holder.connect();
  try {
    // Waiting for another process is no reason to give up, whatever limits the role has.
    await holder.query('set statement_timeout = 0; set lock_timeout = 0; set idle_session_timeout = 0');
    await holder.query('select pg_advisory_lock($1)', [LOCK_KEY]);
    return { applied: await applyMissing(config, known, log) };
  } finally {
    await holder.end();
  }
}

/** The migrations of a folder in order. Throws unless the folder is flat and its numbers are 1, 2, 3… without gap or double. */
export function readMigrations(dir: string): Migration[] {
  const files = readdirSync(dir, { withFileTypes: true })
    .filter((entry) => entry.name !== GENERATED && !entry.name.startsWith('.'))
    .sort((a, b) => (a.name < b.name ? -1 : 1));
  return files.map((entry, index) => {
    const number = FILE_NAME.exec(entry.name)?.[1];
    if (!entry.isFile() || number === undefined) {
      throw new Error(`${path.join(dir, entry.name)} is not a migration; the folder holds files NNNN-slug.sql only`);
    }
    if (Number(number) !== index + 1) {
      const due = String(index + 1).padStart(4, '0');
      throw new Error(`migration ${due} is due but ${entry.name} is there; numbers have no gaps and no doubles`);
    }
    return { name: path.basename(entry.name, '.sql'), file: path.join(dir, entry.name) };
  });
}

async function applyMissing(
  config: pg.ClientConfig,
  known: Migration[],
  log: (line: string) => void,
): Promise<string[]> {
  const applied: string[] = [];
  const db = knex({
    client: 'pg',
    connection: config as Knex.PgConnectionConfig,
    pool: { min: 0, max: 1 },
    migrations: { ...TABLE, migrationSource: sourceOf(known) },
    log: { warn: log, error: log, debug: log, deprecate: log },
  });
  try {
    await refuseUnknown(db, known);
    await db.migrate.forceFreeMigrationsLock();
    for (;;) {
      // One at a time: knex's latest() would put all of them into one transaction.
      const [, names] = (await db.migrate.up()) as [number, string[]];
      const name = names[0];
      if (name === undefined) return applied;
      log(`migration ${name} applied`);
      applied.push(name);
    }
  } finally {
    await db.destroy();
  }
}

async function refuseUnknown(db: Knex, known: Migration[]): Promise<void> {
  if (!(await db.schema.withSchema(TABLE.schemaName).hasTable(TABLE.tableName))) return;
  const rows = await db
    .withSchema(TABLE.schemaName)
    .from(TABLE.tableName)
    .orderBy('id')
    .select<{ name: string }[]>('name');
  const names = new Set(known.map((migration) => migration.name));
  const unknown = rows.map((row) => row.name).filter((name) => !names.has(name));
  if (unknown.length > 0) {
    throw new Error(
      `the database has migrations that this release does not know (${unknown.join(', ')}); a newer release has been here: run that one`,
    );
  }
}

function sourceOf(known: Migration[]): Knex.MigrationSource<Migration> {
  return {
    getMigrations: async () => known,
    getMigrationName: (migration) => migration.name,
    getMigration: async (migration) => ({
      up: async (transaction) => {
        try {
          await runAsWritten(transaction, readFileSync(migration.file, 'utf8'));
        } catch (cause) {
          const reason = cause instanceof Error ? cause.message : String(cause);
          throw new Error(`migration ${migration.name} failed: ${reason}`, { cause });
        }
      },
      down: async () => {
        throw new Error(`migration ${migration.name} cannot be undone; write a further one`);
      },
    }),
  };
}

/**
 * Sends the text to the server unchanged, as one simple query on the transaction's connection. knex's raw() would take each `?` of the
 * SQL (an operator of jsonb, a character in a text) for a parameter.
 */
async function runAsWritten(transaction: Knex, sql: string): Promise<void> {
  const client = transaction.client as {
    acquireConnection(): Promise<pg.Client>;
    releaseConnection(connection: pg.Client): Promise<void>;
  };
  const connection = await client.acquireConnection();
  try {
    await connection.query(sql);
  } finally {
    await client.releaseConnection(connection);
  }
}
