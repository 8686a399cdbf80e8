/**
 * The secret that signs our tokens: TOKEN_SECRET, or a file in the data folder that only the service's user can read, made once.
 *
 * Refuses: a file that is too short to be a secret (an interrupted copy), or that cannot be read or written.
 */
import { linkSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import type { Config } from '../config.ts';
import { newSecret } from '../platform/ids.ts';
import { StartRefused, wordsOf } from './refused.ts';

const MIN_LENGTH = 32;

/** The secret in force; null when there is none yet. */
export function findTokenSecret(config: Config, dataDir: string): string | null {
  if (config.tokenSecret !== null) return config.tokenSecret;
  const file = path.join(dataDir, 'token-secret');
  let secret: string;
  try {
    secret = readFileSync(file, 'utf8').trim();
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw new StartRefused(`The token secret cannot be read: ${wordsOf(error)}`);
  }
  if (secret.length >= MIN_LENGTH) return secret;
  throw new StartRefused(
    `${file} is too short to be a secret; remove it to have a new one made (every token then ends).`,
  );
}

/** The secret in force, made now if there is none. Several processes may start at once: all end with the same one. */
export function keepTokenSecret(config: Config, dataDir: string): string {
  const found = findTokenSecret(config, dataDir);
  if (found !== null) return found;
  const file = path.join(dataDir, 'token-secret');
  const draft = `${file}.${process.pid}`;
  try {
    mkdirSync(dataDir, { recursive: true });
    rmSync(draft, { force: true });
    writeFileSync(draft, `${newSecret()}\n`, { mode: 0o600, flag: 'wx' });
    // A link appears whole or not at all, and never replaces another process's secret.
    linkSync(draft, file);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') {
      throw new StartRefused(`The token secret cannot be kept: ${wordsOf(error)}`);
    }
  } finally {
    rmSync(draft, { force: true });
  }
  const kept = findTokenSecret(config, dataDir);
  if (kept === null) throw new StartRefused(`${file} disappeared while the service started.`);
  return kept;
}
