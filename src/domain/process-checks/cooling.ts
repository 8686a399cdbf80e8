/**
 * A cooling series against a rule. Between two points the temperature is taken to run straight, so a threshold is crossed at a moment of its own.
 * The clock of a point begins the first time the series comes down to `fromC` (with the first point, where the rule names no temperature), and ends when it
 * has come down to `toC` for good: food that warms up again has not been cooled. What the series does not show has not happened:
 * where the rule names no temperature to start from, a series of hot food that is nowhere hot does not show the beginning.
 */
import { HOT_C, isOfHotFood } from './cooling-rules.ts';
import type { CoolingPoint, CoolingRule, SeriesPoint } from './shapes.ts';

interface Crossing {
  readonly minute: number;
  /** the readings on either side; the same where a reading hit it */
  readonly betweenMinutes: readonly [number, number];
}

/**
 * too-slow: shown, and over the time. not-reached: the series ends above `toC`. start-not-shown: it begins below `fromC`, or is nowhere hot, so how
 * long the food had been cooling is not known. no-cooling: it was never above `toC`.
 */
type CoolingState = 'met' | 'too-slow' | 'not-reached' | 'start-not-shown' | 'no-cooling';

export interface JudgedPoint extends CoolingPoint {
  readonly state: CoolingState;
  readonly met: boolean;
  readonly startedAtMinute: number | null;
  readonly endedAtMinute: number | null;
  readonly tookMinutes: number | null;
  /** of the time allowed; negative: over it by so much. Where `toC` was not reached: what was left when the series ended */
  readonly leftMinutes: number | null;
  /** the start and the end, with the readings between which each was worked out */
  readonly started: Crossing | null;
  readonly ended: Crossing | null;
}

/** Minutes; crossings are worked out by division, so 120 may come out a hair above itself. */
const NEARLY_MINUTES = 1e-9;

/** @param points at least two, times rising, as readSeries gives them */
export function cool(points: readonly SeriesPoint[], rule: Pick<CoolingRule, 'code' | 'points'>): JudgedPoint[] {
  const shownHot = !isOfHotFood(rule.code) || points.some(({ temperatureC }) => temperatureC >= HOT_C);
  return rule.points.map((point) => judgePoint(points, point, shownHot));
}

function judgePoint(points: readonly SeriesPoint[], point: CoolingPoint, shownHot: boolean): JudgedPoint {
  const started = point.fromC === null && !shownHot ? null : startOf(points, point.fromC);
  const ended = endOf(points, point.toC);
  const lastMinute = points.at(-1)?.minute ?? 0;
  const until = ended?.minute ?? lastMinute;
  const left = started && point.withinMinutes - (until - started.minute);
  return {
    ...point,
    ...stateOf(points, point, started, ended),
    startedAtMinute: started?.minute ?? null,
    endedAtMinute: ended?.minute ?? null,
    tookMinutes: started && ended ? ended.minute - started.minute : null,
    leftMinutes: left,
    started,
    ended,
  };
}

function stateOf(
  points: readonly SeriesPoint[],
  { toC, withinMinutes }: CoolingPoint,
  started: Crossing | null,
  ended: Crossing | null,
): { state: CoolingState; met: boolean } {
  const say = (state: CoolingState) => ({ state, met: state === 'met' });
  if (points.every(({ temperatureC }) => temperatureC <= toC)) return say('no-cooling');
  if (!started) return say('start-not-shown');
  if (!ended) return say('not-reached');
  return say(ended.minute - started.minute <= withinMinutes + NEARLY_MINUTES ? 'met' : 'too-slow');
}

/** The first time that the series comes down to the temperature. A series that begins below it may still have been heated through it later. */
function startOf(points: readonly SeriesPoint[], fromC: number | null): Crossing | null {
  const first = points[0];
  if (!first) return null;
  if (fromC === null || first.temperatureC === fromC) return at(first.minute);
  const below = points.findIndex(
    ({ temperatureC }, place) => temperatureC <= fromC && (points[place - 1]?.temperatureC ?? -Infinity) > fromC,
  );
  return below < 0 ? null : crossing(points, below, fromC);
}

/** The last time that the series comes down to the temperature, if it stays there to its end. */
function endOf(points: readonly SeriesPoint[], toC: number): Crossing | null {
  const lastAbove = points.findLastIndex(({ temperatureC }) => temperatureC > toC);
  return lastAbove < 0 || lastAbove === points.length - 1 ? null : crossing(points, lastAbove + 1, toC);
}

const at = (minute: number): Crossing => ({ minute, betweenMinutes: [minute, minute] });

/** @param place of the first point at or below the level; the one before it is above */
function crossing(points: readonly SeriesPoint[], place: number, levelC: number): Crossing | null {
  const [above, below] = [points[place - 1], points[place]];
  if (!above || !below) return null;
  if (below.temperatureC === levelC) return at(below.minute);
  const share = (above.temperatureC - levelC) / (above.temperatureC - below.temperatureC);
  return {
    minute: above.minute + share * (below.minute - above.minute),
    betweenMinutes: [above.minute, below.minute],
  };
}
