/**
 * Background work. graphile-worker holds the queue and its clock; a job is only a wake-up. What there is to do stands in the
 * tables and the outbox, written in the transaction of the fact that caused it, so a lost job costs nothing but time.
 */
import { Logger, run, runMigrations, type Runner, type TaskList } from 'graphile-worker';
import pg from 'pg';
import type { Tx } from './db/db.ts';
import type { Log } from './log.ts';

export interface Job {
  readonly name: string;
  readonly run: (payload: { groupId: string }) => Promise<void>;
  /** crontab-like schedule for a sweep over all groups, e.g. `15 * * * *` */
  readonly sweep?: string;
  /** after a sweep has been through all groups: one statement as the sweeping role, which sees queue tables only */
  readonly afterSweep?: string;
}

export async function outbox(tx: Tx, topic: string, payload: unknown, nowMs: number): Promise<void> {
  await tx.query(
    `insert into outbox (group_id, topic, payload, created_at)
     values ($1::uuid, $2::text, $3::jsonb, to_timestamp($4::float8 / 1000))`,
    [tx.groupId, topic, JSON.stringify(payload), nowMs],
  );
}

/**
 * Wakes a job when the transaction commits. One waiting wake-up a group and job: another one is the same. Call it last: until the commit,
 * others that wake the same job wait.
 */
export async function wakeJob(tx: Tx, name: string): Promise<void> {
  await tx.query('select wake_job($1::text, $2::uuid)', [name, tx.groupId]);
}

/** Wakes a job in a while; one that waits already is left as it is. */
export async function wakeJobLater(tx: Tx, name: string, afterS: number): Promise<void> {
  await tx.query('select wake_job_later($1::text, $2::uuid, $3::int)', [name, tx.groupId, afterS]);
}

/** The queue's own tables, and the rights of the application and sweeping roles on them. Run by the owner. */
export async function prepareQueue(url: string): Promise<void> {
  const pool = new pg.Pool({ connectionString: url, max: 1 });
  // A connection that breaks fails the statement that runs on it; without listeners it would also end the process.
  pool.on('error', () => undefined).on('connect', (client) => client.on('error', () => undefined));
  try {
    await runMigrations({ pgPool: pool });
    await pool.query(`
      grant usage on schema graphile_worker to sealtrail_app, sealtrail_queue;
      grant select, insert, update, delete on all tables in schema graphile_worker to sealtrail_app, sealtrail_queue;
      grant usage on all sequences in schema graphile_worker to sealtrail_app, sealtrail_queue;
      grant execute on all functions in schema graphile_worker to sealtrail_app, sealtrail_queue;
      -- The queue has row security switched on without a policy: a right alone lets nobody but the owner add a job.
      do $$
      declare
        one record;
      begin
        for one in
          select c.relname from pg_class c
          where c.relnamespace = 'graphile_worker'::regnamespace and c.relrowsecurity
            and not exists (select from pg_policy p where p.polrelid = c.oid and p.polname = 'sealtrail_roles')
        loop
          execute format('create policy sealtrail_roles on graphile_worker.%I to sealtrail_app, sealtrail_queue
                          using (true) with check (true)', one.relname);
        end loop;
      end
      $$;`);
  } finally {
    await pool.end();
  }
}

/** Row security holds for the owner too, so without the sweeping role there would be no group to see. */
async function allGroups(client: pg.PoolClient): Promise<string[]> {
  await client.query('begin; set local role sealtrail_queue');
  try {
    const { rows } = await client.query<{ group_id: string }>(
      'select q.group_id from group_queue q order by q.group_id',
    );
    return rows.map((row) => row.group_id);
  } finally {
    await client.query('commit');
  }
}

async function asSweeper(client: pg.PoolClient, statement: string): Promise<void> {
  await client.query('begin; set local role sealtrail_queue');
  try {
    await client.query(statement);
    await client.query('commit');
  } catch (error) {
    await client.query('rollback');
    throw error;
  }
}

/** Needs a direct (session) connection of the owner. A sweep takes the sweeping role, which sees queue tables only. */
export async function startJobs(options: {
  url: string;
  jobs: readonly Job[];
  log: Log;
}): Promise<{ stop(): Promise<void> }> {
  const pool = new pg.Pool({ connectionString: options.url, max: 3, connectionTimeoutMillis: 10_000 });
  pool.on('error', (error) => options.log.warn({ err: error }, 'idle queue connection failed'));
  // Also a connection in use (the one that listens): graphile-worker opens another, so the process need not end.
  pool.on('connect', (client) => {
    client.on('error', (error) => options.log.warn({ err: error }, 'queue connection failed'));
  });
  const taskList: TaskList = {};
  for (const job of options.jobs) {
    taskList[job.name] = async (payload) => {
      await job.run(payload as { groupId: string });
    };
    taskList[`sweep:${job.name}`] = async (_payload, helpers) => {
      for (const groupId of await helpers.withPgClient(allGroups)) await job.run({ groupId });
      const { afterSweep } = job;
      if (afterSweep !== undefined) await helpers.withPgClient((client) => asSweeper(client, afterSweep));
    };
  }
  const crontab = options.jobs.flatMap((job) => (job.sweep ? [`${job.sweep} sweep:${job.name}`] : [])).join('\n');
  const logger = new Logger(() => (rawLevel, message, meta) => {
    const level: string = rawLevel;
    if (level === 'error') options.log.error({ meta }, message);
    else if (level === 'warning') options.log.warn(message);
  });
  const runner: Runner = await run({
    pgPool: pool,
    taskList,
    crontab,
    concurrency: 2,
    noHandleSignals: true,
    pollInterval: 5000,
    logger,
  });
  return {
    async stop() {
      await runner.stop();
      await pool.end();
    },
  };
}
