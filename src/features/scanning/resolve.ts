/**
 * From what a scanner read to what it names: a lot, a pack of a lot, or a crate on its way here. Whatever is not known yet
 * waits for identity; only shape and identity can refuse.
 */
import { Refused } from '../../domain/errors.ts';
import type { CarriedRow } from '../distribution/index.ts';
import type { LotRow } from '../ledger/index.ts';

export type Named =
  | { readonly as: 'lot'; readonly lot: LotRow; readonly serial: string | null }
  | { readonly as: 'crate'; readonly code: string; readonly dispatchId: string; readonly lines: readonly CarriedRow[] }
  | { readonly as: 'unknown' };

export function lotCodeOf(code: string): string {
  return code.split('/', 1)[0] ?? code;
}

/** Refuses (`serials-do-not-fit`) a serial that the lot cannot have. */
export function nameOf(
  code: string,
  lotsByCode: ReadonlyMap<string, LotRow>,
  carried: readonly CarriedRow[],
  dispatchId: string | undefined,
): Named {
  const lot = lotsByCode.get(lotCodeOf(code));
  if (!lot) {
    const lines = carried.filter(
      (row) => row.crateCodes.includes(code) && (dispatchId === undefined || row.dispatchId === dispatchId),
    );
    const first = lines[0];
    if (!first) return { as: 'unknown' };
    return {
      as: 'crate',
      code,
      dispatchId: first.dispatchId,
      lines: lines.filter((row) => row.dispatchId === first.dispatchId),
    };
  }
  const slash = code.indexOf('/');
  const serial = slash === -1 ? null : code.slice(slash + 1);
  if (serial === null) return { as: 'lot', lot, serial: null };
  if (!lot.serialised)
    throw new Refused('serials-do-not-fit', `Lot ${lot.code} is counted; its packs have no serials.`);
  if (!/^[1-9]\d{0,5}$/.test(serial) || Number(serial) > lot.quantity) {
    throw new Refused('serials-do-not-fit', `Lot ${lot.code} has serials 1 to ${lot.quantity}.`);
  }
  return { as: 'lot', lot, serial };
}
