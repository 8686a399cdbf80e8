/** Rows as answers. */
import type { z } from 'zod';
import { unionAllergens } from '../../domain/allergens.ts';
import { utc } from '../../domain/time.ts';
import type { WrittenEntry } from './book.ts';
import type { FindingDraft } from './findings-store.ts';
import { holdBriefs, type ReachingHold } from './holds-store.ts';
import type { LotRow } from './lots-store.ts';
import type { EntryAnswer, Lot } from './shapes.ts';

export function lotAnswer(row: LotRow, holds: readonly ReachingHold[]): z.output<typeof Lot> {
  return {
    lotId: row.lotId,
    code: row.code,
    itemId: row.itemId,
    itemCode: row.itemCode,
    itemName: row.itemName,
    origin: row.origin,
    siteId: row.siteId,
    unit: row.unit,
    quantity: row.quantity,
    massMg: row.massMg,
    serialised: row.serialised,
    bornAt: row.bornAt.toISOString(),
    handling: row.handling,
    storageInstruction: row.storageInstruction,
    printedUseByAt: row.printedUseByAt?.toISOString() ?? null,
    printedUseByDate: row.printedUseByDate,
    useByAt: row.useByAtMs === null ? null : utc(row.useByAtMs),
    useByDate: row.useByDate,
    useByBasis: row.useByBasis,
    allergens: unionAllergens([row.allergens]),
    mayContain: unionAllergens([row.mayContain]),
    supplierId: row.supplierId,
    supplierLotCode: row.supplierLotCode,
    shopName: row.shopName,
    bestBeforeDate: row.bestBeforeDate,
    goodsReceiptId: row.goodsReceiptId,
    batchId: row.batchId,
    loadNo: row.loadNo,
    packingRunId: row.packingRunId,
    holds: holdBriefs(holds.filter((hold) => hold.lotId === row.lotId)),
    earlierUseBys: holds.flatMap(({ lotId, accountId, useByAtMs, liftedAt }) =>
      lotId === row.lotId && liftedAt === null && accountId !== null && useByAtMs !== null
        ? [{ accountId, useByAt: utc(useByAtMs) }]
        : [],
    ),
  };
}

/** The named entry as an answer, with what it showed. */
export function entryAnswer(
  written: readonly WrittenEntry[],
  entryId: string,
  nowMs: number,
  findings: readonly FindingDraft[],
): z.output<typeof EntryAnswer> {
  const entry = written.find((one) => one.entryId === entryId);
  if (!entry) throw new Error(`entry ${entryId} was not written`);
  const { draft, seq } = entry;
  return {
    entryId,
    seq,
    kind: draft.kind,
    siteId: draft.siteId,
    occurredAt: utc(draft.occurredAtMs),
    occurredOn: draft.occurredOn,
    recordedAt: utc(nowMs),
    findings: findings.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail })),
  };
}
