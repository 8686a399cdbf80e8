/**
 * Bodies that are read as they come, in one of several formats, instead of one JSON value. Content type and announced size are judged
 * at once; the bytes are pulled by the operation, after it is known who sends them and before a transaction begins, so that a slow
 * sender holds neither a connection nor a lock. gzip is unpacked on the way, with a bound on what comes out.
 *
 * Refusals: `unsupported-media-type`, `body-too-large`, `body-unreadable` (broken gzip). A gzip stream proves its content only by the
 * checksum at its end, so nothing of one that breaks may be kept.
 */
import { pipeline, Readable } from 'node:stream';
import { createGunzip } from 'node:zlib';
import type { Request } from 'express';
import type { z } from 'zod';
import { Refused } from '../../domain/errors.ts';
import { encodingOf, mediaTypeOf, tooLarge } from './body.ts';

export interface RawBodyKinds {
  /** by media type; the first is the one of the operation's example */
  readonly types: Readonly<Record<string, { readonly description?: string; readonly schema?: z.ZodType }>>;
  /** as sent and unpacked alike */
  readonly limitKb: number;
}

export interface RawBody {
  /** one of the kinds' types */
  readonly mediaType: string;
  readonly limitBytes: number;
  /** Unpacked. @throws Refused `body-too-large`, `body-unreadable` */
  readonly chunks: AsyncIterable<Buffer>;
}

export function openRawBody(req: Request, kinds: RawBodyKinds): RawBody {
  const mediaType = mediaTypeOf(req, Object.keys(kinds.types));
  const packed = encodingOf(req) === 'gzip';
  const limitBytes = kinds.limitKb * 1024;
  if (Number(req.get('content-length') ?? 0) > limitBytes) throw tooLarge(limitBytes);
  // Left half-way the request stays open, so that the refusal still reaches its sender.
  const sent = bounded(req.iterator({ destroyOnReturn: false }) as AsyncIterable<Buffer>, limitBytes);
  return { mediaType, limitBytes, chunks: packed ? bounded(unpacked(sent), limitBytes) : sent };
}

async function* bounded(source: AsyncIterable<Buffer>, limitBytes: number): AsyncGenerator<Buffer> {
  let size = 0;
  for await (const chunk of source) {
    size += chunk.length;
    if (size > limitBytes) throw tooLarge(limitBytes);
    yield chunk;
  }
}

async function* unpacked(source: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
  // Errors of either end come out of the iteration below.
  const gunzip = pipeline(Readable.from(source), createGunzip({ chunkSize: 64 * 1024 }), () => undefined);
  try {
    yield* gunzip as AsyncIterable<Buffer>;
  } catch (error) {
    if (!(error as { code?: string }).code?.startsWith('Z_')) throw error;
    throw new Refused('body-unreadable', 'The body is not whole gzip; nothing of it was kept.', {
      headers: { Connection: 'close' },
    });
  }
}
