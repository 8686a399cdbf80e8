/** Brings the database of DATABASE_URL, or of the data folder, to this release's state without starting the service. */
import path from 'node:path';
import { readConfig } from '../src/config.ts';
import { createLog } from '../src/platform/log.ts';
import { dataFolderOf, openDatabase, prepareDatabase } from '../src/start/database.ts';
import { explain } from '../src/start/refused.ts';

async function main(): Promise<void> {
  const config = readConfig(process.env, path.resolve(import.meta.dirname, '..'));
  const log = createLog('warn');
  const database = await openDatabase(config, dataFolderOf(config), log);
  try {
    const applied = await prepareDatabase(database.url, log);
    for (const name of applied) process.stdout.write(`${name} applied\n`);
    process.stdout.write(`${database.where}: ${applied.length === 0 ? 'nothing was missing' : 'up to date'}\n`);
  } finally {
    await database.stop();
  }
}

await main().catch((error: unknown) => {
  const { text, code } = explain(error);
  process.stderr.write(`${text}\n`);
  process.exitCode = code;
});
