/**
 * One line of a goods receipt: what was taken in, what was refused at the door, where it was put, and what its label shows.
 * Pure but for the shapes of rows. Refusals: `unit-mismatch`, `entry-unit-unknown`, `item-unsuitable`, `allergen-unknown`,
 * `rule-broken`.
 */
import { declaredBeyond, isAllergenCode, leftUnsaid, notNamed } from '../../domain/allergens.ts';
import { bornAllergens, endOfDateMs } from '../../domain/birth.ts';
import { entryUnitOf, fromEntryUnit, quantitySaid } from '../../domain/entry-units.ts';
import { notFound, Refused } from '../../domain/errors.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { isCalendarDate, localDate } from '../../domain/time.ts';
import { derivedId } from '../../platform/ids.ts';
import { presumedPlaceId, type ItemRow, type PlaceRow, type SiteRow } from '../catalogue/index.ts';
import { requireUnit, type FindingDraft, type LotDraft } from '../ledger/index.ts';
import type { NewGoodsReceiptLine } from './contract.ts';

interface Delivery {
  readonly goodsReceiptId: string;
  readonly site: SiteRow;
  readonly supplierId: string | undefined;
  readonly shopName: string | undefined;
  readonly occurredAtMs: number;
}

export interface TakenLine {
  readonly line: NewGoodsReceiptLine;
  readonly lineNo: number;
  readonly item: ItemRow;
  readonly rejectedQuantity: number;
  readonly allergensConfirmed: boolean;
  /** null: the whole line was rejected */
  readonly taken: {
    readonly lot: LotDraft;
    readonly place: PlaceRow;
    readonly presumed: boolean;
  } | null;
}

function broken(detail: string, pointer: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

/** Refuses what is not kept by lot: there would be nothing to trace. */
export function requireKeptByLot(item: ItemRow, pointer: string): void {
  if (item.lotTracked && item.kind !== 'packaging') return;
  const detail = `${item.name} is not kept by lot; it needs no goods receipt.`;
  throw new Refused('item-unsuitable', detail, { errors: [{ detail, pointer }] });
}

function requireAllergenCodes(codes: readonly string[]): void {
  for (const code of codes) {
    if (!isAllergenCode(code)) throw new Refused('allergen-unknown', `${code} is not an allergen code.`);
  }
}

/** In the item's unit; 0 when nothing was refused. */
function rejectedOf(line: NewGoodsReceiptLine, item: ItemRow, pointerOf: (field: string) => string): number {
  const said = line.rejectedQuantity ?? 0;
  if (said > 0 !== (line.rejectedReason !== undefined)) {
    throw broken('What was refused at the door has a quantity and a reason.', pointerOf('rejectedReason'));
  }
  if (line.entryUnit === undefined) {
    if (!Number.isInteger(said)) throw broken('A whole number is wanted.', pointerOf('rejectedQuantity'));
    return said;
  }
  const unit = entryUnitOf(item, line.entryUnit, pointerOf('entryUnit'));
  return fromEntryUnit(item, unit, said, pointerOf('rejectedQuantity'));
}

export function readLine(
  delivery: Delivery,
  line: NewGoodsReceiptLine,
  at: number,
  items: ReadonlyMap<string, ItemRow>,
  places: ReadonlyMap<string, PlaceRow>,
): TakenLine {
  const { site } = delivery;
  const pointerOf = (field: string) => `#/lines/${at}/${field}`;
  const item = items.get(line.itemId);
  if (!item) throw notFound('item');
  const place = places.get(line.placeId ?? presumedPlaceId(site, item.storage));
  if (!place || place.siteId !== site.siteId) throw notFound('place');
  if (line.quantity !== undefined && line.unit === undefined) throw broken('Say the unit.', pointerOf('unit'));
  if (line.unit !== undefined) requireUnit({ unit: item.unit, code: item.code }, line.unit, pointerOf('unit'));
  requireKeptByLot(item, pointerOf('itemId'));
  requireAllergenCodes([...(line.allergens ?? []), ...(line.mayContain ?? [])]);
  const quantity = quantitySaid(item, line, pointerOf);
  const rejectedQuantity = rejectedOf(line, item, pointerOf);
  if (quantity + rejectedQuantity === 0) {
    throw broken(
      'A line of nothing: neither taken in nor refused.',
      pointerOf(line.entryUnit ? 'entryQuantity' : 'quantity'),
    );
  }
  if (line.bestBeforeDate !== undefined && !isCalendarDate(line.bestBeforeDate)) {
    throw broken(`${line.bestBeforeDate} is not on the calendar.`, pointerOf('bestBeforeDate'));
  }
  const taken =
    quantity === 0
      ? null
      : { lot: lotOf(delivery, line, at, item, quantity, pointerOf), place, presumed: line.placeId === undefined };
  const allergensConfirmed = line.allergensConfirmed ?? line.allergens !== undefined;
  return { line, lineNo: at + 1, item, rejectedQuantity, allergensConfirmed, taken };
}

function lotOf(
  delivery: Delivery,
  line: NewGoodsReceiptLine,
  at: number,
  item: ItemRow,
  quantity: number,
  pointerOf: (field: string) => string,
): LotDraft {
  const { site, occurredAtMs, goodsReceiptId, supplierId, shopName } = delivery;
  const lotId = line.lotId ?? derivedId(`goods-receipt-line-${at + 1}`, goodsReceiptId);
  const endsAtMs =
    line.useByDate === undefined ? null : endOfDateMs(line.useByDate, site.timeZone, pointerOf('useByDate'));
  const label = { code: '', useByAtMs: null, allergens: line.allergens ?? [], mayContain: line.mayContain ?? [] };
  return {
    lotId,
    code: line.lotCode ?? makeLotCode(site.code, localDate(occurredAtMs, site.timeZone), lotId),
    itemId: item.itemId,
    unit: item.unit,
    quantity,
    massMg: line.massG === undefined ? quantity * item.unitMassMg : line.massG * 1000,
    origin: 'supplied',
    siteId: site.siteId,
    serialised: false,
    bornAtMs: occurredAtMs,
    handling: item.handling,
    storageInstruction: item.storageInstruction,
    useBy: endsAtMs === null ? null : { endsAtMs, date: line.useByDate ?? null },
    useByBasis: endsAtMs === null ? null : { why: 'supplier', date: line.useByDate },
    anchors: {},
    ...bornAllergens(item, [label]),
    ...(supplierId !== undefined && { supplierId }),
    shopName: shopName ?? null,
    supplierLotCode: line.supplierLotCode ?? null,
    bestBeforeDate: line.bestBeforeDate ?? null,
    goodsReceiptId,
  };
}

/** Findings of one line: `rejected-at-door`, `past-use-by`, and those of its label. */
export function findingsOfLine(delivery: Delivery, one: TakenLine): FindingDraft[] {
  const { goodsReceiptId: factId, site, occurredAtMs } = delivery;
  const { line, taken, item, rejectedQuantity } = one;
  const base = { siteId: site.siteId, occurredAtMs };
  const findings: FindingDraft[] = [];
  if (rejectedQuantity > 0) {
    findings.push({
      ...base,
      kind: 'rejected-at-door',
      subject: `${factId}|${one.lineNo}`,
      lotId: taken?.lot.lotId ?? null,
      quantity: rejectedQuantity,
      detail: {
        itemName: item.name,
        unit: item.unit,
        reason: line.rejectedReason,
        supplierLotCode: line.supplierLotCode ?? null,
        lineNo: one.lineNo,
        factId,
      },
    });
  }
  if (!taken) return findings;
  const { lot } = taken;
  const about = { ...base, subject: lot.lotId, lotId: lot.lotId, quantity: null };
  if (lot.useBy !== null && lot.useBy.endsAtMs <= occurredAtMs) {
    const detail = { lotCode: lot.code, useByDate: lot.useBy.date, atGoodsIn: true, factId };
    findings.push({ ...about, kind: 'past-use-by', detail });
  }
  return [
    ...findings,
    ...labelFindings(line, item).map(({ kind, detail }) => ({
      ...about,
      kind,
      detail: { lotCode: lot.code, ...detail, factId },
    })),
  ];
}

/** What the label of a delivery shows against its item: `allergens-differ`, `label-understates`, `allergen-not-named`. */
export function labelFindings(
  label: { readonly allergens?: readonly string[] | undefined; readonly mayContain?: readonly string[] | undefined },
  item: Pick<ItemRow, 'allergens' | 'mayContain'>,
): { kind: string; detail: Readonly<Record<string, unknown>> }[] {
  const found: { kind: string; detail: Readonly<Record<string, unknown>> }[] = [];
  const more = declaredBeyond(label.allergens ?? [], item.allergens);
  const mayMore = declaredBeyond(label.mayContain ?? [], [...item.allergens, ...item.mayContain]);
  if (more.length + mayMore.length > 0) {
    found.push({ kind: 'allergens-differ', detail: { declaresMore: more, mayContainMore: mayMore } });
  }
  const fewer = label.allergens === undefined ? [] : leftUnsaid(label.allergens, item.allergens);
  if (fewer.length > 0) found.push({ kind: 'label-understates', detail: { leftUnsaid: fewer } });
  const vague = notNamed([...(label.allergens ?? item.allergens), ...(label.mayContain ?? [])]);
  if (vague.length > 0) found.push({ kind: 'allergen-not-named', detail: { codes: vague } });
  return found;
}
