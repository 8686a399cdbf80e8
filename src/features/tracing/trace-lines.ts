/**
 * A trace as lines, some lots at a time: what is held in memory does not grow with the trace. Each page of lots is followed by the edges
 * that have their near end in it.
 */
import type { Tx } from '../../platform/db/db.ts';
import { groupBy } from '../../domain/grouping.ts';
import { consumedBy, edgeAnswer, lotAnswer } from './assemble.ts';
import { holdsOf } from './as-recorded.ts';
import { listEdges, listFlows, listStanding, walkLotPages, type Walk } from './queries.ts';

const PAGE_LOTS = 1_000;

const line = (record: string, fields: object): string => `${JSON.stringify({ record, ...fields })}\n`;

export async function* traceLines(tx: Tx, walk: Walk, nowMs: number): AsyncGenerator<string> {
  const { direction, asOf } = walk;
  let lotCount = 0;
  let edgeCount = 0;
  for await (const lots of walkLotPages(tx, walk, PAGE_LOTS)) {
    const lotIds = lots.map((lot) => lot.lotId);
    const edges = await listEdges(tx, lotIds, direction, asOf);
    // What went in is counted at the parent, which is the far end of a walk back.
    const parents = direction === 'forward' ? [] : edges.map((edge) => edge.parentLotId);
    const flows = await listFlows(tx, [...new Set([...lotIds, ...parents])], asOf);
    const standingOf = groupBy(await listStanding(tx, lotIds, asOf), (row) => row.lotId);
    const heldBy = groupBy(await holdsOf(tx, lotIds, asOf, nowMs), (hold) => hold.lotId);
    const flowsOf = groupBy(flows, (flow) => flow.lotId);
    for (const lot of lots) {
      const { lotId } = lot;
      const answer = lotAnswer(lot, standingOf.get(lotId) ?? [], flowsOf.get(lotId) ?? [], heldBy.get(lotId) ?? []);
      yield line('lot', answer);
    }
    const consumed = consumedBy(flows);
    for (const edge of edges) yield line('edge', edgeAnswer(edge, consumed));
    lotCount += lots.length;
    edgeCount += edges.length;
  }
  yield line('end', { lots: lotCount, edges: edgeCount });
}

export const brokenOff = (problem: Readonly<Record<string, unknown>>): string => line('error', problem);
