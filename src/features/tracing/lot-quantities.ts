/** Where each of some lots is, and how that sums up: the rows of a trace without the walk. */
import { groupBy } from '../../domain/grouping.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { WhereAnswer } from './contract.ts';
import { COLUMN, producedOf, sum, whereOf } from './quantities.ts';
import { listFlows, listStanding } from './queries.ts';

type Column = (typeof COLUMN)[WhereAnswer['kind']];

export interface LotQuantities {
  readonly produced: number;
  /** what is where, by kind: sums to produced when balanced */
  readonly sums: Readonly<Record<Column, number>>;
  readonly balanced: boolean;
  readonly where: readonly WhereAnswer[];
}

/** Of every lot that is asked for, by its id. */
export async function quantitiesOfLots(tx: Tx, lotIds: readonly string[]): Promise<Map<string, LotQuantities>> {
  const standing = groupBy(await listStanding(tx, lotIds, null), (row) => row.lotId);
  const flows = groupBy(await listFlows(tx, lotIds, null), (row) => row.lotId);
  return new Map(
    lotIds.map((lotId) => {
      const rows = standing.get(lotId) ?? [];
      const returns = (flows.get(lotId) ?? []).filter((flow) => flow.kind === 'supplier');
      const where = whereOf(rows, returns).filter((one) => one.quantity !== 0);
      const sums = { onHand: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0, unexplained: 0 };
      for (const one of where) sums[COLUMN[one.kind]] += one.quantity;
      const produced = producedOf(rows, returns);
      return [lotId, { produced, sums, balanced: sum(where.map((one) => one.quantity)) === produced, where }];
    }),
  );
}
