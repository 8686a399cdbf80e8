/** Where a symbol and what is known of its lot differ, in plain words. */
import type { ScanReading } from '../../../domain/gs1/index.ts';
import { wallClockMs } from '../../../domain/time.ts';
import { formatUseBy } from '../../../domain/use-by.ts';
import type { SupersededPrint } from '../../labels/index.ts';
import type { LotRow } from '../../ledger/index.ts';

export interface Warning {
  readonly code: string;
  readonly ai: string | null;
  readonly text: string;
}

type UseBy = NonNullable<ScanReading['useBy']>;

/** As a wall clock reads, in milliseconds: the end of the day, or the time that the symbol says. */
const endOf = ({ date, time }: UseBy): number => Date.parse(`${date}T${time ?? '24:00'}:00Z`);

/** Why the symbol alone says that the pack may not be used, whatever is known of its lot; null: it does not. */
export function againstSymbol(
  { useBy }: Pick<ScanReading, 'useBy'>,
  warnings: readonly Warning[],
  atMs: number,
  timeZone: string,
): string | null {
  if (useBy !== null && wallClockMs(atMs, timeZone) >= endOf(useBy)) {
    const end = useBy.time === null ? useBy.date : `${useBy.date} ${useBy.time}`;
    return `The label says use by ${end}, and that is past.`;
  }
  return warnings.find(({ code }) => code === 'serial-outside')?.text ?? null;
}

/** A label that was read and that another one took the place of. A label without a date in its symbol cannot be told from the newer one. */
export function supersededWarnings({ useBy }: ScanReading, lot: LotRow, prints: readonly SupersededPrint[]): Warning[] {
  const wall = (ms: number) => wallClockMs(ms, lot.siteTimeZone);
  const read = prints.filter(({ useByMs }) => useBy === null || (useByMs !== null && wall(useByMs) === endOf(useBy)));
  const last = read.at(-1);
  if (!last) return [];
  const now =
    last.newUseByMs === null ? 'says not to use it' : `says use by ${formatUseBy(last.newUseByMs, lot.siteTimeZone)}`;
  const text =
    useBy === null
      ? `A label of this pack was replaced by one that ${now}: look whether it is on the pack.`
      : `This label was replaced by one that ${now}: take the old label off, and the newer one counts.`;
  return [{ code: 'label-superseded', ai: useBy?.ai ?? null, text }];
}

/**
 * @param here the lot with the date that is in force where the pack is
 */
export function lotWarnings(reading: ScanReading, lot: LotRow, how: string, here: LotRow): Warning[] {
  const warnings: Warning[] = [];
  const { useBy, serial } = reading;
  const printed = lot.printedUseByDate;
  if (useBy !== null && printed !== null && useBy.date !== printed) {
    const text = `The symbol says use by ${useBy.date}; the label of lot ${lot.code} was printed with ${printed}. The earlier one counts; ask the quality lead.`;
    warnings.push({ code: 'use-by-differs', ai: useBy.ai, text });
  }
  const zone = lot.siteTimeZone;
  const inForceMs = here.useByAtMs;
  const printedMs = lot.printedUseByAt === null ? null : wallClockMs(lot.printedUseByAt.getTime(), zone);
  const shownMs = useBy === null ? printedMs : endOf(useBy);
  if (inForceMs !== null && shownMs !== null && wallClockMs(inForceMs, zone) < shownMs) {
    const text = `The date in force is ${formatUseBy(inForceMs, zone)}, earlier than the label says: use it by then, and relabel it.`;
    warnings.push({ code: 'use-by-shortened', ai: useBy?.ai ?? null, text });
  }
  if (serial !== null && how === 'lot-code') {
    const fits = lot.serialised && /^[1-9]\d{0,5}$/.test(serial) && Number(serial) <= lot.quantity;
    const text = lot.serialised
      ? `Lot ${lot.code} has packs 1 to ${lot.quantity}; there is no pack ${serial}.`
      : `Packs of lot ${lot.code} are counted; they have no numbers.`;
    if (!fits) warnings.push({ code: 'serial-outside', ai: '21', text });
  }
  return warnings;
}
