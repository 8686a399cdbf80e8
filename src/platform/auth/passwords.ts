/**
 * Passwords are kept as scrypt hashes (memory-hard, RFC 7914) with the parameters beside them, so that they can be raised
 * later. N = 2^15, r = 8, p = 3 is one of the settings of the OWASP Password Storage Cheat Sheet (from memory): 32 MiB.
 */
import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

const N = 2 ** 15;
const R = 8;
const P = 3;
const LENGTH = 32;

function derive(password: string, salt: Buffer, n: number, r: number, p: number): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const options = { N: n, r, p, maxmem: 256 * n * r };
    scrypt(password.normalize('NFKC'), salt, LENGTH, options, (error, key) => (error ? reject(error) : resolve(key)));
  });
}

export async function hashPassword(password: string): Promise<string> {
  const salt = randomBytes(16);
  const key = await derive(password, salt, N, R, P);
  return ['scrypt', N, R, P, salt.toString('base64url'), key.toString('base64url')].join('$');
}

/** False for a wrong password and for a null hash, after the same work: a name that does not exist takes as long. */
export async function verifyPassword(password: string, hash: string | null): Promise<boolean> {
  const parts = hash?.split('$') ?? [];
  const known = parts.length === 6 && parts[0] === 'scrypt';
  const [n, r, p] = known ? [Number(parts[1]), Number(parts[2]), Number(parts[3])] : [N, R, P];
  const salt = known ? Buffer.from(parts[4] ?? '', 'base64url') : Buffer.alloc(16);
  const expected = known ? Buffer.from(parts[5] ?? '', 'base64url') : Buffer.alloc(LENGTH);
  const key = await derive(password, salt, n ?? N, r ?? R, p ?? P);
  return key.length === expected.length && timingSafeEqual(key, expected) && known;
}
