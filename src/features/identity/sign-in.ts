/**
 * Signing in. Every way to fail reads the same and costs the same, so that it does not tell which names exist.
 * Refusals: `sign-in-failed`; `too-many-requests` while a name is locked.
 */
import { Refused } from '../../domain/errors.ts';
import type { Actor } from '../../platform/auth/actor.ts';
import { verifyPassword } from '../../platform/auth/passwords.ts';
import { TOKEN_LIFE_S, type Tokens } from '../../platform/auth/tokens.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import type { deviceSignIn, getMe, signIn } from './contract.ts';
import { parseDeviceToken, secretFits } from './device-tokens.ts';
import { findDeviceSecret } from './devices-store.ts';
import { findPeople, findPeopleNames, lockCredential, updateFailures } from './store.ts';

const MAX_FAILURES = 5;
const LOCK_MS = 15 * 60_000;
const NOBODY = '00000000-0000-0000-0000-000000000000';

const failed = () => new Refused('sign-in-failed', 'Nobody of that group signs in like that.');

/** A refusal that is sent after the commit, because the try has to stay counted. */
function counted(refused: Refused): Reply {
  return { status: 401, refused };
}

export function signInCommand(tokens: Tokens) {
  return async ({ tx, body, nowMs }: Context<typeof signIn>): Promise<Reply> => {
    const found = await lockCredential(tx, body.signInName);
    const lockedMs = (found?.lockedUntil?.getTime() ?? 0) - nowMs;
    if (lockedMs > 0) {
      const waitS = Math.ceil(lockedMs / 1000);
      throw new Refused(
        'too-many-requests',
        `Too many wrong passwords; the name is locked for ${waitS} more seconds.`,
        {
          headers: { 'Retry-After': String(waitS) },
        },
      );
    }
    const fits = await verifyPassword(body.password, found?.passwordHash ?? null);
    if (!found || !fits || !found.active) {
      // A lock that has run out was the end of a row.
      const before = found?.lockedUntil ? 0 : (found?.failedCount ?? 0);
      const failures = fits ? before : before + 1;
      const lockedUntilMs = failures >= MAX_FAILURES ? nowMs + LOCK_MS : null;
      await updateFailures(tx, found?.personId ?? NOBODY, failures, lockedUntilMs);
      return counted(failed());
    }
    const person = (await findPeople(tx, [found.personId])).get(found.personId);
    const grants = person?.grants ?? [];
    // From here on only success.
    await updateFailures(tx, found.personId, 0, null);
    const actor: Actor = { groupId: tx.groupId, kind: 'person', actorId: found.personId, grants };
    return {
      status: 200,
      body: {
        accessToken: tokens.sign(actor, nowMs),
        tokenType: 'Bearer',
        expiresInS: TOKEN_LIFE_S,
        person: { personId: found.personId, name: found.name, grants },
      },
    };
  };
}

export function deviceSignInCommand(tokens: Tokens) {
  return async ({ tx, body, nowMs }: Context<typeof deviceSignIn>): Promise<Reply> => {
    const token = parseDeviceToken(body.deviceToken);
    const found = await findDeviceSecret(tx, token?.deviceId ?? NOBODY);
    const fits = secretFits(token?.secret ?? '', found?.secretHash ?? null);
    if (!found || !fits || !found.active) throw failed();
    const { deviceId, name, siteId } = found;
    const actor: Actor = {
      groupId: tx.groupId,
      kind: 'device',
      actorId: deviceId,
      grants: [{ role: 'device', siteId }],
    };
    return {
      status: 200,
      body: {
        accessToken: tokens.sign(actor, nowMs),
        tokenType: 'Bearer',
        expiresInS: TOKEN_LIFE_S,
        device: { deviceId, name, siteId },
      },
    };
  };
}

export async function getMeQuery({ tx, actor }: Context<typeof getMe>): Promise<Reply> {
  const names = await findPeopleNames(tx, [actor.actorId]);
  const { actorId, kind, groupId, grants } = actor;
  return { status: 200, body: { actorId, kind, groupId, name: names.get(actorId) ?? null, grants } };
}
