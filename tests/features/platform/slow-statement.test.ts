import { afterAll, beforeAll, expect, test } from 'vitest';
import { createDb, isUnavailable, type Db } from '../../../src/platform/db/db.ts';
import { groupIdOf } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { freshDatabase } from '../../support/database.ts';

let database: Awaited<ReturnType<typeof freshDatabase>>;
let db: Db;
beforeAll(async () => {
  database = await freshDatabase();
  db = createDb({ url: database.url, poolSize: 1, log: createLog('silent'), statementTimeoutMs: 50 });
});
afterAll(async () => {
  await db.end();
  await database.drop();
});

test('a statement that takes too long is the database not answering, and the connection goes on', async () => {
  const group = groupIdOf('nobody');
  const slow = db.inGroup(group, 'read', (tx) => tx.query('select pg_sleep(5)'));
  const error: unknown = await slow.then(
    () => null,
    (reason: unknown) => reason,
  );
  expect(isUnavailable(error)).toBe(true);
  expect(await db.inGroup(group, 'read', (tx) => tx.query('select 1 as one'))).toEqual([{ one: 1 }]);
});
