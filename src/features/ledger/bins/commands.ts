/** What a bin is now, and that it was empty (an observation). Refusals: `not-found`, `rule-broken` (the place is no bin). */
import { unionAllergens } from '../../../domain/allergens.ts';
import { Refused } from '../../../domain/errors.ts';
import { fromInstant, utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import type { PlaceRow } from '../../catalogue/index.ts';
import { count } from '../commands-counts.ts';
import { getPlace } from '../commands-stock.ts';
import { findHoldsReaching, holdBriefs } from '../holds-store.ts';
import { findLots } from '../lots-store.ts';
import { inPlace } from '../observe.ts';
import type * as contract from './contract.ts';
import { readBinState } from './facts.ts';
import { findLastEmptying, insertEmptying, listItemsIn, type HeldItemRow } from './store.ts';

export function requireBin(place: Pick<PlaceRow, 'bin' | 'name'>): void {
  if (!place.bin) throw new Refused('rule-broken', `${place.name} is not a bin.`);
}

export async function empty(context: Context<typeof contract.createBinEmptying>): Promise<Reply> {
  const { body, params, tx, factId, nowMs, actor } = context;
  const place = await getPlace(context, params.placeId);
  requireBin(place);
  const { occurredAt } = body;
  const counted = await count({
    ...context,
    body: { placeId: place.placeId, occurredAt, complete: true, lines: [] },
    params: undefined,
    query: undefined,
  });
  const row = { emptyingId: factId, placeId: place.placeId, siteId: place.siteId, note: body.note ?? null };
  await insertEmptying(tx, { ...row, atMs: fromInstant(occurredAt), actorId: actor.actorId }, nowMs);
  const {
    complete: _c,
    usedByCount: _u,
    lines: _l,
    derivedUse: _d,
    ...entry
  } = counted.body as Record<string, unknown>;
  return { ...counted, body: entry };
}

export async function readBin(context: Context<typeof contract.getBin>): Promise<Reply> {
  const { params, tx, nowMs } = context;
  const place = await getPlace(context, params.placeId);
  requireBin(place);
  const emptied = await findLastEmptying(tx, place.placeId);
  const items = [];
  for (const item of await listItemsIn(tx, place.placeId)) items.push(await itemAnswer(tx, place, item, nowMs));
  return {
    status: 200,
    body: {
      placeId: place.placeId,
      siteId: place.siteId,
      lastEmptiedAt: emptied?.toISOString() ?? null,
      items,
    },
  };
}

async function itemAnswer(tx: Tx, place: PlaceRow, item: HeldItemRow, nowMs: number): Promise<object> {
  const { placeId, siteId } = place;
  const state = await readBinState(tx, { placeId, siteId, itemId: item.itemId }, nowMs);
  const lotIds = state.lots.map((lot) => lot.lotId);
  const rows = await findLots(tx, lotIds);
  const holds = await findHoldsReaching(tx, lotIds, nowMs);
  const known = state.lots.flatMap((lot) => {
    const found = rows.get(lot.lotId);
    const row = found && inPlace(found, placeId, holds);
    return row ? [{ ...lot, row }] : [];
  });
  const dated = known.filter(({ row }) => row.useByAtMs !== null);
  const [first] = dated.sort((a, b) => (a.row.useByAtMs ?? 0) - (b.row.useByAtMs ?? 0));
  const allergens = unionAllergens(known.map(({ row }) => row.allergens));
  return {
    ...item,
    quantity: state.quantity,
    since: state.sinceMs === null ? null : utc(state.sinceMs),
    useByAt: first ? utc(first.row.useByAtMs ?? 0) : null,
    useByDate: first?.row.useByDate ?? null,
    allergens,
    mayContain: unionAllergens(known.map(({ row }) => row.mayContain)).filter((code) => !allergens.includes(code)),
    lots: known.map(({ row, quantity, firstInMs }) => ({
      lotId: row.lotId,
      lotCode: row.code,
      quantity,
      cameInAt: utc(firstInMs),
      useByAt: row.useByAtMs === null ? null : utc(row.useByAtMs),
      holds: holdBriefs(holds.filter((hold) => hold.lotId === row.lotId)),
    })),
    batches: state.inputs.map((input) => ({
      inputId: input.inputId,
      entryId: input.entryId,
      batchId: input.batchId,
      batchCode: input.batchCode,
      quantity: input.quantity,
      occurredAt: utc(input.atMs),
    })),
  };
}
