/** Packing programmes. Refusals: `not-found`, `code-taken`, `version-mismatch`. */
import { notFound } from '../../../domain/errors.ts';
import { programmeSuggestions } from '../../../domain/process-checks/programmes.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import type * as contract from './contract.ts';
import * as store from './store.ts';

export async function addProgramme(context: Context<typeof contract.createPackingProgramme>): Promise<Reply> {
  const { tx, body, factId, actor, nowMs } = context;
  const { id: _, ...said } = body;
  const row: store.ProgrammeRow = {
    ...said,
    sealTemperatureC: said.sealTemperatureC ?? null,
    programmeId: factId,
    active: true,
    version: 1,
  };
  // From here on only success.
  await store.insertProgramme(tx, row);
  await store.insertProgrammeVersion(tx, row, actor.actorId, nowMs);
  return createdReply(`/v1/packing-programmes/${factId}`, row, null);
}

export async function readProgrammes(context: Context<typeof contract.listPackingProgrammes>): Promise<Reply> {
  const { tx, query, path } = context;
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listProgrammes(tx, query.foodType ?? null, page);
  return pageReply(path, query, page, rows, (row) => [row.code, row.programmeId]);
}

export async function readProgramme(context: Context<typeof contract.getPackingProgramme>): Promise<Reply> {
  const row = await store.findProgramme(context.tx, context.params.programmeId);
  if (!row) throw notFound('programme');
  return stateReply(row);
}

export async function changeProgramme(context: Context<typeof contract.changePackingProgramme>): Promise<Reply> {
  const { tx, params, body, ifMatch, actor, nowMs } = context;
  const row = await store.lockProgramme(tx, params.programmeId);
  if (!row) throw notFound('programme');
  requireVersion(ifMatch, row.version);
  const said = Object.fromEntries(Object.entries(body).filter(([, value]) => value !== undefined));
  const changed: store.ProgrammeRow = { ...row, ...said, version: row.version + 1 };
  // From here on only success.
  await store.updateProgramme(tx, changed);
  await store.insertProgrammeVersion(tx, changed, actor.actorId, nowMs);
  return stateReply(changed);
}

export function readSuggestions(): Promise<Reply> {
  return Promise.resolve({ status: 200, body: programmeSuggestions });
}
