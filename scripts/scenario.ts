/**
 * Fills a group of its own with believable work over the API of the running service, and says what it came to:
 *
 *   npm run scenario -- --sites 50 --days 90 --seed 7
 *
 * Central kitchens cook, pack and release; sites receive pack by pack, serve, throw away and count. The last day is today. Run again with
 * the same options it changes nothing: every call is answered with its first answer. The food is frozen and keeps for 400 days, because
 * the service holds departures and batches against its own clock, whatever the day that they are entered for.
 *
 * Options: --sites (2 to 500), --days (1 to 365), --seed; --quick (4 sites, 3 days); --url of the service, else HOST and PORT.
 * Ends with code 1 when anything was refused. Refuses production, and what scenario/database.ts refuses.
 */
import path from 'node:path';
import { parseArgs } from 'node:util';
import { readConfig, type Config } from '../src/config.ts';
import { createTokens } from '../src/platform/auth/tokens.ts';
import { stopwatch, systemClock } from '../src/platform/clock.ts';
import { createDb } from '../src/platform/db/db.ts';
import { createLog } from '../src/platform/log.ts';
import { dataFolderOf } from '../src/start/database.ts';
import { wordsOf } from '../src/start/refused.ts';
import { findTokenSecret } from '../src/start/secret.ts';
import { shownHost } from '../src/start/serve.ts';
import { connect, type Api } from './scenario/api.ts';
import { databaseUrlOf, figuresOf, groupCodeOf, openScenarioGroup, type Figures } from './scenario/database.ts';
import { planOf, type ScenarioSize } from './scenario/plan.ts';
import { showProgress } from './scenario/progress.ts';
import { runScenario } from './scenario/run.ts';
import { scenarioActor } from './scenario/actor.ts';

const USAGE = 'usage: npm run scenario -- [--sites N] [--days N] [--seed N] [--quick] [--url URL]';
const TOKEN_LIFE_S = 24 * 3600;
const SHOWN_REFUSALS = 20;

interface Wanted extends ScenarioSize {
  readonly url: string | null;
}

function readArguments(): Wanted {
  const option = { type: 'string' } as const;
  const { values } = parseArgs({
    options: { sites: option, days: option, seed: option, url: option, quick: { type: 'boolean' } },
  });
  const number = (name: 'sites' | 'days' | 'seed', least: number, most: number, usual: number): number => {
    const value = Number(values[name] ?? usual);
    if (Number.isInteger(value) && value >= least && value <= most) return value;
    throw new Error(`--${name}: a whole number from ${least} to ${most}\n${USAGE}`);
  };
  const [sites, days] = values.quick ? [4, 3] : [50, 90];
  return {
    sites: number('sites', 2, 500, sites),
    days: number('days', 1, 365, days),
    seed: number('seed', 0, 1_000_000, 7),
    url: values.url ?? null,
  };
}

function summaryOf(api: Api, figures: Figures, seconds: number): string {
  const { calls, replays, refused } = api.tally;
  const lines = [
    `${figures.lots} lots, ${figures.packs} packs, ${figures.scans} scans, ${figures.entries} entries, ${figures.findings} findings open`,
    `${calls} calls in ${Math.round(seconds)} s, ${replays} first answers given again, ${refused.length} refused`,
    ...refused.slice(0, SHOWN_REFUSALS).map((one) => `  ${one.path}: ${one.status} ${one.code}: ${one.detail}`),
  ];
  if (refused.length > SHOWN_REFUSALS) lines.push(`  and ${refused.length - SHOWN_REFUSALS} more`);
  return `${lines.join('\n')}\n`;
}

async function tell(config: Config, wanted: Wanted): Promise<void> {
  const { dir } = dataFolderOf(config);
  const secret = findTokenSecret(config, dir);
  if (secret === null) throw new Error(`There is no secret in ${dir} yet. Start the service once: npm start`);
  const db = createDb({ url: databaseUrlOf(config, dir), poolSize: 1, log: createLog('warn') });
  try {
    const { groupId, endMs } = await openScenarioGroup(db, wanted, systemClock.nowMs());
    const plan = planOf(wanted, endMs);
    const tokens = createTokens({ secret, issuer: config.tokenIssuer, external: null });
    const url = wanted.url ?? `http://${shownHost(config.host)}:${config.port}`;
    const api = connect(url, tokens.sign(scenarioActor(groupId, wanted.seed), systemClock.nowMs(), TOKEN_LIFE_S));
    const elapsedS = stopwatch();
    const progress = showProgress(process.stdout, plan.days, api.tally, elapsedS);
    await runScenario(api, plan, (day) => progress.day(day + 1));
    progress.end();
    process.stdout.write(summaryOf(api, await figuresOf(db, groupId), elapsedS()));
    process.stdout.write(`To look at it: npm run -s token -- --role operations --group ${groupCodeOf(wanted.seed)}\n`);
    if (api.tally.refused.length > 0) process.exitCode = 1;
  } finally {
    await db.end();
  }
}

async function main(): Promise<void> {
  const config = readConfig(process.env, path.resolve(import.meta.dirname, '..'));
  if (config.production) throw new Error('This invents work; it is not for production.');
  await tell(config, readArguments());
}

await main().catch((error: unknown) => {
  process.stderr.write(`${wordsOf(error)}\n`);
  process.exitCode = 1;
});
