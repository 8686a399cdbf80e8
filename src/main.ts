/**
 * The service: start, listen, drain, stop.
 *
 * Refuses to start (exit code 2, one plain message) whatever config.ts, start/database.ts, start/secret.ts and start/serve.ts refuse, and
 * a demo scenario that does not load. Stops with code 1 when its own database server ends or an error reaches nobody.
 */
import path from 'node:path';
import { allJobs, createApp, type AppParts } from './app.ts';
import { readConfig, type Config } from './config.ts';
import { createTokens, type Tokens } from './platform/auth/tokens.ts';
import { systemClock } from './platform/clock.ts';
import { createDb, type Db } from './platform/db/db.ts';
import { randomIds } from './platform/ids.ts';
import { startJobs } from './platform/jobs.ts';
import { createLog, type Log } from './platform/log.ts';
import { bannerOf } from './start/banner.ts';
import { dataFolderOf, openDatabase, prepareDatabase } from './start/database.ts';
import { beginLifetime, type Lifetime } from './start/lifetime.ts';
import { knowExternalIssuer } from './start/external.ts';
import { explain, StartRefused, wordsOf } from './start/refused.ts';
import { keepTokenSecret } from './start/secret.ts';
import { listen } from './start/serve.ts';
import { tryOutTokens } from './start/try-out.ts';

const ROOT = path.resolve(import.meta.dirname, '..');
const DRAIN_LIMIT_MS = 10_000;
const TRY_OUT_LIFE_H = 12;

async function start(config: Config, log: Log, life: Lifetime): Promise<void> {
  const external = await knowExternalIssuer(config, log, life);
  const folder = dataFolderOf(config);
  const database = await openDatabase(config, folder, log);
  life.onStop('the database server', () => database.stop());
  database.onLost((why) => {
    log.fatal(`${why}; stopping`);
    void life.stop(1);
  });
  await prepareDatabase(database.url, log);

  const { databasePoolSize: poolSize, preparedStatements } = config;
  const db = createDb({ url: database.url, poolSize, preparedStatements, log });
  life.onStop('the database connections', () => db.end());
  const secret = keepTokenSecret(config, folder.dir);
  const tokens = createTokens({ secret, issuer: config.tokenIssuer, external });
  if (config.demo) await loadDemoScenario({ db, tokens, log });

  let ready = true;
  const { readingsKeepDays, webhookAllowPrivate } = config;
  const about = { ids: randomIds, tokens, log, ready: () => ready, readingsKeepDays, webhookAllowPrivate };
  const parts: AppParts = { db, clock: systemClock, ...about };
  const jobs = await startJobs({ url: database.url, jobs: allJobs(parts), log });
  life.onStop('background work', () => jobs.stop());
  const listening = await listen(createApp(parts), config);
  life.onStop('the listening server', () => listening.drain(DRAIN_LIMIT_MS));
  life.onStop('readiness', () => void (ready = false));
  if (life.stopping()) return;

  if (config.production) {
    log.info({ url: listening.url, database: database.where }, 'running');
    return;
  }
  const tokensToTry = config.demo ? tryOutTokens(tokens, systemClock.nowMs(), TRY_OUT_LIFE_H) : [];
  process.stdout.write(
    bannerOf({
      url: listening.url,
      data: database.where,
      movedBecause: folder.movedBecause,
      tokens: tokensToTry,
      tokenLifeH: TRY_OUT_LIFE_H,
    }),
  );
}

interface DemoLoader {
  readonly loadDemo: (parts: {
    db: Db;
    tokens: Tokens;
    log: Log;
    endMs: number;
    progress?: (text: string) => void;
  }) => Promise<{ loaded: boolean }>;
}

/** The scenario is entered through the service's own operations, so it stands above them; loaded only when asked for. */
async function loadDemoScenario(parts: { db: Db; tokens: Tokens; log: Log }): Promise<void> {
  const loader = new URL('../seeds/demo/load.ts', import.meta.url).href;
  try {
    const { loadDemo } = (await import(loader)) as DemoLoader;
    const progress = (text: string): void => void process.stdout.write(`${text}\n`);
    await loadDemo({ ...parts, endMs: systemClock.nowMs(), progress });
  } catch (error) {
    parts.log.debug({ err: error });
    throw new StartRefused(
      `The demo scenario could not be loaded: ${wordsOf(error)}. Start with DEMO=no to go without it.`,
    );
  }
}

async function main(): Promise<void> {
  const config = readConfig(process.env, ROOT);
  const log = createLog(config.logLevel);
  const life = beginLifetime(log);
  try {
    await start(config, log, life);
  } catch (error) {
    // What fails because the start was called off half-way is no failure.
    if (life.stopping()) return;
    const { text, code } = explain(error);
    process.stderr.write(`${text}\n`);
    await life.stop(code);
  }
}

await main().catch((error: unknown) => {
  const { text, code } = explain(error);
  process.stderr.write(`${text}\n`);
  process.exitCode = code;
});
