/**
 * Faults that show after packing. Refusals: `not-found` (site, lot), `rule-broken` (no lot or two, food that no run sealed, a serial that
 * there is not; days of a list that are none), `time-in-future`, `wrong-state` (withdrawn already).
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { requirePeriod } from '../../../domain/query-days.ts';
import { fromInstant, localDate } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findSites } from '../../catalogue/index.ts';
import { findLots, findLotsByCode, requirePast, type LotRow } from '../../ledger/index.ts';
import type * as contract from './contract.ts';
import { findFault, insertFault, insertWithdrawal, listFaults, listSealedBy, type FaultRow } from './store.ts';

type Body = Context<typeof contract.createPackFault>['body'];

function broken(pointer: string, detail: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

/** Whoever has the pack in hand may say what is wrong with it, whichever kitchen sealed it. */
async function lotMeant(tx: Tx, body: Body): Promise<{ lot: LotRow; serial: string | null }> {
  if ((body.lotId === undefined) === (body.code === undefined)) {
    throw broken('#/lotId', 'Say which pack: by lotId or by the code on its label.');
  }
  const [code, scanned] = body.code?.split('/') ?? [];
  const byId = body.lotId === undefined ? undefined : (await findLots(tx, [body.lotId])).get(body.lotId);
  const lot = code === undefined ? byId : (await findLotsByCode(tx, [code])).get(code);
  if (!lot) throw notFound('lot');
  if (scanned !== undefined && body.serial !== undefined && scanned !== body.serial) {
    throw broken('#/serial', `The code says pack ${scanned}, the serial says ${body.serial}.`);
  }
  const serial = body.serial ?? scanned ?? null;
  if (serial !== null && !/^[1-9][0-9]{0,5}$/.test(serial)) {
    throw broken('#/code', 'After the lot code a pack has its number.');
  }
  return { lot, serial };
}

function requirePacks(lot: LotRow, serial: string | null, packs: number): void {
  if (serial !== null && packs !== 1) throw broken('#/packs', 'A serial is of one pack.');
  if (lot.unit !== 'piece') return;
  if (serial !== null && Number(serial) > lot.quantity) {
    throw broken('#/serial', `Lot ${lot.code} has ${lot.quantity} packs.`);
  }
  if (packs > lot.quantity) throw broken('#/packs', `Lot ${lot.code} has ${lot.quantity} packs.`);
}

async function runOf(tx: Tx, lot: LotRow): Promise<string> {
  const runs = await listSealedBy(tx, lot.lotId);
  if (runs.length > 1) {
    throw broken('#/lotId', `Lot ${lot.code} is of packs of ${runs.length} packing runs; name the lot on the pack.`);
  }
  if (runs[0] === undefined) throw broken('#/lotId', `Lot ${lot.code} was not sealed in a packing run of this group.`);
  return runs[0];
}

const RECALL = 'A recall can begin with this pack; until it is decided, set aside what is left of its lot.';

function adviceOn(kind: FaultRow['kind'], reason: FaultRow['reason']): string | null {
  if (reason === 'illness') return `Tell the quality lead now. ${RECALL}`;
  if (reason === 'foreign-body') return `Tell the quality lead now and keep what was found. ${RECALL}`;
  if (kind === 'leaker')
    return 'Do not serve it: the date on it was given for a sealed pack. Discard it and record the discard.';
  if (kind === 're-bagged')
    return 'A new pouch does not begin its life anew: the date on the first one counts. The quality lead decides whether it may be kept.';
  return null;
}

function answerOf({ withdrawalId, withdrawnBecause, withdrawnAt, withdrawnBy, ...row }: FaultRow) {
  const withdrawn = withdrawalId !== null && {
    withdrawalId,
    reason: withdrawnBecause,
    recordedAt: withdrawnAt?.toISOString(),
    recordedBy: withdrawnBy,
  };
  return {
    ...row,
    occurredAt: row.occurredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    packedAt: row.packedAt.toISOString(),
    withdrawn: withdrawn || null,
    advice: withdrawn ? null : adviceOn(row.kind, row.reason),
  };
}

export async function recordFault(context: Context<typeof contract.createPackFault>): Promise<Reply> {
  const { tx, body, scope, factId, nowMs, actor } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const occurredAtMs = body.occurredAt ? fromInstant(body.occurredAt) : nowMs;
  requirePast(occurredAtMs, nowMs);
  const { lot, serial } = await lotMeant(tx, body);
  const packs = body.packs ?? 1;
  requirePacks(lot, serial, packs);
  const packingRunId = await runOf(tx, lot);
  // From here on only success.
  const draft = {
    faultId: factId,
    siteId: site.siteId,
    kind: body.kind,
    lotId: lot.lotId,
    serial,
    packs,
    reason: body.reason ?? null,
    note: body.note ?? null,
    packingRunId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, site.timeZone),
    recordedBy: actor.actorId,
  };
  await insertFault(tx, draft, nowMs);
  const row = await findFault(tx, factId);
  if (!row) throw new Error(`pack fault ${factId} cannot be read back`);
  return { status: 201, body: answerOf(row), siteId: site.siteId, headers: { Location: `/v1/pack-faults/${factId}` } };
}

/** Under the exclusive gate, so that it is withdrawn once. */
export async function withdrawFault(context: Context<typeof contract.createPackFaultWithdrawal>): Promise<Reply> {
  const { tx, body, params, scope, factId, nowMs, actor } = context;
  const row = await findFault(tx, params.faultId);
  if (!row || !scope.includes(row.siteId)) throw notFound('pack fault');
  if (row.withdrawalId !== null) throw new Refused('wrong-state', 'It was withdrawn already.');
  // From here on only success.
  const draft = { withdrawalId: factId, faultId: row.faultId, reason: body.reason, recordedBy: actor.actorId };
  await insertWithdrawal(tx, draft, nowMs);
  const marked = await findFault(tx, row.faultId);
  if (!marked) throw new Error(`pack fault ${row.faultId} cannot be read back`);
  const headers = { Location: `/v1/pack-faults/${row.faultId}` };
  return { status: 201, body: answerOf(marked), siteId: row.siteId, headers };
}

export async function readFault({ tx, params, scope }: Context<typeof contract.getPackFault>): Promise<Reply> {
  const row = await findFault(tx, params.faultId);
  if (!row || !(scope.includes(row.siteId) || scope.includes(row.packedAtSiteId))) throw notFound('pack fault');
  return { status: 200, body: answerOf(row) };
}

export async function readFaults({ tx, query, scope, path }: Context<typeof contract.listPackFaults>): Promise<Reply> {
  requirePeriod(query);
  const page = pageOf(query, ['time', 'uuid']);
  const filter = {
    siteId: query.siteId ?? null,
    packedAtSiteId: query.packedAtSiteId ?? null,
    packingRunId: query.packingRunId ?? null,
    lotId: query.lotId ?? null,
    kind: query.kind ?? null,
    fromDate: query.fromDate ?? null,
    toDate: query.toDate ?? null,
  };
  const rows = await listFaults(tx, scope, filter, page);
  return pageReply(path, query, page, rows.map(answerOf), (row) => [row.occurredAt, row.faultId]);
}
