/**
 * What the rules say to the next fact of a story, by the oracle alone: recorded, refused (and for which reasons), or left untold
 * because what it names is not there. Requests are judged as of their own time, which is when they are sent.
 */
import { siteOfPlace } from '../oracle/atlas.ts';
import { replay, wouldRefuse } from '../oracle/oracle.ts';
import type { OracleRequest } from '../oracle/oracle.ts';
import type { OracleFact, OracleState, World } from '../oracle/types.ts';

interface Ruling {
  readonly untold: boolean;
  /** codes of the API; not empty: it must be refused */
  readonly must: ReadonlySet<string>;
  /** codes of the API; more than `must` when a copy of a hold may have stayed behind */
  readonly may: ReadonlySet<string>;
}

const CODES: Readonly<Record<string, string>> = { 'own-ancestor': 'would-make-a-loop' };
const NONE: ReadonlySet<string> = new Set();
const UNTOLD: Ruling = { untold: true, must: NONE, may: NONE };
const ACCEPTED: Ruling = { untold: false, must: NONE, may: NONE };

function isRequest(fact: OracleFact): fact is OracleRequest {
  return fact.kind === 'batch-input' || fact.kind === 'packing' || fact.kind === 'dispatch' || fact.kind === 'move';
}

function lotsNamed(fact: OracleFact): string[] {
  switch (fact.kind) {
    case 'packing':
      return fact.fills.map((fill) => fill.fromLotId);
    case 'dispatch':
    case 'count':
      return fact.lines.map((line) => line.lotId);
    case 'receive':
    case 'batch-output':
    case 'lift':
    case 'reversal':
      return [];
    default:
      return [fact.lotId];
  }
}

function bornIn(fact: OracleFact): string[] {
  if (fact.kind === 'receive' || fact.kind === 'batch-output') return [fact.lotId];
  return fact.kind === 'packing' ? fact.fills.map((fill) => fill.packLotId) : [];
}

function isThere(recorded: readonly OracleFact[], fact: OracleFact, state: OracleState): boolean {
  const born = new Set(recorded.flatMap(bornIn));
  if (!lotsNamed(fact).every((lotId) => born.has(lotId))) return false;
  switch (fact.kind) {
    case 'scan-counted':
      if (fact.what !== 'arrival') return true;
      return recorded.some((one) => one.kind === 'dispatch' && one.dispatchId === fact.dispatchId);
    case 'arrival-counted':
    case 'scan-arrival':
      return recorded.some((one) => one.kind === 'dispatch' && one.dispatchId === fact.dispatchId);
    case 'lift':
      return state.liveFacts.some((one) => one.kind === 'hold' && one.holdId === fact.holdId);
    case 'reversal': {
      const target = state.liveFacts.find((one) => one.id === fact.ofFactId);
      // a scan that posts nothing (it came too late, or said nothing new) has no entry to undo
      const posts = target?.kind.startsWith('scan-') ? state.postings.some((p) => p.factId === target.id) : true;
      return target !== undefined && posts;
    }
    default:
      return true;
  }
}

/** The state in which every copy of a hold that may have stayed behind has stayed. */
function withEveryCopy(state: OracleState): OracleState {
  const copies = [...state.holdsPossible].flatMap((key) => {
    const [holdId = '', lotId = ''] = key.split('|');
    const hold = state.liveFacts.find((one) => one.kind === 'hold' && one.holdId === holdId);
    if (state.holdsMinimal.has(key) || hold?.kind !== 'hold') return [];
    return [{ holdId, lotId, holdKind: hold.holdKind, scope: 'everywhere' as const, copied: true }];
  });
  return { ...state, openHolds: [...state.openHolds, ...copies] };
}

function takesFromQuarantine(world: World, fact: OracleRequest): boolean {
  if (fact.kind === 'move') return false;
  const places =
    fact.kind === 'batch-input'
      ? [fact.placeId]
      : fact.kind === 'packing'
        ? fact.fills.map((fill) => fill.placeId)
        : fact.lines.map((line) => line.placeId);
  return places.some((placeId) =>
    world.sites.some((site) => site.id === siteOfPlace(world, placeId) && site.quarantinePlaceId === placeId),
  );
}

/** What came back from service is on hold where it stands, in quarantine; undoing the return lifts nothing. */
function takesReturned(world: World, recorded: readonly OracleFact[], fact: OracleRequest): boolean {
  if (!takesFromQuarantine(world, fact)) return false;
  const lots = new Set(
    fact.kind === 'batch-input'
      ? [fact.lotId]
      : fact.kind === 'packing'
        ? fact.fills.map((fill) => fill.fromLotId)
        : fact.kind === 'move'
          ? []
          : fact.lines.map((line) => line.lotId),
  );
  return recorded.some((one) => one.kind === 'return-from-service' && lots.has(one.lotId));
}

function reasons(state: OracleState, fact: OracleRequest): Set<string> {
  const codes = new Set([...wouldRefuse(state, fact)].map((reason) => CODES[reason] ?? reason));
  if (takesFromQuarantine(state.world, fact)) codes.add('quarantined');
  return codes;
}

/** @param recorded what was accepted before, in order of arrival */
export function rulingOf(world: World, recorded: readonly OracleFact[], fact: OracleFact): Ruling {
  const state = replay(world, recorded);
  if (!isThere(recorded, fact, state)) return UNTOLD;
  if (fact.kind === 'batch-output') {
    const fed = state.liveFacts.some((one) => one.kind === 'batch-input' && one.batchId === fact.batchId);
    return fed ? ACCEPTED : { untold: false, must: new Set(['wrong-state']), may: new Set(['wrong-state']) };
  }
  if (!isRequest(fact)) return ACCEPTED;
  const held = takesReturned(world, recorded, fact) ? ['on-hold'] : [];
  return {
    untold: false,
    must: new Set([...reasons(state, fact), ...held]),
    may: new Set([...reasons(withEveryCopy(state), fact), ...held]),
  };
}

/** Those of the facts that are recorded, if they are told in this order; in doubt a fact is left out. */
function recordedOf(world: World, order: readonly OracleFact[]): OracleFact[] {
  const recorded: OracleFact[] = [];
  for (const fact of order) {
    const ruling = rulingOf(world, recorded, fact);
    if (!ruling.untold && ruling.may.size === 0) recorded.push(fact);
  }
  return recorded;
}

/** The largest part of a story that is recorded whole in both orders. */
export function recordedInBoth(
  world: World,
  told: readonly OracleFact[],
  arrival: readonly OracleFact[],
): { told: OracleFact[]; arrival: OracleFact[] } {
  let a = [...told];
  let b = [...arrival];
  for (;;) {
    const inA = recordedOf(world, a);
    const inB = recordedOf(world, b);
    if (inA.length === a.length && inB.length === b.length) return { told: a, arrival: b };
    a = inA.filter((fact) => inB.includes(fact));
    b = inB.filter((fact) => inA.includes(fact));
  }
}
