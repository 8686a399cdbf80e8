/**
 * Where an allergen in a lot comes from: the lots that bring it in, and the shortest way from each of them through the lots in between. A
 * lot brings a code in when it holds it and nothing that went into it does: its delivery or its item says so, or a person added it.
 * Refusals: none.
 */

export interface AllergenLot {
  readonly lotId: string;
  readonly code: string;
  readonly allergens: readonly string[];
}

/** Lots with all that went into them, as far back as any allergen goes. */
export interface AllergenGraph {
  readonly lots: ReadonlyMap<string, AllergenLot>;
  readonly parents: ReadonlyMap<string, readonly string[]>;
}

export function allergenGraph(
  lots: readonly AllergenLot[],
  edges: readonly { readonly parentLotId: string; readonly childLotId: string }[],
): AllergenGraph {
  const parents = new Map<string, string[]>();
  for (const { parentLotId, childLotId } of edges) {
    const known = parents.get(childLotId);
    if (known) known.push(parentLotId);
    else parents.set(childLotId, [parentLotId]);
  }
  return { lots: new Map(lots.map((lot) => [lot.lotId, lot])), parents };
}

/**
 * @returns for each lot that brings the allergen in, the shortest way from the lot asked about (first) to it (last); shortest first, then
 *   by lot codes. Empty when the lot does not hold it.
 */
export function waysIn(graph: AllergenGraph, lotId: string, allergen: string): AllergenLot[][] {
  const codeOf = (id: string): string => graph.lots.get(id)?.code ?? '';
  const holds = (id: string): boolean => graph.lots.get(id)?.allergens.includes(allergen) ?? false;
  if (!holds(lotId)) return [];
  const next = (id: string): string[] =>
    [...new Set(graph.parents.get(id))].filter(holds).sort((a, b) => (codeOf(a) < codeOf(b) ? -1 : 1));
  const cameFrom = new Map<string, string | null>([[lotId, null]]);
  const ends: string[] = [];
  // Breadth first: what is reached first is reached by a shortest way.
  const queue = [lotId];
  for (let at = 0; at < queue.length; at += 1) {
    const id = queue[at] ?? '';
    const before = next(id);
    if (before.length === 0) ends.push(id);
    for (const one of before) {
      if (cameFrom.has(one)) continue;
      cameFrom.set(one, id);
      queue.push(one);
    }
  }
  return ends.map((end) => wayTo(graph, cameFrom, end));
}

function wayTo(graph: AllergenGraph, cameFrom: ReadonlyMap<string, string | null>, end: string): AllergenLot[] {
  const way: AllergenLot[] = [];
  for (let id: string | null = end; id !== null; id = cameFrom.get(id) ?? null) {
    const lot = graph.lots.get(id);
    if (lot) way.unshift(lot);
  }
  return way;
}
