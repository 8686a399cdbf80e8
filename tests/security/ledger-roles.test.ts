/** What the database itself refuses the application's role: changing what was recorded, seeing another group, saving half. */
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createGroup } from '../../src/features/identity/index.ts';
import { exampleId } from '../../src/platform/ids.ts';
import { kitchenOf } from '../support/kitchen.ts';
import { ADMIN_PASSWORD, startService, type TestService } from '../support/service.ts';
import { buildWorld } from '../support/world.ts';

/** insufficient_privilege, https://www.postgresql.org/docs/current/errcodes-appendix.html */
const DENIED = '42501';
/** Readings know their group by its number. */
const GROUP_KEYS = new Set(['group_id', 'group_no']);
const FOR_EVER = ['entry', 'posting', 'lot', 'fact', 'hold_reach'] as const;

let service: TestService;
let client: pg.Client;
let otherGroupId: string;
beforeAll(async () => {
  service = await startService();
  const kitchen = kitchenOf(service, await buildWorld(service));
  const lotId = await kitchen.shin(1_000);
  await kitchen.post('quality', '/v1/holds', { kind: 'quality', lotId, note: 'A doubt' });
  const admin = { personId: exampleId('person/other'), name: 'Jo Finch', signInName: 'jo', password: ADMIN_PASSWORD };
  const group = { code: 'westmere', name: 'Westmere Catering', currency: 'GBP', admin, nowMs: service.clock.nowMs() };
  otherGroupId = (await createGroup(service.db, group)).groupId;
  client = new pg.Client({ connectionString: service.databaseUrl });
  await client.connect();
});
afterAll(async () => {
  await client.end();
  await service.stop();
});

/** Runs one statement as the application's role and takes it back. */
async function asApp(groupId: string | null, statement: string): Promise<pg.QueryResult<Record<string, unknown>>> {
  await client.query('begin; set local role sealtrail_app');
  try {
    if (groupId !== null) await client.query(`select set_config('app.group_id', $1, true)`, [groupId]);
    return await client.query(statement);
  } finally {
    await client.query('rollback');
  }
}

const tables = async (): Promise<{ name: string; security: boolean; forced: boolean; first: string | null }[]> => {
  const { rows } = await client.query(
    `select c.relname as name, c.relrowsecurity as security, c.relforcerowsecurity as forced, a.attname as first
       from pg_class c
       left join pg_index i on i.indrelid = c.oid and i.indisprimary
       left join pg_attribute a on a.attrelid = c.oid and a.attnum = i.indkey[0]
      where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
      order by 1`,
  );
  return rows as { name: string; security: boolean; forced: boolean; first: string | null }[];
};

describe('what was recorded', () => {
  test.each(FOR_EVER)('%s is there, and can be neither changed nor deleted', async (table) => {
    const there = await asApp(service.groupId, `select from ${table}`);
    expect(there.rowCount).toBeGreaterThan(0);
    await expect(asApp(service.groupId, `update ${table} set group_id = group_id`)).rejects.toMatchObject({
      code: DENIED,
    });
    await expect(asApp(service.groupId, `delete from ${table}`)).rejects.toMatchObject({ code: DENIED });
    await expect(asApp(service.groupId, `truncate ${table}`)).rejects.toMatchObject({ code: DENIED });
  });

  test('the role owns nothing, makes nothing, and does not bypass row security', async () => {
    const { rows } = await client.query(
      `select rolsuper, rolbypassrls, rolcreatedb, rolcreaterole, rolcanlogin,
              (select count(*)::int from pg_class c where c.relowner = r.oid) as owned
         from pg_roles r where rolname = 'sealtrail_app'`,
    );
    expect(rows).toEqual([
      { rolsuper: false, rolbypassrls: false, rolcreatedb: false, rolcreaterole: false, rolcanlogin: false, owned: 0 },
    ]);
    await expect(asApp(service.groupId, 'create table mine (n int)')).rejects.toMatchObject({ code: DENIED });
  });
});

describe('row security', () => {
  test("every table but the migrations' own forces it, and has a primary key that begins with the group", async () => {
    const ours = (await tables()).filter(({ name }) => !name.startsWith('knex_'));
    expect(ours.length).toBeGreaterThan(30);
    expect(ours.filter(({ security, forced, first }) => !security || !forced || !GROUP_KEYS.has(first ?? ''))).toEqual(
      [],
    );
  });

  test('the application cannot read the tables of the migrations', async () => {
    for (const { name } of (await tables()).filter((table) => table.name.startsWith('knex_'))) {
      await expect(asApp(service.groupId, `select from ${name}`)).rejects.toMatchObject({ code: DENIED });
    }
  });

  test('rows are seen with their own group set, and with no other, nor with none', async () => {
    const bound = (await tables()).filter((table) => !table.name.startsWith('knex_'));
    for (const { name } of bound.filter((table) => table.first === 'group_id')) {
      // queue tables are for another role
      const readable = await client.query<{ may: boolean }>(
        `select has_table_privilege('sealtrail_app', 'public.' || quote_ident($1), 'select') as may`,
        [name],
      );
      if (readable.rows[0]?.may !== true) continue;
      const foreign = `select from ${name} where group_id = '${service.groupId}'`;
      expect([name, (await asApp(otherGroupId, foreign)).rowCount]).toEqual([name, 0]);
      expect([name, (await asApp(null, `select from ${name}`)).rowCount]).toEqual([name, 0]);
    }
    expect((await asApp(service.groupId, 'select from groups')).rowCount).toBe(1);
  });

  test('a row cannot be written for another group', async () => {
    const lot = `insert into group_queue (group_id) values ('${otherGroupId}')`;
    await expect(asApp(service.groupId, lot)).rejects.toMatchObject({ code: DENIED });
    const moved = await asApp(otherGroupId, `update balance set quantity = 0 where group_id = '${service.groupId}'`);
    expect(moved.rowCount).toBe(0);
  });
});

describe('a transaction', () => {
  test('that swallowed an error is not reported as saved', async () => {
    const attempt = service.db.inGroup(service.groupId, 'write', async (tx) => {
      await tx.query(`update group_head set last_seq = last_seq where group_id = $1::uuid`, [tx.groupId]);
      await tx.query('select 1 / 0').catch(() => undefined);
      return 'saved';
    });
    await expect(attempt).rejects.toThrow('commit answered ROLLBACK');
  });

  test('leaves neither role nor group behind on its connection', async () => {
    await service.db.inGroup(service.groupId, 'write', async (tx) => {
      const during = await tx.query(`select current_user::text as role, current_setting('app.group_id') as "groupId"`);
      expect(during).toEqual([{ role: 'sealtrail_app', groupId: service.groupId }]);
    });
    const reader = service.db.inGroup(otherGroupId, 'read', (tx) => tx.query('select from lot'));
    expect(await reader).toEqual([]);
  });

  test('that only reads cannot write', async () => {
    const write = service.db.inGroup(service.groupId, 'read', (tx) => tx.query('update group_head set last_seq = 0'));
    // read_only_sql_transaction
    await expect(write).rejects.toMatchObject({ code: '25006' });
  });
});
