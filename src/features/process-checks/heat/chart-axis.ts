/** The time along a series: minutes from its own zero, or the clock of the site. */
import { DateTime } from 'luxon';
import type { SeriesPoint } from '../../../domain/process-checks/shapes.ts';
import type { Chart } from '../../../platform/charts.ts';

export interface Began {
  /** of minute 0 */
  readonly atMs: number;
  /** IANA time zone of the site */
  readonly zone: string;
}

export interface TimeAxis {
  /** first minute that is drawn */
  readonly least: number;
  readonly most: number;
  readonly scale: NonNullable<Chart['panels'][number]['options']['x']>;
}

const STEPS_MINUTES = [1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 2880, 10_080, 43_200];
const MOST_TICKS = 10;
const MINUTE_MS = 60_000;

/** Ticks stand on whole steps of the clock where there is one, else of the minutes. */
export function clockAxis(points: readonly SeriesPoint[], began: Began | null): TimeAxis {
  const least = points[0]?.minute ?? 0;
  const most = points.at(-1)?.minute ?? 1;
  const step = STEPS_MINUTES.find((one) => (most - least) / one <= MOST_TICKS) ?? most - least;
  // Steps up to an hour stand on whole steps in every zone; longer ones on those of the first day.
  const offset = began === null ? 0 : sinceMidnight(began) % step;
  const ticks: number[] = [];
  for (let at = Math.ceil((least + offset) / step) * step - offset; at <= most; at += step) ticks.push(at);
  return {
    least,
    most,
    scale: {
      domain: [least, most],
      ticks: ticks.length > 1 || most - least >= 1 ? ticks : [least, most],
      tickFormat: (minute: number) => (began === null ? String(minute) : clockOf(began, minute)),
      label: began === null ? 'minutes' : `time (${began.zone})`,
      labelArrow: 'none',
      labelAnchor: 'center',
    },
  };
}

function sinceMidnight({ atMs, zone }: Began): number {
  const time = DateTime.fromMillis(atMs, { zone });
  return time.hour * 60 + time.minute + time.second / 60 + time.millisecond / MINUTE_MS;
}

const clockOf = ({ atMs, zone }: Began, minute: number): string =>
  DateTime.fromMillis(Math.round(atMs + minute * MINUTE_MS), { zone }).toFormat('HH:mm');
