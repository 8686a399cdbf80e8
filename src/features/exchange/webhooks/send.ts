/** One message to one address. Redirects are not followed, the answer's body is not read, and nothing waits longer than 15 seconds. */
import http from 'node:http';
import https from 'node:https';
import { isIP } from 'node:net';
import { stopwatch } from '../../../platform/clock.ts';
import { AddressRefused, isPublicAddress, publicLookup } from './addresses.ts';

export interface Message {
  readonly url: string;
  readonly id: string;
  readonly timestampS: number;
  readonly signature: string;
  readonly body: string;
}

export interface Sent {
  /** null: no answer came */
  readonly status: number | null;
  readonly problem: string | null;
  readonly tookMs: number;
}

export interface SendOptions {
  readonly allowPrivate: boolean;
  readonly timeoutMs: number;
}

/** In words that do not say what is behind the address: whoever asks may have chosen it. */
function wordsOf(error: Error & { code?: string }): string {
  if (error.name === 'TimeoutError' || error.name === 'AbortError') return 'no answer in time';
  if (error instanceof AddressRefused) return error.message;
  if (error.code === 'ENOTFOUND' || error.code === 'EAI_AGAIN') return 'the name was not found';
  if (/CERT|SSL|TLS|SELF_SIGNED|UNABLE_TO/.test(error.code ?? '')) return 'the certificate was not accepted';
  return 'no connection';
}

export async function sendMessage(message: Message, { allowPrivate, timeoutMs }: SendOptions): Promise<Sent> {
  const elapsedS = stopwatch();
  const url = new URL(message.url);
  const done = (status: number | null, problem: string | null): Sent => ({
    status,
    problem,
    tookMs: Math.round(elapsedS() * 1000),
  });
  const host = url.hostname.replace(/^\[|\]$/g, '');
  // No look-up is made for an address in digits, so it is looked at here.
  if (!allowPrivate && (url.protocol !== 'https:' || (isIP(host) !== 0 && !isPublicAddress(host)))) {
    return done(null, 'the address leads inside a network');
  }
  const data = Buffer.from(message.body, 'utf8');
  return new Promise((resolve) => {
    const request = (url.protocol === 'https:' ? https : http).request(url, {
      method: 'POST',
      agent: false,
      signal: AbortSignal.timeout(timeoutMs),
      ...(!allowPrivate && { lookup: publicLookup }),
      headers: {
        'content-type': 'application/json',
        'content-length': data.length,
        'user-agent': 'sealtrail-webhooks',
        'webhook-id': message.id,
        'webhook-timestamp': String(message.timestampS),
        'webhook-signature': message.signature,
      },
    });
    request.on('error', (error) => resolve(done(null, wordsOf(error))));
    request.on('response', (response) => {
      const status = response.statusCode ?? 0;
      response.on('error', () => undefined).destroy();
      resolve(done(status, status >= 200 && status <= 299 ? null : `answered ${status}`));
    });
    request.end(data);
  });
}
