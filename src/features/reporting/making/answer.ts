/** The answer to how much to make, from the days and what things cost: figures, and the same in words. Refusals: none. */
import Fraction from 'fraction.js';
import { exactJson, roundHalfAwayFromZero } from '../../../domain/exact.ts';
import {
  deviationOf,
  expectedDemand,
  outcomeOf,
  productLimit,
  quantileOf,
  type DemandEstimate,
} from '../../../domain/making/demand.ts';
import { weekdayOf, type ChosenDays, type Day } from '../../../domain/making/history.ts';
import { bestQuantity, candidates, expectedCost, wholePacks } from '../../../domain/making/quantity.ts';
import type { HowMuchAnswer } from './contract.ts';
import type { Weighed } from './prices.ts';

const MOST_CANDIDATES = 40;
const LOWER = new Fraction(1n, 10n);
const UPPER = new Fraction(9n, 10n);

const ASSUMED = [
  'An offer, never an order: whoever plans the day knows what the records do not (a feast, the weather, a ward that closes) and decides.',
  'A day counts when something of the item was served or opened, or was required. Staff meals, tastings, donations and samples are not ' +
    'demand; what came back from service was not wanted.',
  'It ran out when the booked stock of the item at the site stood at zero or below directly after something was taken to service, by the ' +
    'times when things happened, or when a pick for a requirement of that day came up short. Then at least what was taken was asked for.',
  'What counts show to be used stands on the day of the count; where a count speaks for several days, those days are left out.',
  "A central kitchen's day is the sum of its sites; one that ran out makes it at least that. A site that had none all day adds nothing.",
  'Days are taken to be alike and independent of each other; holidays are not known here. The food-safety plan and the dates on the ' +
    'labels come first: food that is kept longer to avoid waste is not what this offers.',
];

export interface Question {
  readonly site: { readonly siteId: string; readonly name: string };
  readonly item: {
    readonly itemId: string;
    readonly code: string;
    readonly name: string;
    readonly unit: HowMuchAnswer['unit'];
    readonly portionsPerUnit: number | null;
  };
  readonly date: string;
  readonly recordedAt: string | null;
  readonly fromDate: string;
  readonly throughDate: string;
  readonly weeks: number;
  readonly packQuantity: number;
  readonly requiredForDate: number | null;
  readonly currency: string;
  readonly minorDigits: number;
}

const UNITS = { mg: 'mg', g: 'g', ml: 'ml', piece: 'pieces' } as const;

export const nameOfUnit = (unit: HowMuchAnswer['unit']): string => UNITS[unit];

const rounded = (value: Fraction, places: number): number => {
  const scale = 10 ** places;
  return Number(roundHalfAwayFromZero(value.mul(BigInt(scale)))) / scale;
};

/** Portions in whole units; null when the item does not say how many portions a unit has and is not counted in pieces. */
export function unitsOf(portions: number | null, item: Question['item']): number | null {
  if (portions === null) return null;
  if (item.portionsPerUnit === null) return item.unit === 'piece' ? portions : null;
  return Math.ceil(portions / item.portionsPerUnit);
}

export function answerOf(question: Question, chosen: ChosenDays, weighed: Weighed): HowMuchAnswer {
  const { site, item, packQuantity } = question;
  const estimate = productLimit(chosen.used);
  const best = weighed.ratio && bestQuantity(estimate, weighed.ratio);
  const offered = best && weighed.weights ? wholePacks(estimate, weighed.weights, best.quantity, packQuantity) : null;
  const outcome = outcomes(estimate, weighed);
  const atOffer = offered === null ? null : outcome(offered);
  const tail = tailOf(estimate);
  const answer = {
    siteId: site.siteId,
    siteName: site.name,
    itemId: item.itemId,
    itemCode: item.code,
    itemName: item.name,
    unit: item.unit,
    date: question.date,
    weekday: weekdayOf(question.date),
    recordedAt: question.recordedAt,
    quantity: offered,
    quantityBeforeRounding: best?.quantity ?? null,
    packQuantity,
    packs: offered === null ? null : offered / packQuantity,
    atMostSeen: best?.capped ?? false,
    criticalRatio: weighed.ratio && { ...exactJson(weighed.ratio), value: rounded(weighed.ratio, 4) },
    atOffer,
    curve: candidates(estimate, offered === null ? [] : [offered], MOST_CANDIDATES).map(outcome),
    requiredForDate: question.requiredForDate,
    expectedDemand: rounded(expectedDemand(estimate), 2),
    spread: {
      standardDeviation: Math.round(deviationOf(estimate) * 100) / 100,
      lower: quantileOf(estimate, LOWER),
      upper: quantileOf(estimate, UPPER),
    },
    distribution: estimate.steps.map(({ quantity, atMost, atRisk }) => ({
      quantity,
      chanceAtMost: rounded(atMost, 4),
      daysAtLeast: atRisk,
    })),
    tail,
    method: methodOf(question, chosen),
    costOfWaste: weighed.costOfWaste,
    costOfRunningOut: weighed.costOfRunningOut,
    currency: question.currency,
    minorDigits: question.minorDigits,
    days: chosen.days.map((day) => dayAnswer(day, item)),
    assumed: ASSUMED,
  };
  return { ...answer, offer: inWords(answer) };
}

function outcomes(estimate: DemandEstimate, { costs }: Weighed) {
  return (quantity: number): HowMuchAnswer['curve'][number] => {
    const { waste, runOut, chanceOfRunningOut } = outcomeOf(estimate, quantity);
    return {
      quantity,
      expectedWaste: rounded(waste, 2),
      expectedRunOut: rounded(runOut, 2),
      expectedCostMinor: costs && rounded(expectedCost(estimate, costs, quantity), 2),
      chanceOfRunningOut: rounded(chanceOfRunningOut, 4),
    };
  };
}

function tailOf({ tail, largest }: DemandEstimate): HowMuchAnswer['tail'] {
  const unknown = !tail.equals(0);
  return {
    unknown,
    chanceBeyond: rounded(tail, 4),
    largestSeen: largest,
    text: unknown
      ? `The largest days all ran out, the largest at ${largest}: how much more would have been asked for is not known. Averages are ` +
        `worked out as if it were ${largest}, so demand and running out are at least what is said.`
      : null,
  };
}

function methodOf({ fromDate, throughDate, weeks, date }: Question, chosen: ChosenDays): HowMuchAnswer['method'] {
  const { kind, used, days } = chosen;
  const which =
    kind === 'same-weekday'
      ? `the ${used.length} ${weekdayOf(date)}s`
      : `all ${used.length} days, whatever the weekday, because there are fewer than five ${weekdayOf(date)}s`;
  const ranOut = used.filter((day) => day.ranOut).length;
  return {
    estimate: 'product-limit',
    days: kind,
    fromDate,
    throughDate,
    weeks,
    daysUsed: used.length,
    daysThatRanOut: ranOut,
    daysLeftOut: days.length - used.length,
    text:
      `Product-limit (Kaplan-Meier) estimate from ${which}, ${fromDate} to ${throughDate}; ${ranOut} of them ran out and count as "at ` +
      'least". The quantity is the smallest that covers the critical ratio of days (newsvendor).',
  };
}

function dayAnswer({ requiredPortions, ranOut, ...day }: Day, item: Question['item']): HowMuchAnswer['days'][number] {
  return {
    ...day,
    requiredPortions,
    required: unitsOf(requiredPortions, item),
    ranOut: [...ranOut],
  };
}

function inWords(answer: Omit<HowMuchAnswer, 'offer'>): string {
  const { quantity, unit, atOffer, packQuantity, packs, atMostSeen, tail, expectedDemand } = answer;
  const about = `${answer.itemName} for ${answer.siteName}, ${answer.weekday} ${answer.date}`;
  const likely = `${tail.unknown ? 'at least ' : ''}${expectedDemand} ${nameOfUnit(unit)} are likely to be asked for`;
  if (quantity === null || !atOffer) {
    const missing = [
      ...(answer.costOfWaste.perUnitMinor === null && answer.costOfRunningOut.ratioPercent === null
        ? ['of waste']
        : []),
      ...(answer.costOfRunningOut.from === null ? ['of running out'] : []),
    ];
    return `No quantity is offered: the cost ${missing.join(' and ')} is not known. ${about}: ${likely}. The curve shows both ways.`;
  }
  const inPacks = packQuantity === 1 ? '' : ` (${packs} packs of ${packQuantity})`;
  const cap = atMostSeen ? ` This is the largest day seen: the days beyond ran out, and more may be right.` : '';
  const required =
    answer.requiredForDate === null
      ? ''
      : ` ${answer.requiredForDate} ${nameOfUnit(unit)} are required for the day so far: what is required comes first.`;
  const chance = Math.round(atOffer.chanceOfRunningOut * 100);
  const runsOut =
    chance === 0
      ? 'as far as these days go, it does not run out'
      : `it runs out on ${tail.unknown ? 'up to' : 'about'} ${chance} days in 100`;
  return (
    `Offer, not an order: ${quantity} ${nameOfUnit(unit)}${inPacks} of ${about}. ${likely[0]?.toUpperCase()}${likely.slice(1)}. On an average day ` +
    `${atOffer.expectedWaste} would be left over and ${tail.unknown ? 'at least ' : ''}${atOffer.expectedRunOut} be missing; ${runsOut}.${cap}${required}`
  );
}
