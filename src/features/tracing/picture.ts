/** A trace in the words of its picture. Refusals: none of its own. */
import type { TraceAnswer, TracedLotAnswer, TraceEdgeAnswer } from './contract.ts';
import type { TraceNode, TracePicture } from './trace-picture.ts';

const grouped = (quantity: number): string => quantity.toLocaleString('en-GB');

function amount(quantity: number, unit: TracedLotAnswer['unit']): string {
  if (unit !== 'piece') return `${grouped(quantity)} ${unit}`;
  return `${grouped(quantity)} ${Math.abs(quantity) === 1 ? 'piece' : 'pieces'}`;
}

/** Where a lot went into: once for each batch, once for all packing, once for all opening; the rest is outside this trace. */
function usedIn(lot: TracedLotAnswer, edges: readonly TraceEdgeAnswer[]): string[] {
  const consumed = lot.whereNow
    .filter((where) => where.kind === 'consumed')
    .reduce((n, where) => n + where.quantity, 0);
  const byBatch = new Map<string, { code: string | null; quantity: number }>();
  let packed = 0;
  let converted = 0;
  for (const edge of edges) {
    if (edge.kind === 'packing-run') packed += edge.consumedQuantity;
    else if (edge.kind === 'conversion') converted += edge.consumedQuantity;
    else byBatch.set(edge.processId, { code: edge.processCode, quantity: edge.consumedQuantity });
  }
  const batches = [...byBatch.values()];
  const elsewhere = consumed - packed - converted - batches.reduce((n, batch) => n + batch.quantity, 0);
  return [
    ...batches.map(({ code, quantity }) => `Used in batch ${code ?? ''}: ${grouped(quantity)}`),
    ...(packed === 0 ? [] : [`Used in packing: ${grouped(packed)}`]),
    ...(converted === 0 ? [] : [`Opened, thawed or divided: ${grouped(converted)}`]),
    ...(elsewhere === 0 ? [] : [`Used in something else: ${grouped(elsewhere)}`]),
  ];
}

function linesOf(lot: TracedLotAnswer, edges: readonly TraceEdgeAnswer[]): string[] {
  const total = (kind: TracedLotAnswer['whereNow'][number]['kind'], words: string): string[] => {
    const quantity = lot.whereNow.filter((where) => where.kind === kind).reduce((n, where) => n + where.quantity, 0);
    return quantity === 0 ? [] : [`${words}: ${grouped(quantity)}`];
  };
  const theirs = lot.supplierLotCode === null ? [] : [`Their lot ${lot.supplierLotCode}`];
  const supplier = lot.supplierName === null ? [] : [`From ${lot.supplierName}`, ...theirs];
  return [
    ...(lot.notLotTracked ? ['Not tracked by lot'] : []),
    ...supplier,
    ...lot.whereNow
      .filter((where) => where.kind === 'place')
      .map(({ siteName, placeName, quantity }) => {
        // below zero: more was seen to leave than had arrived
        const words = quantity < 0 ? 'Short' : 'In stock';
        return `${words}: ${siteName}, ${placeName ?? ''}: ${grouped(Math.abs(quantity))}`;
      }),
    ...total('transit', 'On the road'),
    ...total('served', 'Served'),
    ...total('waste', 'Wasted'),
    ...total('supplier-return', 'Returned to the supplier'),
    ...usedIn(lot, edges),
    ...total('variance', 'Unexplained'),
  ];
}

/** What is drawn alike: nobody of ours made it; it came out of a process. */
const KIND_OF = {
  supplied: 'supplied',
  pseudo: 'supplied',
  opening: 'supplied',
  produced: 'produced',
  converted: 'produced',
  packed: 'packed',
} as const;

export function tracePicture(trace: TraceAnswer): TracePicture {
  const out = new Map<string, TraceEdgeAnswer[]>();
  for (const edge of trace.edges) out.set(edge.parentLotId, [...(out.get(edge.parentLotId) ?? []), edge]);
  const units = new Map(trace.lots.map((lot) => [lot.lotId, lot.unit]));
  const start = trace.lots.find((lot) => lot.lotId === trace.startLotId);
  const nodes = trace.lots.map((lot): TraceNode => ({
    id: lot.lotId,
    kind: KIND_OF[lot.origin],
    code: lot.code,
    item: lot.itemName,
    quantityText: amount(lot.produced, lot.unit),
    lines: linesOf(lot, out.get(lot.lotId) ?? []),
    held: lot.held,
    isStart: lot.lotId === trace.startLotId,
  }));
  const edges = trace.edges.map((edge) => {
    const part = amount(edge.apportioned.rounded, units.get(edge.parentLotId) ?? 'g');
    // A share is computed, not weighed: the sign says so.
    const shared = edge.kind === 'batch' && edge.apportioned.rounded !== edge.consumedQuantity;
    return { from: edge.parentLotId, to: edge.childLotId, label: shared ? `≈ ${part}` : part };
  });
  const title = start ? `${start.itemName}, lot ${start.code}` : trace.startLotId;
  return { title, direction: trace.direction, nodes, edges };
}
