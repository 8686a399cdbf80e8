/**
 * Opening stock, row by row: refused for what cannot be recorded, doubted for what is likely a slip, taken otherwise. Pure.
 *
 * Doubts: a row that repeats another, a date that has passed, more than ten of the largest entry unit, no date on a chilled
 * item. Only an exact repeat is left out; everything else that is doubted is taken, because the food is there.
 */
import { isAllergenCode } from '../../domain/allergens.ts';
import { bornAllergens, endOfDateMs } from '../../domain/birth.ts';
import { quantitySaid } from '../../domain/entry-units.ts';
import { Refused } from '../../domain/errors.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { isCalendarDate, localDate } from '../../domain/time.ts';
import { MAX_QUANTITY } from '../../platform/http/scalars.ts';
import { derivedId } from '../../platform/ids.ts';
import type { ItemRow, PlaceRow, SiteRow } from '../catalogue/index.ts';
import { requireUnit, type LotDraft } from '../ledger/index.ts';
import { beginning, type OpeningRow } from './opening-csv.ts';
import { requireKeptByLot } from './lines.ts';

/** Ten cases of one thing on one shelf are seldom meant (common practice). */
const MANY = 10;

export interface Opening {
  readonly factId: string;
  readonly site: SiteRow;
  readonly occurredAtMs: number;
}

interface Looked {
  readonly said: OpeningRow;
  readonly item: ItemRow | undefined;
  readonly place: PlaceRow | undefined;
  readonly presumed: boolean;
}

interface GoodRow {
  readonly said: OpeningRow;
  readonly item: ItemRow;
  readonly place: PlaceRow;
  readonly presumed: boolean;
  readonly quantity: number;
  readonly lotId: string;
  readonly lotCode: string;
}

export interface Judged {
  readonly good: readonly GoodRow[];
  readonly lots: readonly LotDraft[];
  readonly doubtful: readonly { readonly row: number; readonly taken: boolean; readonly reasons: string[] }[];
  readonly refused: readonly { readonly row: number; readonly reasons: string[] }[];
}

/** The words of the refusals that a row provokes. */
function wordsOf(steps: readonly (() => void)[]): string[] {
  return steps.flatMap((step) => {
    try {
      step();
      return [];
    } catch (error) {
      if (error instanceof Refused) return [error.detail];
      throw error;
    }
  });
}

function refusalsOf({ said, item, place }: Looked, takenCodes: ReadonlySet<string>): string[] {
  const reasons = [...said.unreadable];
  if ('itemCode' in said.item && said.item.itemCode !== '' && !item) {
    reasons.push(`item: there is no item ${said.item.itemCode}.`);
  }
  if (said.place && 'placeCode' in said.place && !place) {
    reasons.push(`place: there is no place ${said.place.placeCode} at this site.`);
  }
  for (const day of [said.useByDate, said.bestBeforeDate]) {
    if (day !== undefined && !isCalendarDate(day)) reasons.push(`${day} is not on the calendar.`);
  }
  for (const code of [...(said.allergens ?? []), ...(said.mayContain ?? [])]) {
    if (!isAllergenCode(code)) reasons.push(`${beginning(code, 60)} is not an allergen code.`);
  }
  if (said.lotCode !== undefined && takenCodes.has(said.lotCode)) {
    reasons.push(`There is a lot ${said.lotCode} already.`);
  }
  if (item) reasons.push(...wordsOf([() => requireKeptByLot(item, ''), () => void quantityOf(said, item)]));
  return reasons;
}

function quantityOf(said: OpeningRow, item: ItemRow): number {
  if (said.unreadable.length > 0) return 0;
  if (said.unit !== undefined) requireUnit({ unit: item.unit, code: item.code }, said.unit);
  else if (said.quantity !== undefined) throw new Refused('rule-broken', 'The unit is missing.');
  const quantity = quantitySaid(item, said, () => '');
  if (!Number.isInteger(quantity)) throw new Refused('rule-broken', `A whole number of ${item.unit} is wanted.`);
  if (quantity === 0) throw new Refused('rule-broken', 'A row of nothing.');
  return quantity;
}

const lotKey = (row: GoodRow): string => row.said.lotCode ?? row.lotId;
const foodKey = ({ said, item }: GoodRow): string =>
  JSON.stringify([item.itemId, said.useByDate, said.bestBeforeDate, said.supplierLotCode]);
const placeKey = (row: GoodRow): string => JSON.stringify([foodKey(row), row.place.placeId, row.said.lotCode]);

function doubtsOf(opening: Opening, { said, item, quantity }: GoodRow): string[] {
  const doubts: string[] = [];
  const { site, occurredAtMs } = opening;
  if (said.useByDate !== undefined && endOfDateMs(said.useByDate, site.timeZone, '') <= occurredAtMs) {
    doubts.push(`The use-by ${said.useByDate} has passed.`);
  }
  if (item.storage === 'chilled' && said.useByDate === undefined && said.bestBeforeDate === undefined) {
    doubts.push('A chilled item without a date.');
  }
  const largest = [...item.entryUnits].sort((a, b) => b.quantity - a.quantity)[0];
  if (largest && quantity > MANY * largest.quantity) {
    doubts.push(`More than ${MANY} ${largest.code} of ${largest.quantity} ${item.unit}.`);
  }
  return doubts;
}

function lotOf(opening: Opening, rows: readonly GoodRow[], first: GoodRow): LotDraft {
  const { site, occurredAtMs } = opening;
  const { said, item } = first;
  const quantity = rows.reduce((sum, row) => sum + row.quantity, 0);
  const endsAtMs = said.useByDate === undefined ? null : endOfDateMs(said.useByDate, site.timeZone, '');
  const labels = rows.map((row) => ({
    code: '',
    useByAtMs: null,
    allergens: row.said.allergens ?? [],
    mayContain: row.said.mayContain ?? [],
  }));
  return {
    lotId: first.lotId,
    code: first.lotCode,
    itemId: item.itemId,
    unit: item.unit,
    quantity,
    massMg: quantity * item.unitMassMg,
    origin: 'opening',
    siteId: site.siteId,
    serialised: false,
    bornAtMs: occurredAtMs,
    handling: item.handling,
    storageInstruction: item.storageInstruction,
    useBy: endsAtMs === null ? null : { endsAtMs, date: said.useByDate ?? null },
    useByBasis: endsAtMs === null ? null : { why: 'opening-stock', date: said.useByDate },
    anchors: {},
    ...bornAllergens(item, labels),
    supplierLotCode: said.supplierLotCode ?? null,
    bestBeforeDate: said.bestBeforeDate ?? null,
  };
}

/** @param takenCodes lot codes that exist already */
export function judge(opening: Opening, rows: readonly Looked[], takenCodes: ReadonlySet<string>): Judged {
  const refused: { row: number; reasons: string[] }[] = [];
  const doubtful: { row: number; taken: boolean; reasons: string[] }[] = [];
  const byLot = new Map<string, GoodRow[]>();
  const byPlace = new Map<string, GoodRow>();
  for (const looked of rows) {
    const { said, item, place, presumed } = looked;
    const reasons = refusalsOf(looked, takenCodes);
    if (reasons.length > 0 || !item || !place) {
      refused.push({ row: said.row, reasons });
      continue;
    }
    const ownId = derivedId(`opening-stock-${said.row}`, opening.factId);
    const day = localDate(opening.occurredAtMs, opening.site.timeZone);
    const code = said.lotCode ?? makeLotCode(opening.site.code, day, ownId);
    const alone = { said, item, place, presumed, quantity: quantityOf(said, item), lotId: ownId, lotCode: code };
    const sameLot = byLot.get(lotKey(alone)) ?? [];
    const good = { ...alone, lotId: sameLot[0]?.lotId ?? ownId };
    const other = sameLot.find((one) => foodKey(one) !== foodKey(good));
    if (other) {
      const detail = `Lot ${code} is another item or has another date in row ${other.said.row}.`;
      refused.push({ row: said.row, reasons: [detail] });
      continue;
    }
    const doubts = doubtsOf(opening, good);
    if (sameLot.reduce((sum, one) => sum + one.quantity, good.quantity) > MAX_QUANTITY) {
      refused.push({ row: said.row, reasons: [`Lot ${code} would be more than can be recorded.`] });
      continue;
    }
    const before = byPlace.get(placeKey(good));
    if (before?.quantity === good.quantity) {
      doubts.push(`The same as row ${before.said.row}; recorded once.`);
      doubtful.push({ row: said.row, taken: false, reasons: doubts });
      continue;
    }
    if (before) doubts.push(`The same food in the same place as row ${before.said.row}, another quantity.`);
    if (doubts.length > 0) doubtful.push({ row: said.row, taken: true, reasons: doubts });
    byLot.set(lotKey(good), [...sameLot, good]);
    byPlace.set(placeKey(good), before ?? good);
  }
  const lots = [...byLot.values()].flatMap((some) => (some[0] ? [lotOf(opening, some, some[0])] : []));
  return { good: [...byLot.values()].flat(), lots, doubtful, refused };
}
