/** Checks in words for a person: what was measured, where a limit comes from, what a stage and a kind are called. */
import type { CheckKind, ControlPoint, Measured, Source, Stage } from './shapes.ts';

const STAGES: Readonly<Record<Stage, string>> = {
  'goods-in': 'Goods in',
  storage: 'Storage',
  preparation: 'Preparation',
  cook: 'Cooking',
  chill: 'Chilling',
  pack: 'Packing',
  freeze: 'Freezing',
  thaw: 'Thawing',
  'load-out': 'Load-out',
  receipt: 'Receipt',
  regeneration: 'Regeneration',
  'hot-holding': 'Hot holding',
  cleaning: 'Cleaning',
  other: 'Other',
};

const KINDS: Readonly<Record<CheckKind, string>> = {
  'core-temperature': 'core temperature',
  temperature: 'temperature',
  ph: 'pH',
  'salt-in-water': 'salt in the water',
  'water-activity': 'water activity',
  'elapsed-time': 'time taken',
  lethality: 'heat treatment',
  cooling: 'cooling',
  'seal-test': 'seal test',
  'metal-detection': 'metal detection',
  'yes-no': 'answer',
};

const UNITS: Readonly<Partial<Record<CheckKind, string>>> = {
  'core-temperature': ' °C',
  temperature: ' °C',
  'salt-in-water': ' %',
  'elapsed-time': ' min',
};

const BASES: Readonly<Record<Source['basis'], string>> = {
  published: 'published',
  'second-hand': 'second-hand',
  'common-practice': 'common practice',
  'from-memory': 'from memory',
  recomputed: 'recomputed',
};

export const stageWords = (stage: string): string => (STAGES as Readonly<Record<string, string>>)[stage] ?? stage;
export const kindWords = (kind: string): string => (KINDS as Readonly<Record<string, string>>)[kind] ?? kind;

/** How a control point counts, in one word each. */
export const perWords = (per: ControlPoint['per']): string =>
  ({ batch: 'each batch', load: 'each load', 'packing-run': 'each packing run' })[per];

const MINUTES_PER_HOUR = 60;

/** 95 → `1 h 35 min`; never finer than a minute. */
function minutesWords(minutes: number): string {
  const whole = Math.round(minutes);
  if (whole < MINUTES_PER_HOUR) return `${whole} min`;
  const rest = whole % MINUTES_PER_HOUR;
  const hours = Math.floor(whole / MINUTES_PER_HOUR);
  return rest === 0 ? `${hours} h` : `${hours} h ${rest} min`;
}

/** Where a limit's numbers come from. */
export function sourceWords({ source, edition, basis }: Source): string {
  // Where there is no edition to name, the data says `from memory` in its place: once is enough.
  return [...new Set([source, edition, BASES[basis]])].filter((part) => part !== '').join(', ');
}

interface JudgedCooling {
  readonly tookMinutes?: unknown;
  readonly toC?: unknown;
}

const trimmed = (value: number, digits: number): string => String(Number(value.toFixed(digits)));

function seriesWords(kind: CheckKind, numbers: Readonly<Record<string, unknown>>): string {
  const counted = numbers.countedMinutes ?? numbers.equivalentMinutes;
  if (kind === 'lethality' && typeof counted === 'number') {
    const highest = typeof numbers.highestC === 'number' ? `, highest ${trimmed(numbers.highestC, 1)} °C` : '';
    // Never rounded up to a target that was missed.
    return `${counted >= 1000 ? Math.floor(counted) : Math.floor(counted * 100) / 100} min${highest}`;
  }
  const points = Array.isArray(numbers.points) ? (numbers.points as readonly JudgedCooling[]) : [];
  const each = points.map(({ toC, tookMinutes }) =>
    typeof tookMinutes === 'number'
      ? `${String(toC)} °C after ${minutesWords(tookMinutes)}`
      : `${String(toC)} °C not reached`,
  );
  return each.length === 0 ? 'a series' : each.join('; ');
}

type ShownMeasure =
  | Exclude<Measured, { form: 'series' | 'elapsed' }>
  | { readonly form: 'series' }
  | { readonly form: 'elapsed'; readonly minutes: number };

/** What was measured, with what was reckoned of a series. `numbers`: of its judgement. */
export function measuredWords(
  kind: CheckKind,
  measured: ShownMeasure,
  numbers: Readonly<Record<string, unknown>>,
): string {
  switch (measured.form) {
    case 'value':
      return `${trimmed(measured.value, 3)}${UNITS[kind] ?? ''}`;
    case 'elapsed':
      return minutesWords(measured.minutes);
    case 'series':
      return seriesWords(kind, numbers);
    case 'sample':
      return `${measured.tested} tested, ${measured.failed === 0 ? 'none' : measured.failed} failed`;
    case 'answer':
      return measured.yes ? 'yes' : 'no';
  }
}
