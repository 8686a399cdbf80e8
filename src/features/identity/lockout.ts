/**
 * Locks on guessing, the same for passwords and PINs, each with a count of its own. A try while the lock holds is refused before anything
 * is compared, and does not make the lock longer. Refusals: `sign-in-failed`; `too-many-requests` while locked.
 */
import { Refused } from '../../domain/errors.ts';
import type { Reply } from '../../platform/http/contract.ts';

const MAX_FAILURES = 5;
const LOCK_MS = 15 * 60_000;

/** Tries on one tablet, whoever is named: more than a shift mistypes, far fewer than a walk through the PINs takes. Common practice. */
const MAX_TABLET_FAILURES = 20;
const TABLET_WINDOW_MS = 15 * 60_000;

/** Nobody's id: what is updated when there is nobody, so that as many statements run. */
export const NOBODY = '00000000-0000-0000-0000-000000000000';

export interface Tried {
  readonly failedCount: number;
  readonly lockedUntil: Date | null;
}

export interface Count {
  readonly failures: number;
  readonly lockedUntilMs: number | null;
}

export const failed = () => new Refused('sign-in-failed', 'Nobody of that group signs in like that.');

/** A refusal that is sent after the commit, because the try has to stay counted. */
export function counted(refused: Refused): Reply {
  return { status: 401, refused };
}

function tooMany(what: string, waitMs: number): Refused {
  const waitS = Math.ceil(waitMs / 1000);
  return new Refused('too-many-requests', `${what} for ${waitS} more seconds.`, {
    headers: { 'Retry-After': String(waitS) },
  });
}

/** `what`: what was wrong and what is locked, for a person. */
export function requireUnlocked(tried: Tried | null, nowMs: number, what: string): void {
  const lockedMs = (tried?.lockedUntil?.getTime() ?? 0) - nowMs;
  if (lockedMs > 0) throw tooMany(what, lockedMs);
}

/** What to count after a try that did not let in. `fits`: the secret was right, and something else was not. */
export function countAfter(tried: Tried | null, fits: boolean, nowMs: number): Count {
  // A lock that has run out was the end of a row.
  const before = tried?.lockedUntil ? 0 : (tried?.failedCount ?? 0);
  const failures = fits ? before : before + 1;
  return { failures, lockedUntilMs: failures >= MAX_FAILURES ? nowMs + LOCK_MS : null };
}

/** The tablet's failures that still count, oldest first, in milliseconds. */
export function recentFailures(failedAt: readonly Date[], nowMs: number): readonly number[] {
  return failedAt.map((at) => at.getTime()).filter((atMs) => atMs > nowMs - TABLET_WINDOW_MS);
}

export function requireTabletOpen(recentMs: readonly number[], nowMs: number): void {
  const oldestMs = recentMs.at(-MAX_TABLET_FAILURES);
  if (oldestMs === undefined) return;
  throw tooMany('Too many failed sign-ins on this tablet; it is locked', oldestMs + TABLET_WINDOW_MS - nowMs);
}
