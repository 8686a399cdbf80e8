import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import pg from 'pg';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { migrate, readMigrations } from '../../src/platform/db/migrate.ts';
import { freshDatabase } from '../support/database.ts';

const HERE = path.resolve(import.meta.dirname, '../../migrations');

let dir: string;
let database: { url: string; drop(): Promise<void> };

beforeEach(async () => {
  dir = mkdtempSync(path.join(os.tmpdir(), 'migrations-'));
  database = await freshDatabase('template0');
});

afterEach(async () => {
  await database.drop();
  rmSync(dir, { recursive: true });
});

function write(files: Record<string, string>): void {
  for (const [name, sql] of Object.entries(files)) writeFileSync(path.join(dir, name), sql);
}

async function rows(sql: string): Promise<unknown[]> {
  const client = new pg.Client(database.url);
  await client.connect();
  try {
    return (await client.query<Record<string, unknown>>(sql)).rows;
  } finally {
    await client.end();
  }
}

const APPLIED = 'select name from knex_migrations order by id';

describe('the folder', () => {
  test('ours is flat and gapless', () => {
    expect(() => readMigrations(HERE)).not.toThrow();
  });

  test('is read in order, without the generated dump', () => {
    write({ '0002-second-step.sql': '', '0001-first.sql': '', 'schema.sql': 'dump' });
    expect(readMigrations(dir).map((migration) => migration.name)).toEqual(['0001-first', '0002-second-step']);
  });

  test('with a gap is refused', async () => {
    write({ '0001-first.sql': 'select 1', '0003-third.sql': 'select 1' });
    await expect(migrate(database.url, { dir })).rejects.toThrow('migration 0002 is due but 0003-third.sql is there');
  });

  test('with a number twice is refused', () => {
    write({ '0001-first.sql': '', '0001-other.sql': '' });
    expect(() => readMigrations(dir)).toThrow('0002 is due but 0001-other.sql');
  });

  test.each(['notes.txt', '1-first.sql', '0001_first.sql', '0001-First.sql'])('with %s is refused', (name) => {
    write({ [name]: '' });
    expect(() => readMigrations(dir)).toThrow('is not a migration');
  });

  test('with a folder in it is refused', () => {
    mkdirSync(path.join(dir, '0001-first.sql'));
    expect(() => readMigrations(dir)).toThrow('is not a migration');
  });

  test('may be empty', async () => {
    expect(await migrate(database.url, { dir })).toEqual({ applied: [] });
  });
});

describe('migrating', () => {
  test('applies what is missing, once, and takes a config as well as a URL', async () => {
    write({ '0001-first.sql': 'create table a (n int)' });
    expect(await migrate(database.url, { dir })).toEqual({ applied: ['0001-first'] });
    write({ '0002-second.sql': 'create table b (n int); insert into b values (1), (2);' });
    const lines: string[] = [];
    const config: pg.ClientConfig = { connectionString: database.url };
    expect(await migrate(config, { dir, log: (line) => lines.push(line) })).toEqual({ applied: ['0002-second'] });
    expect(lines).toContain('migration 0002-second applied');
    expect(await migrate(database.url, { dir })).toEqual({ applied: [] });
    expect(await rows(APPLIED)).toEqual([{ name: '0001-first' }, { name: '0002-second' }]);
    expect(await rows('select n from b order by n')).toEqual([{ n: 1 }, { n: 2 }]);
  });

  test('eight at once: one does each piece of work, all succeed', async () => {
    write({
      '0001-first.sql': 'create table a (n int); select pg_sleep(0.2);',
      '0002-second.sql': 'insert into a values (1)',
    });
    const results = await Promise.all(Array.from({ length: 8 }, () => migrate(database.url, { dir })));
    expect(results.flatMap((result) => result.applied)).toEqual(['0001-first', '0002-second']);
    expect(await rows('select n from a')).toEqual([{ n: 1 }]);
  });

  test('sends the SQL as it is written: ? and :name are not parameters, $$ bodies stay whole', async () => {
    write({
      '0001-text.sql': `
        create table t (id int primary key, doc jsonb, note text);
        create function fill() returns void language plpgsql as $$
        begin
          insert into t values (1, '{"kept": true}', 'is it? $1 :name ??');
          insert into t select 2, doc, 'has key: ' || (doc ? 'kept')::text from t where doc ?| array['kept', 'x'];
        end $$;
        select fill();`,
    });
    await migrate(database.url, { dir });
    expect(await rows('select id, note from t order by id')).toEqual([
      { id: 1, note: 'is it? $1 :name ??' },
      { id: 2, note: 'has key: true' },
    ]);
  });

  test('one that fails is rolled back whole and named; those before it stay', async () => {
    write({
      '0001-first.sql': 'create table a (n int)',
      '0002-bad.sql': 'create table b (n int); insert into nowhere values (1);',
    });
    await expect(migrate(database.url, { dir })).rejects.toThrow(
      'migration 0002-bad failed: relation "nowhere" does not exist',
    );
    expect(await rows(APPLIED)).toEqual([{ name: '0001-first' }]);
    expect(await rows("select to_regclass('a')::text a, to_regclass('b')::text b")).toEqual([{ a: 'a', b: null }]);

    write({ '0002-bad.sql': 'create table b (n int)' });
    expect(await migrate(database.url, { dir })).toEqual({ applied: ['0002-bad'] });
  });

  test('a database that a newer release has migrated is refused and left alone', async () => {
    write({ '0001-first.sql': 'create table a (n int)', '0002-newer.sql': 'create table b (n int)' });
    await migrate(database.url, { dir });
    rmSync(path.join(dir, '0002-newer.sql'));
    await expect(migrate(database.url, { dir })).rejects.toThrow(
      'migrations that this release does not know (0002-newer)',
    );
    expect(await rows(APPLIED)).toHaveLength(2);
  });

  test('the lock row of a process that was killed while migrating does not stop the next', async () => {
    write({ '0001-first.sql': 'create table a (n int)' });
    await migrate(database.url, { dir });
    await rows('update knex_migrations_lock set is_locked = 1 returning 1');
    write({ '0002-second.sql': 'create table b (n int)' });
    expect(await migrate(database.url, { dir })).toEqual({ applied: ['0002-second'] });
  });

  test('a search_path that a migration leaves behind does not lose the list', async () => {
    write({
      '0001-first.sql': 'create schema x; set search_path = x; create table a (n int)',
      '0002-second.sql': 'create table public.b (n int)',
    });
    expect(await migrate(database.url, { dir })).toEqual({ applied: ['0001-first', '0002-second'] });
    expect(await migrate(database.url, { dir })).toEqual({ applied: [] });
  });
});
