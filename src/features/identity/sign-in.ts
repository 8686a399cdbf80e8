/**
 * Signing in. Every way to fail reads the same and costs the same, so that it does not tell which names exist.
 * Refusals: `sign-in-failed`; `too-many-requests` while a name is locked.
 */
import type { Actor } from '../../platform/auth/actor.ts';
import { verifyPassword } from '../../platform/auth/passwords.ts';
import { TOKEN_LIFE_S, type Tokens } from '../../platform/auth/tokens.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import type { deviceSignIn, getMe, signIn } from './contract.ts';
import { findDeputies } from './deputies-store.ts';
import { parseDeviceToken, secretFits } from './device-tokens.ts';
import { findDevice, findDeviceSecret } from './devices-store.ts';
import { countAfter, counted, failed, NOBODY, requireUnlocked } from './lockout.ts';
import { findPeopleNames, lockCredential, updateFailures, type CredentialRow } from './store.ts';
import { tokenOf } from './token-answer.ts';

/** Null when the password is right. The try is counted either way: what is answered otherwise leaves after the commit. */
export async function tryPassword(
  tx: Tx,
  found: CredentialRow | null,
  password: string,
  nowMs: number,
): Promise<Reply | null> {
  requireUnlocked(found, nowMs, 'Too many wrong passwords; the name is locked');
  const fits = await verifyPassword(password, found?.passwordHash ?? null);
  if (!found || !fits || !found.active) {
    const { failures, lockedUntilMs } = countAfter(found, fits, nowMs);
    await updateFailures(tx, found?.personId ?? NOBODY, failures, lockedUntilMs);
    return counted(failed());
  }
  await updateFailures(tx, found.personId, 0, null);
  return null;
}

export function signInCommand(tokens: Tokens) {
  return async ({ tx, body, nowMs }: Context<typeof signIn>): Promise<Reply> => {
    const found = await lockCredential(tx, body.signInName);
    const refusal = await tryPassword(tx, found, body.password, nowMs);
    if (refusal || !found) return refusal ?? counted(failed());
    return { status: 200, body: await tokenOf(tx, tokens, found, nowMs, null) };
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
  const { actorId, kind, groupId, grants } = actor;
  const names = await findPeopleNames(tx, [actorId]);
  const device = await findDevice(tx, actor.deviceId ?? (kind === 'device' ? actorId : NOBODY));
  const held = await findDeputies(
    tx,
    grants.flatMap((grant) => grant.deputyId ?? []),
  );
  const deputyFor = held.map(({ deputyId, role, siteId, to, endedAt }) => ({
    deputyId,
    role,
    siteId,
    until: (endedAt ?? to).toISOString(),
  }));
  return {
    status: 200,
    body: {
      actorId,
      kind,
      groupId,
      name: names.get(actorId) ?? null,
      grants,
      device: device && { deviceId: device.deviceId, name: device.name, siteId: device.siteId },
      deputyFor,
    },
  };
}
