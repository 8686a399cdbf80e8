/**
 * Short-lived access tokens (RFC 9068: typ at+jwt) of our own, or of an external issuer whose keys are given as a JWKS.
 * Fixed algorithm lists, issuer and audience checked, `kid` only chooses among known keys; jku and x5u are never followed
 * (RFC 8725).
 *
 * On which tablet and as whose deputy somebody acts is believed from tokens of our own only: the service signed the person in on that
 * device, and read the appointment. What an external issuer says about it is not looked at.
 */
import { createPublicKey, createSecretKey, hkdfSync, type JsonWebKey, type KeyObject } from 'node:crypto';
import jwt from 'jsonwebtoken';
import { roles, type Actor, type Grant } from './actor.ts';
import { createSigner, type Signer } from './signing.ts';

export const TOKEN_LIFE_S = 15 * 60;
const AUDIENCE = 'sealtrail';

export interface ExternalIssuer {
  readonly issuer: string;
  readonly audience: string;
  /** may be another set later: the issuer's newest */
  readonly jwks: { readonly keys: readonly (JsonWebKey & { kid?: string; alg?: string })[] };
}

export interface TokenSettings {
  readonly secret: string;
  readonly issuer: string;
  readonly external: ExternalIssuer | null;
}

export interface Tokens {
  sign(actor: Actor, nowMs: number, lifeS?: number): string;
  /** null when the token is not good, for whatever reason */
  verify(token: string, nowMs: number): Actor | null;
  /** signs what others check without asking; its key follows from the secret */
  readonly statements: Signer;
  /** 32 bytes that follow from the service's secret (HKDF, RFC 5869), another set for each purpose: to seal what is kept */
  keyFor(purpose: string): Buffer;
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

export function createTokens(settings: TokenSettings): Tokens {
  // As a text it would be tried as a key file first, at every request.
  const secret = createSecretKey(settings.secret, 'utf8');
  let keySet: ExternalIssuer['jwks'] | null = null;
  let externalKeys = new Map<string, KeyObject>();
  /** The issuer changes its keys from time to time; they are turned into keys of ours once per set. */
  function externalKey(external: ExternalIssuer, kid: string): KeyObject | undefined {
    if (external.jwks !== keySet) {
      keySet = external.jwks;
      externalKeys = new Map();
      for (const jwk of keySet.keys)
        if (jwk.kid) externalKeys.set(jwk.kid, createPublicKey({ key: jwk, format: 'jwk' }));
    }
    return externalKeys.get(kid);
  }

  function payloadOf(token: string, nowMs: number): { payload: jwt.JwtPayload; own: boolean } | null {
    const decoded = jwt.decode(token, { complete: true });
    if (!decoded || typeof decoded.payload === 'string') return null;
    if (decoded.header.crit !== undefined) return null;
    const clockTimestamp = Math.floor(nowMs / 1000);
    const external = settings.external;
    if (external && decoded.payload.iss === external.issuer) {
      const key = externalKey(external, decoded.header.kid ?? '');
      if (!key) return null;
      const { issuer, audience } = external;
      const payload = jwt.verify(token, key, {
        algorithms: ['RS256', 'ES256', 'PS256'],
        issuer,
        audience,
        clockTimestamp,
      }) as jwt.JwtPayload;
      return { payload, own: false };
    }
    if (decoded.header.typ !== 'at+jwt') return null;
    const own = { algorithms: ['HS256' as const], issuer: settings.issuer, audience: AUDIENCE, clockTimestamp };
    return { payload: jwt.verify(token, secret, own) as jwt.JwtPayload, own: true };
  }

  return {
    statements: createSigner(settings.secret),
    sign(actor, nowMs, lifeS = TOKEN_LIFE_S) {
      const iat = Math.floor(nowMs / 1000);
      const { groupId: group, kind, grants, deviceId } = actor;
      const claims = {
        group,
        kind,
        grants,
        ...(deviceId !== undefined && { device: deviceId }),
        iat,
        exp: iat + lifeS,
      };
      return jwt.sign(claims, secret, {
        algorithm: 'HS256',
        header: { alg: 'HS256', typ: 'at+jwt' },
        issuer: settings.issuer,
        audience: AUDIENCE,
        subject: actor.actorId,
      });
    },
    verify(token, nowMs) {
      try {
        const read = payloadOf(token, nowMs);
        return read === null ? null : actorOf(read.payload, read.own);
      } catch {
        return null;
      }
    },
    keyFor: (purpose) => Buffer.from(hkdfSync('sha256', settings.secret, '', purpose, 32)),
  };
}

const isUuid = (value: unknown): value is string => typeof value === 'string' && UUID.test(value);

function actorOf(payload: jwt.JwtPayload, own: boolean): Actor | null {
  const { sub, group, kind, exp, device } = payload as Record<string, unknown>;
  if (typeof exp !== 'number' || !isUuid(sub) || !isUuid(group)) return null;
  if (kind !== 'person' && kind !== 'device') return null;
  if (own && device !== undefined && (kind !== 'person' || !isUuid(device))) return null;
  const claimed = (payload as Record<string, unknown>).grants;
  if (!Array.isArray(claimed)) return null;
  const grants: Grant[] = [];
  for (const item of claimed as { role?: unknown; siteId?: unknown; deputyId?: unknown }[]) {
    const { role, siteId, deputyId } = item;
    if (typeof role !== 'string' || !roles.includes(role)) return null;
    if (siteId !== null && !isUuid(siteId)) return null;
    if (own && deputyId !== undefined && !isUuid(deputyId)) return null;
    grants.push({ role, siteId, ...(own && isUuid(deputyId) && { deputyId }) });
  }
  return { groupId: group, kind, actorId: sub, grants, ...(own && isUuid(device) && { deviceId: device }) };
}
