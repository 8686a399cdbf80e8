/** Files that are kept in pieces, so that one of any size is never held as a whole. */
import { createHash, type Hash } from 'node:crypto';

const PIECE_BYTES = 256 * 1024;

/** The same bytes in pieces of at least 256 KiB each, but for the last. */
export async function* inPieces(chunks: AsyncIterable<Buffer> | Iterable<Buffer>): AsyncGenerator<Buffer> {
  let gathered: Buffer[] = [];
  let bytes = 0;
  for await (const chunk of chunks) {
    gathered.push(chunk);
    bytes += chunk.length;
    if (bytes < PIECE_BYTES) continue;
    yield Buffer.concat(gathered);
    gathered = [];
    bytes = 0;
  }
  if (bytes > 0) yield Buffer.concat(gathered);
}

/** The pieces that `find` knows by their numbers, from 0 until there is none. */
export async function* readPieces(find: (pieceNo: number) => Promise<Buffer | null>): AsyncGenerator<Buffer> {
  for (let pieceNo = 0; ; pieceNo += 1) {
    const piece = await find(pieceNo);
    if (piece === null) return;
    yield piece;
  }
}

export interface Digest {
  readonly bytes: number;
  readonly sha256: Buffer;
}

/** Length and SHA-256 of all that is shown to `see`. */
export function digester(): { see(piece: Buffer): void; digest(): Digest } {
  const hash: Hash = createHash('sha256');
  let bytes = 0;
  return {
    see(piece) {
      hash.update(piece);
      bytes += piece.length;
    },
    digest: () => ({ bytes, sha256: hash.digest() }),
  };
}
