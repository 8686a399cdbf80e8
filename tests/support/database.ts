/**
 * A database of its own for a test file: a copy of the template that global-setup.ts migrated once, about 25 ms.
 */
import { randomUUID } from 'node:crypto';
import { inject } from 'vitest';
import { asAdmin, urlOf, type TestServer } from './test-server.ts';

declare module 'vitest' {
  export interface ProvidedContext {
    pg: TestServer;
  }
}

/** Any number; two copies of one template must not be made at once. */
export const COPY_LOCK_KEY = 7_283_116_002;

/** A fresh copy of `template` ('tpl': all migrations applied; 'template1': empty). Call drop() in afterAll. */
export async function freshDatabase(template = 'tpl'): Promise<{ url: string; drop(): Promise<void> }> {
  const server = inject('pg');
  const source = template === 'tpl' ? server.template : template;
  const name = `${server.prefix}${randomUUID().replaceAll('-', '').slice(0, 16)}`;
  await asAdmin(server.url, async (admin) => {
    await admin.query('select pg_advisory_lock($1)', [COPY_LOCK_KEY]);
    // strategy: Postgres 15 and newer. A file copy of a small template is quicker than writing it through the log.
    await admin.query(`create database ${name} template ${source} strategy file_copy`);
  });
  return {
    url: urlOf(server.url, name),
    drop: () =>
      asAdmin(server.url, async (admin) => void (await admin.query(`drop database if exists ${name} with (force)`))),
  };
}
