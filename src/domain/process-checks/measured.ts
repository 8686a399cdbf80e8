/**
 * What was sent as measured, made into what can be judged: one form, the one that the kind of check takes, in its unit. The unit is declared by the name of
 * the field only. Refusals: `rule-broken`, `series-unusable`, `invalid-request` for a time that is not on the calendar.
 */
import { Refused } from '../errors.ts';
import { fromInstant, utc } from '../time.ts';
import { celsiusOf, fahrenheitOf } from './fahrenheit.ts';
import { LEAST_C, MOST_C, readSeries, type SentPoint } from './series.ts';
import type { CheckKind, Measured, SeriesPoint } from './shapes.ts';

export interface SentMeasure {
  readonly value?: number | undefined;
  readonly temperatureC?: number | undefined;
  readonly temperatureF?: number | undefined;
  readonly series?: readonly SentPoint[] | undefined;
  readonly fromAt?: string | undefined;
  readonly toAt?: string | undefined;
  readonly tested?: number | undefined;
  readonly failed?: number | undefined;
  readonly yes?: boolean | undefined;
}

type Field = keyof SentMeasure;

const FIELDS: readonly Field[] = [
  'value',
  'temperatureC',
  'temperatureF',
  'series',
  'fromAt',
  'toAt',
  'tested',
  'failed',
  'yes',
];

/** The fields that a kind is measured by: one of these sets, whole. */
const WAYS: Readonly<Record<CheckKind, readonly (readonly Field[])[]>> = {
  'core-temperature': [['temperatureC'], ['temperatureF']],
  temperature: [['temperatureC'], ['temperatureF']],
  ph: [['value']],
  'salt-in-water': [['value']],
  'water-activity': [['value']],
  'elapsed-time': [['fromAt', 'toAt']],
  lethality: [['series']],
  cooling: [['series']],
  'seal-test': [['tested', 'failed']],
  'metal-detection': [['tested', 'failed']],
  'yes-no': [['yes']],
};

/** pH is defined on 0 to 14 in water; water activity is a share; salt is percent of the water phase. */
const POSSIBLE: Readonly<Partial<Record<CheckKind, readonly [number, number]>>> = {
  ph: [0, 14],
  'salt-in-water': [0, 100],
  'water-activity': [0, 1],
};

/**
 * @returns a series in Celsius with minutes from its first point; an elapsed time in milliseconds
 * @throws Refused rule-broken for another form than the kind takes, or a value that cannot be; series-unusable
 */
export function readMeasured(kind: CheckKind, sent: SentMeasure): Measured {
  const given = FIELDS.filter((field) => sent[field] !== undefined);
  const way = WAYS[kind].find((fields) => fields.length === given.length && fields.every((one) => given.includes(one)));
  if (!way) {
    const wanted = WAYS[kind].map((fields) => fields.join(' and ')).join(', or ');
    const got = given.length === 0 ? 'nothing was measured' : `${given.join(', ')} was given`;
    throw broken(`A check of kind ${kind} takes ${wanted}; ${got}.`, given[0] ?? 'kind');
  }
  switch (way[0]) {
    case 'temperatureC':
      return { form: 'value', value: possibleC(sent.temperatureC ?? NaN) };
    case 'temperatureF':
      return { form: 'value', value: possibleF(sent.temperatureF ?? NaN) };
    case 'series':
      return { form: 'series', points: fromItsBeginning(readSeries(sent.series ?? [])) };
    case 'fromAt':
      return elapsed(fromInstant(sent.fromAt ?? ''), fromInstant(sent.toAt ?? ''));
    case 'tested':
      return sample(sent.tested ?? 0, sent.failed ?? 0);
    case 'yes':
      return { form: 'answer', yes: sent.yes === true };
    default:
      return { form: 'value', value: possibleValue(kind, sent.value ?? NaN) };
  }
}

/** Minutes from the first point, as they are kept: what is judged is what can be read again. */
function fromItsBeginning(points: readonly SeriesPoint[]): SeriesPoint[] {
  const beginsAt = points[0]?.minute ?? 0;
  return points.map(({ minute, temperatureC }) => ({ minute: minute - beginsAt, temperatureC }));
}

function possibleC(temperatureC: number): number {
  if (temperatureC >= LEAST_C && temperatureC <= MOST_C) return temperatureC;
  const hint =
    temperatureC > MOST_C && temperatureC <= fahrenheitOf(MOST_C) ? ' If it is Fahrenheit, send temperatureF.' : '';
  throw broken(
    `${temperatureC} °C is no temperature of food here (${LEAST_C} to ${MOST_C} °C).${hint}`,
    'temperatureC',
  );
}

function possibleF(temperatureF: number): number {
  const temperatureC = celsiusOf(temperatureF);
  if (temperatureC >= LEAST_C && temperatureC <= MOST_C) return temperatureC;
  const range = `${fahrenheitOf(LEAST_C)} to ${fahrenheitOf(MOST_C)} °F`;
  throw broken(`${temperatureF} °F is no temperature of food here (${range}).`, 'temperatureF');
}

function possibleValue(kind: CheckKind, value: number): number {
  const [least, most] = POSSIBLE[kind] ?? [-Infinity, Infinity];
  if (value >= least && value <= most) return value;
  throw broken(`A ${kind} of ${value} cannot be; it lies between ${least} and ${most}.`, 'value');
}

function elapsed(fromMs: number, toMs: number): Measured {
  if (toMs < fromMs) throw broken(`The end, ${utc(toMs)}, comes before the beginning, ${utc(fromMs)}.`, 'toAt');
  return { form: 'elapsed', fromMs, toMs };
}

function sample(tested: number, failed: number): Measured {
  if (failed > tested) throw broken(`${failed} failed of ${tested} tested: more than there were.`, 'failed');
  return { form: 'sample', tested, failed };
}

function broken(detail: string, field: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/${field}` }] });
}

/** As it is kept and shown; the points of a series are kept beside it. */
export type KeptMeasure =
  | Exclude<Measured, { form: 'series' | 'elapsed' }>
  | { readonly form: 'elapsed'; readonly fromAt: string; readonly toAt: string; readonly minutes: number }
  | {
      readonly form: 'series';
      readonly points: number;
      readonly minutes: number;
      readonly firstC: number;
      readonly lastC: number;
      readonly lowestC: number;
      readonly highestC: number;
    };

export function keptMeasure(measured: Measured): KeptMeasure {
  if (measured.form === 'elapsed') {
    const { fromMs, toMs } = measured;
    return { form: 'elapsed', fromAt: utc(fromMs), toAt: utc(toMs), minutes: (toMs - fromMs) / 60_000 };
  }
  if (measured.form !== 'series') return measured;
  const { points } = measured;
  const first = points[0];
  const last = points.at(-1);
  if (!first || !last) throw new Error('a series without points was read');
  let [lowestC, highestC] = [first.temperatureC, first.temperatureC];
  for (const { temperatureC } of points) {
    lowestC = Math.min(lowestC, temperatureC);
    highestC = Math.max(highestC, temperatureC);
  }
  const minutes = last.minute - first.minute;
  return {
    form: 'series',
    points: points.length,
    minutes,
    firstC: first.temperatureC,
    lastC: last.temperatureC,
    lowestC,
    highestC,
  };
}
