/** What was found when a dispatch arrived. Refusals: `not-found`, `unit-mismatch`, `rule-broken`. */
import { notFound, Refused } from '../../domain/errors.ts';
import { post } from '../../domain/ledger/book.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findPlaces, findSites, presumedPlaceId, type SiteRow } from '../catalogue/index.ts';
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
import { brief, dispatchAnswer } from './commands.ts';
import type * as contract from './contract.ts';
import { refreshMissing } from './missing.ts';
import { closeComplete } from './receiving/closing.ts';
import { insertReceipt } from './store-receipts.ts';
import { lockDispatches, setState, type DispatchRow } from './store.ts';

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
    return { ...line, ...putAway(row, site, lot, line), lot, temperatureC: line.temperatureC ?? null };
  });
  const presumed = presumedOf(lines);
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
      ...(presumed.length > 0 && { note: { presumed } }),
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
  const said: DispatchRow = { ...row, state: body.closes ? 'closed' : row.state };
  const closing = { ids: context.ids, actorId: actor.actorId, occurredAtMs, nowMs };
  const missing = await refreshMissing(tx, await closeComplete(tx, [said], closing), factId, occurredAtMs, nowMs);
  const answer = await dispatchAnswer(context, row.dispatchId);
  return {
    status: 201,
    body: { ...answer, findings: [...findings, ...missing].map(brief) },
    siteId: site.siteId,
    headers: { Location: `/v1/dispatches/${row.dispatchId}` },
  };
}

/**
 * Where a line is put. Damaged or too warm: quarantine. What comes back or is to be destroyed has a history that nobody saw: quarantine,
 * unless the receiver says otherwise, so that it is never mixed with what stayed. Else as the line says, or where the site
 * says that such food is put.
 */
export function putAway(
  dispatch: Pick<DispatchRow, 'purpose'>,
  site: SiteRow,
  lot: Pick<LotRow, 'storage'>,
  line: { readonly condition: string; readonly placeId?: string | undefined },
): { placeId: string; presumed: boolean } {
  if (line.condition !== 'accepted') return { placeId: site.quarantinePlaceId, presumed: false };
  if (line.placeId) return { placeId: line.placeId, presumed: false };
  if (dispatch.purpose !== 'delivery') return { placeId: site.quarantinePlaceId, presumed: false };
  return { placeId: presumedPlaceId(site, lot.storage), presumed: true };
}

/** What nobody said, for the entry's note. */
export function presumedOf(
  lines: readonly { readonly lotId: string; readonly placeId: string; readonly presumed: boolean }[],
): { lotId: string; placeId: string }[] {
  return lines.flatMap(({ lotId, placeId, presumed }) => (presumed ? [{ lotId, placeId }] : []));
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
