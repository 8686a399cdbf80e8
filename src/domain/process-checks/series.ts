/**
 * A series of temperatures as it was sent, made safe to reckon with: in Celsius, times rising, every temperature possible. What cannot be used is
 * refused with a pointer to the point; nothing is sorted, dropped or guessed.
 */
import { Refused } from '../errors.ts';
import { celsiusOf, fahrenheitOf } from './fahrenheit.ts';
import type { SeriesPoint } from './shapes.ts';

/** Nearly five weeks at one a minute, fourteen hours at one a second. */
export const MOST_POINTS = 50_000;
/** What a core probe in a kitchen can read: from below blast freezing to above any pressure cooker. Common practice. */
export const LEAST_C = -60;
export const MOST_C = 150;

export interface SentPoint {
  readonly minute: number;
  readonly temperatureC?: number | undefined;
  readonly temperatureF?: number | undefined;
}

type Unit = 'temperatureC' | 'temperatureF';

/**
 * @param pointer where the series stands in the request
 * @throws Refused series-unusable
 */
export function readSeries(points: readonly SentPoint[], pointer = '#/series'): SeriesPoint[] {
  if (points.length > MOST_POINTS) {
    throw unusable(
      `The series has ${points.length} points; at most ${MOST_POINTS} are taken. Send fewer, for example one a minute, or the part that matters.`,
      pointer,
    );
  }
  if (points.length < 2) {
    const counted = points.length === 0 ? 'The series is empty' : 'The series has one point';
    throw unusable(`${counted}; at least two are needed: one point takes no time.`, pointer);
  }
  let declared: Unit | null = null;
  let before: number | null = null;
  return points.map((point, at) => {
    const here = `${pointer}/${at}`;
    const unit = unitOf(point, here);
    if (declared !== null && unit !== declared) {
      throw unusable(
        `Point ${at + 1} gives ${unit}, the points before it ${declared}: one series has one unit.`,
        `${here}/${unit}`,
      );
    }
    declared = unit;
    requireRising(point.minute, before, at, here);
    before = point.minute;
    return { minute: point.minute, temperatureC: possible(point[unit] ?? NaN, unit, at, here) };
  });
}

function unitOf(point: SentPoint, here: string): Unit {
  if (point.temperatureC !== undefined && point.temperatureF !== undefined) {
    throw unusable('A point has temperatureC or temperatureF, not both.', here);
  }
  if (point.temperatureC !== undefined) return 'temperatureC';
  if (point.temperatureF !== undefined) return 'temperatureF';
  throw unusable('A point needs temperatureC or temperatureF: the unit is taken from the name of the field.', here);
}

function requireRising(minute: number, before: number | null, at: number, here: string): void {
  if (!Number.isFinite(minute)) throw unusable(`Point ${at + 1} has no usable time.`, `${here}/minute`);
  if (before === null || minute > before) return;
  const wrong =
    minute === before
      ? `Minute ${minute} stands twice (points ${at} and ${at + 1}): which temperature counts is not guessed.`
      : `Minute ${minute} (point ${at + 1}) comes after minute ${before}: times must rise from point to point.`;
  throw unusable(wrong, `${here}/minute`);
}

function possible(temperature: number, unit: Unit, at: number, here: string): number {
  const inF = unit === 'temperatureF';
  const temperatureC = inF ? celsiusOf(temperature) : temperature;
  if (temperatureC >= LEAST_C && temperatureC <= MOST_C) return temperatureC;
  const [least, most] = inF ? [fahrenheitOf(LEAST_C), fahrenheitOf(MOST_C)] : [LEAST_C, MOST_C];
  const degrees = inF ? '°F' : '°C';
  const mayBeF = !inF && temperature > MOST_C && temperature <= fahrenheitOf(MOST_C);
  const hint = mayBeF ? ' If the series is in Fahrenheit, name the field temperatureF in every point.' : '';
  throw unusable(
    `Point ${at + 1} reads ${temperature} ${degrees}, which no food here can have (${least} to ${most} ${degrees}).${hint}`,
    `${here}/${unit}`,
  );
}

const unusable = (detail: string, pointer: string): Refused =>
  new Refused('series-unusable', detail, { errors: [{ detail, pointer }] });
