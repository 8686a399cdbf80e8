/**
 * Two and more sessions stepped by the database's own view of its locks: a stopper holds what the first request will need last, and
 * every later step waits until Postgres says that so many sessions wait. Nothing sleeps, so nothing depends on how fast the machine is.
 */
import pg from 'pg';
import type { Answer, TestService } from './service.ts';

const DEADLINE_MS = 20_000;

export interface Sessions {
  /** Of the service's sessions, those that wait for a lock now. */
  waiting(): Promise<number>;
  /** Looks again and again until exactly so many wait. */
  untilWaiting(count: number): Promise<void>;
  /** Requests for the group's gate that are not granted. */
  waitingAtGate(): Promise<number>;
  /** Holds the group's head row: whoever writes an entry stops there, with its gate and its balances locked. */
  stopEntries(): Promise<() => Promise<void>>;
  /** Nobody can place a hold; whoever tries stops there, with the exclusive gate. */
  stopHolds(): Promise<() => Promise<void>>;
  /** No hold can reach a further lot; whoever lets one do so stops there. */
  stopReach(): Promise<() => Promise<void>>;
  /** A connection past the service, as the owner, that sees the service's group. */
  raw(): Promise<pg.Client>;
  end(): Promise<void>;
}

export async function sessionsOf(service: TestService): Promise<Sessions> {
  const clients: pg.Client[] = [];
  async function raw(): Promise<pg.Client> {
    const client = new pg.Client({ connectionString: service.databaseUrl, application_name: 'stopper' });
    await client.connect();
    clients.push(client);
    await client.query(`select set_config('app.group_id', $1, false)`, [service.groupId]);
    return client;
  }
  const watcher = await raw();
  const counted = async (query: string): Promise<number> => {
    const { rows } = await watcher.query<{ count: number }>(query);
    return rows[0]?.count ?? 0;
  };
  const waiting = () =>
    counted(
      `select count(*)::int as count from pg_stat_activity
        where datname = current_database() and application_name = 'sealtrail' and wait_event_type = 'Lock'`,
    );
  async function stop(statement: string): Promise<() => Promise<void>> {
    const client = await raw();
    await client.query('begin');
    await client.query(statement);
    return async () => void (await client.query('rollback'));
  }
  return {
    raw,
    waiting,
    async untilWaiting(count) {
      const deadline = Date.now() + DEADLINE_MS;
      for (let seen = await waiting(); seen !== count; seen = await waiting()) {
        if (Date.now() > deadline) throw new Error(`${seen} sessions wait, not ${count}`);
      }
    },
    waitingAtGate: () =>
      counted(
        `select count(*)::int as count from pg_locks l join pg_stat_activity a on a.pid = l.pid
          where a.datname = current_database() and a.application_name = 'sealtrail' and l.locktype = 'advisory'
            and not l.granted`,
      ),
    stopEntries: () => stop(`select from group_head where group_id = '${service.groupId}' for update`),
    stopHolds: () => stop('lock table hold in share mode'),
    stopReach: () => stop('lock table hold_reach in share mode'),
    async end() {
      for (const client of clients) await client.end();
    },
  };
}

/** Starts requests one after another, each when all before it wait, then lets the first go on. Answers in the same order. */
export async function inOrder(
  sessions: Sessions,
  stopper: () => Promise<void>,
  requests: readonly (() => Promise<Answer>)[],
  whenAllWait: () => Promise<void> = async () => undefined,
): Promise<Answer[]> {
  const answers: Promise<Answer>[] = [];
  try {
    for (const request of requests) {
      answers.push(request());
      await sessions.untilWaiting(answers.length);
    }
    await whenAllWait();
  } finally {
    await stopper();
  }
  return Promise.all(answers);
}

/** Lots that were made from a held lot and are not held: packs that slipped through. */
export async function slippedThrough(service: TestService): Promise<string[]> {
  return service.db.inGroup(service.groupId, 'read', async (tx) => {
    const rows = await tx.query<{ lotId: string }>(
      `select distinct e.child_lot_id as "lotId"
         from hold_reach hr
         join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id and h.propagates and h.lifted_at is null
         join lot_edge e on e.group_id = hr.group_id and e.parent_lot_id = hr.lot_id
        where not exists (select from hold_reach c
                where c.group_id = hr.group_id and c.hold_id = hr.hold_id and c.lot_id = e.child_lot_id)`,
    );
    return rows.map((row) => row.lotId);
  });
}

/** Every order of a few things. */
export function permutations<T>(list: readonly T[]): T[][] {
  if (list.length < 2) return [[...list]];
  return list.flatMap((one, at) => permutations(list.filter((_, i) => i !== at)).map((rest) => [one, ...rest]));
}
