/**
 * Shared tablets: a device is signed in to its site, and on it one person after the other signs in with a PIN or a badge. PINs and badges
 * come in and never go out.
 */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { factId, line, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import { AccessToken, HeldGrant } from './contract.ts';

const pin = z
  .string()
  .regex(/^[0-9]{4,8}$/, '4 to 8 digits')
  .meta({ format: 'password' });
const badge = z
  .string()
  .regex(/^[\u0021-\u007e]{6,100}$/, '6 to 100 printable ASCII characters without spaces')
  .meta({ format: 'password', description: 'What the reader reads' });

const PersonalMeans = z
  .object({
    personId: uuid,
    hasPin: z.boolean(),
    hasBadge: z.boolean(),
    badgeNeedsPin: z.boolean().meta({ description: 'The badge lets in only together with the PIN' }),
  })
  .meta({ id: 'PersonalMeans', description: 'How a person can sign in on a tablet; never with what' });

export const createTabletSignIn = defineOperation({
  id: 'createTabletSignIn',
  method: 'post',
  path: '/v1/tablet-sign-ins',
  tag: 'identity',
  summary: 'Sign a person in on a tablet, with a PIN or a badge',
  description:
    "Sent with the tablet's own token. The answer's token is the person's, with what they may do at the tablet's site and nothing " +
    'elsewhere; what they record with it says on which tablet. Five wrong PINs in a row lock the PIN for 15 minutes (the password ' +
    'stays open); 20 failures within 15 minutes, whoever is named, lock the tablet for signing in. A badge can be lost and copied: ' +
    'for those who release food, register it so that it needs the PIN.',
  permission: 'tablets.sign-in',
  naming: 'none',
  mode: 'write',
  body: z.strictObject({
    personal: z.union([
      z.strictObject({ signInName: line(100), pin }),
      z.strictObject({
        badge,
        pin: pin.optional().meta({ description: 'Where the badge needs it; must fit if given' }),
      }),
    ]),
  }),
  bodyLimitKb: 8,
  answers: {
    200: {
      description: 'Signed in',
      schema: AccessToken.extend({
        person: z.object({ personId: uuid, name: z.string(), grants: z.array(HeldGrant) }),
        device: z.object({ deviceId: uuid, name: z.string(), siteId: uuid }),
      }).meta({ id: 'SignedInOnTablet' }),
    },
  },
  errors: ['sign-in-failed', 'too-many-requests'],
  example: { body: { personal: { signInName: 'receiver', pin: '2719' } }, role: 'device', status: 401 },
});

export const setOwnPin = defineOperation({
  id: 'setOwnPin',
  method: 'post',
  path: '/v1/me/pin',
  tag: 'identity',
  summary: 'Choose your own PIN for tablets',
  description:
    'With the password, so that a tablet left signed in is not enough; wrong passwords count as at signing in. For people who have a ' +
    'password here: those of an external issuer are given a PIN by an administrator.',
  permission: 'me.write',
  naming: 'none',
  mode: 'write',
  body: z.strictObject({ currentPassword: z.string().min(1).max(128).meta({ format: 'password' }), pin }),
  bodyLimitKb: 8,
  answers: { 200: { description: 'Set', schema: PersonalMeans } },
  errors: ['sign-in-failed', 'too-many-requests', 'rule-broken'],
  example: { body: { currentPassword: 'a-password-that-is-not-yours', pin: '2719' }, status: 401 },
});

const base = { tag: 'identity', permission: 'people.manage', naming: 'fact', mode: 'write' } as const;
const params = z.strictObject({ personId: uuid });
const personId = exampleId('person/kitchen');

export const setPersonPin = defineOperation({
  ...base,
  id: 'setPersonPin',
  method: 'post',
  path: '/v1/people/{personId}/pin',
  summary: "Set a person's PIN for tablets",
  description:
    'For administrators of every site. Ends a lock. The PIN is not part of what the fact says: a replay does not compare it.',
  secretFields: ['pin'],
  params,
  body: z.strictObject({ id: factId, pin }),
  answers: { 201: { description: 'Set', schema: PersonalMeans, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: { params: { personId }, body: { id: exampleId('new/pin'), pin: '4075' }, status: 201 },
});

export const setPersonBadge = defineOperation({
  ...base,
  id: 'setPersonBadge',
  method: 'post',
  path: '/v1/people/{personId}/badge',
  summary: "Register a person's badge",
  description:
    'For administrators of every site. One badge a person: the one before it lets in no more. Numbers that are counted up can be ' +
    'guessed; let such badges need the PIN. The badge is not part of what the fact says: a replay does not compare it.',
  secretFields: ['badge'],
  params,
  body: z.strictObject({
    id: factId,
    badge,
    needsPin: z.boolean().optional().meta({ description: 'false if left out' }),
  }),
  answers: { 201: { description: 'Registered', schema: PersonalMeans, headers: ['Location'] } },
  errors: ['not-found', 'code-taken', 'rule-broken'],
  example: { params: { personId }, body: { id: exampleId('new/badge'), badge: '04A2B91C5D6E80' }, status: 201 },
});

export const createBadgeRemoval = defineOperation({
  ...base,
  id: 'createBadgeRemoval',
  method: 'post',
  path: '/v1/people/{personId}/badge-removals',
  summary: "Let a person's badge in no more",
  description:
    'For administrators of every site: it is lost, or handed back. Tokens that were given out before stay good until they expire (15 minutes).',
  params,
  body: z.strictObject({ id: factId }),
  answers: { 201: { description: 'Removed', schema: PersonalMeans, headers: ['Location'] } },
  errors: ['not-found', 'wrong-state'],
  example: {
    params: { personId: exampleId('person/quality') },
    body: { id: exampleId('new/badge-removal') },
    status: 201,
  },
});
