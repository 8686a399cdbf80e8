/** Attacks on access tokens, as RFC 8725 and RFC 9068 list them; and tokens of an external issuer. */
import { createHmac, generateKeyPairSync } from 'node:crypto';
import jwt from 'jsonwebtoken';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { NOON_MS, startService, TOKEN_ISSUER, TOKEN_SECRET, type TestService } from '../../support/service.ts';

const rsa = generateKeyPairSync('rsa', { modulusLength: 2048 });
const strangerRsa = generateKeyPairSync('rsa', { modulusLength: 2048 });
const rsaPublicPem = rsa.publicKey.export({ type: 'spki', format: 'pem' }).toString();
const OUTSIDE = { issuer: 'https://id.example', audience: 'kitchens' };
const NOW_S = NOON_MS / 1000;

let service: TestService;

beforeAll(async () => {
  const key = { ...rsa.publicKey.export({ format: 'jwk' }), kid: 'one', alg: 'RS256' };
  service = await startService({ external: { ...OUTSIDE, jwks: { keys: [key] } } });
});
afterAll(() => service.stop());

const claims = (more: object = {}) => ({
  iss: TOKEN_ISSUER,
  aud: 'sealtrail',
  sub: exampleId('person/admin'),
  group: service.groupId,
  kind: 'person',
  grants: [{ role: 'admin', siteId: null }],
  iat: NOW_S,
  exp: NOW_S + 900,
  ...more,
});

/** A token from its parts, signed by HMAC-SHA256 with whatever key: made here, not by the library under test. */
function forge(header: object, payload: object, key: string | null): string {
  const part = (value: object) => Buffer.from(JSON.stringify(value)).toString('base64url');
  const signed = `${part(header)}.${part(payload)}`;
  return `${signed}.${key === null ? '' : createHmac('sha256', key).update(signed).digest('base64url')}`;
}

const GOOD = { alg: 'HS256', typ: 'at+jwt' };
const statusOf = async (token: string) => (await service.bearer(token).get('/v1/me')).status;

test('a token made by the book is taken', async () => {
  expect(await statusOf(forge(GOOD, claims(), TOKEN_SECRET))).toBe(200);
});

describe('refused', () => {
  test.each<[string, () => string]>([
    ['no algorithm', () => forge({ ...GOOD, alg: 'none' }, claims(), null)],
    ['no algorithm, in capitals', () => forge({ ...GOOD, alg: 'NONE' }, claims(), null)],
    ['no signature', () => forge(GOOD, claims(), null)],
    ['another key', () => forge(GOOD, claims(), 'another secret altogether, quite long')],
    ['typ JWT: an id token is no access token', () => forge({ ...GOOD, typ: 'JWT' }, claims(), TOKEN_SECRET)],
    ['no typ', () => forge({ alg: 'HS256' }, claims(), TOKEN_SECRET)],
    ['a critical extension', () => forge({ ...GOOD, crit: ['exp'] }, claims(), TOKEN_SECRET)],
    ['expired', () => forge(GOOD, claims({ exp: NOW_S }), TOKEN_SECRET)],
    ['never expiring', () => forge(GOOD, claims({ exp: undefined }), TOKEN_SECRET)],
    ['not yet good', () => forge(GOOD, claims({ nbf: NOW_S + 60 }), TOKEN_SECRET)],
    ['another audience', () => forge(GOOD, claims({ aud: 'elsewhere' }), TOKEN_SECRET)],
    ['another issuer', () => forge(GOOD, claims({ iss: 'elsewhere' }), TOKEN_SECRET)],
    [
      'a role that does not exist',
      () => forge(GOOD, claims({ grants: [{ role: 'root', siteId: null }] }), TOKEN_SECRET),
    ],
    ['a grant without site', () => forge(GOOD, claims({ grants: [{ role: 'admin' }] }), TOKEN_SECRET)],
    ['a group that is no UUID', () => forge(GOOD, claims({ group: "x'; select 1" }), TOKEN_SECRET)],
    ['RS256 of ours with the HMAC secret', () => forge({ ...GOOD, alg: 'RS256' }, claims(), TOKEN_SECRET)],
    ['rubbish', () => 'a.b.c'],
  ])('%s', async (_what, make) => {
    const answer = await service.bearer(make()).get('/v1/me');
    expect([answer.status, answer.body.code]).toEqual([401, 'unauthenticated']);
    expect(answer.headers['www-authenticate']).toBe('Bearer realm="sealtrail"');
  });

  test('a changed payload under the old signature', async () => {
    const [header, , signature] = forge(GOOD, claims({ grants: [] }), TOKEN_SECRET).split('.');
    const payload = Buffer.from(JSON.stringify(claims())).toString('base64url');
    expect(await statusOf(`${header}.${payload}.${signature}`)).toBe(401);
  });

  test('no token at all', async () => {
    expect((await service.anonymous.get('/v1/me')).status).toBe(401);
    expect((await service.anonymous.get('/v1/me', { authorization: 'Basic YWRtaW46YWRtaW4=' })).status).toBe(401);
  });
});

describe('an external issuer', () => {
  const outside = (more: object = {}) => claims({ iss: OUTSIDE.issuer, aud: OUTSIDE.audience, ...more });
  const sign = (payload: object, key = rsa.privateKey, keyid = 'one') =>
    jwt.sign(JSON.parse(JSON.stringify(payload)), key, { algorithm: 'RS256', keyid });

  test('is believed when one of its known keys signed for this service', async () => {
    const answer = await service.bearer(sign(outside({ sub: exampleId('person/outside') }))).get('/v1/me');
    expect(answer.body).toMatchObject({ actorId: exampleId('person/outside'), name: null });
  });

  test.each<[string, () => string]>([
    ['a key that is not its own', () => sign(outside(), strangerRsa.privateKey)],
    ['a key id that is not known', () => sign(outside(), rsa.privateKey, 'two')],
    ['another audience', () => sign(outside({ aud: 'elsewhere' }))],
    ['expired', () => sign(outside({ exp: NOW_S - 1 }))],
    ['never expiring', () => sign(outside({ exp: undefined }))],
    ['its key in our name', () => sign(claims())],
    ['the public key used as an HMAC secret', () => forge({ alg: 'HS256', kid: 'one' }, outside(), rsaPublicPem)],
    ['our HMAC secret in its name', () => forge({ alg: 'HS256', kid: 'one' }, outside(), TOKEN_SECRET)],
    ['no algorithm', () => forge({ alg: 'none', kid: 'one' }, outside(), null)],
    [
      'a key set that the token itself points to',
      () =>
        jwt.sign(outside(), strangerRsa.privateKey, {
          algorithm: 'RS256',
          header: { alg: 'RS256', kid: 'two', jku: 'https://evil.example/keys' },
        }),
    ],
  ])('is not believed: %s', async (_what, make) => {
    expect(await statusOf(make())).toBe(401);
  });
});
