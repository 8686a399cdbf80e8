/** Signing in, and who one is. */
import { z } from 'zod';
import { exampleId, groupIdOf } from '../../platform/ids.ts';
import { defineOperation } from '../../platform/http/contract.ts';
import { instant, line, uuid } from '../../platform/http/scalars.ts';
import permissionTable from '../../../shared/permissions.json' with { type: 'json' };
import { groupOfDeviceToken } from './device-tokens.ts';

export const Grant = z
  .object({
    role: z.enum(permissionTable.roles as [string, ...string[]]),
    siteId: uuid.nullable().meta({ description: 'null: every site of the group' }),
  })
  .meta({ id: 'Grant' });

/** A grant in a token: one's own, or for a time somebody else's. */
export const HeldGrant = Grant.extend({
  deputyId: uuid.optional().meta({ description: 'Held as a deputy, by that appointment' }),
}).meta({ id: 'HeldGrant' });

export const AccessToken = z.object({
  accessToken: z.string(),
  tokenType: z.literal('Bearer'),
  expiresInS: z.int().meta({ description: 'Sign in again before then', example: 900 }),
});

const groupCode = line(20).meta({ example: 'ostermere' });

function groupOfBody(body: unknown): string {
  return groupIdOf((body as { group: string }).group);
}

export const signIn = defineOperation({
  id: 'signIn',
  method: 'post',
  path: '/v1/sign-ins',
  tag: 'identity',
  summary: 'Sign in with a name and a password',
  description:
    'Five wrong passwords in a row lock the name for 15 minutes. A deputy holds the right of that time too; the token ends with it.',
  permission: 'public',
  naming: 'none',
  mode: 'write',
  groupOf: groupOfBody,
  body: z.strictObject({ group: groupCode, signInName: line(100), password: z.string().min(1).max(128) }),
  bodyLimitKb: 8,
  answers: {
    200: {
      description: 'Signed in',
      schema: AccessToken.extend({
        person: z.object({ personId: uuid, name: z.string(), grants: z.array(HeldGrant) }),
      }).meta({ id: 'SignedIn' }),
    },
  },
  errors: ['sign-in-failed', 'too-many-requests'],
  example: {
    body: { group: 'ostermere', signInName: 'kitchen', password: 'kettle-by-the-window' },
    status: 200,
  },
});

export const deviceSignIn = defineOperation({
  id: 'deviceSignIn',
  method: 'post',
  path: '/v1/device-sign-ins',
  tag: 'identity',
  summary: 'Sign in as a device, with its token',
  permission: 'public',
  naming: 'none',
  mode: 'read',
  groupOf: (body) => groupOfDeviceToken((body as { deviceToken: string }).deviceToken),
  body: z.strictObject({ deviceToken: z.string().min(1).max(300) }),
  bodyLimitKb: 8,
  answers: {
    200: {
      description: 'Signed in',
      schema: AccessToken.extend({ device: z.object({ deviceId: uuid, name: z.string(), siteId: uuid }) }).meta({
        id: 'DeviceSignedIn',
      }),
    },
  },
  errors: ['sign-in-failed', 'too-many-requests'],
  example: {
    body: {
      deviceToken: `std.${groupIdOf('ostermere')}.${exampleId('device/w3-scanner')}.a-secret-that-is-not-its-own`,
    },
    status: 401,
  },
});

export const getMe = defineOperation({
  id: 'getMe',
  method: 'get',
  path: '/v1/me',
  tag: 'identity',
  summary: 'Who the token stands for and what it may do',
  permission: 'me.read',
  naming: 'none',
  mode: 'read',
  answers: {
    200: {
      description: 'As the token says; names are of today, null for someone of an external issuer',
      schema: z
        .object({
          actorId: uuid,
          kind: z.enum(['person', 'device']),
          groupId: uuid,
          name: z.string().nullable(),
          grants: z.array(HeldGrant),
          device: z
            .object({ deviceId: uuid, name: z.string(), siteId: uuid })
            .nullable()
            .meta({ description: 'The tablet that the person signed in on, or the device itself' }),
          deputyFor: z
            .array(
              z.object({
                deputyId: uuid,
                role: z.string(),
                siteId: uuid.nullable().meta({ description: 'As appointed; null: every site' }),
                until: instant,
              }),
            )
            .meta({ description: 'What the token holds as a deputy, and when that ends' }),
        })
        .meta({ id: 'Me' }),
    },
  },
  errors: [],
  example: { status: 200 },
});
