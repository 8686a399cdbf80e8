/**
 * Answers that are too large to hold: sent piece by piece, inside the transaction that reads them.
 *
 * Until the first piece is there nothing is sent, so a reply that fails at once is a problem like any other. After that the status has
 * left: a failure then ends the stream with an error record where the format has room for one; elsewhere the connection is cut, so that
 * nobody takes half for the whole. Either way the transaction is rolled back.
 */
import type { Request, Response } from 'express';

/** A reader who takes nothing for so long holds a connection to the database for nothing. */
const STALL_MS = 60_000;
/** Pieces are gathered to about this many characters: one write a row would cost more than the row. */
const GATHER_CHARS = 64 * 1024;

export interface StreamReply {
  readonly contentType: string;
  /** Pulled only as fast as the client reads. Left early (`return`) when the client has gone. */
  readonly chunks: AsyncIterable<string | Buffer>;
  /** What to send last when the chunks fail half-way, as text of this format; left out: the connection is cut instead. */
  readonly failed?: (problem: Readonly<Record<string, unknown>>) => string;
}

/** The client went away, or took nothing for a minute, before all was sent. Nobody is left to answer. */
export class ReaderGone extends Error {}

/** Failed after its status had left. `cause` says why. */
export class FailedHalfWay extends Error {}

/** Sends all of it; head says status and headers, and is called once, before the first byte. */
export async function sendStream(
  req: Request,
  res: Response,
  { chunks, failed }: StreamReply,
  to: {
    readonly head: () => void;
    readonly problemOf: (error: unknown) => Readonly<Record<string, unknown>>;
    readonly stallMs?: number | undefined;
  },
): Promise<void> {
  const pieces = chunks[Symbol.asyncIterator]();
  if (req.method === 'HEAD') {
    await pieces.return?.();
    to.head();
    res.end();
    return;
  }
  const stallMs = to.stallMs ?? STALL_MS;
  let piece = await pieces.next();
  to.head();
  let text = '';
  try {
    for (; !piece.done; piece = await pieces.next()) {
      if (res.destroyed) throw new ReaderGone();
      if (typeof piece.value === 'string') {
        text += piece.value;
        if (text.length < GATHER_CHARS) continue;
        await write(res, text, stallMs);
      } else {
        if (text !== '') await write(res, text, stallMs);
        await write(res, piece.value, stallMs);
      }
      text = '';
    }
    res.end(text);
  } catch (error) {
    if (error instanceof ReaderGone) {
      await pieces.return?.();
      throw error;
    }
    if (failed) res.end(text + failed(to.problemOf(error)));
    else res.destroy();
    throw new FailedHalfWay('failed half-way', { cause: error });
  }
}

/** Waits for the reader when it is behind. Throws ReaderGone. */
async function write(res: Response, data: string | Buffer, stallMs: number): Promise<void> {
  if (res.destroyed) throw new ReaderGone();
  if (res.write(data)) return;
  await new Promise<void>((resolve, reject) => {
    const done = (after: () => void) => () => {
      clearTimeout(stalled);
      res.off('drain', onDrain).off('close', onClose);
      after();
    };
    const onDrain = done(resolve);
    const onClose = done(() => reject(new ReaderGone()));
    const stalled = setTimeout(
      done(() => {
        res.destroy();
        reject(new ReaderGone());
      }),
      stallMs,
    );
    res.once('drain', onDrain).once('close', onClose);
  });
}
