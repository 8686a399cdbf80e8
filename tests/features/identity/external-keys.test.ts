import { generateKeyPairSync } from 'node:crypto';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import jwt from 'jsonwebtoken';
import { expect, test } from 'vitest';
import { readConfig } from '../../../src/config.ts';
import { createTokens } from '../../../src/platform/auth/tokens.ts';
import { createLog } from '../../../src/platform/log.ts';
import { knowExternalIssuer } from '../../../src/start/external.ts';
import { beginLifetime } from '../../../src/start/lifetime.ts';

test('keys are asked from the issuer; a token of its key is good, of another key is not; no answer is a refusal', async () => {
  const { publicKey, privateKey } = generateKeyPairSync('ec', { namedCurve: 'P-256' });
  const jwk = { ...publicKey.export({ format: 'jwk' }), kid: 'k1' };
  const server = createServer((_req, res) =>
    res.setHeader('content-type', 'application/json').end(JSON.stringify({ keys: [jwk] })),
  );
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/keys`;
  const env = { EXTERNAL_ISSUER: 'https://id.example', EXTERNAL_AUDIENCE: 'kitchens', EXTERNAL_JWKS_URL: url };
  const log = createLog('silent');
  const life = beginLifetime(log);
  const external = await knowExternalIssuer(readConfig(env, '/nowhere'), log, life);
  const tokens = createTokens({ secret: 'x'.repeat(32), issuer: 'sealtrail', external });
  const nowMs = Date.parse('2026-11-25T12:00:00Z');
  const claims = {
    sub: '0192f0c4-0000-7000-8000-000000000001',
    group: '0192f0c4-0000-7000-8000-000000000002',
    kind: 'person',
    grants: [{ role: 'quality', siteId: null }],
    iat: nowMs / 1000,
    exp: nowMs / 1000 + 60,
  };
  const sign = (key: typeof privateKey) =>
    jwt.sign(claims, key, { algorithm: 'ES256', keyid: 'k1', issuer: 'https://id.example', audience: 'kitchens' });
  expect(tokens.verify(sign(privateKey), nowMs)?.actorId).toBe(claims.sub);
  expect(tokens.verify(sign(generateKeyPairSync('ec', { namedCurve: 'P-256' }).privateKey), nowMs)).toBeNull();
  server.close();
  server.closeAllConnections();
  await expect(knowExternalIssuer(readConfig(env, '/nowhere'), log, life)).rejects.toThrow(/gave no set of keys/);
  expect(() => readConfig({ ...env, EXTERNAL_JWKS_URL: 'http://keys.example/' }, '/nowhere')).toThrow(/https/);
});
