/** A lot that says openly that nobody knows what it was. */
import { notFound } from '../../../domain/errors.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findItems } from '../../catalogue/index.ts';
import { findLots, insertLots } from '../lots-store.ts';
import { unknownLotId } from './facts.ts';
import type { BinRef } from './store.ts';

/** Made with its first use; it has the allergens that the item declares and no date, since none is known. */
export async function ensureUnknownLot(tx: Tx, bin: BinRef, nowMs: number): Promise<void> {
  const lotId = unknownLotId(bin);
  if ((await findLots(tx, [lotId])).has(lotId)) return;
  const item = (await findItems(tx, [bin.itemId])).get(bin.itemId);
  if (!item) throw notFound('item');
  const draft = {
    lotId,
    code: `BIN-${lotId.replaceAll('-', '').slice(0, 16)}`,
    itemId: item.itemId,
    unit: item.unit,
    quantity: 1,
    massMg: item.unitMassMg,
    origin: 'pseudo',
    siteId: bin.siteId,
    serialised: false,
    bornAtMs: nowMs,
    handling: item.handling,
    storageInstruction: item.storageInstruction,
    useBy: null,
    useByBasis: { why: 'bin-content-unknown' },
    anchors: {},
    allergens: item.allergens,
    mayContain: item.mayContain,
  } as const;
  await insertLots(tx, [draft], nowMs);
}
