/** Signatures by the Standard Webhooks specification, and how secrets are kept. */
import { createCipheriv, createDecipheriv, createHmac } from 'node:crypto';
import { newSecret } from '../../../platform/ids.ts';

const PREFIX = 'whsec_';

const newBytes = (count: number): Buffer => Buffer.from(newSecret(count), 'base64url');

/** `v1,` and the base64 of HMAC-SHA256 over `id.timestamp.body`, one for each secret, with blanks between. */
export function signatureOf(secrets: readonly string[], id: string, timestampS: number, body: string): string {
  return secrets
    .map((secret) => {
      const key = Buffer.from(secret.slice(PREFIX.length), 'base64');
      return `v1,${createHmac('sha256', key).update(`${id}.${timestampS}.${body}`).digest('base64')}`;
    })
    .join(' ');
}

/** 32 random bytes; the specification asks for 24 to 64. */
export const newWebhookSecret = (): string => `${PREFIX}${newBytes(32).toString('base64')}`;

const IV_BYTES = 12;
const TAG_BYTES = 16;

/** AES-256-GCM. `about` binds it to its row: copied to another, it does not open. */
export function seal(key: Buffer, text: string, about: string): Buffer {
  const iv = newBytes(IV_BYTES);
  const cipher = createCipheriv('aes-256-gcm', key, iv).setAAD(Buffer.from(about));
  const sealed = Buffer.concat([cipher.update(text, 'utf8'), cipher.final()]);
  return Buffer.concat([iv, cipher.getAuthTag(), sealed]);
}

/** Throws when it was sealed with another key or for something else. */
export function unseal(key: Buffer, sealed: Buffer, about: string): string {
  const decipher = createDecipheriv('aes-256-gcm', key, sealed.subarray(0, IV_BYTES), { authTagLength: TAG_BYTES })
    .setAAD(Buffer.from(about))
    .setAuthTag(sealed.subarray(IV_BYTES, IV_BYTES + TAG_BYTES));
  return Buffer.concat([decipher.update(sealed.subarray(IV_BYTES + TAG_BYTES)), decipher.final()]).toString('utf8');
}
