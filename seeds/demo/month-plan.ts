/** The plan of the month before the fortnight: what is cooked on which weekday, who eats how much of it, what is bought for it. All invented. */
import { DateTime } from 'luxon';
import { ZONE } from './calendar.ts';
import type { Satellite } from './catalogue.ts';
import type { Dish } from './food.ts';

/** By day of the week, Monday first; nothing is cooked at the weekend. */
export const WEEK: readonly Dish[] = ['beef-stew', 'lentil-dahl', 'chicken-leek', 'tomato-soup', 'rice'];

/** Packs of each dish, by site. */
const SENT: Readonly<Partial<Record<Satellite, readonly number[]>>> = {
  w3: [22, 20, 14, 20, 20],
  w7: [18, 16, 10, 14, 16],
  sch: [24, 20, 16, 20, 25],
  care: [14, 14, 10, 12, 12],
  hot: [22, 20, 16, 20, 22],
};
export const EATERS = Object.keys(SENT) as Satellite[];

interface Habit {
  /** of a hundred packs sent, how many are wanted on an ordinary day */
  readonly wantedPercent: number;
  readonly reason: string;
  readonly destination: string;
}

/** What each kitchen does with what nobody wanted. */
export const HABITS: Readonly<Partial<Record<Satellite, Habit>>> = {
  w3: { wantedPercent: 90, reason: 'plate-return', destination: 'anaerobic-digestion' },
  w7: { wantedPercent: 94, reason: 'over-production', destination: 'anaerobic-digestion' },
  sch: { wantedPercent: 103, reason: 'over-production', destination: 'composting' },
  care: { wantedPercent: 96, reason: 'past-use-by', destination: 'refuse' },
  hot: { wantedPercent: 72, reason: 'over-production', destination: 'anaerobic-digestion' },
};

/** supplier, item, pence for a kilogram or litre */
export const DRY: readonly (readonly [supplier: string, item: string, pencePerKg: number])[] = [
  ['quern', 'flour', 90],
  ['quern', 'long-grain', 156],
  ['quern', 'bouillon', 830],
  ['quern', 'oil', 248],
  ['quern', 'thyme', 1_560],
  ['quern', 'pepper', 1_680],
  ['pantry', 'tomatoes', 140],
  ['pantry', 'tomato-puree', 320],
  ['pantry', 'lentils', 170],
  ['saffron', 'curry-powder', 990],
];
export const FRESH: readonly (readonly [supplier: string, item: string, pencePerKg: number, useByDays: number])[] = [
  ['brook', 'beef-shin', 950, 6],
  ['brook', 'carrots', 90, 12],
  ['marl', 'onions', 70, 21],
  ['marl', 'potatoes', 65, 21],
  ['marl', 'leeks', 230, 8],
  ['marl', 'celery', 213, 9],
  ['saffron', 'garlic', 800, 8],
  ['linden', 'chicken-thigh', 650, 4],
  ['dale', 'milk', 115, 7],
  ['dale', 'cream', 340, 9],
  ['dale', 'butter', 800, 40],
];

export interface Cooked {
  readonly dish: Dish;
  /** day of the month, 0 for the first */
  readonly day: number;
  readonly eatenOn: number;
  readonly week: number;
  readonly packs: number;
}

/** What of a Thursday's kettle burnt, of the third week: packs fewer than there should have been. */
const BURNT = { week: 2, dish: 'beef-stew', packs: 14 } as const;

/** The first day of the calendar month before that of a day. */
export function firstOfMonthBefore(day: string): string {
  return DateTime.fromISO(day, { zone: ZONE }).startOf('month').minus({ months: 1 }).toISODate() ?? '';
}

export function planOf(first: string): { days: number; cookings: Cooked[] } {
  const start = DateTime.fromISO(first, { zone: ZONE });
  const days = start.daysInMonth ?? 0;
  const weekdayOf = (day: number) => start.plus({ days: day }).weekday;
  const cookings: Cooked[] = [];
  for (let day = 0; day < days; day += 1) {
    const dish = WEEK[weekdayOf(day) - 1];
    const eatenOn = day + (weekdayOf(day) === 5 ? 3 : 1);
    if (dish === undefined || eatenOn >= days) continue;
    const week = Math.floor((day + start.weekday - 1) / 7);
    const wanted = EATERS.reduce((sum, site) => sum + (SENT[site]?.[WEEK.indexOf(dish)] ?? 0), 0);
    const burnt = week === BURNT.week && dish === BURNT.dish ? BURNT.packs : 0;
    cookings.push({ dish, day, eatenOn, week, packs: wanted - burnt });
  }
  return { days, cookings };
}

/** Packs for a site; the hotel comes short when a kettle burnt. */
export function sentTo(site: Satellite, { dish, packs }: Cooked): number {
  const at = WEEK.indexOf(dish);
  const others = EATERS.filter((one) => one !== 'hot').reduce((sum, one) => sum + (SENT[one]?.[at] ?? 0), 0);
  return site === 'hot' ? packs - others : (SENT[site]?.[at] ?? 0);
}
