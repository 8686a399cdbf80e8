/**
 * The only way to a connection. One message begins the transaction, takes the application role and sets the group
 * (local to the transaction, so it is safe behind a pooler in transaction mode); the gate follows as a statement of its
 * own, before any read, so that every later statement sees what the gate's last exclusive holder committed.
 *
 * Tried with two sessions elsewhere and found wanting: checking holds in the same statement as the lock, REPEATABLE
 * READ for writers, locking lot rows after computing a scope. Each let a pack through.
 */
import { createHash } from 'node:crypto';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import pg from 'pg';
import { from as copyFrom } from 'pg-copy-streams';
import type { Log } from '../log.ts';

/** `read`: one snapshot, read only. `write`: gate shared. `exclusive`: gate exclusive. */
export type TxMode = 'read' | 'write' | 'exclusive';

export interface Tx {
  /** Runs one statement. Int8 arrives as number, timestamptz as Date, date as 'YYYY-MM-DD'. */
  query<Row>(text: string, values?: readonly unknown[]): Promise<Row[]>;
  /** The rows of one statement, `size` at a time (1,000 if left out), so that a large answer is never held as a whole. */
  rows<Row>(text: string, values?: readonly unknown[], size?: number): AsyncIterable<Row[]>;
  /**
   * Sends `source`, in the format that the statement names, to `copy … from stdin`. Answers the number of rows. Row security does not
   * allow it into the tables of groups: it is for a temporary table that a statement takes the rows from.
   */
  copyIn(text: string, source: Iterable<Buffer> | AsyncIterable<Buffer>): Promise<number>;
  readonly groupId: string;
  readonly mode: TxMode;
  /** the fact that is being carried out; left out where no fact is, as in jobs */
  readonly factId?: string;
  /** statements run so far, the two of the opening included; what an outsider could time */
  readonly statements: () => number;
}

export interface Db {
  inGroup<T>(groupId: string, mode: TxMode, fn: (tx: Tx) => Promise<T>): Promise<T>;
  /** a plain liveness question; sees no table */
  ping(): Promise<void>;
  end(): Promise<void>;
}

/** Thrown inside a shared transaction when the decision turns out to need the exclusive gate; it starts again. */
export class NeedsExclusiveGate extends Error {}

/** Thrown inside a transaction that waited for another one, and decided from what it had read before; it starts again. */
export class ReadTooEarly extends Error {}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;
const TRIES = 5;

const types = {
  getTypeParser(oid: number, format?: string): (value: string) => unknown {
    if (oid === 20) return parseInt8;
    if (oid === 1082) return (v) => v;
    return pg.types.getTypeParser(oid, format as 'text') as (value: string) => unknown;
  },
};

function parseInt8(value: string): number {
  const n = Number(value);
  if (!Number.isSafeInteger(n)) throw new RangeError(`int8 beyond 2^53: ${value}`);
  return n;
}

/** Half of the group's UUID as a signed 64-bit key. Two groups that collide only wait for each other. */
function gateKey(groupId: string): string {
  return BigInt.asIntN(64, BigInt(`0x${groupId.replaceAll('-', '').slice(16)}`)).toString();
}

export interface DbOptions {
  readonly url: string;
  readonly poolSize: number;
  readonly log: Log;
  readonly statementTimeoutMs?: number;
  /**
   * Statements are prepared once per connection: planning under row security costs more than running most of them. Not behind
   * a pooler in transaction mode that does not know them (pgbouncer before 1.21).
   */
  readonly preparedStatements?: boolean;
}

export function createDb(options: DbOptions): Db {
  const pool = new pg.Pool({
    connectionString: options.url,
    max: options.poolSize,
    // pg's pool waits for ever unless told otherwise
    connectionTimeoutMillis: 10_000,
    idleTimeoutMillis: 30_000,
    application_name: 'sealtrail',
    types,
  });
  pool.on('error', (error) => options.log.warn({ err: error }, 'idle database connection failed'));
  const timeoutMs = options.statementTimeoutMs ?? 30_000;
  const names = new Map<string, string>();
  function nameOf(text: string): string {
    const known = names.get(text);
    if (known !== undefined) return known;
    const name = createHash('sha256').update(text).digest('base64url').slice(0, 32);
    names.set(text, name);
    return name;
  }

  async function once<T>(groupId: string, mode: TxMode, fn: (tx: Tx) => Promise<T>): Promise<T> {
    if (!UUID.test(groupId)) throw new TypeError('inGroup: the group is not a UUID');
    const client = await pool.connect();
    let statements = 0;
    let cursors = 0;
    let broken: Error | undefined;
    try {
      statements += 1;
      const isolation =
        mode === 'read' ? 'isolation level repeatable read read only' : 'isolation level read committed';
      await client.query(
        `begin ${isolation}; set local role sealtrail_app; set local statement_timeout = ${timeoutMs};` +
          ` select set_config('app.group_id', '${groupId}', true)`,
      );
      if (mode !== 'read') {
        statements += 1;
        const lock = mode === 'write' ? 'pg_advisory_xact_lock_shared' : 'pg_advisory_xact_lock';
        await client.query(`select ${lock}(${gateKey(groupId)})`);
      }
      const tx: Tx = {
        groupId,
        mode,
        statements: () => statements,
        async query<Row>(text: string, values: readonly unknown[] = []) {
          statements += 1;
          const name = options.preparedStatements ? { name: nameOf(text) } : {};
          const result = await client.query({ ...name, text, values: values as unknown[] });
          return result.rows as Row[];
        },
        async copyIn(text, source) {
          statements += 1;
          const rows = client.query(copyFrom(text));
          await pipeline(Readable.from(source), rows);
          return rows.rowCount;
        },
        async *rows<Row>(text: string, values: readonly unknown[] = [], size = 1000) {
          cursors += 1;
          const cursor = `rows_${cursors}`;
          statements += 2;
          // All rows are wanted; by default a cursor is planned for the first tenth of them.
          await client.query('set local cursor_tuple_fraction = 1');
          await client.query(`declare ${cursor} no scroll cursor for ${text}`, values as unknown[]);
          // The cursor ends with the transaction, also when it is left half-way.
          for (let full = true; full;) {
            statements += 1;
            const { rows } = await client.query(`fetch forward ${size} from ${cursor}`);
            full = rows.length === size;
            if (rows.length > 0) yield rows as Row[];
          }
        },
      };
      const answer = await fn(tx);
      const commit = await client.query('commit');
      // A transaction that failed inside answers COMMIT with the tag ROLLBACK: without this check a swallowed error
      // would be reported as success with nothing saved.
      if (commit.command !== 'COMMIT') throw new Error(`commit answered ${commit.command}`);
      return answer;
    } catch (error) {
      try {
        await client.query('rollback');
      } catch (rollbackError) {
        broken = rollbackError as Error;
      }
      throw error;
    } finally {
      client.release(broken);
    }
  }

  return {
    async inGroup(groupId, mode, fn) {
      let wanted = mode;
      for (let attempt = 1; ; attempt += 1) {
        try {
          return await once(groupId, wanted, fn);
        } catch (error) {
          if (error instanceof NeedsExclusiveGate && wanted !== 'exclusive') {
            wanted = 'exclusive';
            continue;
          }
          if (attempt >= TRIES || !isWorthRetrying(error)) throw error;
        }
      }
    },
    async ping() {
      await pool.query('select 1');
    },
    async end() {
      await pool.end();
    },
  };
}

/**
 * Serialization failure, deadlock, or two first sendings of one fact at once: both write their rows under the fact's id, the second
 * waits for the first at a primary key (or at that of the entry's id), and finds the first's answer when it starts again.
 */
function isWorthRetrying(error: unknown): boolean {
  if (error instanceof ReadTooEarly) return true;
  if (!(error instanceof pg.DatabaseError)) return false;
  if (error.code === '40001' || error.code === '40P01') return true;
  return error.code === '23505' && /(_pkey|_id_key)$/.test(error.constraint ?? '');
}

/** The name of the unique constraint that an error broke, or null. */
export function brokenConstraint(error: unknown): string | null {
  return error instanceof pg.DatabaseError && error.code === '23505' ? (error.constraint ?? null) : null;
}

/** True when the database could not be reached, is shutting down or is not there (3D000). */
export function isUnavailable(error: unknown): boolean {
  if (error instanceof pg.DatabaseError) return /^(08|53|57P|57014|55P03|3D)/.test(error.code ?? '');
  const code = (error as { code?: unknown }).code;
  if (typeof code === 'string' && /^E(CONN|PIPE|NOENT)/.test(code)) return true;
  return error instanceof Error && /timeout exceeded when trying to connect|Connection terminated/.test(error.message);
}
