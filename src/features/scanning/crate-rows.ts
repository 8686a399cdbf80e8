/** What a beep of a crate comes to: a row for each pack, or each lot, of what the dispatch says is in it. */
import { derivedId } from '../../platform/ids.ts';
import type { CarriedRow } from '../distribution/index.ts';
import type { ScanRow } from './store.ts';
import { placed } from './totals.ts';
import type { ResolvedScan, ScanWork, ScanWorld } from './work.ts';

export const purposeIn =
  ({ dispatches }: Pick<ScanWorld, 'dispatches'>) =>
  (dispatchId: string | null) =>
    dispatches.get(dispatchId ?? '')?.purpose;

/**
 * One beep of a crate stands for everything that the dispatch says is in it and in the crates inside it; lines without serials of one
 * lot in one crate are one row.
 */
export function crateRows(
  work: ScanWork,
  base: ScanRow,
  lines: readonly CarriedRow[],
  world: ScanWorld,
): ResolvedScan[] {
  const keyOf = (line: CarriedRow) => `${line.crateCode}|${line.lotId}`;
  const counted = new Map<string, number>();
  for (const line of lines)
    if (line.serials.length === 0) counted.set(keyOf(line), (counted.get(keyOf(line)) ?? 0) + line.quantity);
  const one = (line: CarriedRow, tail: string, serial: string | null, quantity: number): ResolvedScan[] => {
    const lot = world.crateLots.get(line.lotId);
    if (!lot) return [];
    const scanId = derivedId(`crate-${tail}`, base.scanId);
    const inner = line.crateCode !== null && line.crateCode !== (base.named ?? base.code);
    const note = { ...base.note, crateScanId: base.scanId, ...(inner && { crateCode: line.crateCode }) };
    const code = base.named ?? base.code;
    const row: ScanRow = { ...base, scanId, code, named: null, serial, dispatchId: line.dispatchId, quantity, note };
    return [{ row: placed(work.site, row, lot, purposeIn(world)), lot }];
  };
  return lines.flatMap((line, at) => {
    if (line.serials.length > 0) return line.serials.flatMap((serial) => one(line, `${at}-${serial}`, serial, 1));
    const quantity = counted.get(keyOf(line));
    counted.delete(keyOf(line));
    return quantity === undefined ? [] : one(line, `${at}-all`, null, quantity);
  });
}
