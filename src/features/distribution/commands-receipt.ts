/** What was found when a dispatch arrived. Refusals: `not-found`, `unit-mismatch`, `rule-broken`. */
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findPlaces, findSites } from '../catalogue/index.ts';
import {
  findLots,
  loadBook,
  placeAccount,
  requireUnit,
  transitAccount,
  writeBook,
  type FindingDraft,
  type LotRow,
} from '../ledger/index.ts';
import { dispatchAnswer } from './commands.ts';
import type * as contract from './contract.ts';
import { refreshMissing } from './missing.ts';
import { insertReceipt, lockDispatches, setState } from './store.ts';

export async function receive(context: Context<typeof contract.createReceipt>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs, actor } = context;
  const row = (await lockDispatches(tx, [params.dispatchId])).get(params.dispatchId);
  if (!row || !scope.includes(row.toSiteId)) throw notFound('dispatch');
  const site = (await findSites(tx, [row.toSiteId])).get(row.toSiteId);
  const lots = await findLots(
    tx,
    body.lines.map((line) => line.lotId),
  );
  const places = await findPlaces(
    tx,
    body.lines.flatMap((line) => (line.placeId ? [line.placeId] : [])),
  );
  if (!site) throw notFound('site');
  if (body.lines.length === 0 && !body.closes) throw new Refused('rule-broken', 'Give lines, or close the receipt.');
  const occurredAtMs = fromInstant(body.occurredAt);
  const lines = body.lines.map((line, at) => {
    const lot = lots.get(line.lotId);
    if (!lot) throw notFound('lot');
    requireUnit(lot, line.unit, `#/lines/${at}/unit`);
    if (line.placeId && places.get(line.placeId)?.siteId !== site.siteId) throw notFound('place');
    const placeId = line.condition === 'accepted' ? (line.placeId ?? site.receivingPlaceId) : site.quarantinePlaceId;
    return { ...line, lot, placeId, temperatureC: line.temperatureC ?? null };
  });
  const transit = transitAccount(row.dispatchId, row.fromSiteId, row.toSiteId);
  const book = await loadBook(
    tx,
    lines.flatMap((line) => [
      { lotId: line.lotId, account: transit },
      { lotId: line.lotId, account: placeAccount(line.placeId, site.siteId) },
    ]),
  );
  if (lines.length > 0) {
    post(book, {
      entryId: factId,
      kind: 'receipt',
      factId,
      siteId: site.siteId,
      occurredAtMs,
      occurredOn: localDate(occurredAtMs, site.timeZone),
      contentHash: context.contentHash,
      dispatchId: row.dispatchId,
      moves: lines.map((line) => ({
        lotId: line.lotId,
        fromAccountId: row.dispatchId,
        toAccountId: line.placeId,
        quantity: line.quantity,
        basis: 'counted',
        reason: line.condition,
      })),
    });
  }
  const findings = lines
    .filter((line) => line.condition !== 'accepted')
    .map((line, at): FindingDraft =>
      conditionFinding(line.lot, line, `${factId}|${at}`, {
        siteId: site.siteId,
        dispatchId: row.dispatchId,
        factId,
        occurredAtMs,
      }),
    );
  // From here on only success.
  await writeBook({ tx, ids: context.ids, actorId: actor.actorId, nowMs }, book, [], findings);
  const receipt = {
    receiptId: factId,
    dispatchId: row.dispatchId,
    occurredAtMs,
    receivedBy: actor.actorId,
    closes: body.closes,
    note: body.note ?? null,
  };
  await insertReceipt(
    tx,
    receipt,
    lines.map(({ lotId, placeId, quantity, condition, temperatureC }) => ({
      lotId,
      placeId,
      quantity,
      condition,
      temperatureC,
    })),
    nowMs,
  );
  if (body.closes && row.state !== 'closed') await setState(tx, row.dispatchId, 'closed', null);
  const missing = await refreshMissing(
    tx,
    [{ ...row, state: body.closes ? 'closed' : row.state }],
    factId,
    occurredAtMs,
    nowMs,
  );
  const answer = await dispatchAnswer(context, row.dispatchId);
  const shown = [...findings, ...missing].map(({ kind, lotId, quantity, detail }) => ({
    kind,
    lotId,
    quantity,
    detail,
  }));
  return {
    status: 201,
    body: { ...answer, findings: shown },
    siteId: site.siteId,
    headers: { Location: `/v1/dispatches/${row.dispatchId}` },
  };
}

/** Damaged or too warm on arrival: set aside, and listed until somebody decides. */
export function conditionFinding(
  lot: Pick<LotRow, 'lotId' | 'code'>,
  line: { condition: string; quantity: number; temperatureC: number | null },
  subject: string,
  at: { siteId: string; dispatchId: string | null; factId: string; occurredAtMs: number },
): FindingDraft {
  return {
    kind: line.condition === 'damaged' ? 'damaged-on-arrival' : 'too-warm-on-arrival',
    subject,
    siteId: at.siteId,
    lotId: lot.lotId,
    quantity: line.quantity,
    occurredAtMs: at.occurredAtMs,
    detail: { lotCode: lot.code, dispatchId: at.dispatchId, temperatureC: line.temperatureC, factId: at.factId },
  };
}
