/** For scanning: was the label that was read printed before one that says an earlier date? Refusals: none. */
import { supersededPrints } from '../../../domain/labels/prints.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listPrintsOfPacks } from './store.ts';

export interface SupersededPrint {
  readonly lotId: string;
  readonly serial: string | null;
  readonly printId: string;
  readonly supersededByPrintId: string;
  /** the date on the old label, by which it is told apart; null: a quarantine label */
  readonly useByMs: number | null;
  /** the date on the label that holds; null: it says not to use the pack */
  readonly newUseByMs: number | null;
}

/** Prints of these packs that no longer hold. Packs of a counted lot share one row, for their labels cannot be told apart. */
export async function findSupersededPrints(
  tx: Tx,
  packs: readonly { readonly lotId: string; readonly serial: string | null }[],
): Promise<SupersededPrint[]> {
  if (packs.length === 0) return [];
  const rows = await listPrintsOfPacks(
    tx,
    packs.map(({ lotId, serial }) => ({ lotId, serial: serial ?? '' })),
  );
  const byPack = new Map<string, typeof rows>();
  for (const row of rows) {
    const key = `${row.lotId}/${row.serial}`;
    byPack.set(key, [...(byPack.get(key) ?? []), row]);
  }
  return [...byPack.values()].flatMap((prints) => {
    const superseded = supersededPrints(prints);
    return prints.flatMap(({ printId, lotId, serial, useByMs }) => {
      const by = prints.find((one) => one.printId === superseded.get(printId));
      if (!by) return [];
      const pack = { lotId, serial: serial === '' ? null : serial };
      return [{ ...pack, printId, supersededByPrintId: by.printId, useByMs, newUseByMs: by.useByMs }];
    });
  });
}
