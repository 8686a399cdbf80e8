/**
 * The scope of a recall, read a second time from the facts as they were told: which lots a starting point names, what was made from
 * them, and how that grows while the case is open. Nothing leaves a scope by itself (domain rule 14), so it is a set that only grows.
 *
 * `must`: no scope may lack it. `may`: nothing else may be in a scope. They differ only by lots that nobody can say for sure: those
 * of undone deliveries that nothing else names, for example.
 */
import { liveFactsOf, placeAccount, transitAccount } from './atlas.ts';
import { edgesOf, walk } from './graph.ts';
import { balanceOf } from './postings.ts';
import { replay } from './oracle.ts';
import type { OracleFact, OracleState, World } from './types.ts';

interface Period {
  readonly fromMs: number;
  readonly toMs: number;
}

export type OracleStart =
  | { readonly kind: 'lot' | 'complaint'; readonly lotId: string }
  | { readonly kind: 'supplier-lot'; readonly key: string }
  | { readonly kind: 'batch'; readonly batchId: string }
  | { readonly kind: 'packing-run'; readonly packingId: string }
  | { readonly kind: 'dispatch'; readonly dispatchId: string }
  | ({ readonly kind: 'supplier-period' | 'machine-period' | 'person-period' } & Period)
  | ({ readonly kind: 'item-period'; readonly item: 'supplied' | 'produced' | 'packed' } & Period)
  | ({ readonly kind: 'place-period'; readonly placeId: string } & Period);

/** What the facts of a story do not say themselves. */
export interface Naming {
  /** of a delivered lot, its supplier's code as everybody would read it */
  readonly supplierKeyOf: (lotId: string) => string;
}

export interface Bounds {
  readonly must: ReadonlySet<string>;
  readonly may: ReadonlySet<string>;
}

interface Birth {
  readonly lotId: string;
  readonly fact: OracleFact;
}

export function birthsIn(facts: readonly OracleFact[]): Birth[] {
  return facts.flatMap((fact): Birth[] => {
    if (fact.kind === 'receive' || fact.kind === 'batch-output') return [{ lotId: fact.lotId, fact }];
    return fact.kind === 'packing' ? fact.fills.map((fill) => ({ lotId: fill.packLotId, fact })) : [];
  });
}

function bornBy(start: OracleStart, naming: Naming, { lotId, fact }: Birth): boolean {
  const during = (p: Period) => fact.occurredAt >= p.fromMs && fact.occurredAt < p.toMs;
  switch (start.kind) {
    case 'supplier-lot':
      return fact.kind === 'receive' && naming.supplierKeyOf(lotId) === start.key;
    case 'supplier-period':
      return fact.kind === 'receive' && during(start);
    case 'batch':
      return fact.kind === 'batch-output' && fact.batchId === start.batchId;
    case 'packing-run':
      return fact.kind === 'packing' && fact.id === start.packingId;
    case 'machine-period':
      return fact.kind === 'packing' && during(start);
    case 'person-period':
      // One person records the whole of a story, and packs all of it.
      return during(start);
    case 'item-period':
      return (
        { receive: 'supplied', 'batch-output': 'produced', packing: 'packed' }[fact.kind as 'receive'] === start.item &&
        during(start)
      );
    default:
      return false;
  }
}

/** Whether any movement, or any fact but its own birth, still speaks of a lot. */
function isAlive(state: OracleState, lotId: string): boolean {
  const named = [...state.edges].some((edge) => edge.split('>').includes(lotId));
  return named || state.postings.some((posting) => posting.lotId === lotId);
}

function movedThrough(state: OracleState, account: string, period: Period | null): Set<string> {
  const lots = new Set<string>();
  for (const p of state.postings) {
    if (p.from !== account && p.to !== account) continue;
    if (period === null || (p.occurredAt >= period.fromMs && p.occurredAt < period.toMs)) lots.add(p.lotId);
  }
  return lots;
}

function standingIn(state: OracleState, account: string, period: Period): { surely: string[]; maybe: string[] } {
  const before = state.postings.filter((p) => p.occurredAt < period.fromMs);
  const lots = [...new Set(state.postings.map((p) => p.lotId))];
  const through = movedThrough(state, account, period);
  const there = (lotId: string) => balanceOf(before, lotId, account);
  return {
    surely: lots.filter((lotId) => through.has(lotId) || there(lotId) > 0),
    // More was seen to leave than had come: whether it still stood there, nobody knows.
    maybe: lots.filter((lotId) => there(lotId) < 0),
  };
}

/** The lots that a starting point names, as things are known after these facts. */
export function startLotsOf(world: World, told: readonly OracleFact[], start: OracleStart, naming: Naming): Bounds {
  if ('lotId' in start) return { must: new Set([start.lotId]), may: new Set([start.lotId]) };
  const must = new Set<string>();
  const may = new Set<string>();
  if (start.kind === 'place-period') {
    const state = replay(world, told);
    const { surely, maybe } = standingIn(state, placeAccount(start.placeId), start);
    for (const lotId of surely) must.add(lotId);
    for (const lotId of maybe) may.add(lotId);
  } else if (start.kind === 'dispatch') {
    const state = replay(world, told);
    for (const fact of told) {
      if (fact.kind !== 'dispatch' || fact.dispatchId !== start.dispatchId) continue;
      const stands = state.liveFacts.includes(fact);
      for (const { lotId } of fact.lines) (stands ? must : may).add(lotId);
    }
    for (const lotId of movedThrough(state, transitAccount(start.dispatchId), null)) may.add(lotId);
  } else {
    const live = liveFactsOf(told);
    for (const birth of birthsIn(told)) {
      if (!bornBy(start, naming, birth)) continue;
      const stands = live.includes(birth.fact) || isAlive(replay(world, told), birth.lotId);
      (stands ? must : may).add(birth.lotId);
    }
  }
  return { must, may: new Set([...must, ...may]) };
}

interface Revision {
  readonly factId: string;
  readonly added: ReadonlySet<string>;
}

export interface ScopeOver {
  /** those that starting points named, at any time */
  readonly roots: Bounds;
  readonly scope: Bounds;
  /** What each fact after the opening added; of `must`. */
  readonly revisions: readonly Revision[];
  /** "parent>child" of all that was ever linked since the opening */
  readonly linked: ReadonlySet<string>;
  /** from which number of facts told a lot is in the scope; of `must` */
  readonly since: ReadonlyMap<string, number>;
}

/** The case was opened when `opened` of the facts had been told; the others came after, one by one. */
export function scopeOver(
  world: World,
  told: readonly OracleFact[],
  opened: number,
  starts: readonly OracleStart[],
  naming: Naming,
): ScopeOver {
  const roots = { must: new Set<string>(), may: new Set<string>() };
  let must = new Set<string>();
  let may = new Set<string>();
  const linked = new Set<string>();
  const revisions: Revision[] = [];
  const since = new Map<string, number>();
  for (let known = opened; known <= told.length; known += 1) {
    const facts = told.slice(0, known);
    const edges = edgesOf(liveFactsOf(facts));
    for (const edge of edges) linked.add(edge);
    for (const start of starts) {
      const named = startLotsOf(world, facts, start, naming);
      for (const lotId of named.must) roots.must.add(lotId);
      for (const lotId of named.may) roots.may.add(lotId);
    }
    const before = must;
    must = walk(edges, [...must, ...roots.must], 'forward').lots;
    may = walk(edges, [...may, ...roots.may], 'forward').lots;
    const added = new Set([...must].filter((lotId) => !before.has(lotId)));
    for (const lotId of added) since.set(lotId, known);
    const last = facts.at(-1);
    if (known > opened && added.size > 0 && last !== undefined) revisions.push({ factId: last.id, added });
  }
  return { roots, scope: { must, may }, revisions, linked, since };
}

/** What is wrong with a path that is said to lead from a starting point to a lot; null when it is a real one. */
export function faultOfPath(path: readonly string[], lotId: string, over: ScopeOver): string | null {
  const [first] = path;
  if (first === undefined || !over.roots.may.has(first)) return `begins at ${first}, which no starting point names`;
  if (path.at(-1) !== lotId) return `ends at ${path.at(-1)}`;
  if (new Set(path).size !== path.length) return 'goes in a circle';
  const step = path.findIndex((id, at) => at > 0 && !over.linked.has(`${path[at - 1]}>${id}`));
  return step === -1 ? null : `${path[step - 1]} never went into ${path[step]}`;
}
