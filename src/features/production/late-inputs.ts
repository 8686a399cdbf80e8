/**
 * What is said to have gone into a batch after its heat was shown, when its loads are there already: what was checked was checked without
 * it. Its loads are held until a person has decided. Refusals: none.
 */
import type { Tx } from '../../platform/db/db.ts';
import { derivedId } from '../../platform/ids.ts';
import type { HoldDraft } from '../ledger/index.ts';

interface HeatRow {
  /** null: of the whole batch */
  readonly lotId: string | null;
  readonly occurredAtMs: number;
}

/** Checks of a batch that stand and show heat: lethality, or the core temperature of cooking. */
async function listHeatShown(tx: Tx, batchId: string): Promise<HeatRow[]> {
  return tx.query<HeatRow>(
    `select c.lot_id as "lotId", (extract(epoch from c.occurred_at) * 1000)::int8 as "occurredAtMs"
       from process_check c
      where c.group_id = $1::uuid and c.batch_id = $2::uuid and c.result = 'passed'
        and (c.kind = 'lethality' or (c.kind = 'core-temperature' and c.stage = 'cook'))
        and not exists (select from process_check n where n.group_id = c.group_id and n.supersedes_check_id = c.check_id)`,
    [tx.groupId, batchId],
  );
}

interface LateInput {
  readonly entryId: string;
  readonly lotCode: string;
  readonly occurredAtMs: number;
  /** it was rejected for rework: then a load that no check shows to have been heated is not made safe either */
  readonly forRework: boolean;
}

export async function holdsAfterHeat(
  tx: Tx,
  batchId: string,
  { entryId, lotCode, occurredAtMs, forRework }: LateInput,
  loadIds: readonly string[],
): Promise<HoldDraft[]> {
  if (loadIds.length === 0) return [];
  const shown = await listHeatShown(tx, batchId);
  const unheated = loadIds.filter((loadId) => {
    const times = shown.filter(({ lotId }) => lotId === loadId || lotId === null).map((one) => one.occurredAtMs);
    return times.length === 0 ? forRework : Math.max(...times) < occurredAtMs;
  });
  return unheated.map((lotId) => ({
    holdId: derivedId(`input-after-heat-${lotId}`, entryId),
    kind: 'quality',
    lotId,
    siteId: null,
    accountId: null,
    propagates: true,
    note: `Lot ${lotCode} went in, and no check since then shows that the food was heated. Decide before it is used.`,
  }));
}
