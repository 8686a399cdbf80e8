/**
 * What was measured against its limit: passed or failed, why, and what was reckoned. Nothing here is decided by whoever sent it. Every reason is a
 * sentence for a person; those of a check that passed say what was assumed.
 */
import { Refused } from '../errors.ts';
import { judgeCooling } from './judge-cooling.ts';
import { judgeLethality } from './judge-lethality.ts';
import type { CheckKind, Judgement, Limit, Measured } from './shapes.ts';

interface OneValue {
  readonly name: string;
  readonly unit: string;
}

const VALUES: Readonly<Partial<Record<CheckKind, OneValue>>> = {
  'core-temperature': { name: 'core temperature', unit: ' °C' },
  temperature: { name: 'temperature', unit: ' °C' },
  ph: { name: 'pH', unit: '' },
  'salt-in-water': { name: 'salt in the water', unit: ' %' },
  'water-activity': { name: 'water activity', unit: '' },
};

/**
 * @param measured a series as readSeries gives it
 * @throws Refused rule-broken where what was measured cannot be held against the limit: another form, an end before the beginning
 */
export function judge(kind: CheckKind, measured: Measured, limit: Limit): Judgement {
  if (measured.form === 'series' && limit.form === 'lethality') return judgeLethality(measured.points, limit.target);
  if (measured.form === 'series' && limit.form === 'cooling') return judgeCooling(measured.points, limit.rule);
  if (measured.form === 'sample' && limit.form === 'sample') return judgeSample(measured, limit);
  if (measured.form === 'answer' && limit.form === 'answer') {
    return measured.yes ? passed({ yes: true }) : failed('The answer is no.', { yes: false });
  }
  if (measured.form === 'value' && limit.form === 'value') {
    if (!Number.isFinite(measured.value)) throw new Refused('rule-broken', 'The value is not a number.');
    return judgeValue(VALUES[kind] ?? { name: 'value', unit: '' }, measured.value, limit);
  }
  if (measured.form === 'elapsed' && limit.form === 'value') {
    const minutes = (measured.toMs - measured.fromMs) / 60_000;
    if (!(minutes >= 0)) throw new Refused('rule-broken', 'The end comes before the beginning.');
    return judgeValue({ name: 'time', unit: ' minutes' }, minutes, limit);
  }
  throw new Refused(
    'rule-broken',
    `A check of kind ${kind} was measured as ${FORMS[measured.form]}, and its limit wants ${WANTED[limit.form]}.`,
  );
}

const FORMS: Readonly<Record<Measured['form'], string>> = {
  value: 'one value',
  elapsed: 'a time from and to',
  series: 'a series',
  sample: 'a sample (tested, failed)',
  answer: 'yes or no',
};

const WANTED: Readonly<Record<Limit['form'], string>> = {
  value: 'one value, or a time from and to',
  lethality: 'a series',
  cooling: 'a series',
  sample: 'a sample (tested, failed)',
  answer: 'yes or no',
};

/** The limit itself passes. */
function judgeValue({ name, unit }: OneValue, value: number, limit: Limit & { form: 'value' }): Judgement {
  const { atLeast, atMost } = limit;
  const numbers = { value, atLeast, atMost };
  const is = `The ${name} is ${exactly(value)}${unit}`;
  if (atLeast !== null && value < atLeast) return failed(`${is}; at least ${atLeast}${unit} is wanted.`, numbers);
  if (atMost !== null && value > atMost) return failed(`${is}; at most ${atMost}${unit} is allowed.`, numbers);
  return passed(numbers);
}

function judgeSample(
  { tested, failed: bad }: Measured & { form: 'sample' },
  { leastTested, mostFailed }: Limit & { form: 'sample' },
): Judgement {
  if (bad > tested) throw new Refused('rule-broken', `${bad} failed of ${tested} tested: more than there were.`);
  const numbers = { tested, failed: bad, leastTested, mostFailed };
  const reasons = [
    ...(bad > mostFailed ? [`${bad} of ${tested} failed; at most ${mostFailed} may.`] : []),
    ...(tested < leastTested ? [`${tested} tested; at least ${leastTested} are wanted.`] : []),
  ];
  return { result: reasons.length === 0 ? 'passed' : 'failed', reasons, numbers };
}

const passed = (numbers: Judgement['numbers']): Judgement => ({ result: 'passed', reasons: [], numbers });
const failed = (reason: string, numbers: Judgement['numbers']): Judgement => ({
  result: 'failed',
  reasons: [reason],
  numbers,
});

/** As many digits as it needs, without the noise of binary fractions. */
const exactly = (value: number): string => String(Number(value.toPrecision(10)));
