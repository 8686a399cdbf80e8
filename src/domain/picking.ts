/**
 * What to take from the shelves for what sites need: the oldest effective use-by first, only food that is in date at the meal with the
 * life left that was asked for, in whole packs. Why pure: the same rule makes the pick list and the production sheet, where what cannot
 * be picked is what is still to make. Refusals: none; too little is answered as short.
 *
 * Whoever calls leaves out what may not be taken at all: food under a blocking hold and food in quarantine.
 */
import { DateTime } from 'luxon';
import meals from '../../shared/meals.json' with { type: 'json' };

const HOUR_MS = 3_600_000;
const times: ReadonlyMap<string, string> = new Map(meals.list.map((meal) => [meal.code, meal.localTime]));

/**
 * When a meal is, in epoch milliseconds: its local time of shared/meals.json at the site (common practice), whatever the clocks did
 * in the night.
 * @param serviceDate 'YYYY-MM-DD' on the calendar
 * @param timeZone IANA time zone of the site where it is eaten
 * @throws RangeError on a date, meal or zone that there is not
 */
export function mealAtMs(serviceDate: string, meal: string, timeZone: string): number {
  const at = DateTime.fromISO(`${serviceDate}T${times.get(meal) ?? 'never'}`, { zone: timeZone });
  if (!at.isValid) throw new RangeError(`No ${meal} on ${serviceDate} in ${timeZone}`);
  return at.toMillis();
}

/** What is wanted of one item for one requirement. */
export interface Wanted {
  readonly requirementId: string;
  readonly itemId: string;
  /** portions that nothing covers yet; nothing is picked for 0 or less */
  readonly portions: number;
  /** portions in one pack, at least 1 */
  readonly portionsPerPack: number;
  readonly mealAtMs: number;
  /** false: the item is not of the texture or diet that is asked for, so that no lot of it will ever do */
  readonly suits: boolean;
}

/** Packs of one lot in one place that may be taken. */
export interface FreePart {
  readonly lotId: string;
  readonly lotCode: string;
  readonly placeId: string;
  readonly itemId: string;
  readonly packs: number;
  /** the date in force, exclusive; null: no limit */
  readonly useByMs: number | null;
}

interface PickedPart {
  readonly lotId: string;
  readonly placeId: string;
  readonly packs: number;
}

export interface PickedLine {
  readonly requirementId: string;
  readonly packsWanted: number;
  readonly picks: readonly PickedPart[];
  readonly shortPacks: number;
  /** portions that the picked packs do not give */
  readonly shortPortions: number;
}

/** In date at the meal and now, and with the life left that was asked for. */
export function keepsUntil(useByMs: number | null, mealAtMs: number, minimumLifeLeftH: number, nowMs: number): boolean {
  if (useByMs === null) return true;
  return useByMs > nowMs && useByMs > mealAtMs && useByMs - mealAtMs >= minimumLifeLeftH * HOUR_MS;
}

/**
 * Picks for every line, the earliest meal first; lines of the same meal in the order given. Parts go by use-by, then lot code, then
 * place, and are shared out: no pack is picked twice.
 * @param minimumLifeLeftH hours that must be left at the meal; 0: in date at the meal
 * @returns one line for each wanted one, in the order of the meals
 */
export function pickFrom(
  wanted: readonly Wanted[],
  parts: readonly FreePart[],
  minimumLifeLeftH: number,
  nowMs: number,
): PickedLine[] {
  // Two endless lives: Infinity - Infinity is NaN, which is falsy, so that the code decides.
  const oldestFirst = [...parts].sort(
    (a, b) =>
      (a.useByMs ?? Infinity) - (b.useByMs ?? Infinity) ||
      compare(a.lotCode, b.lotCode) ||
      compare(a.placeId, b.placeId),
  );
  const shelf = oldestFirst.map((part) => ({ part, left: Math.max(0, part.packs) }));
  return [...wanted]
    .sort((a, b) => a.mealAtMs - b.mealAtMs)
    .map((line) => {
      const packsWanted = Math.ceil(Math.max(0, line.portions) / line.portionsPerPack);
      const picks: PickedPart[] = [];
      let missing = packsWanted;
      for (const place of line.suits ? shelf : []) {
        if (missing === 0) break;
        const { part } = place;
        if (part.itemId !== line.itemId || place.left === 0) continue;
        if (!keepsUntil(part.useByMs, line.mealAtMs, minimumLifeLeftH, nowMs)) continue;
        const packs = Math.min(place.left, missing);
        place.left -= packs;
        missing -= packs;
        picks.push({ lotId: part.lotId, placeId: part.placeId, packs });
      }
      const pickedPortions = (packsWanted - missing) * line.portionsPerPack;
      return {
        requirementId: line.requirementId,
        packsWanted,
        picks,
        shortPacks: missing,
        shortPortions: Math.max(0, Math.max(0, line.portions) - pickedPortions),
      };
    });
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
