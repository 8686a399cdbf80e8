/**
 * One Postgres server per run, with one template database that has all migrations.
 *
 * The server is the embedded one, made new in the temporary folder, without the safety that only a power cut would need. With
 * SEALTRAIL_TEST_DATABASE_URL the run uses that server (Postgres 15 or newer, a role that may create databases) and leaves nothing there.
 */
import { randomUUID } from 'node:crypto';
import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import type { TestProject } from 'vitest/node';
import { migrate } from '../../src/platform/db/migrate.ts';
import { chooseDataDir, startEmbedded } from '../../src/platform/postgres/embedded.ts';
import { asAdmin, urlOf, type TestServer } from './test-server.ts';

const MIGRATIONS = path.resolve(import.meta.dirname, '../../migrations');

export default async function setUp(project: TestProject): Promise<() => Promise<void>> {
  const given = process.env['SEALTRAIL_TEST_DATABASE_URL'];
  const { url, stop } =
    given === undefined || given === '' ? await startOwn() : { url: given, stop: async () => undefined };
  const prefix = `st_${randomUUID().replaceAll('-', '').slice(0, 8)}_`;
  const server: TestServer = { url, template: `${prefix}tpl`, prefix };
  const tearDown = async (): Promise<void> => {
    await dropAll(server);
    await stop();
  };
  try {
    await asAdmin(url, (admin) => admin.query(`create database ${server.template}`));
    await migrate(urlOf(url, server.template), { dir: MIGRATIONS });
    // A single session in the template would make every copy fail.
    await asAdmin(url, (admin) => admin.query(`alter database ${server.template} with allow_connections false`));
  } catch (error) {
    await tearDown();
    throw error;
  }
  project.provide('pg', server);
  return tearDown;
}

async function startOwn(): Promise<{ url: string; stop: () => Promise<void> }> {
  const made = mkdtempSync(path.join(os.tmpdir(), 'sealtrail-test-'));
  chmodSync(made, 0o755); // mkdtemp makes it private, and the server may run as another user.
  const { dir } = chooseDataDir({ wanted: made }); // Elsewhere if the temporary folder as a whole is private.
  const server = await startEmbedded({
    dir,
    settings: {
      fsync: 'off',
      full_page_writes: 'off',
      synchronous_commit: 'off',
      max_connections: 100,
      max_wal_size: '2GB',
    },
  });
  const stop = async (): Promise<void> => {
    await server.stop();
    for (const each of new Set([dir, made])) rmSync(each, { recursive: true, force: true });
  };
  return { url: server.url, stop };
}

/** Databases that a failed or interrupted test did not drop, and the template. Roles are left: other runs may use them. */
async function dropAll(server: TestServer): Promise<void> {
  await asAdmin(server.url, async (admin) => {
    const found = await admin.query<{ datname: string }>(
      'select datname from pg_database where starts_with(datname, $1)',
      [server.prefix],
    );
    for (const { datname } of found.rows) await admin.query(`drop database if exists ${datname} with (force)`);
  });
}
