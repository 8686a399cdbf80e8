/** Who went into whom, the walks over it, and how far holds reach. */
import { liveFactsOf } from './atlas.ts';
import type { HoldFact, OpenHold, OracleFact, OracleTrace, TraceDirection } from './types.ts';

/** "parent>child" for every input of a batch with every output of it, and for every fill with its own packs only. */
export function edgesOf(liveFacts: readonly OracleFact[]): Set<string> {
  const edges = new Set<string>();
  for (const output of liveFacts) {
    if (output.kind === 'packing') {
      for (const fill of output.fills) edges.add(`${fill.fromLotId}>${fill.packLotId}`);
    }
    if (output.kind !== 'batch-output') continue;
    for (const input of liveFacts) {
      if (input.kind === 'batch-input' && input.batchId === output.batchId) {
        edges.add(`${input.lotId}>${output.lotId}`);
      }
    }
  }
  return edges;
}

/** Walks until a whole pass over all edges finds nothing new. */
export function walk(edges: ReadonlySet<string>, starts: Iterable<string>, direction: TraceDirection): OracleTrace {
  const lots = new Set(starts);
  const walked = new Set<string>();
  for (let grew = true; grew;) {
    grew = false;
    for (const edge of edges) {
      const [parent = '', child = ''] = edge.split('>');
      const [near, far] = direction === 'forward' ? [parent, child] : [child, parent];
      if (!lots.has(near) || walked.has(edge)) continue;
      walked.add(edge);
      lots.add(far);
      grew = true;
    }
  }
  return { lots, edges: walked };
}

const spreads = (hold: HoldFact): boolean => hold.propagates && hold.scope === 'everywhere';

function standingHolds(facts: readonly OracleFact[]): HoldFact[] {
  return facts.filter(
    (f): f is HoldFact => f.kind === 'hold' && !facts.some((l) => l.kind === 'lift' && l.holdId === f.holdId),
  );
}

/** The holds that the final graph demands, each on the lot it was placed on and on every descendant it spreads to. */
export function openHoldsOf(facts: readonly OracleFact[], edges: ReadonlySet<string>): OpenHold[] {
  return standingHolds(facts).flatMap((hold): OpenHold[] => {
    const { holdId, holdKind } = hold;
    const placed: OpenHold = { holdId, holdKind, lotId: hold.lotId, scope: hold.scope, copied: false };
    if (!spreads(hold)) return [placed];
    const reached = [...walk(edges, [hold.lotId], 'forward').lots].filter((lotId) => lotId !== hold.lotId);
    return [
      placed,
      ...reached.map((lotId): OpenHold => ({ holdId, holdKind, lotId, scope: 'everywhere', copied: true })),
    ];
  });
}

/**
 * "holdId|lotId" of everything that a standing hold reached at any moment, in this order of arrival. A copy stays when
 * the edge that brought it is undone, and spreads onward from where it stands.
 */
export function holdsEverReached(facts: readonly OracleFact[]): Set<string> {
  const reached = new Map<string, Set<string>>();
  for (let told = 1; told <= facts.length; told += 1) {
    const soFar = facts.slice(0, told);
    const edges = edgesOf(liveFactsOf(soFar));
    for (const hold of standingHolds(soFar)) {
      const lots = reached.get(hold.holdId) ?? new Set([hold.lotId]);
      reached.set(hold.holdId, spreads(hold) ? walk(edges, lots, 'forward').lots : lots);
    }
  }
  const standing = standingHolds(facts).map((hold) => hold.holdId);
  return new Set(standing.flatMap((id) => [...(reached.get(id) ?? [])].map((lotId) => `${id}|${lotId}`)));
}
