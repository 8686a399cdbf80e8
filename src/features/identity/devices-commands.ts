/** Devices and their tokens. Refusals: `not-found`, `version-mismatch`. */
import { notFound } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { requireVersion } from '../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../platform/http/replies.ts';
import { newSecret } from '../../platform/ids.ts';
import { deviceTokenText, secretHashOf } from './device-tokens.ts';
import type { changeDevice, createDevice, createDeviceToken, getDevice, listDevices } from './devices-contract.ts';
import * as store from './devices-store.ts';
import { findSiteIds } from './store.ts';

export async function createDeviceCommand({ tx, body, factId, scope }: Context<typeof createDevice>): Promise<Reply> {
  const known = await findSiteIds(tx, [body.siteId]);
  if (!known.has(body.siteId) || !scope.includes(body.siteId)) throw notFound('site');
  const device: store.DeviceRow = { deviceId: factId, name: body.name, siteId: body.siteId, active: true, version: 1 };
  // From here on only success.
  await store.insertDevice(tx, device);
  return createdReply(`/v1/devices/${factId}`, device, device.siteId);
}

export async function listDevicesQuery({ tx, query, scope, path }: Context<typeof listDevices>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listDevices(tx, scope, query.siteId ?? null, page);
  return pageReply(path, query, page, rows, (row) => [row.name, row.deviceId]);
}

export async function getDeviceQuery({ tx, params, scope }: Context<typeof getDevice>): Promise<Reply> {
  const device = await store.findDevice(tx, params.deviceId);
  if (!device || !scope.includes(device.siteId)) throw notFound('device');
  return stateReply(device);
}

export async function changeDeviceCommand(context: Context<typeof changeDevice>): Promise<Reply> {
  const { tx, params, body, scope, ifMatch } = context;
  const device = await store.lockDevice(tx, params.deviceId);
  if (!device || !scope.includes(device.siteId)) throw notFound('device');
  requireVersion(ifMatch, device.version);
  const changed: store.DeviceRow = {
    ...device,
    name: body.name ?? device.name,
    active: body.active ?? device.active,
    version: device.version + 1,
  };
  // From here on only success.
  await store.updateDevice(tx, changed);
  return stateReply(changed);
}

/** Not part of the device's version: whoever has read the device does not see its token. */
export async function createDeviceTokenCommand(context: Context<typeof createDeviceToken>): Promise<Reply> {
  const { tx, params, scope } = context;
  const device = await store.lockDevice(tx, params.deviceId);
  if (!device || !scope.includes(device.siteId)) throw notFound('device');
  const secret = newSecret();
  // From here on only success.
  await store.updateDeviceSecret(tx, device.deviceId, secretHashOf(secret));
  const { deviceId } = device;
  return { status: 200, body: { deviceId, deviceToken: deviceTokenText({ groupId: tx.groupId, deviceId, secret }) } };
}
