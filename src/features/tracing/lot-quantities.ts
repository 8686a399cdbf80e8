/** Where each of some lots is, and how that sums up: the rows of a trace without the walk. */
import { groupBy } from '../../domain/grouping.ts';
import type { Tx } from '../../platform/db/db.ts';
import { COLUMN, whereNow } from './assemble.ts';
import type { WhereAnswer } from './contract.ts';
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
  const standing = groupBy(await listStanding(tx, lotIds), (row) => row.lotId);
  const flows = groupBy(await listFlows(tx, lotIds), (row) => row.lotId);
  return new Map(
    lotIds.map((lotId) => {
      const rows = standing.get(lotId) ?? [];
      const returns = (flows.get(lotId) ?? []).filter((flow) => flow.kind === 'supplier');
      const where = whereNow(rows, returns);
      const sums = { onHand: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0, unexplained: 0 };
      for (const one of where) sums[COLUMN[one.kind]] += one.quantity;
      const sources = rows.filter((row) => row.kind === 'supplier' || row.kind === 'produced');
      const sum = (list: readonly { quantity: number }[]): number => list.reduce((all, one) => all + one.quantity, 0);
      const produced = sum(returns) - sum(sources);
      return [lotId, { produced, sums, balanced: sum(where) === produced, where }];
    }),
  );
}
