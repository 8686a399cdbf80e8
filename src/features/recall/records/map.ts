/** The map of a case from its rows. */
import { groupBy } from '../../../domain/grouping.ts';
import {
  BOX,
  layOutFlow,
  PAD,
  type FlowColumn,
  type FlowEdge,
  type FlowMap,
  type FlowNode,
} from '../../../domain/recall/flow-map.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listMapLots, listMapMade, listMapWent, type LotsRow, type WentRow } from './map-queries.ts';
import { wrapText } from '../../tracing/index.ts';
import { MAP_TITLE_PX } from './map-picture.ts';
import { amountText, amountsText } from './words.ts';

const COLUMN: Readonly<Record<string, FlowColumn>> = {
  supplied: 'supplied',
  opening: 'supplied',
  pseudo: 'supplied',
  produced: 'produced',
  packed: 'packed',
  converted: 'converted',
};

const columnOf = (origin: string): FlowColumn => COLUMN[origin] ?? 'produced';
const keyOf = (siteId: string, itemId: string, origin: string): string => `${columnOf(origin)}|${siteId}|${itemId}`;
/** What does not fit two lines is cut where it is drawn. */
function titleOf(text: string): string[] {
  const [first = '', second, ...rest] = wrapText(text, MAP_TITLE_PX, BOX - 2 * PAD, true);
  return second === undefined ? [first] : [first, [second, ...rest].join(' ')];
}

const lotsText = (count: number): string => (count === 1 ? '1 lot' : `${count} lots`);
const sum = (numbers: readonly number[]): number => numbers.reduce((a, b) => a + b, 0);

function itemNodes(rows: readonly LotsRow[]): FlowNode[] {
  const groups = groupBy(rows, (row) => keyOf(row.siteId, row.itemId, row.origin));
  return [...groups].flatMap(([id, own]): FlowNode[] => {
    const [first] = own;
    if (!first) return [];
    const lots = sum(own.map((row) => row.lotCount));
    const lines = [`${lotsText(lots)}, ${amountsText(own)}`, first.siteName];
    return [{ id, column: columnOf(first.origin), title: titleOf(first.itemName), lines, weight: lots }];
  });
}

function supplierNodes(rows: readonly LotsRow[]): { nodes: FlowNode[]; edges: FlowEdge[] } {
  const supplied = rows.filter((row) => row.supplierId !== null);
  const groups = groupBy(supplied, (row) => `supplier|${row.supplierId}`);
  const nodes = [...groups].flatMap(([id, own]): FlowNode[] => {
    const lots = sum(own.map((row) => row.lotCount));
    return [
      { id, column: 'supplier', title: titleOf(own[0]?.supplierName ?? ''), lines: [lotsText(lots)], weight: lots },
    ];
  });
  const edges = supplied.map((row) => ({
    from: `supplier|${row.supplierId}`,
    to: keyOf(row.siteId, row.itemId, row.origin),
    weight: row.lotCount,
    label: amountText(row.quantity, row.unit),
  }));
  return { nodes, edges };
}

const WENT = [
  ['onHand', 'on hand'],
  ['inTransit', 'on the road to it'],
  ['served', 'served'],
  ['wasted', 'wasted'],
  ['unexplained', 'unexplained'],
] as const;

function siteNodes(rows: readonly WentRow[]): { nodes: FlowNode[]; edges: FlowEdge[] } {
  const groups = groupBy(rows, (row) => `site|${row.siteId}`);
  const nodes = [...groups].map(([id, own]): FlowNode => {
    const lines = WENT.flatMap(([field, word]) => {
      const amounts = own.filter((row) => row[field] !== 0).map((row) => ({ quantity: row[field], unit: row.unit }));
      return amounts.length === 0 ? [] : [`${word}: ${amountsText(amounts)}`];
    });
    return {
      id,
      column: 'site',
      title: titleOf(own[0]?.siteName ?? ''),
      lines,
      weight: sum(own.map((row) => row.lotCount)),
    };
  });
  const edges = rows.map((row) => ({
    from: keyOf(row.bornAtSiteId, row.itemId, row.origin),
    to: `site|${row.siteId}`,
    weight: row.lotCount,
    label: amountText(sum(WENT.map(([field]) => Math.max(0, row[field]))), row.unit),
  }));
  return { nodes, edges };
}

/** @param most boxes in one column */
export async function mapOf(tx: Tx, holdId: string, most: number): Promise<FlowMap> {
  const lots = await listMapLots(tx, holdId);
  const suppliers = supplierNodes(lots);
  const sites = siteNodes(await listMapWent(tx, holdId));
  const made = (await listMapMade(tx, holdId)).map((row) => ({
    from: keyOf(row.fromSiteId, row.fromItemId, row.fromOrigin),
    to: keyOf(row.toSiteId, row.toItemId, row.toOrigin),
    weight: row.lotCount,
    label: lotsText(row.lotCount),
  }));
  const nodes = [...suppliers.nodes, ...itemNodes(lots), ...sites.nodes];
  return layOutFlow(nodes, [...suppliers.edges, ...made, ...sites.edges], most);
}
