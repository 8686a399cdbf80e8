/** Refusals: `not-found`, `code-taken`, `version-mismatch`, `rule-broken`, `time-in-future`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import { SKEW_MS, WINDOW_DAYS } from '../../../domain/readings.ts';
import { fromInstant, utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { findPlaces, findSites } from '../../catalogue/index.ts';
import { findDevice } from '../../identity/index.ts';
import { markPlaceDays } from '../readings/dirty.ts';
import type { changeSensor, createSensor, createSensorLocation, getSensor, listSensors } from './contract.ts';
import { daysChanged, insertLocation, listLocations, type NewLocation } from './locations.ts';
import * as store from './store.ts';

const DAY_MS = 86_400_000;

async function requireDevice(tx: Tx, deviceId: string | null | undefined, siteId: string): Promise<void> {
  if (deviceId === undefined || deviceId === null) return;
  const device = await findDevice(tx, deviceId);
  if (device?.siteId !== siteId) throw notFound('device of that site');
}

export async function createSensorCommand(context: Context<typeof createSensor>): Promise<Reply> {
  const { tx, body, factId, scope } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const { siteId, code, name, kind, deviceId = null } = body;
  await requireDevice(tx, deviceId, siteId);
  const sensor: store.SensorRow = { sensorId: factId, siteId, code, name, kind, deviceId, active: true, version: 1 };
  // From here on only success.
  await store.insertSensor(tx, sensor);
  return createdReply(`/v1/sensors/${factId}`, sensor, siteId);
}

export async function listSensorsQuery({ tx, query, scope, path }: Context<typeof listSensors>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listSensors(tx, scope, query.siteId ?? null, page);
  return pageReply(path, query, page, rows, (row) => [row.code, row.sensorId]);
}

export async function getSensorQuery({ tx, params, scope }: Context<typeof getSensor>): Promise<Reply> {
  const found = await store.findSensor(tx, params.sensorId);
  if (!found || !scope.includes(found.siteId)) throw notFound('sensor');
  const { sensorNo, ...sensor } = found;
  const stays = (await listLocations(tx, [sensorNo])).map((stay) => ({
    ...locationAnswer(stay),
    to: stay.toMs === null ? null : utc(stay.toMs),
  }));
  const body = { ...sensor, stays };
  return stateReply(body);
}

export async function changeSensorCommand(context: Context<typeof changeSensor>): Promise<Reply> {
  const { tx, params, body, scope, ifMatch } = context;
  const found = await store.lockSensor(tx, params.sensorId);
  if (!found || !scope.includes(found.siteId)) throw notFound('sensor');
  requireVersion(ifMatch, found.version);
  await requireDevice(tx, body.deviceId, found.siteId);
  const { sensorNo: _sensorNo, ...sensor } = found;
  const changed: store.SensorRow = {
    ...sensor,
    name: body.name ?? sensor.name,
    active: body.active ?? sensor.active,
    deviceId: body.deviceId === undefined ? sensor.deviceId : body.deviceId,
    version: sensor.version + 1,
  };
  // From here on only success.
  await store.updateSensor(tx, changed);
  return stateReply(changed);
}

/** The sensor is locked: two statements about it are told apart by when they were recorded. */
export async function createSensorLocationCommand(context: Context<typeof createSensorLocation>): Promise<Reply> {
  const { tx, params, body, scope, factId, nowMs, actor } = context;
  const sensor = await store.lockSensor(tx, params.sensorId);
  if (!sensor || !scope.includes(sensor.siteId)) throw notFound('sensor');
  const fromMs = requireTime(body.from, nowMs);
  const { placeId = null, vehicle = null, crateCode = null } = body;
  if ([placeId, vehicle, crateCode].filter((one) => one !== null).length > 1) {
    throw new Refused('rule-broken', 'Give one of placeId, vehicle and crateCode, or none.');
  }
  if (placeId !== null) await requirePlace(tx, placeId, scope);
  const before = await listLocations(tx, [sensor.sensorNo]);
  const location: NewLocation = {
    locationId: factId,
    sensorId: sensor.sensorId,
    fromMs,
    placeId,
    vehicle,
    crateCode,
    recordedAtMs: nowMs,
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await insertLocation(tx, location);
  const after = await listLocations(tx, [sensor.sensorNo]);
  await markPlaceDays(tx, daysChanged(before, after, fromMs, nowMs));
  const headers = { Location: `/v1/sensors/${sensor.sensorId}` };
  return { status: 201, body: locationAnswer(location), headers, siteId: sensor.siteId };
}

function requireTime(from: string, nowMs: number): number {
  const fromMs = fromInstant(from);
  if (fromMs > nowMs + SKEW_MS) throw new Refused('time-in-future', `${from} has not come yet.`);
  // Beyond it the readings may be gone, and what was computed from them could not be computed again.
  if (fromMs < nowMs - WINDOW_DAYS * DAY_MS) {
    throw new Refused(
      'rule-broken',
      `Give a time within the last ${WINDOW_DAYS} days; readings before it are not taken.`,
    );
  }
  return fromMs;
}

async function requirePlace(tx: Tx, placeId: string, scope: SiteScope): Promise<void> {
  const place = (await findPlaces(tx, [placeId])).get(placeId);
  if (!place || !scope.includes(place.siteId)) throw notFound('place');
}

type Where = Pick<NewLocation, 'locationId' | 'sensorId' | 'fromMs' | 'placeId' | 'vehicle' | 'crateCode'>;

function locationAnswer({ locationId, sensorId, fromMs, placeId, vehicle, crateCode }: Where) {
  return { locationId, sensorId, from: utc(fromMs), placeId, vehicle, crateCode };
}
