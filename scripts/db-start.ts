/**
 * Starts only the database server of the data folder and prints its URL, for looking in with other tools. Ends it on Ctrl-C. While it
 * runs the service cannot use the same folder, so start the service with this URL as DATABASE_URL, or end this first.
 */
import path from 'node:path';
import { readConfig } from '../src/config.ts';
import { createLog } from '../src/platform/log.ts';
import { dataFolderOf, openDatabase } from '../src/start/database.ts';
import { beginLifetime } from '../src/start/lifetime.ts';
import { explain, StartRefused } from '../src/start/refused.ts';

async function main(): Promise<void> {
  const config = readConfig(process.env, path.resolve(import.meta.dirname, '..'));
  if (config.databaseUrl !== null) throw new StartRefused('DATABASE_URL names a server that runs elsewhere; unset it.');
  const log = createLog('warn');
  const life = beginLifetime(log);
  const folder = dataFolderOf(config);
  const database = await openDatabase(config, folder, log);
  life.onStop('the database server', () => database.stop());
  database.onLost((why) => {
    process.stderr.write(`${why}\n`);
    void life.stop(1);
  });
  if (folder.movedBecause !== null) process.stderr.write(`The data are in ${folder.dir}: ${folder.movedBecause}.\n`);
  process.stdout.write(`${database.url}\n`);
  process.stderr.write('Ctrl-C ends it.\n');
}

await main().catch((error: unknown) => {
  const { text, code } = explain(error);
  process.stderr.write(`${text}\n`);
  process.exitCode = code;
});
