/**
 * Readings in bulk. Refusals: `csv-unreadable`, `malformed-json`, `body-unreadable`, `body-too-large`; all else is a problem of a line.
 * A body that is refused as a whole leaves nothing behind.
 */
import { fromInstant } from '../../../domain/time.ts';
import type { Arrival, Context, Reply } from '../../../platform/http/contract.ts';
import type { RawBody } from '../../../platform/http/raw-body.ts';
import { createCollector, type Collected } from './collect.ts';
import { MOST_READINGS, type createReadings } from './contract.ts';
import { addReadings, blocksOf, JSON_TYPE, jsonPointer, readJsonBody, textReader } from './formats.ts';
import { takeReadings } from './take.ts';

interface Received {
  readonly collected: Collected;
  readonly clockOffsetMs: number | null;
  readonly isJson: boolean;
}

/** The sender's clock minus ours; null when it did not say. */
export function clockOffsetOf(deviceTime: string | undefined, nowMs: number): number | null {
  return deviceTime === undefined ? null : fromInstant(deviceTime) - nowMs;
}

/** Reads and judges every line while the body comes in; 50,000 good ones are a megabyte. */
export async function receiveReadings(body: RawBody, arrival: Arrival<typeof createReadings>): Promise<Received> {
  const { query, nowMs } = arrival;
  const collector = createCollector(nowMs);
  const isJson = body.mediaType === JSON_TYPE;
  let { deviceTime } = query;
  if (isJson) {
    const sent = await readJsonBody(body.chunks, MOST_READINGS);
    deviceTime = sent.deviceTime ?? deviceTime;
    addReadings(collector, sent.readings);
  } else {
    const reader = textReader(body.mediaType, collector, MOST_READINGS);
    for await (const block of blocksOf(body.chunks)) reader.read(block.toString('utf8'));
  }
  return { collected: collector.collected(), clockOffsetMs: clockOffsetOf(deviceTime, nowMs), isJson };
}

export async function createReadingsCommand(
  { tx, actor, scope, nowMs }: Context<typeof createReadings>,
  { collected, clockOffsetMs, isJson }: Received,
): Promise<Reply> {
  const isDevice = actor.kind === 'device';
  const sender = { actorId: actor.actorId, isDevice, scope, receivedAtMs: nowMs, clockOffsetMs };
  // From here on only success.
  const taken = await takeReadings(tx, collected, sender, (line) =>
    isJson ? `${jsonPointer(line)}/sensor` : '/sensor',
  );
  return { status: 200, body: taken };
}
