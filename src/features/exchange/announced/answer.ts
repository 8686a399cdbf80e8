/** An announced delivery as it is answered: what its numbers mean, what could not be understood, and a receipt to begin with. */
import { amountInUnit, differencesOf, type ComparedLine } from '../../../domain/epcis/announced-amounts.ts';
import type { AnnouncedDeliveryAnswer } from './contract.ts';
import type { DeliveryRow, ReceivedRow, StoredLine } from './store.ts';

type Line = AnnouncedDeliveryAnswer['lines'][number];
type Proposal = NonNullable<AnnouncedDeliveryAnswer['goodsReceipt']>;

/** As many lines as a goods receipt takes. */
const MOST_PROPOSED = 200;
/** As long as a goods receipt takes a document number and a supplier's lot code; longer is left to who reads the case. */
const MOST_CODE = 60;

function lineOf(stored: StoredLine): Line {
  const { lotCode, unit, ...said } = stored;
  const notes: string[] = [];
  if (stored.gtin === null) notes.push('It names no GTIN.');
  else if (stored.itemId === null) notes.push(`No one item has the GTIN ${stored.gtin}.`);
  const amount = unit === null ? null : amountInUnit(stored.quantity, stored.uom, unit);
  if (amount?.note) notes.push(amount.note);
  return {
    ...said,
    supplierLotCode: lotCode,
    unit: unit as Line['unit'],
    itemQuantity: amount?.quantity ?? null,
    notes,
  };
}

function notesOf(row: DeliveryRow): string[] {
  const notes: string[] = [];
  if (row.toGln === null) notes.push('It does not say where it goes.');
  else if (row.siteId === null) notes.push(`No one site has the GLN ${row.toGln}.`);
  if (row.fromGln === null) notes.push('It does not say who sends it.');
  else if (row.supplierId === null) notes.push(`No one supplier has the GLN ${row.fromGln}.`);
  for (const sscc of row.closedSsccs) notes.push(`It does not say what is in ${sscc}.`);
  return notes;
}

/** Of a despatch advice's URI, what people call its number. */
function numberOf(uri: string | null): string | undefined {
  const number = uri?.split(/[:/]/).pop() ?? '';
  return number === '' || number.length > MOST_CODE ? undefined : number;
}

/** Lines of one item, lot and date are one line: it is one lot that comes in several crates. */
function proposalOf(row: DeliveryRow, lines: readonly Line[]): Proposal | null {
  const { siteId, supplierId } = row;
  if (siteId === null || supplierId === null) return null;
  const merged = new Map<string, Proposal['lines'][number]>();
  for (const line of lines) {
    const { itemId, itemQuantity, unit, supplierLotCode, useByDate, bestBeforeDate } = line;
    if (itemId === null || itemQuantity === null || unit === null) continue;
    const key = JSON.stringify([itemId, supplierLotCode, useByDate, bestBeforeDate]);
    merged.set(key, {
      itemId,
      quantity: itemQuantity + (merged.get(key)?.quantity ?? 0),
      unit,
      ...(supplierLotCode !== null && supplierLotCode.length <= MOST_CODE && { supplierLotCode }),
      ...(useByDate !== null && { useByDate }),
      ...(bestBeforeDate !== null && { bestBeforeDate }),
    });
  }
  if (merged.size === 0 || merged.size > MOST_PROPOSED) return null;
  const documentNumber = numberOf(row.despatchAdvice);
  return { siteId, supplierId, ...(documentNumber !== undefined && { documentNumber }), lines: [...merged.values()] };
}

/** @param received of this delivery's receipts */
export function deliveryAnswer(row: DeliveryRow, received: readonly ReceivedRow[]): AnnouncedDeliveryAnswer {
  const lines = row.lines.map(lineOf);
  const compared = lines.flatMap((line): ComparedLine[] =>
    line.itemId === null || line.itemName === null || line.unit === null
      ? []
      : [
          {
            itemId: line.itemId,
            itemName: line.itemName,
            unit: line.unit,
            lotCode: line.supplierLotCode,
            quantity: line.itemQuantity,
            useByDate: line.useByDate,
          },
        ],
  );
  const arrived = row.receiptIds.length > 0;
  const { withdrawal } = row;
  return {
    announcedDeliveryId: row.announcedDeliveryId,
    state: arrived ? 'received' : withdrawal ? 'withdrawn' : 'announced',
    captureId: row.captureId,
    eventId: row.eventId,
    shippedAt: row.shippedAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    from: { gln: row.fromGln, supplierId: row.supplierId, supplierName: row.supplierName },
    to: { gln: row.toGln, siteId: row.siteId, siteName: row.siteName },
    despatchAdvice: row.despatchAdvice,
    purchaseOrder: row.purchaseOrder,
    ssccs: [...row.ssccs],
    lines,
    notes: notesOf(row),
    withdrawal: withdrawal && { ...withdrawal, declaredAt: new Date(withdrawal.declaredAt).toISOString() },
    goodsReceiptIds: [...row.receiptIds],
    differences: (arrived ? differencesOf(compared, received) : []) as AnnouncedDeliveryAnswer['differences'],
    goodsReceipt: arrived || withdrawal ? null : proposalOf(row, lines),
  };
}
