/** fast-check generators of whole stories, and of the orders in which their facts may reach a ledger. */
import fc from 'fast-check';
import { datesFor, writeStory, type StoryLot } from './story.ts';
import { perform, VERBS, type Verb } from './story-verbs.ts';
import type { OracleFact, World } from './types.ts';

export interface OracleScenario {
  readonly world: World;
  /** In the order in which they were told, which is a possible order of arrival. */
  readonly facts: OracleFact[];
  /** Every lot of the story, with its form: bulk is by weight, packs are pieces. */
  readonly lots: StoryLot[];
}

export interface OracleScenarioInOrder extends OracleScenario {
  readonly arrival: OracleFact[];
}

// These need company to say anything: a count its late facts, a scan its other scans, a hold its lift.
const OFTENER: readonly Verb[] = [
  'scan-arrival',
  'scan-counted',
  'scan-counted',
  'end-scan',
  'end-scan',
  'count',
  'count',
  'hold',
];

interface ScenarioOptions {
  readonly startMs: number;
  /** what may happen, the oftener the more often it is named; left out: everything */
  readonly verbs?: readonly Verb[];
  /** 5 and 25 if left out */
  readonly leastFacts?: number;
  readonly mostFacts?: number;
}

const draws = (length: number) => fc.array(fc.nat(), { minLength: length, maxLength: length });
// Not biased and not shrunk: two stories in one database must not share ids.
const idSeed = fc.noShrink(fc.noBias(fc.integer({ min: 0, max: 0xffff_ffff })));

/**
 * A group of three sites, the first a central kitchen where all batches are made, and 5 to 25 facts (or as many as said) within 60 days
 * of `startMs`. Times need not agree with the order of telling. Ids are version 4 uuids.
 *
 * Left out on purpose, because a ledger may shape them otherwise: counted moves, uses, discards or arrivals of
 * serialised packs, and crates.
 */
export function scenarios(options: ScenarioOptions): fc.Arbitrary<OracleScenario> {
  const { startMs, verbs = [...VERBS, ...OFTENER], leastFacts = 5, mostFacts = 25 } = options;
  const step = fc.record({ verb: fc.constantFrom(...verbs), draws: fc.noBias(draws(24)) });
  return fc
    .record({
      idSeeds: fc.tuple(idSeed, idSeed),
      worldDraws: draws(4),
      dateDraws: fc.noBias(draws(16)),
      steps: fc.array(step, { minLength: leastFacts - 1, maxLength: mostFacts - 1, size: 'max' }),
      first: fc.noBias(draws(24)),
    })
    .map(({ idSeeds, worldDraws, dateDraws, steps, first }) => {
      const opening = { verb: 'receive' as const, draws: first };
      const desk = writeStory({ startMs, mostFacts, idSeeds, worldDraws, steps: [opening, ...steps] }, perform);
      const born = new Set(desk.facts.flatMap(lotsBornBy));
      const lots = desk.lots.filter((lot) => born.has(lot.lotId));
      const dated = datesFor({ ...desk, lots }, startMs, dateDraws);
      return { world: { ...desk.world, lots: dated }, facts: desk.facts, lots };
    });
}

function lotsBornBy(fact: OracleFact): string[] {
  if (fact.kind === 'receive' || fact.kind === 'batch-output') return [fact.lotId];
  return fact.kind === 'packing' ? fact.fills.map((fill) => fill.packLotId) : [];
}

function lotsNamedBy(fact: OracleFact): string[] {
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

/** Whether `later` cannot be told before `earlier` has been. */
function mustFollow(later: OracleFact, earlier: OracleFact): boolean {
  if (later.kind === 'reversal') return later.ofFactId === earlier.id;
  if (later.kind === 'lift') return earlier.kind === 'hold' && earlier.holdId === later.holdId;
  const arrives = later.kind === 'arrival-counted' || later.kind === 'scan-arrival' || later.kind === 'scan-counted';
  if (arrives && earlier.kind === 'dispatch' && earlier.dispatchId === later.dispatchId) return true;
  const named = lotsNamedBy(later);
  return lotsBornBy(earlier).some((lotId) => named.includes(lotId));
}

/** Always the wish with the smallest number whose causes have all been told. */
function orderBy(facts: readonly OracleFact[], wishes: readonly number[]): OracleFact[] {
  const waiting = facts.map((fact, index) => ({ fact, wish: wishes[index % wishes.length] ?? 0 }));
  const order: OracleFact[] = [];
  while (waiting.length > 0) {
    const ready = waiting.filter(({ fact }) => !waiting.some((w) => w.fact !== fact && mustFollow(fact, w.fact)));
    const next = ready.reduce((best, w) => (w.wish < best.wish ? w : best), ready[0] ?? { fact: facts[0], wish: 0 });
    const at = waiting.findIndex((w) => w.fact === next.fact);
    const [taken] = waiting.splice(at, 1);
    if (ready.length === 0 || taken === undefined) throw new Error('story: facts that wait for one another');
    order.push(taken.fact);
  }
  return order;
}

/**
 * Any order of arrival in which a lot's birth precedes the facts that name it, a dispatch its arrivals, a fact its
 * reversal and a hold its lift. Nothing else is kept: outputs may come before inputs, and times before times.
 */
export function arrivalOrders(facts: readonly OracleFact[]): fc.Arbitrary<OracleFact[]> {
  return wishLists.map((wishes) => orderBy(facts, wishes));
}

// Zeros shrink towards the order of telling.
const wishLists = fc.noBias(fc.array(fc.nat(1_000_000), { minLength: 25, maxLength: 25 }));

/** A story together with one order of arrival; both shrink on their own. */
export function scenariosInOrder(options: ScenarioOptions): fc.Arbitrary<OracleScenarioInOrder> {
  return fc
    .tuple(scenarios(options), wishLists)
    .map(([scenario, wishes]) => ({ ...scenario, arrival: orderBy(scenario.facts, wishes) }));
}
