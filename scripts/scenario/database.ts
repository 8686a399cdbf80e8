/**
 * The scenario's own group. Groups are not made over the API, so the database is needed for that and for the figures at the end: the one of
 * DATABASE_URL, or the one that the running service keeps in its data folder.
 *
 * The end of the scenario is kept in the group's name: run again, on another day too, it tells the same and changes nothing.
 * Refuses: a seed whose group holds a scenario of another size; a data folder whose database is not running.
 */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import type { Config } from '../../src/config.ts';
import { createGroup } from '../../src/features/identity/index.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { exampleId, groupIdOf, newSecret } from '../../src/platform/ids.ts';
import type { ScenarioSize } from './plan.ts';

const MINUTE_MS = 60_000;

export interface ScenarioGroup {
  readonly groupId: string;
  readonly endMs: number;
}

export const groupCodeOf = (seed: number): string => `scenario-${seed}`;

/** Makes the group on the first run. */
export async function openScenarioGroup(db: Db, size: ScenarioSize, nowMs: number): Promise<ScenarioGroup> {
  const code = groupCodeOf(size.seed);
  const groupId = groupIdOf(code);
  const rows = await db.inGroup(groupId, 'read', (tx) =>
    tx.query<{ name: string }>('select g.name from groups g where g.group_id = $1::uuid', [groupId]),
  );
  const begins = `Scenario: ${size.sites} sites, ${size.days} days to `;
  const known = rows[0]?.name;
  if (known !== undefined) {
    const endMs = known.startsWith(begins) ? Date.parse(known.slice(begins.length)) : Number.NaN;
    if (!Number.isNaN(endMs)) return { groupId, endMs };
    throw new Error(`The group ${code} holds another one (${known}). Take the same size, or another --seed.`);
  }
  const endMs = Math.floor(nowMs / MINUTE_MS) * MINUTE_MS;
  const admin = {
    personId: exampleId(`scenario/${size.seed}/person/admin`),
    name: 'Robin Field',
    signInName: 'robin',
    password: newSecret(24),
  };
  const name = `${begins}${new Date(endMs).toISOString()}`;
  await createGroup(db, { code, name, currency: 'GBP', admin, nowMs });
  return { groupId, endMs };
}

export interface Figures {
  readonly lots: number;
  readonly packs: number;
  readonly scans: number;
  readonly entries: number;
  readonly findings: number;
}

export async function figuresOf(db: Db, groupId: string): Promise<Figures> {
  const rows = await db.inGroup(groupId, 'read', (tx) =>
    tx.query<Figures>(
      `select (select count(*) from lot l where l.group_id = $1::uuid) as lots,
              (select coalesce(sum(l.quantity), 0)::int8 from lot l where l.group_id = $1::uuid and l.serialised) as packs,
              (select count(*) from scan s where s.group_id = $1::uuid) as scans,
              (select count(*) from entry e where e.group_id = $1::uuid) as entries,
              (select count(*) from finding f where f.group_id = $1::uuid and f.status = 'open') as findings`,
      [groupId],
    ),
  );
  return rows[0] as Figures;
}

/** `dataDir`: of a running service with a Postgres of its own, which says in its folder where it listens. */
export function databaseUrlOf(config: Config, dataDir: string): string {
  if (config.databaseUrl !== null) return config.databaseUrl;
  const file = path.join(dataDir, 'pgdata', 'postmaster.pid');
  let lines: string[];
  try {
    lines = readFileSync(file, 'utf8').split('\n');
  } catch (cause) {
    throw new Error(`No database is running in ${dataDir}. Start the service first: npm start`, { cause });
  }
  // Lines of postmaster.pid: process, folder, start, port, socket folder (Postgres, src/include/utils/pidfile.h).
  const [, , , port, socketDir] = lines;
  if (!port || !socketDir) throw new Error(`The database in ${dataDir} is still starting; try again.`);
  return `postgres://sealtrail@${encodeURIComponent(socketDir.trim())}:${port.trim()}/sealtrail`;
}
