/**
 * An exposure as it was sent: steps that last some hours, or readings at times, never both. Pieces out (exposure.ts).
 *
 * Refusal: `rule-broken`, with a pointer to each place: a step with both or neither of durationH and at, steps and readings mixed, a time
 * that is not on the calendar or not after the one before, a single reading, a rule for between readings where there are none.
 */
import { Refused, type ProblemIssue } from '../errors.ts';
import { isCalendarDate } from '../time.ts';
import { piecesBetween, type BetweenReadings, type Piece } from './exposure.ts';

interface SentStep {
  readonly durationH?: number | undefined;
  readonly at?: string | undefined;
  readonly temperatureC: number;
}

export interface SentExposure {
  readonly exposure: readonly SentStep[];
  readonly betweenReadings?: BetweenReadings | undefined;
}

export interface ReadExposure {
  readonly pieces: readonly Piece[];
  /** null: the exposure came as steps with durations */
  readonly betweenReadings: BetweenReadings | null;
  /** null as well */
  readonly startsAtMs: number | null;
}

/** The warmer end never gives more life than the others, so it holds where nothing is said. */
const UNSAID: BetweenReadings = 'warmer-end';

export function readExposure({ exposure, betweenReadings }: SentExposure): ReadExposure {
  const timed = exposure[0]?.at !== undefined;
  refuseIfAny(exposure.flatMap((step, at) => shapeFaults(step, `#/exposure/${at}`, timed)));
  if (!timed) {
    if (betweenReadings !== undefined) {
      const detail = 'betweenReadings goes with timed temperatures; a step with a duration holds its temperature.';
      refuseIfAny([{ detail, pointer: '#/betweenReadings' }]);
    }
    const pieces = exposure.map(({ durationH, temperatureC }) => ({
      durationH: durationH ?? 0,
      fromC: temperatureC,
      toC: temperatureC,
    }));
    return { pieces, betweenReadings: null, startsAtMs: null };
  }
  const readings = exposure.map(({ at = '', temperatureC }) => ({ at, atMs: Date.parse(at), temperatureC }));
  refuseIfAny(readings.flatMap((reading, at) => timeFaults(reading, readings[at - 1], `#/exposure/${at}/at`)));
  if (readings.length < 2) {
    const detail = 'One reading lasts no time: send two or more, or a duration.';
    refuseIfAny([{ detail, pointer: '#/exposure' }]);
  }
  const rule = betweenReadings ?? UNSAID;
  return { pieces: piecesBetween(readings, rule), betweenReadings: rule, startsAtMs: readings[0]?.atMs ?? null };
}

function shapeFaults({ durationH, at }: SentStep, pointer: string, timed: boolean): ProblemIssue[] {
  if (durationH !== undefined && at !== undefined) {
    return [{ detail: 'Give durationH or at, not both.', pointer }];
  }
  if (durationH === undefined && at === undefined) {
    return [{ detail: 'Give durationH (hours at that temperature) or at (the time of a reading).', pointer }];
  }
  if (timed === (at !== undefined)) return [];
  return [{ detail: 'Steps with durations and readings with times cannot be mixed.', pointer }];
}

interface Timed {
  readonly at: string;
  readonly atMs: number;
}

function timeFaults(reading: Timed, before: Timed | undefined, pointer: string): ProblemIssue[] {
  if (Number.isNaN(reading.atMs) || !isCalendarDate(reading.at.slice(0, 10))) {
    return [{ detail: `${reading.at} is not a time of this century.`, pointer }];
  }
  if (!before || reading.atMs > before.atMs) return [];
  return [{ detail: `${reading.at} is not later than ${before.at}: send readings in ascending order.`, pointer }];
}

function refuseIfAny(errors: readonly ProblemIssue[]): void {
  const [first] = errors;
  if (first) throw new Refused('rule-broken', `${first.pointer}: ${first.detail}`, { errors });
}
