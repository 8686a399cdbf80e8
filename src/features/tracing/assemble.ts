/**
 * Rows of a trace as its answer. Double entry makes the sums: a lot's balances over all accounts sum to zero, so what stands
 * outside supplier and production is what came from them. A return to the supplier is a line of its own and does not lower
 * what was produced. Refusals: none.
 */
import { apportion } from '../../domain/exact.ts';
import type { ReachingHold } from '../ledger/index.ts';
import type { QuantitiesAnswer, TraceAnswer, TracedLotAnswer, TraceEdgeAnswer, WhereAnswer } from './contract.ts';
import type { Direction, EdgeRow, FlowRow, ScopeLotRow, StandingRow } from './queries.ts';

export interface TraceRows {
  readonly startLotId: string;
  readonly direction: Direction;
  readonly lots: readonly ScopeLotRow[];
  readonly edges: readonly EdgeRow[];
  readonly standing: readonly StandingRow[];
  readonly flows: readonly FlowRow[];
  readonly holds: readonly ReachingHold[];
}

function groupBy<T>(rows: readonly T[], keyOf: (row: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const row of rows) {
    const group = groups.get(keyOf(row));
    if (group) group.push(row);
    else groups.set(keyOf(row), [row]);
  }
  return groups;
}

const sum = (quantities: readonly number[]): number => quantities.reduce((a, b) => a + b, 0);

export function whereNow(standing: readonly StandingRow[], returns: readonly FlowRow[]): WhereAnswer[] {
  const stands = standing.flatMap((row): WhereAnswer[] => {
    if (row.kind === 'supplier' || row.kind === 'produced' || row.quantity === 0) return [];
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
  const back = returns.flatMap(({ siteId, siteName, quantity }): WhereAnswer[] => {
    const nowhere = { placeId: null, placeName: null, dispatchId: null, toSiteId: null };
    return quantity === 0 ? [] : [{ kind: 'supplier-return', siteId, siteName, ...nowhere, quantity }];
  });
  return [...stands, ...back];
}

const UNKNOWN =
  'Taken from a bin before anything was known to have been in it: nobody knows which lot it was, or from whom it came.';

const NOT_KEPT_BY_LOT =
  'Not kept by lot: it stands for all there ever was of this item, and does not say which delivery went in.';

const FROM_BEFORE = 'In stock when records began: nobody knows from whom it came, or what it was made from.';

function remarkOf(origin: string, lotTracked: boolean): string | null {
  if (origin === 'opening') return FROM_BEFORE;
  if (origin !== 'pseudo') return null;
  return lotTracked ? UNKNOWN : NOT_KEPT_BY_LOT;
}

function lotAnswer(
  { lotTracked, ...lot }: ScopeLotRow,
  standing: readonly StandingRow[],
  flows: readonly FlowRow[],
  holds: readonly ReachingHold[],
): TracedLotAnswer {
  const returns = flows.filter((flow) => flow.kind === 'supplier');
  const sources = standing.filter((row) => row.kind === 'supplier' || row.kind === 'produced');
  const produced = sum(returns.map((flow) => flow.quantity)) - sum(sources.map((row) => row.quantity));
  const where = whereNow(standing, returns);
  const sumOfWhereNow = sum(where.map((one) => one.quantity));
  return {
    ...lot,
    bornAt: lot.bornAt.toISOString(),
    held: holds.length > 0,
    holds: holds.map(({ holdId, kind, rootLotId }) => ({ holdId, kind, rootLotId })),
    notLotTracked: lot.origin === 'pseudo' && !lotTracked,
    remark: remarkOf(lot.origin, lotTracked),
    produced,
    whereNow: where,
    sumOfWhereNow,
    balanced: sumOfWhereNow === produced,
  };
}

function edgeAnswer(edge: EdgeRow, consumed: ReadonlyMap<string, number>): TraceEdgeAnswer {
  const { parentLotId, childLotId, processId, batchCode: processCode } = edge;
  const base = { parentLotId, childLotId, processId, processCode };
  const note = 'apportioned by output mass' as const;
  if (edge.isPackingRun) {
    const filled = edge.filledQuantity ?? 0;
    const apportioned = { note, numerator: String(filled), denominator: '1', rounded: filled };
    return { ...base, kind: 'packing-run', consumedQuantity: filled, apportioned };
  }
  if (edge.conversion !== null) {
    const taken = edge.convertedQuantity ?? 0;
    const apportioned = { note, numerator: String(taken), denominator: '1', rounded: taken };
    return { ...base, processCode: edge.conversion, kind: 'conversion', consumedQuantity: taken, apportioned };
  }
  const consumedQuantity = consumed.get(`${parentLotId}|${processId}`) ?? 0;
  const outputs = edge.outputs ?? [];
  const masses = outputs.map(({ massMg }) => BigInt(massMg));
  const at = outputs.findIndex(({ lotId }) => lotId === childLotId);
  // The shares of all outputs together, so that they sum to what went in, whichever way the trace is read.
  const share = at < 0 ? undefined : apportion(BigInt(consumedQuantity), masses)[at];
  const apportioned = {
    note,
    numerator: share?.exact.numerator ?? '0',
    denominator: share?.exact.denominator ?? '1',
    rounded: Number(share?.rounded ?? 0n),
  };
  return { ...base, kind: 'batch', consumedQuantity, apportioned };
}

export const COLUMN = {
  place: 'onHand',
  transit: 'inTransit',
  served: 'served',
  waste: 'wasted',
  'supplier-return': 'returned',
  consumed: 'consumed',
  variance: 'unexplained',
} as const satisfies Record<WhereAnswer['kind'], keyof QuantitiesAnswer>;

function nothingOf({
  itemId,
  itemName,
  unit,
}: Pick<TracedLotAnswer, 'itemId' | 'itemName' | 'unit'>): QuantitiesAnswer {
  const nothing = { onHand: 0, inTransit: 0, served: 0, wasted: 0, returned: 0, consumed: 0, unexplained: 0 };
  return { itemId, itemName, unit, ...nothing };
}

function totalsOf(lots: readonly TracedLotAnswer[]): TraceAnswer['totals'] {
  const totals = new Map<string, TraceAnswer['totals'][number]>();
  for (const lot of lots) {
    const total = totals.get(lot.itemId) ?? { ...nothingOf(lot), produced: 0, balanced: true, lotCount: 0 };
    for (const where of lot.whereNow) total[COLUMN[where.kind]] += where.quantity;
    total.produced += lot.produced;
    total.lotCount += 1;
    totals.set(lot.itemId, total);
  }
  for (const total of totals.values()) {
    total.balanced = sum([...new Set(Object.values(COLUMN))].map((column) => total[column])) === total.produced;
  }
  return [...totals.values()];
}

function sitesOf(lots: readonly TracedLotAnswer[], standing: readonly StandingRow[]): TraceAnswer['sites'] {
  const sites = new Map<string, { name: string; reachedBy: Set<string>; items: Map<string, QuantitiesAnswer> }>();
  const at = (siteId: string, name: string) => {
    const site = sites.get(siteId) ?? {
      name,
      reachedBy: new Set<string>(),
      items: new Map<string, QuantitiesAnswer>(),
    };
    sites.set(siteId, site);
    return site;
  };
  const names = new Map<string, string>();
  for (const row of standing) {
    names.set(row.siteId, row.siteName);
    if (row.toSiteId !== null && row.toSiteName !== null) names.set(row.toSiteId, row.toSiteName);
    if (row.kind === 'place') at(row.siteId, row.siteName).reachedBy.add(row.lotId);
  }
  for (const lot of lots) {
    for (const where of lot.whereNow) {
      const siteId = where.toSiteId ?? where.siteId;
      const site = at(siteId, names.get(siteId) ?? where.siteName);
      site.reachedBy.add(lot.lotId);
      const line = site.items.get(lot.itemId) ?? nothingOf(lot);
      line[COLUMN[where.kind]] += where.quantity;
      site.items.set(lot.itemId, line);
    }
  }
  return [...sites].map(([siteId, site]) => ({
    siteId,
    siteName: site.name,
    reachedBy: [...site.reachedBy],
    quantities: [...site.items.values()],
  }));
}

export function traceAnswer(rows: TraceRows): TraceAnswer {
  const standing = groupBy(rows.standing, (row) => row.lotId);
  const flows = groupBy(rows.flows, (row) => row.lotId);
  const holds = groupBy(rows.holds, (row) => row.lotId);
  const lots = rows.lots.map((lot) =>
    lotAnswer(
      lot,
      standing.get(lot.lotId) ?? [],
      flows.get(lot.lotId) ?? [],
      (holds.get(lot.lotId) ?? []).filter((hold) => hold.liftedAt === null),
    ),
  );
  const consumed = new Map<string, number>();
  for (const { kind, lotId, batchId, quantity } of rows.flows) {
    if (kind !== 'consumed' || batchId === null) continue;
    const key = `${lotId}|${batchId}`;
    consumed.set(key, (consumed.get(key) ?? 0) + quantity);
  }
  return {
    startLotId: rows.startLotId,
    direction: rows.direction,
    lots,
    edges: rows.edges.map((edge) => edgeAnswer(edge, consumed)),
    sites: sitesOf(lots, rows.standing),
    totals: totalsOf(lots),
  };
}
