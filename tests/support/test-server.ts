/**
 * The run's Postgres server, as global-setup.ts and the tests both see it. Apart from database.ts because that one asks vitest for the
 * current test's context, which the global set-up does not have.
 */
import pg from 'pg';

export type TestServer = {
  /** Maintenance database, as a role that may create databases. */
  url: string;
  /** Database with all migrations applied; nobody may connect to it. */
  template: string;
  /** Every database of this run has a name that begins so; whatever is left is dropped at the end of the run. */
  prefix: string;
};

/** The same server and role, another database. */
export function urlOf(serverUrl: string, database: string): string {
  const url = new URL(serverUrl);
  url.pathname = `/${database}`;
  return url.href;
}

export async function asAdmin<T>(serverUrl: string, work: (admin: pg.Client) => Promise<T>): Promise<T> {
  const admin = new pg.Client(serverUrl);
  await admin.connect();
  try {
    return await work(admin);
  } finally {
    await admin.end();
  }
}
