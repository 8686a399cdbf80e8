/** Readings as they are kept. Refusals: `bad-cursor`, `rule-broken`. */
import { Refused } from '../../../domain/errors.ts';
import { fromInstant, utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findPlaces } from '../../catalogue/index.ts';
import { sensorsAt } from '../sensors/locations.ts';
import { findSensor } from '../sensors/store.ts';
import type { listReadings } from './contract.ts';
import { CSV } from './formats.ts';
import { allReadings, pageOfReadings, type ShownReading, type Span } from './store.ts';

type Asked = Context<typeof listReadings>;

export async function listReadingsQuery(context: Asked): Promise<Reply> {
  const { tx, query, path } = context;
  const page = pageOf(query, ['int', 'time', 'int']);
  const spans = await spansOf(context);
  if (query.format === 'csv') {
    const headers = { 'Content-Disposition': 'attachment; filename="readings.csv"' };
    return { status: 200, headers, stream: { contentType: `${CSV}; charset=utf-8`, chunks: csvOf(tx, spans) } };
  }
  const rows = await pageOfReadings(tx, spans, page.after, page.limit);
  const reply = pageReply(path, query, page, rows, (row) => [String(row.sensorNo), utc(row.atMs), String(row.centiC)]);
  const { items, nextCursor } = reply.body as { items: readonly ShownReading[]; nextCursor: string | null };
  return { ...reply, body: { items: items.map(answerOf), nextCursor } };
}

/** Nothing for what is unknown or of another site. */
async function spansOf({ tx, query, scope }: Asked): Promise<Span[]> {
  const { sensorId, placeId } = query;
  const [fromMs, toMs] = [fromInstant(query.from), fromInstant(query.to)];
  if ((sensorId === undefined) === (placeId === undefined)) {
    throw new Refused('rule-broken', 'Give either sensorId or placeId.');
  }
  if (fromMs >= toMs) throw new Refused('rule-broken', 'to has to be after from.');
  if (sensorId !== undefined) {
    const sensor = await findSensor(tx, sensorId);
    return sensor && scope.includes(sensor.siteId) ? [{ sensorNo: sensor.sensorNo, fromMs, toMs }] : [];
  }
  const place = (await findPlaces(tx, [placeId ?? ''])).get(placeId ?? '');
  if (!place || !scope.includes(place.siteId)) return [];
  return sensorsAt(tx, { placeId: place.placeId }, fromMs, toMs);
}

async function* csvOf(tx: Tx, spans: readonly Span[]): AsyncGenerator<string> {
  yield 'sensor,at,temperatureC\n';
  for await (const rows of allReadings(tx, spans)) {
    yield rows.map((row) => `${row.code},${utc(row.atMs)},${(row.centiC / 100).toFixed(2)}\n`).join('');
  }
}

const answerOf = ({ sensorId, code, atMs, centiC, timeDoubt }: ShownReading) => ({
  sensorId,
  sensor: code,
  at: utc(atMs),
  temperatureC: centiC / 100,
  timeInDoubt: timeDoubt,
});
