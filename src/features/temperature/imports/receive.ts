/**
 * Takes in a long file: its text is kept in pieces that end at line ends, each in a short transaction of its own, so that neither memory nor
 * a lock is held for as long as somebody sends. The last piece waits for the transaction that makes the import; what came before it and
 * belongs to no import is swept after a day.
 */
import { createHash } from 'node:crypto';
import { Refused } from '../../../domain/errors.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Arrival } from '../../../platform/http/contract.ts';
import type { RawBody } from '../../../platform/http/raw-body.ts';
import { derivedId } from '../../../platform/ids.ts';
import { clockOffsetOf } from '../readings/commands.ts';
import { blocksOf, columnsOf, CSV, JSON_TYPE, readJsonBody } from '../readings/formats.ts';
import { MOST_LINES, type createReadingImport } from './contract.ts';
import { insertChunk, type Chunk } from './store.ts';

/** About 40,000 lines of CSV: a piece is put into the set in well under a second. */
const CHUNK_BYTES = 2 * 1024 * 1024;
const LF = 10;

export interface ReceivedImport {
  readonly uploadId: string;
  readonly mediaType: string;
  readonly contentHash: Buffer;
  readonly clockOffsetMs: number | null;
  /** of a CSV's heading */
  readonly columns: readonly string[];
  readonly lines: number;
  readonly chunks: number;
  /** not kept yet */
  readonly last: Chunk | null;
}

type Arrived = Arrival<typeof createReadingImport>;

interface Keeper {
  add(block: Buffer): Promise<void>;
  end(): { lines: number; chunks: number; last: Chunk | null };
}

function keeperOf(uploadId: string, { write, nowMs }: Arrived): Keeper {
  let [pieces, size, lines, firstLine, chunkNo] = [[] as Buffer[], 0, 0, 0, 0];
  const take = (): Chunk => {
    const chunk = { uploadId, chunkNo, firstLine, lines: lines - firstLine, body: Buffer.concat(pieces) };
    [pieces, size, firstLine, chunkNo] = [[], 0, lines, chunkNo + 1];
    return chunk;
  };
  return {
    async add(block) {
      if (size > CHUNK_BYTES) {
        const chunk = take();
        await write((tx: Tx) => insertChunk(tx, chunk, nowMs));
      }
      pieces.push(block);
      size += block.length;
      lines += linesIn(block);
      if (lines > MOST_LINES + 1) {
        throw new Refused('body-too-large', `At most ${MOST_LINES} lines are taken in one import. Send it in parts.`);
      }
    },
    end: () => {
      const last = size > 0 ? take() : null;
      return { lines, chunks: chunkNo, last };
    },
  };
}

/** A last line without its end is one too. */
function linesIn(block: Buffer): number {
  let count = block.at(-1) === LF ? 0 : 1;
  for (let at = block.indexOf(LF); at !== -1; at = block.indexOf(LF, at + 1)) count += 1;
  return count;
}

export async function receiveImport(body: RawBody, arrival: Arrived): Promise<ReceivedImport> {
  // Not the import's own id: the same import may be sent twice at once.
  const uploadId = derivedId(`upload-${arrival.nowMs}-${arrival.requestId}`, arrival.factId);
  const keeper = keeperOf(uploadId, arrival);
  const hash = createHash('sha256').update(body.mediaType);
  let { deviceTime } = arrival.query;
  let columns: readonly string[] = [];
  if (body.mediaType === JSON_TYPE) {
    const sent = await readJsonBody(hashed(body.chunks, hash), MOST_LINES);
    deviceTime = sent.deviceTime ?? deviceTime;
    for (let at = 0; at < sent.readings.length; at += 1000) {
      const lines = sent.readings.slice(at, at + 1000).map((reading) => `${JSON.stringify(reading)}\n`);
      await keeper.add(Buffer.from(lines.join('')));
    }
  } else {
    for await (const block of blocksOf(hashed(body.chunks, hash))) {
      if (body.mediaType === CSV && columns.length === 0) columns = headingIn(block);
      await keeper.add(block);
    }
  }
  const clockOffsetMs = clockOffsetOf(deviceTime, arrival.nowMs);
  return { uploadId, mediaType: body.mediaType, contentHash: hash.digest(), clockOffsetMs, columns, ...keeper.end() };
}

async function* hashed(chunks: AsyncIterable<Buffer>, hash: ReturnType<typeof createHash>): AsyncGenerator<Buffer> {
  for await (const chunk of chunks) {
    hash.update(chunk);
    yield chunk;
  }
}

/** The columns of the first line that is not empty; none where there is no such line yet. @throws Refused `csv-unreadable` */
function headingIn(block: Buffer): readonly string[] {
  const heading = block
    .toString('utf8')
    .split('\n')
    .find((line) => line.trim() !== '');
  return heading === undefined ? [] : columnsOf(heading);
}
