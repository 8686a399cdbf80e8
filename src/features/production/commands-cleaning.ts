/**
 * Clean-downs. One that is yet to come would clear what is found against packs that are sealed now. Refusals: `not-found`,
 * `time-in-future`.
 */
import { notFound } from '../../domain/errors.ts';
import { fromInstant } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { findEquipment, lockEquipment } from '../catalogue/index.ts';
import { requirePast } from '../ledger/index.ts';
import type * as contract from './contract-cleaning.ts';
import { judgeMachine } from './machines.ts';
import { insertCleanDown, listCleanDowns, type CleanDownRow } from './store-machines.ts';

const answerOf = (row: CleanDownRow) => ({
  ...row,
  occurredAt: row.occurredAt.toISOString(),
  recordedAt: row.recordedAt.toISOString(),
});

export async function cleanDown(context: Context<typeof contract.createCleanDown>): Promise<Reply> {
  const { body, tx, params, scope, factId, nowMs, actor } = context;
  const machine = await lockEquipment(tx, params.equipmentId);
  if (!machine || !scope.includes(machine.siteId)) throw notFound('equipment');
  const occurredAtMs = fromInstant(body.occurredAt);
  requirePast(occurredAtMs, nowMs);
  const row: CleanDownRow = {
    cleanDownId: factId,
    equipmentId: machine.equipmentId,
    siteId: machine.siteId,
    kind: body.kind,
    note: body.note ?? null,
    occurredAt: new Date(occurredAtMs),
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await insertCleanDown(tx, row);
  if (body.kind === 'full') await judgeMachine({ tx, nowMs, actorId: actor.actorId }, machine, occurredAtMs);
  return {
    status: 201,
    body: answerOf(row),
    siteId: machine.siteId,
    headers: { Location: `/v1/equipment/${machine.equipmentId}/clean-downs` },
  };
}

export async function readCleanDowns(context: Context<typeof contract.getCleanDowns>): Promise<Reply> {
  const { tx, params, scope, query } = context;
  const machine = (await findEquipment(tx, [params.equipmentId])).get(params.equipmentId);
  if (!machine || !scope.includes(machine.siteId)) throw notFound('equipment');
  const page = pageOf(query, ['time', 'uuid']);
  const rows = await listCleanDowns(tx, machine.equipmentId, page);
  return pageReply(context.path, query, page, rows.map(answerOf), (row) => [row.occurredAt, row.cleanDownId]);
}
