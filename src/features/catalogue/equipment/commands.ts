/** Refusals: `not-found`, `code-taken`, `version-mismatch`. */
import { notFound } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { findSites } from '../sites/store.ts';
import { insertVersions } from '../store.ts';
import type { changeEquipment, createEquipment, getEquipment, listEquipment } from './contract.ts';
import * as store from './store.ts';

export async function createEquipmentCommand(context: Context<typeof createEquipment>): Promise<Reply> {
  const { tx, body, factId, scope } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const { siteId, code, name, kind } = body;
  const machine: store.EquipmentRow = { equipmentId: factId, siteId, code, name, kind, active: true, version: 1 };
  // From here on only success.
  await store.insertEquipment(tx, machine);
  await insertVersions(context, [{ kind: 'equipment', objectId: factId, content: machine }]);
  return createdReply(`/v1/equipment/${factId}`, machine, siteId);
}

export async function listEquipmentQuery({ tx, query, scope, path }: Context<typeof listEquipment>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const filter = { siteId: query.siteId ?? null, kind: query.kind ?? null };
  const rows = await store.listEquipment(tx, scope, filter, page);
  return pageReply(path, query, page, rows, (row) => [row.code, row.equipmentId]);
}

export async function getEquipmentQuery({ tx, params, scope }: Context<typeof getEquipment>): Promise<Reply> {
  const machine = (await store.findEquipment(tx, [params.equipmentId])).get(params.equipmentId);
  if (!machine || !scope.includes(machine.siteId)) throw notFound('equipment');
  return stateReply(machine);
}

export async function changeEquipmentCommand(context: Context<typeof changeEquipment>): Promise<Reply> {
  const { tx, params, body, scope, ifMatch } = context;
  const machine = await store.lockEquipment(tx, params.equipmentId);
  if (!machine || !scope.includes(machine.siteId)) throw notFound('equipment');
  requireVersion(ifMatch, machine.version);
  const changed: store.EquipmentRow = {
    ...machine,
    name: body.name ?? machine.name,
    active: body.active ?? machine.active,
    version: machine.version + 1,
  };
  // From here on only success.
  await store.updateEquipment(tx, changed);
  await insertVersions(context, [{ kind: 'equipment', objectId: machine.equipmentId, content: changed }]);
  return stateReply(changed);
}
