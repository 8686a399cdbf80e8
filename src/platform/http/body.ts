/**
 * JSON bodies: content type first, then size, then syntax, then what JSON lets through and we do not (-0, lone
 * surrogates are caught by the scalars; prototype names and deep nesting here). Refusals: `unsupported-media-type`,
 * `body-too-large`, `malformed-json`.
 */
import { promisify } from 'node:util';
import { gunzip } from 'node:zlib';
import type { Request } from 'express';
import { Refused } from '../../domain/errors.ts';

const MAX_DEPTH = 12;
const inflate = promisify(gunzip);

export async function readJson(req: Request, limitBytes: number): Promise<unknown> {
  mediaTypeOf(req, ['application/json']);
  const encoding = encodingOf(req);
  const raw = await readAll(req, limitBytes);
  const bytes = encoding === 'gzip' ? await unzip(raw, limitBytes) : raw;
  const value = parseJson(bytes);
  walk(value, 0);
  return value;
}

/** @throws Refused `malformed-json` */
export function parseJson(bytes: Buffer): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch (error) {
    const reason = error instanceof SyntaxError ? error.message.slice(0, 120) : 'it is not UTF-8';
    throw new Refused('malformed-json', `The body could not be read: ${reason}.`);
  }
}

/** The media type without its parameters. @throws Refused `unsupported-media-type` unless it is one of those taken */
export function mediaTypeOf(req: Request, taken: readonly string[]): string {
  const type = (req.get('content-type') ?? '').split(';')[0]?.trim().toLowerCase() ?? '';
  if (taken.includes(type)) return type;
  throw new Refused('unsupported-media-type', type ? `${type} is not taken here.` : 'Content-Type is missing.', {
    headers: { Accept: taken.join(', ') },
  });
}

export function encodingOf(req: Request): 'identity' | 'gzip' {
  const encoding = (req.get('content-encoding') ?? 'identity').toLowerCase();
  if (encoding === 'identity' || encoding === 'gzip') return encoding;
  throw new Refused('unsupported-media-type', `The encoding ${encoding.slice(0, 40)} is not taken here.`, {
    headers: { 'Accept-Encoding': 'gzip' },
  });
}

export function tooLarge(limitBytes: number): Refused {
  return new Refused('body-too-large', `The limit here is ${Math.floor(limitBytes / 1024)} KiB.`, {
    headers: { Connection: 'close' },
  });
}

async function readAll(req: Request, limitBytes: number): Promise<Buffer> {
  if (Number(req.get('content-length') ?? 0) > limitBytes) throw tooLarge(limitBytes);
  const chunks: Buffer[] = [];
  let size = 0;
  for await (const chunk of req as AsyncIterable<Buffer>) {
    size += chunk.length;
    if (size > limitBytes) throw tooLarge(limitBytes);
    chunks.push(chunk);
  }
  return Buffer.concat(chunks);
}

async function unzip(raw: Buffer, limitBytes: number): Promise<Buffer> {
  try {
    return await inflate(raw, { maxOutputLength: limitBytes });
  } catch (error) {
    if ((error as { code?: string }).code === 'ERR_BUFFER_TOO_LARGE') throw tooLarge(limitBytes);
    throw new Refused('malformed-json', 'The body is not valid gzip.');
  }
}

function walk(value: unknown, depth: number): void {
  if (typeof value === 'number' && Object.is(value, -0))
    throw new Refused('malformed-json', 'Minus zero is not a number here.');
  if (typeof value !== 'object' || value === null) return;
  if (depth >= MAX_DEPTH) throw new Refused('malformed-json', `The body is nested deeper than ${MAX_DEPTH}.`);
  for (const [key, inner] of Object.entries(value)) {
    if (key === '__proto__' || key === 'constructor' || key === 'prototype') {
      throw new Refused('malformed-json', `The name ${key} is not allowed.`);
    }
    walk(inner, depth + 1);
  }
}
