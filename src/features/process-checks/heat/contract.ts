/** Heat and cooling to try: a series and a target or a rule in, the number, the steps and the source out. Nothing is stored. */
import { z } from 'zod';
import { MOST_POINTS } from '../../../domain/process-checks/series.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { CoolingRules, LethalityTargets, SourcedNumber, sourced } from './contract-lists.ts';

/** So large that 100,000 points in roomy JSON are refused for their number and not for their size. */
const SERIES_LIMIT_KB = 16 * 1024;

const minute = z
  .number()
  .min(-1_000_000)
  .max(1_000_000)
  .meta({ description: 'Minutes from any beginning; each later than the one before', example: 12.5 });
const point = z.strictObject({
  minute,
  temperatureC: z.number().optional().meta({ description: 'Core temperature in °C; 0, not -0.0', example: 71.4 }),
  temperatureF: z.number().optional().meta({ description: 'In °F, in place of temperatureC; one series has one unit' }),
});
const series = z.array(point).meta({
  description: `2 to ${MOST_POINTS} points. The unit is declared by the name of the field and never guessed.`,
});

const reference = z.number().min(-76).max(302);
const z1 = z.number().min(1).max(100);
const cautions = z
  .array(z.string())
  .meta({ description: 'What whoever relies on the answer should know; one sentence or two each' });
const minutes = z.number().meta({ description: 'minutes' });

const LethalityRequest = z
  .strictObject({
    series,
    target: z.string().min(1).max(60).optional().meta({
      description: 'A target of GET /v1/process-checks/targets, in place of numbers of your own',
    }),
    referenceTemperatureC: reference.optional(),
    zBelowC: z1.optional().meta({ description: 'z below the reference temperature, in °C' }),
    zAboveC: z1.optional().meta({ description: 'z above the reference temperature, in °C' }),
    referenceTemperatureF: reference.optional(),
    zBelowF: z1.optional().meta({ description: 'in place of zBelowC, in °F' }),
    zAboveF: z1.optional().meta({ description: 'in place of zAboveC, in °F' }),
    targetMinutes: z
      .number()
      .min(0.001)
      .max(100_000)
      .optional()
      .meta({ description: 'Minutes that are wanted at the reference temperature' }),
    targetLogReduction: z
      .number()
      .min(0.1)
      .max(20)
      .optional()
      .meta({ description: 'Decimal reductions that the target stands for; 6 if left out' }),
  })
  .meta({ id: 'LethalityRequest' });

const LethalityAnswer = z
  .object({
    equivalentMinutes: minutes.meta({
      description: 'Minutes at the reference temperature: trapezoids of 10^((T - Tref) / z)',
    }),
    equivalentMinutesStraight: minutes.meta({
      description: 'The same if the temperature ran straight between the points; lower where points are far apart',
    }),
    logReductionOfTarget: z
      .number()
      .meta({ description: "The target's decimal reductions × equivalentMinutes / targetMinutes" }),
    meetsTarget: z.boolean(),
    meetsTargetStraight: z
      .boolean()
      .meta({ description: 'A check that is recorded passes only when both meet the target' }),
    target: z.object({
      code: z.string().nullable().meta({ description: 'null: numbers of your own' }),
      label: z.string(),
      referenceTemperatureC: z.number(),
      zBelowC: z.number(),
      zAboveC: z.number(),
      targetMinutes: z.number(),
      logReduction: z.number(),
      numbers: z.array(SourcedNumber).meta({ description: 'Where each number is from, and what of it was read' }),
    }),
    source: z.object(sourced).nullable().meta({ description: 'null: numbers of your own, which nothing vouches for' }),
    method: z.object({ text: z.string(), ...sourced }),
    cautions,
    steps: z.array(
      z.object({
        minute: z.number(),
        temperatureC: z.number(),
        temperatureF: z.number().optional().meta({ description: 'where the series was sent in °F' }),
        lethalRate: z.number().meta({ description: 'equivalent minutes in one minute at this temperature' }),
        cumulativeMinutes: z.number().meta({ description: 'by the trapezoid, from the first point' }),
      }),
    ),
  })
  .meta({ id: 'LethalityAnswer' });

const coolingTemperature = z.number().min(-76).max(302);
const CoolingRequest = z
  .strictObject({
    series,
    rule: z.string().min(1).max(60).optional().meta({
      description: 'A rule of GET /v1/process-checks/cooling-rules',
    }),
    jurisdiction: z
      .string()
      .regex(/^[A-Z]{2}(-[A-Z]{3})?$/, 'a country such as IE, or a part of it such as GB-SCT')
      .optional()
      .meta({ description: 'In place of `rule`: the rule of that jurisdiction', example: 'FR' }),
    points: z
      .array(
        z.strictObject({
          label: z.string().min(1).max(120).optional(),
          fromC: coolingTemperature
            .optional()
            .meta({ description: 'The clock begins the first time the food comes down to this' }),
          toC: coolingTemperature.optional().meta({ description: 'and ends when it has come down to this for good' }),
          fromF: coolingTemperature.optional().meta({ description: 'in place of fromC, in °F' }),
          toF: coolingTemperature.optional().meta({ description: 'in place of toC, in °F' }),
          withinMinutes: z.number().min(1).max(10_000),
        }),
      )
      .min(1)
      .max(10)
      .optional()
      .meta({
        description: 'In place of `rule`: a rule of your own. Without `from…` the clock begins with the series',
      }),
  })
  .meta({ id: 'CoolingRequest' });

const CoolingAnswer = z
  .object({
    met: z.boolean().meta({ description: 'every point of the rule' }),
    failed: z.array(z.string()).meta({ description: 'codes of the points that were not met' }),
    rule: z.object({
      code: z.string().nullable().meta({ description: 'null: a rule of your own' }),
      label: z.string(),
      scope: z.string().nullable(),
      note: z.string().nullable(),
      numbers: z.array(SourcedNumber),
    }),
    points: z.array(
      z.object({
        code: z.string(),
        label: z.string(),
        fromC: z.number().nullable(),
        toC: z.number(),
        withinMinutes: z.number(),
        state: z.enum(['met', 'too-slow', 'not-reached', 'start-not-shown', 'no-cooling']),
        met: z.boolean(),
        startedAtMinute: z
          .number()
          .nullable()
          .meta({ description: 'When it first came down to fromC, worked out between two readings' }),
        startedBetweenMinutes: z.array(z.number()).nullable().meta({ description: 'those two readings' }),
        endedAtMinute: z.number().nullable().meta({ description: 'When it had come down to toC for good' }),
        endedBetweenMinutes: z.array(z.number()).nullable(),
        tookMinutes: z.number().nullable(),
        leftMinutes: z.number().nullable().meta({
          description:
            'Of the time allowed; negative: over by so much. Not reached: what was left when the series ended',
        }),
        reason: z.string().nullable().meta({ description: 'Why it was not met' }),
      }),
    ),
    source: z.object(sourced).nullable().meta({ description: 'null: a rule of your own, which nothing vouches for' }),
    cautions,
  })
  .meta({ id: 'CoolingAnswer' });

const tried = { tag: 'process-checks', permission: 'process-checks.try', naming: 'none', mode: 'read' } as const;

export const tryLethality = defineOperation({
  ...tried,
  id: 'tryLethality',
  method: 'post',
  path: '/v1/process-checks/lethality',
  summary: 'What a core-temperature series counts for',
  description:
    'Equivalent minutes at a reference temperature by the general method, step by step. Nothing is stored and nothing is released by it.',
  body: LethalityRequest,
  bodyLimitKb: SERIES_LIMIT_KB,
  answers: { 200: { description: 'The number, the steps and the source', schema: LethalityAnswer } },
  errors: ['series-unusable', 'rule-broken'],
  example: {
    body: {
      series: [
        { minute: 0, temperatureC: 20 },
        { minute: 20, temperatureC: 62 },
        { minute: 24, temperatureC: 68 },
        { minute: 26, temperatureC: 71 },
        { minute: 29, temperatureC: 72 },
        { minute: 32, temperatureC: 66 },
      ],
      referenceTemperatureC: 70,
      zBelowC: 7.5,
      zAboveC: 7.5,
      targetMinutes: 2,
    },
    status: 200,
  },
});

export const tryCooling = defineOperation({
  ...tried,
  id: 'tryCooling',
  method: 'post',
  path: '/v1/process-checks/cooling',
  summary: 'Whether a series cooled fast enough',
  description:
    'When each threshold of the rule was crossed, worked out between the readings, how long it took and how much was left. Nothing is stored.',
  body: CoolingRequest,
  bodyLimitKb: SERIES_LIMIT_KB,
  answers: { 200: { description: 'Each point of the rule, and the source', schema: CoolingAnswer } },
  errors: ['series-unusable', 'rule-broken'],
  example: {
    body: {
      series: [
        { minute: 0, temperatureC: 82 },
        { minute: 30, temperatureC: 55 },
        { minute: 75, temperatureC: 30 },
        { minute: 110, temperatureC: 18 },
        { minute: 160, temperatureC: 8 },
        { minute: 210, temperatureC: 4 },
      ],
      rule: 'us-food-code',
    },
    status: 200,
  },
});

export const listLethalityTargets = defineOperation({
  ...tried,
  id: 'listLethalityTargets',
  method: 'get',
  path: '/v1/process-checks/targets',
  summary: 'How much heat is enough: targets, stricter and looser alternatives, where each number is from',
  answers: { 200: { description: 'Targets and what was published beside them', schema: LethalityTargets } },
  errors: [],
  example: { status: 200 },
});

export const listCoolingRules = defineOperation({
  ...tried,
  id: 'listCoolingRules',
  method: 'get',
  path: '/v1/process-checks/cooling-rules',
  summary: 'How fast food has to become cold, by jurisdiction',
  answers: { 200: { description: 'The rules', schema: CoolingRules } },
  errors: [],
  example: { status: 200 },
});
