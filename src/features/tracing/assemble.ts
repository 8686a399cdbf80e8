/** Rows of a trace as its answer. Refusals: none. */
import { apportion } from '../../domain/exact.ts';
import { groupBy } from '../../domain/grouping.ts';
import type { ReachingHold } from '../ledger/index.ts';
import type { QuantitiesAnswer, TraceAnswer, TracedLotAnswer, TraceEdgeAnswer } from './contract.ts';
import { addWhere, nothingOf, producedOf, sum, sumOfColumns, whereOf } from './quantities.ts';
import type { Direction, EdgeRow, FlowRow, ScopeLotRow, StandingRow } from './queries.ts';

export interface TraceRows {
  readonly startLotId: string;
  readonly direction: Direction;
  readonly lots: readonly ScopeLotRow[];
  readonly edges: readonly EdgeRow[];
  readonly standing: readonly StandingRow[];
  readonly flows: readonly FlowRow[];
  /** open ones */
  readonly holds: readonly ReachingHold[];
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

export function lotAnswer(
  { lotTracked, ...lot }: ScopeLotRow,
  standing: readonly StandingRow[],
  flows: readonly FlowRow[],
  holds: readonly ReachingHold[],
): TracedLotAnswer {
  const returns = flows.filter((flow) => flow.kind === 'supplier');
  const produced = producedOf(standing, returns);
  const where = whereOf(standing, returns).filter((one) => one.quantity !== 0);
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

/** What of each lot went into each batch, by `lot|batch`. */
export function consumedBy(flows: readonly FlowRow[]): Map<string, number> {
  const consumed = new Map<string, number>();
  for (const { kind, lotId, batchId, quantity } of flows) {
    if (kind !== 'consumed' || batchId === null) continue;
    const key = `${lotId}|${batchId}`;
    consumed.set(key, (consumed.get(key) ?? 0) + quantity);
  }
  return consumed;
}

export function edgeAnswer(edge: EdgeRow, consumed: ReadonlyMap<string, number>): TraceEdgeAnswer {
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

function totalsOf(lots: readonly TracedLotAnswer[]): TraceAnswer['totals'] {
  const totals = new Map<string, TraceAnswer['totals'][number]>();
  for (const lot of lots) {
    const total = totals.get(lot.itemId) ?? { ...nothingOf(lot), produced: 0, balanced: true, lotCount: 0 };
    for (const where of lot.whereNow) addWhere(total, where);
    total.produced += lot.produced;
    total.lotCount += 1;
    totals.set(lot.itemId, total);
  }
  for (const total of totals.values()) total.balanced = sumOfColumns(total) === total.produced;
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
      addWhere(line, where);
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
    lotAnswer(lot, standing.get(lot.lotId) ?? [], flows.get(lot.lotId) ?? [], holds.get(lot.lotId) ?? []),
  );
  const consumed = consumedBy(rows.flows);
  return {
    startLotId: rows.startLotId,
    direction: rows.direction,
    lots,
    edges: rows.edges.map((edge) => edgeAnswer(edge, consumed)),
    sites: sitesOf(lots, rows.standing),
    totals: totalsOf(lots),
  };
}
