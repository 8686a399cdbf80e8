/**
 * Prints one access token and nothing else, for trying the service out beside a running one:
 *
 *   npm run -s token -- --role kitchen --site CK --hours 8
 *
 * Signed with the secret that the service keeps, so it needs no password; whoever can read that file could do the same. `--site` asks
 * the running service (HOST, PORT) for the site of that code; without it the token is good at every site of the group.
 *
 * Refuses: production, where people sign in; an unknown role or site; more than 24 hours; a data folder without a secret.
 */
import path from 'node:path';
import { parseArgs } from 'node:util';
import { readConfig, type Config } from '../src/config.ts';
import { roles } from '../src/platform/auth/actor.ts';
import { createTokens, type Tokens } from '../src/platform/auth/tokens.ts';
import { systemClock } from '../src/platform/clock.ts';
import { dataFolderOf } from '../src/start/database.ts';
import { wordsOf } from '../src/start/refused.ts';
import { findTokenSecret } from '../src/start/secret.ts';
import { shownHost } from '../src/start/serve.ts';
import { DEMO_GROUP, tryOutActor } from '../src/start/try-out.ts';

const USAGE = 'usage: npm run -s token -- --role ROLE [--site CODE] [--hours N] [--group CODE]';
const DEFAULT_H = 12;
const MAX_H = 24;

interface Wanted {
  readonly role: string;
  readonly siteCode: string | null;
  readonly lifeH: number;
  readonly groupCode: string;
}

function readArguments(): Wanted {
  const option = { type: 'string' } as const;
  const { values } = parseArgs({ options: { role: option, site: option, hours: option, group: option } });
  if (values.role === undefined) throw new Error(`--role is missing: ${roles.join(', ')}\n${USAGE}`);
  if (!roles.includes(values.role)) throw new Error(`There is no role ${values.role}. Roles: ${roles.join(', ')}`);
  const lifeH = Number(values.hours ?? DEFAULT_H);
  if (!(lifeH > 0 && lifeH <= MAX_H)) throw new Error(`--hours: more than 0, at most ${MAX_H}`);
  return { role: values.role, siteCode: values.site ?? null, lifeH, groupCode: values.group ?? DEMO_GROUP };
}

interface Sites {
  readonly items: readonly { readonly siteId: string; readonly code: string }[];
  readonly nextCursor: string | null;
}

async function siteIdOf(config: Config, tokens: Tokens, { siteCode, groupCode }: Wanted): Promise<string | null> {
  if (siteCode === null) return null;
  const sites = `http://${shownHost(config.host)}:${config.port}/v1/sites`;
  const token = tokens.sign(tryOutActor('admin', null, groupCode), systemClock.nowMs(), 60);
  for (let cursor: string | null = ''; cursor !== null;) {
    const page: Sites = await askService(
      cursor === '' ? sites : `${sites}?cursor=${encodeURIComponent(cursor)}`,
      token,
    );
    const site = page.items.find((one) => one.code === siteCode);
    if (site !== undefined) return site.siteId;
    cursor = page.nextCursor;
  }
  throw new Error(`The group ${groupCode} has no site with the code ${siteCode}.`);
}

async function askService(url: string, token: string): Promise<Sites> {
  const answer = await fetch(url, { headers: { Authorization: `Bearer ${token}` } }).catch((error: unknown) => {
    const why = error instanceof Error && error.cause ? wordsOf(error.cause) : wordsOf(error);
    throw new Error(`--site needs the running service, and ${url} does not answer (${why}). Start it with: npm start`);
  });
  const text = await answer.text();
  if (!answer.ok) throw new Error(`${url} answered ${answer.status}: ${text.slice(0, 500)}`);
  return JSON.parse(text) as Sites;
}

async function main(): Promise<void> {
  const config = readConfig(process.env, path.resolve(import.meta.dirname, '..'));
  if (config.production) throw new Error('In production people and devices sign in; no token is made here.');
  const wanted = readArguments();
  const { dir } = dataFolderOf(config);
  const secret = findTokenSecret(config, dir);
  if (secret === null) throw new Error(`There is no secret in ${dir} yet. Start the service once: npm start`);
  const tokens = createTokens({ secret, issuer: config.tokenIssuer, external: null });
  const actor = tryOutActor(wanted.role, await siteIdOf(config, tokens, wanted), wanted.groupCode);
  process.stdout.write(`${tokens.sign(actor, systemClock.nowMs(), Math.round(wanted.lifeH * 3600))}\n`);
}

await main().catch((error: unknown) => {
  process.stderr.write(`${wordsOf(error)}\n`);
  process.exitCode = 1;
});
