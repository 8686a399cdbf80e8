/**
 * Statements that are believed away from the service: JSON with a detached JWS (RFC 7515, appendix F) by an Ed25519 key (RFC 8037, EdDSA). The
 * payload is the RFC 8785 form of the JSON, so whoever parsed it can still check it. The key follows from the token secret (HKDF, RFC 5869, under a
 * name of its own): every process has the same one, nothing more is to be kept, and it changes when the secret does.
 */
import { createHash, createPrivateKey, createPublicKey, hkdfSync, sign } from 'node:crypto';
import canonicalizeModule from 'canonicalize';

const canonicalize = canonicalizeModule as unknown as (value: unknown) => string | undefined;

interface SigningKey {
  readonly kty: string;
  readonly crv: string;
  readonly x: string;
  readonly kid: string;
  readonly alg: string;
  readonly use: string;
}

export interface Signer {
  /** the public key, as a JWK */
  readonly key: SigningKey;
  /** header..signature */
  sign(value: unknown): string;
}

/** What stands in front of the 32 bytes of an Ed25519 key in PKCS #8 (RFC 8410). */
const PKCS8_FRONT = Buffer.from('302e020100300506032b657004220420', 'hex');
const SEED_BYTES = 32;

const base64url = (text: string): string => Buffer.from(text, 'utf8').toString('base64url');

export function createSigner(secret: string): Signer {
  const seed = Buffer.from(hkdfSync('sha256', secret, '', 'signed statements, Ed25519, 1', SEED_BYTES));
  const privateKey = createPrivateKey({ key: Buffer.concat([PKCS8_FRONT, seed]), format: 'der', type: 'pkcs8' });
  const { crv = '', kty = '', x = '' } = createPublicKey(privateKey).export({ format: 'jwk' });
  // RFC 7638: the members that make the key, in the order of their names
  const kid = createHash('sha256').update(JSON.stringify({ crv, kty, x })).digest('base64url');
  const header = base64url(JSON.stringify({ alg: 'EdDSA', kid }));
  return {
    key: { kty, crv, x, kid, alg: 'EdDSA', use: 'sig' },
    sign(value) {
      const payload = base64url(canonicalize(value) ?? 'null');
      return `${header}..${sign(null, Buffer.from(`${header}.${payload}`), privateKey).toString('base64url')}`;
    },
  };
}
