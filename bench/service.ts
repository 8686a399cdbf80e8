/**
 * The real service as a process of its own on a real Postgres, both thrown away afterwards. fsync and synchronous_commit are on, as the
 * launcher sets them by default: a rate that a power cut takes back is no rate.
 */
import { chmodSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import pg from 'pg';
import { createGroup } from '../src/features/identity/index.ts';
import { createTokens } from '../src/platform/auth/tokens.ts';
import { systemClock } from '../src/platform/clock.ts';
import { createDb } from '../src/platform/db/db.ts';
import { exampleId, newSecret } from '../src/platform/ids.ts';
import { createLog } from '../src/platform/log.ts';
import { startEmbedded } from '../src/platform/postgres/embedded.ts';
import { prepareDatabase } from '../src/start/database.ts';
import { run, urlOf } from '../tests/support/started.ts';

const GROUP = 'bench';
const ISSUER = 'sealtrail-bench';

export interface BenchService {
  readonly url: string;
  readonly databaseUrl: string;
  readonly groupId: string;
  readonly serverVersion: string;
  /** of the service's process */
  readonly pid: number;
  /** the Authorization header of somebody with every role that the work needs, at every site */
  readonly authorization: string;
  /** Posts JSON and answers the body; throws unless it is 201 or 207. */
  post(path: string, body: object): Promise<ReturnType<typeof JSON.parse>>;
  /** the most memory that the service's process has had, as the kernel counts it */
  peakMib(): number;
  /** a folder that goes with the database, which the server's user may enter */
  readonly dir: string;
  stop(): Promise<void>;
}

/** `settings` of the Postgres, over those that it is tried out with. */
export async function startBenchService(settings: Record<string, string> = {}): Promise<BenchService> {
  const dir = mkdtempSync(path.join(os.tmpdir(), 'sealtrail-bench-'));
  // As root the server runs as another user, who must be able to enter.
  chmodSync(dir, 0o711);
  const ends: (() => Promise<unknown> | void)[] = [() => rmSync(dir, { recursive: true, force: true })];
  const stop = async (): Promise<void> => {
    for (let end = ends.pop(); end; end = ends.pop()) await end();
  };
  try {
    return await start(dir, settings, ends, stop);
  } catch (error) {
    await stop();
    throw error;
  }
}

async function start(
  dir: string,
  settings: Record<string, string>,
  ends: (() => Promise<unknown> | void)[],
  stop: () => Promise<void>,
): Promise<BenchService> {
  const server = await startEmbedded({ dir, settings });
  ends.push(() => server.stop());
  await prepareDatabase(server.url, createLog('warn'));
  const { groupId, serverVersion } = await makeGroup(server.url);
  const secret = newSecret();
  const child = run('src/main.ts', [], {
    DATABASE_URL: server.url,
    DATA_DIR: dir,
    DEMO: 'no',
    HOST: '127.0.0.1',
    PORT: '0',
    LOG_LEVEL: 'error',
    TOKEN_SECRET: secret,
    TOKEN_ISSUER: ISSUER,
  });
  ends.push(() => {
    child.child.kill('SIGTERM');
    return child.ended;
  });
  const url = await urlOf(child);
  const tokens = createTokens({ secret, issuer: ISSUER, external: null });
  const grants = ['admin', 'kitchen', 'quality', 'driver', 'receiver', 'finance'].map((role) => ({
    role,
    siteId: null,
  }));
  const actor = { groupId, kind: 'person' as const, actorId: exampleId('person/admin'), grants };
  const authorization = `Bearer ${tokens.sign(actor, systemClock.nowMs(), 6 * 3600)}`;
  return {
    url,
    databaseUrl: server.url,
    groupId,
    serverVersion,
    pid: child.child.pid ?? 0,
    authorization,
    dir,
    stop,
    peakMib() {
      const status = readFileSync(`/proc/${child.child.pid}/status`, 'utf8');
      return Math.round(Number(/^VmHWM:\s+(\d+) kB$/m.exec(status)?.[1] ?? Number.NaN) / 1024);
    },
    async post(where, body) {
      const answer = await fetch(url + where, {
        method: 'POST',
        headers: { authorization, 'content-type': 'application/json' },
        body: JSON.stringify(body),
      });
      const text = await answer.text();
      if (answer.status !== 201 && answer.status !== 207)
        throw new Error(`${where} answered ${answer.status}: ${text}`);
      return JSON.parse(text);
    },
  };
}

async function makeGroup(url: string): Promise<{ groupId: string; serverVersion: string }> {
  const db = createDb({ url, poolSize: 1, log: createLog('warn') });
  try {
    const { groupId } = await createGroup(db, {
      code: GROUP,
      name: 'Bench Catering',
      currency: 'GBP',
      admin: {
        personId: exampleId('person/admin'),
        name: 'Alex Reed',
        signInName: 'admin',
        password: 'ladle-behind-the-door',
      },
      nowMs: systemClock.nowMs(),
    });
    const client = new pg.Client(url);
    await client.connect();
    const { rows } = await client.query<{ version: string }>(`select current_setting('server_version') as version`);
    await client.end();
    return { groupId, serverVersion: rows[0]?.version ?? 'unknown' };
  } finally {
    await db.end();
  }
}
