/** What-if: what some hours at some temperatures take from a life, by a model that the caller names. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { instant } from '../../platform/http/scalars.ts';

/** A second or so, and a year; whoever has food for longer sends more steps. */
const LEAST_STEP_H = 0.0002;
const MOST_STEP_H = 8_784;
/** Under a minute is no life; ten years are. */
const LEAST_LIFE_H = 0.01;
const MOST_LIFE_H = 87_600;

// What loggers read; colder or warmer is a broken sensor, or not Celsius.
const celsius = z.number().min(-60).max(150).meta({ description: '°C', example: 4 });
const hoursBetween = (least: number, most: number, example: number) =>
  z.number().gt(least).max(most).meta({ description: 'Hours', example });
const answeredCelsius = z.number().meta({ description: '°C' });
const answeredHours = z.number().min(0).meta({ description: 'Hours' });
const share = z.number().min(0);

const squareRoot = {
  kind: z.literal('square-root'),
  minTemperatureC: celsius.meta({ description: '°C at which nothing grows any more, by the relation' }),
};
const q10 = {
  kind: z.literal('q10'),
  q10: z
    .number()
    .min(1)
    .max(20)
    .meta({ description: 'How much faster 10 °C warmer; below 1 warmth would give life', example: 2 }),
};
const activationEnergy = z.number().min(1).max(500).meta({ description: 'kJ/mol', example: 83.144 });
const arrhenius = { kind: z.literal('arrhenius'), activationEnergyKjPerMol: activationEnergy };
const listeria = {
  kind: z.literal('listeria-growth'),
  minTemperatureC: z
    .number()
    .min(-20)
    .max(4)
    .optional()
    .meta({ description: '°C, of the product; -1.18 if left out', example: -1.18 }),
  growthAt5CLog10PerDay: z
    .number()
    .gt(0.0001)
    .max(10)
    .optional()
    .meta({ description: 'Growth rate at 5 °C, log10 a day; wanted for growth in the answer', example: 0.148 }),
  allowedIncreaseLog10: z
    .number()
    .gt(0.0001)
    .max(12)
    .optional()
    .meta({ description: 'Instead of reference: the life ends when the count has grown by that', example: 2 }),
};
const meanKinetic = {
  kind: z.literal('mean-kinetic-temperature'),
  activationEnergyKjPerMol: activationEnergy.optional(),
};

const SentModel = z
  .discriminatedUnion('kind', [
    z.strictObject(squareRoot),
    z.strictObject(q10),
    z.strictObject(arrhenius),
    z.strictObject(listeria),
    z.strictObject(meanKinetic),
  ])
  .meta({ id: 'LifeModel' });

const AnsweredModel = z
  .discriminatedUnion('kind', [
    z.object(squareRoot),
    z.object(q10),
    z.object(arrhenius),
    z.object(listeria),
    z.object(meanKinetic),
  ])
  .meta({ id: 'LifeModelUsed', description: 'As sent, with what was taken where nothing was sent' });

const betweenReadings = z.enum(['step', 'line', 'warmer-end']);

const Projection = z
  .object({
    model: AnsweredModel,
    reference: z
      .object({ temperatureC: answeredCelsius, lifeH: answeredHours })
      .nullable()
      .meta({ description: 'The life that hours were taken from' }),
    exposureH: answeredHours,
    startsAt: instant.nullable().meta({ description: 'Of readings with times' }),
    betweenReadings: betweenReadings.nullable(),
    thenTemperatureC: answeredCelsius.nullable(),
    usedFraction: share.nullable().meta({ description: 'Share of the life that is used; 1 or more: used up' }),
    equivalentAgeH: answeredHours
      .nullable()
      .meta({ description: 'Hours at the reference temperature that take as much' }),
    remainingH: answeredHours
      .nullable()
      .meta({ description: 'Hours left at thenTemperatureC; null without it, and where the model sees no end' }),
    growth: z
      .object({
        log10Increase: z.number().min(0),
        limitCfuPerG: z.number(),
        highestInitialCfuPerG: z
          .number()
          .min(0)
          .meta({ description: 'The most at the start with which the limit still holds at the end of the exposure' }),
      })
      .nullable()
      .meta({ description: 'listeria-growth with growthAt5CLog10PerDay' }),
    meanKineticTemperatureC: answeredCelsius.nullable().meta({ description: 'Reported; never a measure for microbes' }),
    toxinAdvisory: z
      .object({
        usedFraction: share,
        remainingH: answeredHours
          .nullable()
          .meta({ description: 'At thenTemperatureC; null without it and below 3 °C' }),
        basis: z.literal('from-memory'),
      })
      .nullable()
      .meta({
        description:
          'Share of the time to possible toxin of psychrotrophic C. botulinum; an advisory line from memory. null: all below 3 °C',
      }),
    steps: z.array(
      z.object({
        fromH: answeredHours.meta({ description: 'Hours since the beginning' }),
        durationH: answeredHours,
        temperatureC: answeredCelsius.meta({ description: '°C counted, at the beginning of the step' }),
        toTemperatureC: answeredCelsius.meta({ description: '°C at its end; other than temperatureC along a line' }),
        relativeRate: share.nullable().meta({ description: 'As against the reference temperature' }),
        usedFraction: share.nullable(),
        usedFractionSoFar: share.nullable(),
      }),
    ),
    cautions: z.array(z.object({ code: z.string(), sentence: z.string() })),
    sources: z.array(
      z.object({
        of: z.string().meta({ description: 'What rests on it' }),
        source: z.string(),
        basis: z.enum(['read', 'second-hand', 'recomputed', 'from-memory', 'sent']).meta({
          description:
            "read: seen in the source's text; second-hand: in a copy of it; recomputed: follows from what was read; from-memory: a " +
            'lead, not evidence; sent: came with the request',
        }),
      }),
    ),
  })
  .meta({ id: 'ShelfLifeProjection' });

export const projectShelfLife = defineOperation({
  id: 'projectShelfLife',
  method: 'post',
  path: '/v1/shelf-life/projections',
  tag: 'shelf-life',
  summary: 'What if: what an exposure takes from a life, and what is left at another temperature',
  description:
    'Rests on nothing but what is sent, records nothing and changes no date: decision support for trained people. The exposure is steps ' +
    'with durations, or readings with times in ascending order (then betweenReadings says what holds between two of them: the earlier ' +
    'one, a straight line, or the warmer end, which is taken if nothing is said). Shares used are rounded up, hours left down. More ' +
    'warmth never gives more life. With format=svg (or Accept: image/svg+xml) it is a picture.',
  permission: 'shelf-life.project',
  naming: 'none',
  mode: 'read',
  bodyLimitKb: 1024,
  query: z.strictObject({
    format: z.enum(['json', 'svg']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  body: z
    .strictObject({
      model: SentModel,
      reference: z
        .strictObject({ temperatureC: celsius, lifeH: hoursBetween(LEAST_LIFE_H, MOST_LIFE_H, 240) })
        .optional()
        .meta({
          description: 'How long the food keeps at one temperature; wanted by all but mean-kinetic-temperature',
        }),
      exposure: z
        .array(
          z.strictObject({
            durationH: hoursBetween(LEAST_STEP_H, MOST_STEP_H, 6).optional(),
            at: instant.optional(),
            temperatureC: celsius,
          }),
        )
        .min(1)
        .max(5_000)
        .meta({ description: 'All with durationH, or all with at' }),
      betweenReadings: betweenReadings.optional(),
      thenTemperatureC: celsius.optional().meta({ description: '°C from here on; wanted for remainingH' }),
    })
    .meta({ id: 'ShelfLifeWhatIf' }),
  answers: {
    200: [
      { description: 'What is used and what is left', schema: Projection },
      { description: 'The same as a picture: temperature and life left over time', contentType: 'image/svg+xml' },
    ],
  },
  errors: ['rule-broken'],
  example: {
    status: 200,
    query: { format: 'json' },
    body: {
      model: { kind: 'square-root', minTemperatureC: -10 },
      reference: { temperatureC: 4, lifeH: 240 },
      exposure: [{ durationH: 6, temperatureC: 9 }],
      thenTemperatureC: 4,
    },
  },
});

export type ProjectionAnswer = z.output<typeof Projection>;
