/** What was lost inside the batches of a month, in the words of the standard. */
import { batchLossRows, leavesAsWater } from '../../../domain/month/batch-losses.ts';
import { reasonsOf } from '../../../domain/waste-reasons.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listWasteReasons } from '../../catalogue/index.ts';
import type { MadeBatch } from './batches.ts';
import type { MonthReportAnswer } from './shapes.ts';

export type BatchLosses = MonthReportAnswer['batchLosses'];

interface LossRow {
  readonly batchId: string;
  readonly itemId: string;
  readonly category: string | null;
  readonly kind: string;
  readonly massMg: number;
  readonly destination: string | null;
  readonly inedibleMassMg: number | null;
}

/** Said when the batch was completed, and never changed. */
async function listBatchLosses(tx: Tx, batchIds: readonly string[]): Promise<LossRow[]> {
  return tx.query<LossRow>(
    `select l.batch_id as "batchId", b.item_id as "itemId", i.category, l.kind, l.mass_mg as "massMg", l.destination,
            l.inedible_mass_mg as "inedibleMassMg"
       from batch_loss l
       join batch b on b.group_id = l.group_id and b.batch_id = l.batch_id
       join item i on i.group_id = b.group_id and i.item_id = b.item_id
      where l.group_id = $1::uuid and l.batch_id = any($2::uuid[])
      order by l.batch_id, l.kind`,
    [tx.groupId, batchIds],
  );
}

/** Largest first, then by name. */
const bySize = (a: BatchLosses[number], b: BatchLosses[number]): number =>
  b.foodG + b.inediblePartsG - (a.foodG + a.inediblePartsG) ||
  [a.siteName, a.itemName, a.kind, a.destination ?? '']
    .join('|')
    .localeCompare([b.siteName, b.itemName, b.kind, b.destination ?? ''].join('|'), 'en') ||
  (a.siteId + a.itemId < b.siteId + b.itemId ? -1 : 1);

export async function readBatchLosses(
  tx: Tx,
  made: readonly MadeBatch[],
  siteNames: ReadonlyMap<string, string>,
): Promise<BatchLosses> {
  const batches = new Map(made.map((one) => [one.batch.batchId, one]));
  const losses = await listBatchLosses(tx, [...batches.keys()]);
  const items = new Map(losses.map(({ itemId, category }) => [itemId, category]));
  const itemNames = new Map<string, string>();
  const rows = batchLossRows(
    losses.flatMap((loss) => {
      const one = batches.get(loss.batchId);
      if (!one) return [];
      itemNames.set(loss.itemId, one.batch.itemName);
      return [{ ...loss, siteId: one.batch.siteId, printedG: one.result.grams.lossesG[loss.kind] ?? 0 }];
    }),
  );
  const known = await listWasteReasons(tx, [...new Set(rows.map((row) => row.siteId))]);
  const standard = reasonsOf(null, []);
  return rows
    .map((row) => ({
      siteId: row.siteId,
      siteName: siteNames.get(row.siteId) ?? '',
      itemId: row.itemId,
      itemName: itemNames.get(row.itemId) ?? '',
      category: items.get(row.itemId) ?? null,
      kind: row.kind,
      leavesAsWater: leavesAsWater(row.kind),
      stage: (known.get(row.siteId) ?? standard).get(row.kind)?.stage ?? '',
      destination: row.destination,
      foodG: row.foodG,
      inediblePartsG: row.inediblePartsG,
      batches: row.batches,
    }))
    .sort(bySize);
}
