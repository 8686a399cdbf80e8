/**
 * A seeded random story of three months, told to the service as it is made up: each step chooses something that a kitchen might do with what
 * is there, sometimes weeks late. What the service refuses by its rules is not part of the story.
 */
import { reportingJobs } from '../../../src/features/reporting/index.ts';
import { activeCloses } from '../oracle/month-lines.ts';
import { dateAt, type MonthFact } from '../oracle/month-facts.ts';
import { diceOf, type Dice } from './dice.ts';
import * as making from './month-making.ts';
import * as moving from './month-moving.ts';
import { sceneOf, type Maker } from './month-scene.ts';
import { monthTeller, tellMonthFact, type MonthTeller } from './month-tell.ts';
import { monthGroup, SITES, WORLD } from './month-world.ts';
import type { TestService } from '../service.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** London's clock changes on 25 October 2026, New York's on 1 November. */
const START_MS = Date.UTC(2026, 8, 3, 6);
/** Around these the months of the sites part: 1 October begins at 23:00 UTC in London, at 04:00 in New York. */
const MIDNIGHTS_MS = [Date.UTC(2026, 9, 1, 2), Date.UTC(2026, 10, 1, 2)];
const LENGTH_MS = 88 * DAY_MS;
export const STORY_MONTHS = ['2026-09', '2026-10', '2026-11'] as const;

const MAKERS: readonly (readonly [Maker, number])[] = [
  [making.bought, 8],
  [making.price, 6],
  [making.rate, 4],
  [making.batch, 6],
  [making.input, 20],
  [making.output, 13],
  [making.completion, 5],
  [making.packing, 8],
  [making.conversion, 5],
  [moving.move, 3],
  [moving.departure, 5],
  [moving.arrival, 5],
  [moving.use, 8],
  [moving.discard, 6],
  [moving.backFromService, 2],
  [moving.backToSupplier, 2],
  [moving.count, 4],
  [moving.reversal, 5],
];

function drawMaker({ roll }: Dice): Maker {
  let left = roll() * MAKERS.reduce((sum, [, weight]) => sum + weight, 0);
  for (const [maker, weight] of MAKERS) {
    left -= weight;
    if (left < 0) return maker;
  }
  return making.bought;
}

/** The next month that could be closed: over everywhere, and the first after the last. */
function closable(facts: readonly MonthFact[], nowMs: number): string | null {
  const last = activeCloses(facts).at(-1)?.month;
  const month = STORY_MONTHS[STORY_MONTHS.findIndex((one) => one === last) + 1];
  const over = SITES.every((site) => dateAt(WORLD, site.id, nowMs).slice(0, 7) > (month ?? '9'));
  return month !== undefined && over ? month : null;
}

/** What works in the background: what costs are at a checkpoint, sums of the ledger so far, the files of a close. */
async function runJobs({ service, groupId }: MonthTeller): Promise<void> {
  for (const job of reportingJobs(service)) await job.run({ groupId });
}

export interface StoryOptions {
  readonly seed: number;
  readonly steps: number;
  readonly afterClose?: (on: MonthTeller, month: string) => Promise<void>;
}

export async function tellMonthStory(service: TestService, options: StoryOptions): Promise<MonthTeller> {
  const { seed, steps, afterClose } = options;
  const dice = diceOf(seed);
  const { roll, chance, oneOf, uuid } = dice;
  const on = monthTeller(service, await monthGroup(service, START_MS));
  let nowMs = START_MS;

  function nextFact(step: number): MonthFact | null {
    const month = closable(on.facts, nowMs);
    const newest = activeCloses(on.facts).at(-1)?.month;
    if (month !== null && chance(0.25)) return { id: uuid(), occurredAt: nowMs, kind: 'close', month };
    if (newest !== undefined && chance(0.03))
      return { id: uuid(), occurredAt: nowMs, kind: 'reopening', month: newest };
    for (let tries = 0; tries < 10; tries += 1) {
      const lateMs = chance(0.3) ? roll() * 45 * DAY_MS : roll() * 6 * HOUR_MS;
      const midnight = oneOf(MIDNIGHTS_MS) + Math.floor((roll() * 6 - 3.5) * HOUR_MS);
      const atMidnight = midnight < nowMs && chance(0.25);
      const occurredAt = atMidnight ? midnight : Math.max(START_MS + 1, nowMs - Math.floor(lateMs));
      const maker = step < 3 ? making.rate : step < steps * 0.15 && chance(0.7) ? making.bought : drawMaker(dice);
      const fact = maker(sceneOf(on.facts, nowMs, dice), { id: uuid(), occurredAt });
      if (fact !== null) return fact;
    }
    return null;
  }

  for (let step = 0; step < steps; step += 1) {
    nowMs += Math.floor((LENGTH_MS / steps) * (0.4 + roll() * 1.2));
    const fact = nextFact(step);
    const refusal = fact === null ? 'nothing to do' : await tellMonthFact(on, fact, nowMs);
    if (fact?.kind === 'close' || chance(0.08)) await runJobs(on);
    if (refusal === null && fact?.kind === 'close') await afterClose?.(on, fact.month);
  }
  service.clock.set(nowMs + DAY_MS);
  return on;
}
