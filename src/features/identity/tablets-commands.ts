/**
 * Signing in on a tablet. Every way to fail reads the same and costs the same, so that it does not tell whose PIN or badge exists.
 * Refusals: `sign-in-failed`; `too-many-requests` while the PIN or the tablet is locked; `forbidden` for somebody who may do nothing at the
 * tablet's site, and for a token that is not a device's; setting them: `not-found`, `rule-broken`, `code-taken`, `wrong-state`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { hashPassword, verifyPassword } from '../../platform/auth/passwords.ts';
import type { Tokens } from '../../platform/auth/tokens.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { countAfter, counted, failed, NOBODY, recentFailures, requireTabletOpen, requireUnlocked } from './lockout.ts';
import { requireEverySite } from './people-commands.ts';
import { badgeHashOf, pinFault } from './pin-rules.ts';
import { tryPassword } from './sign-in.ts';
import { findPeople, lockOwnCredential, lockPerson } from './store.ts';
import type * as contract from './tablets-contract.ts';
import * as store from './tablets-store.ts';
import { tokenOf } from './token-answer.ts';

export function tabletSignInCommand(tokens: Tokens) {
  return async ({ tx, body, actor, nowMs }: Context<typeof contract.createTabletSignIn>): Promise<Reply> => {
    if (actor.kind !== 'device') throw new Refused('forbidden', 'That takes the token of the tablet itself.');
    const tablet = await store.lockTablet(tx, actor.actorId);
    if (!tablet?.active) throw failed();
    const recent = recentFailures(tablet.pinFailedAt, nowMs);
    requireTabletOpen(recent, nowMs);
    const { personal } = body;
    const shown =
      'badge' in personal
        ? await store.findByBadge(tx, badgeHashOf(tx.groupId, personal.badge))
        : await store.findBySignInName(tx, personal.signInName);
    const kept = await store.lockPin(tx, shown?.personId ?? NOBODY);
    const { pin } = personal;
    if (pin !== undefined) requireUnlocked(kept, nowMs, 'Too many wrong PINs; the PIN is locked');
    const fits = pin === undefined ? shown?.needsPin === false : await verifyPassword(pin, kept?.pinHash ?? null);
    if (!shown?.active || !fits) {
      const { failures, lockedUntilMs } = countAfter(kept, fits, nowMs);
      // A badge without its PIN is no guess at the PIN.
      await store.updatePinFailures(
        tx,
        pin === undefined ? NOBODY : (shown?.personId ?? NOBODY),
        failures,
        lockedUntilMs,
      );
      await store.updateTabletFailures(tx, tablet.deviceId, [...recent, nowMs]);
      return counted(failed());
    }
    const { deviceId, name, siteId } = tablet;
    const signedIn = await tokenOf(tx, tokens, shown, nowMs, { deviceId, siteId });
    if (signedIn.person.grants.length === 0) {
      throw new Refused('forbidden', 'You may do nothing at the site of this tablet. Ask an administrator.');
    }
    // From here on only success.
    if (pin !== undefined) await store.updatePinFailures(tx, shown.personId, 0, null);
    return { status: 200, body: { ...signedIn, device: { deviceId, name, siteId } } };
  };
}

function requireGoodPin(pin: string, signInName: string): void {
  const fault = pinFault(pin, signInName);
  if (fault !== null) throw new Refused('rule-broken', fault, { errors: [{ detail: fault, pointer: '#/pin' }] });
}

async function meansReply(tx: Tx, personId: string): Promise<Reply> {
  const headers = { Location: `/v1/people/${personId}` };
  return { status: 201, body: { personId, ...(await store.findMeans(tx, personId)) }, headers };
}

export async function setOwnPinCommand({ tx, body, actor, nowMs }: Context<typeof contract.setOwnPin>): Promise<Reply> {
  const personId = actor.kind === 'person' ? actor.actorId : NOBODY;
  const person = (await findPeople(tx, [personId])).get(personId);
  requireGoodPin(body.pin, person?.signInName ?? '');
  const found = await lockOwnCredential(tx, personId);
  // Whether one has a password is no secret from oneself.
  if (!found) throw failed();
  const refusal = await tryPassword(tx, found, body.currentPassword, nowMs);
  if (refusal) return refusal;
  const pinHash = await hashPassword(body.pin);
  // From here on only success.
  await store.upsertPin(tx, personId, pinHash);
  return { status: 200, body: { personId, ...(await store.findMeans(tx, personId)) } };
}

export async function setPersonPinCommand(context: Context<typeof contract.setPersonPin>): Promise<Reply> {
  const { tx, params, body, scope } = context;
  requireEverySite(scope);
  const person = await lockPerson(tx, params.personId);
  if (!person) throw notFound('person');
  requireGoodPin(body.pin, person.signInName);
  const pinHash = await hashPassword(body.pin);
  // From here on only success.
  await store.upsertPin(tx, person.personId, pinHash);
  return meansReply(tx, person.personId);
}

export async function setPersonBadgeCommand(context: Context<typeof contract.setPersonBadge>): Promise<Reply> {
  const { tx, params, body, scope } = context;
  requireEverySite(scope);
  const person = await lockPerson(tx, params.personId);
  if (!person) throw notFound('person');
  const needsPin = body.needsPin ?? false;
  const means = await store.findMeans(tx, person.personId);
  if (needsPin && !means.hasPin) {
    throw new Refused('rule-broken', 'The badge is to need the PIN, and there is no PIN yet. Set one first.');
  }
  // From here on only success, unless the badge is somebody else's.
  await store.upsertBadge(tx, person.personId, badgeHashOf(tx.groupId, body.badge), needsPin);
  return meansReply(tx, person.personId);
}

export async function removeBadgeCommand(context: Context<typeof contract.createBadgeRemoval>): Promise<Reply> {
  const { tx, params, scope } = context;
  requireEverySite(scope);
  const person = await lockPerson(tx, params.personId);
  if (!person) throw notFound('person');
  const means = await store.findMeans(tx, person.personId);
  if (!means.hasBadge) throw new Refused('wrong-state', 'That person has no badge.');
  // From here on only success.
  await store.deleteBadge(tx, person.personId);
  return meansReply(tx, person.personId);
}
