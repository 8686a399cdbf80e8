/** A target or a rule out of what was sent: by its code, or from numbers of the sender's own, in Celsius or Fahrenheit by the names of the fields. */
import type { z } from 'zod';
import { Refused } from '../../../domain/errors.ts';
import { coolingRule, coolingRuleOf } from '../../../domain/process-checks/cooling-rules.ts';
import { celsiusOf, celsiusStepOf } from '../../../domain/process-checks/fahrenheit.ts';
import type { CoolingPoint, CoolingRule, LethalityTarget, Source } from '../../../domain/process-checks/shapes.ts';
import { lethalityTarget, targetWith } from '../../../domain/process-checks/targets.ts';
import type { tryCooling, tryLethality } from './contract.ts';

type LethalityBody = z.output<(typeof tryLethality)['body']>;
type CoolingBody = z.output<(typeof tryCooling)['body']>;

/** The code of what is nobody's but the sender's; no filed code is so short. */
export const OWN = 'own';
const OWN_SOURCE: Source = { source: 'Numbers sent with the request', edition: 'none', basis: 'common-practice' };
const LOG_REDUCTION = 6;

/** @throws Refused rule-broken */
export function readTarget(body: LethalityBody): LethalityTarget {
  const { series: _series, target, ...numbers } = body;
  const sent = Object.entries(numbers).flatMap(([name, value]) => (value === undefined ? [] : [name]));
  if (target !== undefined) {
    const [first] = sent;
    if (first !== undefined) {
      throw broken(`Send target, or numbers of your own, not both: ${sent.join(', ')} came with it.`, `#/${first}`);
    }
    return lethalityTarget(target);
  }
  const inF = sent.some((name) => name.endsWith('F'));
  if (inF && sent.some((name) => name.endsWith('C'))) {
    throw broken('The reference temperature and z are either all in Celsius or all in Fahrenheit.', '#');
  }
  const wanted = inF
    ? (['referenceTemperatureF', 'zBelowF', 'zAboveF', 'targetMinutes'] as const)
    : (['referenceTemperatureC', 'zBelowC', 'zAboveC', 'targetMinutes'] as const);
  const missing = wanted.filter((name) => numbers[name] === undefined);
  if (missing.length > 0) {
    throw broken(
      `Missing: ${missing.join(', ')}. Send these numbers, or target with a code of GET /v1/process-checks/targets.`,
      `#/${missing[0] ?? ''}`,
    );
  }
  const [reference, zBelow, zAbove, targetMinutes] = wanted.map((name) => numbers[name] ?? NaN) as [
    number,
    number,
    number,
    number,
  ];
  const read = {
    referenceTemperatureC: inF ? celsiusOf(reference) : reference,
    zBelowC: inF ? celsiusStepOf(zBelow) : zBelow,
    zAboveC: inF ? celsiusStepOf(zAbove) : zAbove,
    targetMinutes,
    logReduction: numbers.targetLogReduction ?? LOG_REDUCTION,
  };
  return targetWith(read) ?? { code: OWN, label: 'Numbers of your own', ...read, source: OWN_SOURCE };
}

/** @throws Refused rule-broken */
export function readRule({ rule, jurisdiction, points }: CoolingBody): CoolingRule {
  const sent = [rule, jurisdiction, points].filter((one) => one !== undefined);
  if (sent.length !== 1) {
    throw broken(
      'Send one of rule (a code of GET /v1/process-checks/cooling-rules), jurisdiction (such as FR), or points (a rule of your own).',
      '#',
    );
  }
  if (rule !== undefined) return coolingRule(rule);
  if (jurisdiction !== undefined) {
    const known = coolingRuleOf(jurisdiction);
    if (known) return known;
    throw broken(
      `No cooling rule is known here for ${jurisdiction}: name a rule of GET /v1/process-checks/cooling-rules, or send points.`,
      '#/jurisdiction',
    );
  }
  return {
    code: OWN,
    label: 'A rule of your own',
    points: (points ?? []).map(readPoint),
    source: OWN_SOURCE,
  };
}

type SentPoint = NonNullable<CoolingBody['points']>[number];

function readPoint({ label, fromC, toC, fromF, toF, withinMinutes }: SentPoint, at: number): CoolingPoint {
  const here = `#/points/${at}`;
  if ((fromC !== undefined || toC !== undefined) && (fromF !== undefined || toF !== undefined)) {
    throw broken('A point is either in Celsius (fromC, toC) or in Fahrenheit (fromF, toF).', here);
  }
  const inF = fromF !== undefined || toF !== undefined;
  const [from, to] = inF ? [fromF, toF] : [fromC, toC];
  if (to === undefined) throw broken('A point needs toC or toF: the temperature to come down to.', here);
  if (from !== undefined && from <= to) {
    throw broken(`A point goes from warm to cold: ${from} is not above ${to}.`, here);
  }
  const degrees = inF ? '°F' : '°C';
  const words =
    from === undefined ? `Beginning of chilling to ${to} ${degrees}` : `${from} ${degrees} to ${to} ${degrees}`;
  return {
    code: `point-${at + 1}`,
    label: label ?? words,
    fromC: from === undefined ? null : inF ? celsiusOf(from) : from,
    toC: inF ? celsiusOf(to) : to,
    withinMinutes,
  };
}

const broken = (detail: string, pointer: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
