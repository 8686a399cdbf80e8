/** Which lot is in use from a time (an observation). Refusals: `not-found`, `item-unsuitable` (the item is not kept by lot). */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { getPlace } from '../commands-stock.ts';
import { openFindings, type FindingDraft } from '../findings-store.ts';
import { findLots } from '../lots-store.ts';
import type * as contract from './contract.ts';
import { insertLotInUse, listBookedElsewhere, listLotsInUse, type LotInUseRow } from './store.ts';

const answerOf = (row: LotInUseRow) => ({
  ...row,
  fromAt: row.fromAt.toISOString(),
  recordedAt: row.recordedAt.toISOString(),
});

export async function putInUse(context: Context<typeof contract.createLotInUse>): Promise<Reply> {
  const { body, params, tx, factId, nowMs, actor } = context;
  const place = await getPlace(context, params.placeId);
  const lot = (await findLots(tx, [body.lotId])).get(body.lotId);
  if (!lot) throw notFound('lot');
  if (!lot.lotTracked) throw new Refused('item-unsuitable', `${lot.itemName} is not kept by lot.`);
  const fromAtMs = fromInstant(body.fromAt);
  const use = { placeId: place.placeId, siteId: place.siteId, itemId: lot.itemId, lotId: lot.lotId };
  const elsewhere = await listBookedElsewhere(tx, { ...use, fromAtMs });
  const findings = elsewhere.map((input): FindingDraft => ({
    kind: 'booked-from-another-lot',
    subject: input.factId,
    siteId: place.siteId,
    lotId: input.lotId,
    quantity: input.quantity,
    occurredAtMs: input.occurredAtMs,
    detail: { batchCode: input.batchCode, inUse: lot.code, placeId: place.placeId, factId },
  }));
  // From here on only success.
  await insertLotInUse(tx, { ...use, useId: factId, fromAtMs, actorId: actor.actorId }, nowMs);
  await openFindings(tx, findings, nowMs);
  const shown = findings.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail }));
  return {
    status: 201,
    body: {
      useId: factId,
      ...use,
      itemName: lot.itemName,
      lotCode: lot.code,
      fromAt: new Date(fromAtMs).toISOString(),
      recordedAt: new Date(nowMs).toISOString(),
      findings: shown,
    },
    siteId: place.siteId,
    headers: { Location: `/v1/places/${place.placeId}/lots-in-use` },
  };
}

export async function readInUse(context: Context<typeof contract.getLotsInUse>): Promise<Reply> {
  const place = await getPlace(context, context.params.placeId);
  const rows = await listLotsInUse(context.tx, place.placeId, null, context.nowMs);
  return { status: 200, body: { items: rows.map(answerOf) } };
}
