/**
 * The desk at which a random story is written: the dice, the ids, the clock and what has been told so far. The verbs
 * are in `story-verbs.ts`. Everything follows from the numbers given, so a failing story can be told again and shrunk.
 */
import { edgesOf, walk } from './graph.ts';
import { balanceOf, ordinaryPostings, withVariances } from './postings.ts';
import { liveFactsOf, placeAccount } from './atlas.ts';
import { readSerials } from './serials.ts';
import { totalPostings } from './totals.ts';
import type { DatedLot, LotAtPlace, OracleFact, OraclePlace, World } from './types.ts';

const DAY_MS = 86_400_000;
const STORY_WINDOW_MS = 60 * DAY_MS;

type LotForm = 'bulk' | 'counted-packs' | 'serialised-packs';

export interface StoryLot {
  readonly lotId: string;
  readonly form: LotForm;
  /** Packs at birth, so that serials are '1' to String(packs); 0 for bulk. */
  readonly packs: number;
}

interface Dice {
  /** A whole number from `low` to `high`, both included. */
  between(low: number, high: number): number;
  chance(percent: number): boolean;
  /** Throws on an empty list. */
  pick<T>(list: readonly T[]): T;
}

export interface Desk {
  readonly world: World;
  readonly facts: OracleFact[];
  readonly lots: StoryLot[];
  dice: Dice;
  newId(): string;
  /** Mostly about now in the story, now and then far off, or exactly as another fact. */
  when(): number;
  placesOf(siteId: string): OraclePlace[];
  kitchenId: string;
  /** the story's first moment, and the first after it */
  readonly startMs: number;
  readonly endMs: number;
  /** Parts with something in them, as far as the story goes. */
  parts(): LotAtPlace[];
  wouldLoop(parentLotId: string, batchId: string): boolean;
  tell(fact: OracleFact): void;
}

function diceOf(draws: readonly number[]): Dice {
  let next = 0;
  const draw = (): number => {
    const value = draws[next % draws.length] ?? 0;
    next += 1;
    return value;
  };
  const between = (low: number, high: number): number => low + (draw() % (high - low + 1));
  return {
    between,
    chance: (percent) => between(0, 99) < percent,
    pick: (list) => {
      const found = list[between(0, list.length - 1)];
      if (found === undefined) throw new Error('story: nothing to pick from');
      return found;
    },
  };
}

/** A plain 32-bit mixer (mulberry32, public domain): enough to spread ids, and nothing depends on its quality. */
function numbersFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return (t ^ (t >>> 14)) >>> 0;
  };
}

/** Version 4 uuids in lower case (RFC 9562 §5.4), from two seeds. */
function uuidsFrom(seedA: number, seedB: number): () => string {
  const a = numbersFrom(seedA);
  const b = numbersFrom(seedB);
  const hex = (n: number): string => n.toString(16).padStart(8, '0');
  return () => {
    const digits = hex(a()) + hex(b()) + hex(a()) + hex(b());
    const variant = '89ab'.charAt(parseInt(digits.charAt(16), 16) % 4);
    return [
      digits.slice(0, 8),
      digits.slice(8, 12),
      `4${digits.slice(13, 16)}`,
      `${variant}${digits.slice(17, 20)}`,
      digits.slice(20, 32),
    ].join('-');
  };
}

function buildWorld(newId: () => string, dice: Dice): World {
  const sites = [];
  const places: OraclePlace[] = [];
  for (let s = 0; s < 3; s += 1) {
    const siteId = newId();
    // The kitchen's places are never used by count: they would be rid of what batches then ask for.
    const own = Array.from({ length: dice.between(2, 3) }, () => ({
      id: newId(),
      siteId,
      usedByCount: s > 0 && dice.chance(50),
    }));
    places.push(...own);
    sites.push({ id: siteId, receivingPlaceId: own[0]?.id ?? '', quarantinePlaceId: own.at(-1)?.id ?? '' });
  }
  return { sites, places };
}

interface StoryStep<Verb> {
  readonly verb: Verb;
  readonly draws: readonly number[];
}

export interface StorySeed<Verb> {
  readonly startMs: number;
  readonly mostFacts: number;
  readonly idSeeds: readonly [number, number];
  readonly worldDraws: readonly number[];
  readonly steps: readonly StoryStep<Verb>[];
}

/** Runs the steps in turn, until the steps or the room for facts run out. */
export function writeStory<Verb>(seed: StorySeed<Verb>, perform: (verb: Verb, desk: Desk) => void): Desk {
  const newId = uuidsFrom(...seed.idSeeds);
  const world = buildWorld(newId, diceOf(seed.worldDraws));
  const facts: OracleFact[] = [];
  let nowMs = seed.startMs;

  const desk: Desk = {
    world,
    facts,
    lots: [],
    dice: diceOf(seed.worldDraws),
    newId,
    kitchenId: world.sites[0]?.id ?? '',
    startMs: seed.startMs,
    endMs: seed.startMs + STORY_WINDOW_MS,
    when: () => {
      const { dice } = desk;
      if (facts.length > 0 && dice.chance(15)) return dice.pick(facts).occurredAt;
      if (dice.chance(15)) return seed.startMs + dice.between(0, 59) * DAY_MS + dice.between(0, DAY_MS - 1);
      return nowMs + dice.between(0, 20_000_000);
    },
    placesOf: (siteId) => world.places.filter((p) => p.siteId === siteId),
    parts: () => partsOf(desk),
    wouldLoop: (parentLotId, batchId) => {
      const outputs = facts.flatMap((f) => (f.kind === 'batch-output' && f.batchId === batchId ? [f.lotId] : []));
      // Reversed facts are walked too, so that no order of arrival has a loop for a while.
      return walk(edgesOf(facts), outputs, 'forward').lots.has(parentLotId);
    },
    tell: (fact) => {
      if (facts.length < seed.mostFacts) facts.push(fact);
    },
  };

  seed.steps.forEach((step, index) => {
    if (facts.length >= seed.mostFacts) return;
    nowMs = seed.startMs + Math.floor((STORY_WINDOW_MS * index) / (seed.steps.length + 1));
    desk.dice = diceOf(step.draws);
    perform(step.verb, desk);
  });
  return desk;
}

function partsOf(desk: Desk): LotAtPlace[] {
  const { world, facts, lots } = desk;
  const live = liveFactsOf(facts);
  const scanned = [...readSerials(world, facts, live).postings, ...totalPostings(world, live)];
  const ordinary = [...ordinaryPostings(world, facts, live), ...scanned];
  const postings = withVariances(world, ordinary, live);
  return lots.flatMap((lot) =>
    world.places
      .map((place) => ({
        lotId: lot.lotId,
        placeId: place.id,
        quantity: balanceOf(postings, lot.lotId, placeAccount(place.id)),
      }))
      .filter((part) => part.quantity > 0),
  );
}

/**
 * Gives about half the lots a last moment, at the end of a UTC day, and none a later one than any lot that went into
 * it, so that a ledger which copies limits to descendants agrees with these.
 */
export function datesFor(desk: Desk, startMs: number, draws: readonly number[]): DatedLot[] {
  const dice = diceOf(draws);
  const own = new Map<string, number>();
  for (const { lotId } of desk.lots) {
    const dayStartMs = Math.floor(startMs / DAY_MS) * DAY_MS;
    own.set(lotId, dice.chance(50) ? dayStartMs + dice.between(2, 61) * DAY_MS - 1 : Number.POSITIVE_INFINITY);
  }
  const edges = edgesOf(desk.facts);
  return desk.lots.flatMap(({ lotId }) => {
    const useByMs = Math.min(...[...walk(edges, [lotId], 'back').lots].map((l) => own.get(l) ?? Infinity));
    return Number.isFinite(useByMs) ? [{ lotId, useByMs }] : [];
  });
}
