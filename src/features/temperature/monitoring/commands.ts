/** How places are watched. Refusals: `not-found`, `rule-broken`. */
import { defaultMonitoring, defaultSource } from '../../../domain/exposure/defaults.ts';
import { DAY_MS } from '../../../domain/exposure/shapes.ts';
import { checkStatement } from '../../../domain/exposure/statement.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { centiCOf, dayOf, dayText, WINDOW_DAYS } from '../../../domain/readings.ts';
import { isCalendarDate, utc } from '../../../domain/time.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { createdReply } from '../../../platform/http/replies.ts';
import { findPlaces, type PlaceRow } from '../../catalogue/index.ts';
import { markLots, wakeShelfLife } from '../place-days/lots.ts';
import { markPlaceDays } from '../readings/dirty.ts';
import type { getPlaceMonitoring, setPlaceMonitoring } from './contract.ts';
import * as store from './store.ts';

type Said = Context<typeof setPlaceMonitoring>['body'];

async function getPlace(tx: Tx, scope: SiteScope, placeId: string): Promise<PlaceRow> {
  const place = (await findPlaces(tx, [placeId])).get(placeId);
  if (!place || !scope.includes(place.siteId)) throw notFound('place');
  return place;
}

const centi = (temperatureC: number | undefined, otherwise: number | null): number | null =>
  temperatureC === undefined ? otherwise : centiCOf(temperatureC, 'C');
const minutes = (said: number | undefined, otherwiseMs: number): number => said ?? otherwiseMs / 60_000;

/** What was said, and for the rest the default of the place's kind. */
function stated(place: PlaceRow, body: Said, today: string) {
  const standard = defaultMonitoring(place.kind);
  const how = body.how ?? standard.how;
  return {
    placeId: place.placeId,
    fromDay: body.from ?? today,
    how,
    upperCentiC: centi(body.upperC, standard.upperCentiC) as number,
    lowerCentiC: centi(body.lowerC, standard.lowerCentiC),
    assumedCentiC: centi(body.assumedC, how === standard.how ? standard.assumedCentiC : null),
    between: body.between ?? standard.between,
    gapMin: minutes(body.gapMin, standard.gapMs),
    delayMin: minutes(body.delayMin, standard.delayMs),
    lagMin: minutes(body.lagMin, standard.lagMs),
    lagValidatedBy: body.lagValidatedBy ?? null,
    note: body.note ?? null,
  };
}

function requireDay(fromDay: string, nowMs: number): void {
  const oldest = dayText(dayOf(nowMs) - WINDOW_DAYS);
  if (!isCalendarDate(fromDay) || fromDay < oldest) {
    const detail = `Give a day on the calendar, not before ${oldest}: readings of then are no longer taken.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/from' }] });
  }
}

export async function setMonitoring(context: Context<typeof setPlaceMonitoring>): Promise<Reply> {
  const { tx, params, body, scope, nowMs, actor } = context;
  const place = await getPlace(tx, scope, params.placeId);
  const said = stated(place, body, dayText(dayOf(nowMs)));
  requireDay(said.fromDay, nowMs);
  checkStatement(said);
  const before = await store.listStatements(tx, [place.placeId]);
  const version = Math.max(0, ...before.map((row) => row.version)) + 1;
  const row: store.StatementRow = { ...said, version, recordedAtMs: nowMs, recordedBy: actor.actorId };
  const subject = `place:${place.placeId}`;
  const days = await store.listDaysSince(tx, subject, said.fromDay);
  // From here on only success.
  await store.insertStatement(tx, row);
  // Lots of a place without readings have no day that would bring them along.
  const fromMs = Date.parse(`${said.fromDay}T00:00:00Z`);
  const lots = await markLots(tx, [{ accountId: place.placeId, fromMs, toMs: nowMs + DAY_MS }]);
  await markPlaceDays(
    tx,
    days.map((day) => ({ subject, day })),
  );
  if (lots > 0) await wakeShelfLife(tx);
  return createdReply(`/v1/places/${place.placeId}/monitoring`, answerOf(row), place.siteId);
}

export async function readMonitoring(context: Context<typeof getPlaceMonitoring>): Promise<Reply> {
  const { tx, params, scope, nowMs } = context;
  const place = await getPlace(tx, scope, params.placeId);
  const rows = await store.listStatements(tx, [place.placeId]);
  const today = dayText(dayOf(nowMs));
  const inForce = rows.find((row) => row.fromDay <= today);
  const body = { inForce: inForce ? answerOf(inForce) : standardAnswer(place), statements: rows.map(answerOf) };
  return { status: 200, body };
}

const degrees = (centiC: number | null): number | null => (centiC === null ? null : centiC / 100);

function answerOf(row: store.StatementRow) {
  return {
    placeId: row.placeId,
    version: row.version,
    from: row.fromDay,
    how: row.how,
    upperC: row.upperCentiC / 100,
    lowerC: degrees(row.lowerCentiC),
    assumedC: degrees(row.assumedCentiC),
    between: row.between,
    gapMin: row.gapMin,
    delayMin: row.delayMin,
    lagMin: row.lagMin,
    lagValidatedBy: row.lagValidatedBy,
    note: row.note,
    recordedAt: utc(row.recordedAtMs),
    source: null,
    basis: null,
  };
}

function standardAnswer(place: PlaceRow) {
  const standard = defaultMonitoring(place.kind);
  return {
    placeId: place.placeId,
    version: 0,
    from: null,
    how: standard.how,
    upperC: standard.upperCentiC / 100,
    lowerC: degrees(standard.lowerCentiC),
    assumedC: degrees(standard.assumedCentiC),
    between: standard.between,
    gapMin: standard.gapMs / 60_000,
    delayMin: standard.delayMs / 60_000,
    lagMin: standard.lagMs / 60_000,
    lagValidatedBy: null,
    note: null,
    recordedAt: null,
    ...defaultSource(place.kind),
  };
}
