/** A template database with the demo in it: made by the first test file of a run that asks, copied by all. */
import { inject } from 'vitest';
import { loadDemo } from '../../seeds/demo/load.ts';
import { createTokens } from '../../src/platform/auth/tokens.ts';
import { createDb } from '../../src/platform/db/db.ts';
import { createLog } from '../../src/platform/log.ts';
import { COPY_LOCK_KEY } from './database.ts';
import { NOON_MS, TOKEN_ISSUER, TOKEN_SECRET } from './service.ts';
import { asAdmin, urlOf } from './test-server.ts';

/** Any number; two files must not load the demo at once. */
const DEMO_LOCK_KEY = 7_283_116_004;

/**
 * The template's name, for `startService({ template })`. The demo ends at 25 November 2026, noon UTC, which is the service's time in tests
 * if not said otherwise.
 */
export async function demoTemplate(): Promise<string> {
  const server = inject('pg');
  const name = `${server.prefix}demo`;
  const unfinished = `${server.prefix}demo_unfinished`;
  await asAdmin(server.url, async (admin) => {
    await admin.query('select pg_advisory_lock($1)', [DEMO_LOCK_KEY]);
    const { rows } = await admin.query('select 1 from pg_database where datname = $1', [name]);
    if (rows.length > 0) return;
    await admin.query(`drop database if exists ${unfinished} with (force)`);
    await admin.query('select pg_advisory_lock($1)', [COPY_LOCK_KEY]);
    await admin.query(`create database ${unfinished} template ${server.template} strategy file_copy`);
    await admin.query('select pg_advisory_unlock($1)', [COPY_LOCK_KEY]);
    const log = createLog('error');
    const db = createDb({ url: urlOf(server.url, unfinished), poolSize: 4, preparedStatements: true, log });
    try {
      const tokens = createTokens({ secret: TOKEN_SECRET, issuer: TOKEN_ISSUER, external: null });
      await loadDemo({ db, tokens, log, endMs: NOON_MS });
    } finally {
      await db.end();
    }
    await admin.query(`alter database ${unfinished} rename to ${name}`);
    await admin.query(`alter database ${name} with allow_connections false`);
  });
  return name;
}
