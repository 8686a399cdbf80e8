/**
 * Reading tracking events. Refusals: `not-found` (lot, supplier, site), `rule-broken` (nothing asked for, a period the wrong way round or
 * too long), `trace-too-large`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { isCalendarDate } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findSites, findSuppliers } from '../../catalogue/index.ts';
import { getVisibleLot } from '../../ledger/index.ts';
import { XLSX, type listTrackingEvents } from './contract.ts';
import { eventChunks, loadGazetteer } from './events.ts';
import { csvFile, jsonFile, xlsxFile } from './files.ts';
import { listPeriodLots, listSupplierLots, sortByBirth, walkFrom, type EventFilter } from './queries.ts';

/** As the scope of a case: more is a question for the database's keeper, not for a file. */
const MOST_LOTS = 100_000;
const MOST_DAYS = 366;
const DAY_MS = 86_400_000;

type Asked = Context<typeof listTrackingEvents>;

function refuse(detail: string, field: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/query/${field}` }] });
}

function checkPeriod({ query }: Asked): void {
  const { from, to, lotId, supplierId } = query;
  if (from !== undefined && !isCalendarDate(from)) throw refuse(`${from} is not on the calendar.`, 'from');
  if (to !== undefined && !isCalendarDate(to)) throw refuse(`${to} is not on the calendar.`, 'to');
  if (from !== undefined && to !== undefined && to < from) throw refuse(`${to} is before ${from}.`, 'to');
  if (lotId !== undefined || supplierId !== undefined) return;
  if (from === undefined) throw refuse('Give a lot, a supplier, or a period with both of its ends.', 'from');
  if (to === undefined) throw refuse('Give a lot, a supplier, or a period with both of its ends.', 'to');
  if ((Date.parse(to) - Date.parse(from)) / DAY_MS >= MOST_DAYS)
    throw refuse(`At most ${MOST_DAYS} days at once.`, 'to');
}

function bounded(lotIds: readonly string[]): readonly string[] {
  if (lotIds.length > MOST_LOTS) {
    throw new Refused('trace-too-large', `More than ${MOST_LOTS} lots: ask for a shorter period, or for one lot.`);
  }
  return lotIds;
}

async function walked({ tx, query }: Asked, starts: readonly string[]): Promise<Set<string>> {
  const walk = query.walk ?? 'both';
  const lotIds = new Set(starts);
  for (const direction of ['forward', 'back'] as const) {
    if (walk !== direction && walk !== 'both') continue;
    for (const lotId of bounded(await walkFrom(tx, starts, direction, MOST_LOTS + 1))) lotIds.add(lotId);
  }
  return lotIds;
}

/** Lots asked for: of a lot and a supplier, those that belong to both. */
async function lotsOf(context: Asked): Promise<string[]> {
  const { tx, scope, query } = context;
  const sets: Set<string>[] = [];
  if (query.lotId !== undefined) {
    sets.push(await walked(context, [(await getVisibleLot(tx, scope, query.lotId)).lotId]));
  }
  if (query.supplierId !== undefined) {
    if (!(await findSuppliers(tx, [query.supplierId])).has(query.supplierId)) throw notFound('supplier');
    const starts = bounded(await listSupplierLots(tx, query.supplierId, MOST_LOTS + 1));
    sets.push(await walked(context, starts));
  }
  const [first, ...others] = sets;
  const lotIds =
    first === undefined
      ? await listPeriodLots(tx, query.from ?? '', query.to ?? '', MOST_LOTS + 1)
      : [...first].filter((lotId) => others.every((other) => other.has(lotId)));
  return sortByBirth(tx, bounded(lotIds));
}

async function filterOf({ tx, scope, query }: Asked): Promise<EventFilter> {
  if (query.siteId !== undefined) {
    const known = (await findSites(tx, [query.siteId])).has(query.siteId);
    if (!known || !scope.includes(query.siteId)) throw notFound('site');
  }
  const own = query.lotId === undefined && !scope.all ? scope.siteIds : null;
  const siteIds = query.siteId === undefined ? own : [query.siteId];
  return { from: query.from ?? null, to: query.to ?? null, siteIds };
}

export async function readTrackingEvents(context: Asked): Promise<Reply> {
  const { tx, query, nowMs } = context;
  checkPeriod(context);
  const filter = await filterOf(context);
  const lotIds = await lotsOf(context);
  const chunks = eventChunks(tx, await loadGazetteer(tx), lotIds, filter);
  const name = `tracking-events-${new Date(nowMs).toISOString().slice(0, 10)}`;
  const format = query.format ?? formatOf(context.accept(['application/json', 'text/csv', XLSX]));
  if (format === 'json')
    return { status: 200, stream: { contentType: 'application/json; charset=utf-8', chunks: jsonFile(chunks) } };
  const headers = { 'Content-Disposition': `attachment; filename="${name}.${format}"` };
  if (format === 'csv') {
    return {
      status: 200,
      headers,
      stream: { contentType: 'text/csv; charset=utf-8; header=present', chunks: csvFile(chunks) },
    };
  }
  const head = Object.entries(query)
    .filter(([field]) => field !== 'format')
    .map(([field, value]): [string, string] => [`Asked for: ${field}`, value ?? '']);
  const workbook = xlsxFile(chunks, 'Tracking events', [['Made at', new Date(nowMs).toISOString()], ...head]);
  return { status: 200, headers, stream: { contentType: XLSX, chunks: workbook } };
}

function formatOf(mediaType: string): 'json' | 'csv' | 'xlsx' {
  if (mediaType === 'text/csv') return 'csv';
  return mediaType === XLSX ? 'xlsx' : 'json';
}
