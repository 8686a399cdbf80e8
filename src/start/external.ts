/**
 * The keys of an external issuer: from a file, or from its own address, asked again every ten minutes. When asking again
 * fails the last keys stand; at the start it is a refusal.
 */
import { readFileSync } from 'node:fs';
import type { Config } from '../config.ts';
import type { ExternalIssuer } from '../platform/auth/tokens.ts';
import type { Log } from '../platform/log.ts';
import type { Lifetime } from './lifetime.ts';
import { StartRefused, wordsOf } from './refused.ts';

const ASK_AGAIN_MS = 10 * 60_000;
const TIMEOUT_MS = 5_000;

type KeySet = ExternalIssuer['jwks'];

function asKeySet(value: unknown): KeySet {
  const keys = (value as { keys?: unknown } | null)?.keys;
  if (!Array.isArray(keys)) throw new Error('it has no list "keys"');
  return { keys: keys as KeySet['keys'] };
}

async function fetchKeys(url: string): Promise<KeySet> {
  const answer = await fetch(url, { redirect: 'error', signal: AbortSignal.timeout(TIMEOUT_MS) });
  if (!answer.ok) throw new Error(`it answered ${answer.status}`);
  return asKeySet(await answer.json());
}

export async function knowExternalIssuer(
  { external }: Config,
  log: Log,
  life: Lifetime,
): Promise<ExternalIssuer | null> {
  if (external === null) return null;
  const { issuer, audience, jwks } = external;
  if ('file' in jwks) {
    try {
      return { issuer, audience, jwks: asKeySet(JSON.parse(readFileSync(jwks.file, 'utf8'))) };
    } catch (error) {
      throw new StartRefused(`EXTERNAL_JWKS_FILE ${jwks.file} is not a set of keys: ${wordsOf(error)}`);
    }
  }
  let current: KeySet;
  try {
    current = await fetchKeys(jwks.url);
  } catch (error) {
    throw new StartRefused(`EXTERNAL_JWKS_URL ${jwks.url} gave no set of keys: ${wordsOf(error)}`);
  }
  const timer = setInterval(() => {
    fetchKeys(jwks.url).then(
      (keys) => {
        current = keys;
      },
      (error: unknown) => log.warn({ err: error }, 'the issuer did not answer with its keys; the last ones stand'),
    );
  }, ASK_AGAIN_MS);
  timer.unref();
  life.onStop('asking for keys', () => clearInterval(timer));
  return {
    issuer,
    audience,
    get jwks() {
      return current;
    },
  };
}
