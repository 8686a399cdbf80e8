/** People of the group. Passwords come in and never go out. */
import { z } from 'zod';
import { exampleId } from '../../platform/ids.ts';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import { factId, line, pageQuery, uuid } from '../../platform/http/scalars.ts';
import permissionTable from '../../../shared/permissions.json' with { type: 'json' };
import { Grant } from './contract.ts';

const Person = z
  .object({
    personId: uuid,
    name: z.string(),
    signInName: z.string(),
    active: z.boolean(),
    grants: z.array(Grant),
    version: z.int(),
  })
  .meta({ id: 'Person' });

const signInName = z
  .string()
  .regex(/^[a-z0-9][a-z0-9._@-]{0,79}$/, 'small letters, digits, dots, dashes, underscores or @')
  .meta({ example: 'j.marsh' });
const password = z.string().min(8).max(128).meta({ format: 'password' });
const grants = z
  .array(z.strictObject({ role: z.enum(permissionTable.roles as [string, ...string[]]), siteId: uuid.nullable() }))
  .max(50);

const base = { tag: 'identity', permission: 'people.manage' } as const;
const params = z.strictObject({ personId: uuid });

export const createPerson = defineOperation({
  ...base,
  id: 'createPerson',
  method: 'post',
  path: '/v1/people',
  summary: 'Add a person',
  description:
    'For administrators of every site. The password is not part of what the fact says: a replay does not compare it.',
  naming: 'fact',
  mode: 'write',
  secretFields: ['password'],
  body: z.strictObject({ id: factId, name: line(100), signInName, password, grants }),
  answers: { 201: { description: 'Added', schema: Person, headers: ['Location', 'ETag'] } },
  errors: ['code-taken', 'rule-broken', 'not-found'],
  example: {
    body: {
      id: exampleId('new/person'),
      name: 'Jo Marsh',
      signInName: 'j.marsh',
      password: 'three-trays-of-gravy',
      grants: [{ role: 'receiver', siteId: exampleId('site/w3') }],
    },
    status: 201,
  },
});

export const listPeople = defineOperation({
  ...base,
  id: 'listPeople',
  method: 'get',
  path: '/v1/people',
  summary: 'People by sign-in name',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery }),
  answers: { 200: { description: 'A page', schema: pageSchema(Person), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200 },
});

export const getPerson = defineOperation({
  ...base,
  id: 'getPerson',
  method: 'get',
  path: '/v1/people/{personId}',
  summary: 'One person',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The person', schema: Person, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { params: { personId: exampleId('person/kitchen') }, status: 200 },
});

export const changePerson = defineOperation({
  ...base,
  id: 'changePerson',
  method: 'patch',
  path: '/v1/people/{personId}',
  summary: 'Change name, grants or password, or let a person in no more',
  description:
    'Tokens that were given out before stay good until they expire (15 minutes). Your own access is changed by another administrator.',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    name: line(100).optional(),
    active: z.boolean().optional(),
    password: password.optional(),
    grants: grants.optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Person, headers: ['ETag'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    params: { personId: exampleId('person/kitchen') },
    body: { name: 'Robin Vale' },
    ifMatch: '*',
    status: 200,
  },
});
