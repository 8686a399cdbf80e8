/** Excursions and their lots. Refusals: `bad-cursor`, `not-found`. */
import { areaCMin } from '../../../domain/exposure/excursions.ts';
import { notFound } from '../../../domain/errors.ts';
import { fromInstant, utc } from '../../../domain/time.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { stateReply } from '../../../platform/http/replies.ts';
import { groupBy } from '../../../domain/grouping.ts';
import { listLotsThere } from '../place-days/lots.ts';
import type { getExcursion, listExcursions } from './contract.ts';
import * as store from './store.ts';

export async function listExcursionsQuery(context: Context<typeof listExcursions>): Promise<Reply> {
  const { tx, query, scope, path } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const wanted = {
    siteId: query.siteId ?? null,
    placeId: query.placeId ?? null,
    state: query.state ?? null,
    fromMs: query.from === undefined ? null : fromInstant(query.from),
    toMs: query.to === undefined ? null : fromInstant(query.to),
  };
  const rows = await store.listExcursions(tx, scope, wanted, page);
  const trips = await store.listTrips(
    tx,
    scope,
    rows.map((row) => row.excursionId),
  );
  const byExcursion = groupBy(trips, (trip) => trip.excursionId);
  const items = rows.map((row) => answerOf(row, byExcursion.get(row.excursionId) ?? []));
  return pageReply(path, query, page, items, (one) => [one.startAt, one.excursionId]);
}

export async function getExcursionQuery(context: Context<typeof getExcursion>): Promise<Reply> {
  const { tx, params, scope, nowMs } = context;
  const row = await store.findExcursion(tx, scope, params.excursionId);
  if (!row) throw notFound('excursion');
  const trips = await store.listTrips(tx, scope, [row.excursionId]);
  const { placeId } = row;
  const lots = (await listLotsThere(tx, whereabouts(row, trips, nowMs))).map(({ accountId, ...lot }) => ({
    ...lot,
    placeId: placeId === null ? null : accountId,
    dispatchId: placeId === null ? accountId : null,
  }));
  const body = { ...answerOf(row, trips), lots };
  return stateReply(body);
}

/** The accounts of it and when; one that is open goes on until `untilMs`. */
function whereabouts(
  { placeId, startMs, endMs }: store.ExcursionRow,
  trips: readonly store.TripRow[],
  untilMs: number,
) {
  return placeId === null
    ? trips.map((trip) => ({ accountId: trip.dispatchId, fromMs: trip.fromMs, toMs: trip.toMs ?? untilMs }))
    : [{ accountId: placeId, fromMs: startMs, toMs: endMs ?? untilMs }];
}

const EVERY_SITE: SiteScope = { all: true, siteIds: [], includes: () => true };

/** Lots that went through it, as far as is known by now, for who may at every site; none when there is no such excursion. */
export async function lotIdsOfExcursion(tx: Tx, excursionId: string): Promise<string[]> {
  const row = await store.findExcursion(tx, EVERY_SITE, excursionId);
  if (!row || row.state === 'superseded') return [];
  const trips = await store.listTrips(tx, EVERY_SITE, [excursionId]);
  return [...new Set((await listLotsThere(tx, whereabouts(row, trips, Infinity))).map((lot) => lot.lotId))];
}

const after = (subject: string, kind: string): string | null =>
  subject.startsWith(`${kind}:`) ? subject.slice(kind.length + 1) : null;

function answerOf(row: store.ExcursionRow, trips: readonly store.TripRow[]) {
  return {
    excursionId: row.excursionId,
    siteId: row.siteId,
    placeId: row.placeId,
    vehicle: after(row.subject, 'vehicle'),
    crateCode: after(row.subject, 'crate'),
    side: row.side,
    state: row.state,
    certainty: row.suspected ? ('suspected' as const) : ('proven' as const),
    limitC: row.limitCentiC / 100,
    delayMin: row.delayMs / 60_000,
    startAt: utc(row.startMs),
    endAt: row.endMs === null ? null : utc(row.endMs),
    seenToAt: utc(row.seenToMs),
    peakC: row.peakCentiC / 100,
    peakAt: utc(row.peakAtMs),
    outsideMs: row.outsideMs,
    areaCMin: areaCMin(row.areaCentiMs),
    unmonitoredMs: row.unmonitoredMs,
    dispatches: trips.map(({ dispatchId, code, fromSiteId, toSiteId, fromMs, toMs }) => ({
      dispatchId,
      code,
      fromSiteId,
      toSiteId,
      fromAt: utc(fromMs),
      toAt: toMs === null ? null : utc(toMs),
    })),
    version: row.version,
    updatedAt: utc(row.updatedAtMs),
  };
}
