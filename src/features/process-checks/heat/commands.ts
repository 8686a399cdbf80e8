/** Decide and reply: these operations load nothing and write nothing. */
import { cool } from '../../../domain/process-checks/cooling.ts';
import { coolingRulesFile, toldOf, toldRules } from '../../../domain/process-checks/cooling-rules.ts';
import { coolingCautions, whatIsWrong } from '../../../domain/process-checks/judge-cooling.ts';
import { lethalityCautions } from '../../../domain/process-checks/judge-lethality.ts';
import { lethality, reaches } from '../../../domain/process-checks/lethality.ts';
import { readSeries } from '../../../domain/process-checks/series.ts';
import { lethalityFile, numbersOf } from '../../../domain/process-checks/targets.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import type { tryCooling, tryLethality } from './contract.ts';
import { OWN, readRule, readTarget } from './own-numbers.ts';

export async function reckonLethality({ body }: Context<typeof tryLethality>): Promise<Reply> {
  const points = readSeries(body.series);
  const target = readTarget(body);
  const sums = lethality(points, target);
  const { equivalentMinutes, equivalentMinutesStraight, steps } = sums;
  const { code, label, source, targetMinutes, logReduction } = target;
  const own = code === OWN;
  return {
    status: 200,
    body: {
      equivalentMinutes: millionth(equivalentMinutes),
      equivalentMinutesStraight: millionth(equivalentMinutesStraight),
      logReductionOfTarget: millionth((logReduction * equivalentMinutes) / targetMinutes),
      meetsTarget: reaches(equivalentMinutes, targetMinutes),
      meetsTargetStraight: reaches(equivalentMinutesStraight, targetMinutes),
      target: {
        code: own ? null : code,
        label,
        referenceTemperatureC: millionth(target.referenceTemperatureC),
        zBelowC: millionth(target.zBelowC),
        zAboveC: millionth(target.zAboveC),
        targetMinutes,
        logReduction,
        numbers: numbersOf(code),
      },
      source: own ? null : source,
      method: lethalityFile.method,
      cautions: [
        ...lethalityCautions(points, target, sums),
        ...(own ? ['These are numbers of your own: no source here vouches for them.'] : []),
      ],
      steps: steps.map(({ minute, temperatureC, lethalRate, cumulativeMinutes }, at) => {
        const temperatureF = body.series[at]?.temperatureF;
        return {
          minute,
          temperatureC: millionth(temperatureC),
          ...(temperatureF !== undefined && { temperatureF }),
          lethalRate: Number(lethalRate.toPrecision(6)),
          cumulativeMinutes: millionth(cumulativeMinutes),
        };
      }),
    },
  };
}

export async function reckonCooling({ body }: Context<typeof tryCooling>): Promise<Reply> {
  const points = readSeries(body.series);
  const rule = readRule(body);
  const judged = cool(points, rule);
  const told = toldOf(rule.code);
  return {
    status: 200,
    body: {
      met: judged.every(({ met }) => met),
      failed: judged.filter(({ met }) => !met).map(({ code }) => code),
      rule: {
        code: told ? rule.code : null,
        label: rule.label,
        scope: told?.scope ?? null,
        note: told?.note ?? null,
        numbers: told?.numbers ?? [],
      },
      points: judged.map((point) => ({
        code: point.code,
        label: point.label,
        fromC: orNull(point.fromC),
        toC: millionth(point.toC),
        withinMinutes: point.withinMinutes,
        state: point.state,
        met: point.met,
        startedAtMinute: orNull(point.startedAtMinute),
        startedBetweenMinutes: point.started?.betweenMinutes ?? null,
        endedAtMinute: orNull(point.endedAtMinute),
        endedBetweenMinutes: point.ended?.betweenMinutes ?? null,
        tookMinutes: orNull(point.tookMinutes),
        leftMinutes: orNull(point.leftMinutes),
        reason: point.met ? null : whatIsWrong(point, points),
      })),
      source: told ? rule.source : null,
      cautions: [
        ...coolingCautions(points, rule, judged),
        ...(told ? [] : ['This is a rule of your own: no source here vouches for it.']),
      ],
    },
  };
}

export async function readTargets(): Promise<Reply> {
  return { status: 200, body: lethalityFile };
}

export async function readCoolingRules(): Promise<Reply> {
  const rules = toldRules().map(({ source, points, ...rule }) => ({
    ...rule,
    ...source,
    points: points.map((point) => ({ ...point, fromC: orNull(point.fromC), toC: millionth(point.toC) })),
  }));
  return { status: 200, body: { ...coolingRulesFile, rules } };
}

/** Finer than any probe and any clock in a kitchen; decisions are made before. */
const millionth = (value: number): number => Math.round(value * 1e6) / 1e6;
const orNull = (value: number | null): number | null => (value === null ? null : millionth(value));
