/**
 * What became of food, in the columns of an answer. Double entry makes the sums: a lot's balances over all accounts sum to zero, so what
 * stands outside supplier and production is what came from them. A return to the supplier is a line of its own and does not lower what
 * was produced.
 */
import type { QuantitiesAnswer, WhereAnswer } from './contract.ts';
import type { FlowRow, StandingRow } from './queries.ts';

export const COLUMN = {
  place: 'onHand',
  transit: 'inTransit',
  served: 'served',
  waste: 'wasted',
  'supplier-return': 'returned',
  consumed: 'consumed',
  variance: 'unexplained',
} as const satisfies Record<WhereAnswer['kind'], keyof QuantitiesAnswer>;

export const sum = (quantities: readonly number[]): number => quantities.reduce((a, b) => a + b, 0);

type Standing = Omit<StandingRow, 'lotId'>;
type Returned = Pick<FlowRow, 'siteId' | 'siteName' | 'quantity'>;

const isSource = (row: Standing): boolean => row.kind === 'supplier' || row.kind === 'produced';

export function producedOf(standing: readonly Standing[], returns: readonly Returned[]): number {
  return (
    sum(returns.map((flow) => flow.quantity)) - sum(standing.filter((row) => isSource(row)).map((row) => row.quantity))
  );
}

/** Every account but those that it came from, nothing left out. */
export function whereOf(standing: readonly Standing[], returns: readonly Returned[]): WhereAnswer[] {
  const stands = standing.flatMap((row): WhereAnswer[] => {
    if (row.kind === 'supplier' || row.kind === 'produced') return [];
    return [
      {
        kind: row.kind,
        siteId: row.siteId,
        siteName: row.siteName,
        placeId: row.kind === 'place' ? row.accountId : null,
        placeName: row.placeName,
        dispatchId: row.kind === 'transit' ? row.accountId : null,
        toSiteId: row.kind === 'transit' ? row.toSiteId : null,
        quantity: row.quantity,
      },
    ];
  });
  const nowhere = { placeId: null, placeName: null, dispatchId: null, toSiteId: null };
  const back = returns.map(({ siteId, siteName, quantity }): WhereAnswer => {
    return { kind: 'supplier-return', siteId, siteName, ...nowhere, quantity };
  });
  return [...stands, ...back];
}

export interface ItemName {
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: QuantitiesAnswer['unit'];
}

export function nothingOf({ itemId, itemName, unit }: ItemName): QuantitiesAnswer {
  const nothing = { onHand: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0, unexplained: 0 };
  return { itemId, itemName, unit, ...nothing };
}

export function addWhere(line: QuantitiesAnswer, where: WhereAnswer): void {
  line[COLUMN[where.kind]] += where.quantity;
}

export const sumOfColumns = (line: QuantitiesAnswer): number =>
  sum(Object.values(COLUMN).map((column) => line[column]));
