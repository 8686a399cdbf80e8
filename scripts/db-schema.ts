/**
 * Writes migrations/schema.sql, the schema that all migrations together make, from a temporary database server. With --check it writes
 * nothing and fails when the file is not what it would write: a migration was added, or an applied one was changed, without it.
 */
import { chmodSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import pg from 'pg';
import { migrate } from '../src/platform/db/migrate.ts';
import { chooseDataDir, startEmbedded } from '../src/platform/postgres/embedded.ts';
import { dumpSchema } from './schema/dump.ts';

const root = path.resolve(import.meta.dirname, '..');
const migrations = path.join(root, 'migrations');
const file = path.join(migrations, 'schema.sql');

async function schemaOfMigrations(): Promise<string> {
  const made = mkdtempSync(path.join(os.tmpdir(), 'sealtrail-schema-'));
  chmodSync(made, 0o755); // mkdtemp makes it private, and the server may run as another user.
  const { dir } = chooseDataDir({ wanted: made });
  try {
    const server = await startEmbedded({ dir, settings: { fsync: 'off', shared_buffers: '32MB' } });
    try {
      await migrate(server.url, { dir: migrations });
      const client = new pg.Client(server.url);
      await client.connect();
      try {
        return await dumpSchema(client);
      } finally {
        await client.end();
      }
    } finally {
      await server.stop();
    }
  } finally {
    for (const each of new Set([dir, made])) rmSync(each, { recursive: true, force: true });
  }
}

function readOrNull(): string | null {
  try {
    return readFileSync(file, 'utf8');
  } catch {
    return null; // Not written yet.
  }
}

/** The first line that differs, for a message. */
function firstDifference(there: string, due: string): string {
  const [a, b] = [there.split('\n'), due.split('\n')];
  const at = b.findIndex((line, index) => line !== a[index]);
  const line = at === -1 ? b.length : at;
  return `line ${line + 1}: there is "${a[line] ?? ''}", due is "${b[line] ?? ''}"`;
}

const due = await schemaOfMigrations();
const there = readOrNull();
if (!process.argv.includes('--check')) {
  writeFileSync(file, due);
  process.stdout.write(`${path.relative(root, file)} written\n`);
} else if (there !== due) {
  const where = there === null ? 'it is missing' : firstDifference(there, due);
  process.stderr.write(`migrations/schema.sql is not what the migrations make (${where}); run npm run -s db:schema\n`);
  process.exitCode = 1;
}
