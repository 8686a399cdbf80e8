/** What was saved against the group's own past. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, line, month, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { monthQuery } from '../contract.ts';

const grams = z.int().meta({ description: 'Whole grams' });
const minor = z.int().meta({ description: 'Minor units of the currency' });
const percent = z.number().nullable().meta({ description: 'One decimal; null when nothing was bought' });

const Figures = z.object({
  month,
  throughMonth: month,
  cut: z.object({ seq: z.int(), moneyNo: z.int() }),
  boughtG: grams.meta({ description: 'From suppliers, less what went back; without packaging and tap water' }),
  servedBoughtG: grams.meta({ description: 'Bought food in what was served, whenever it was bought' }),
  wastedBoughtG: grams.meta({ description: 'Bought food in what was discarded, whenever it was bought' }),
  usedUpG: grams.meta({ description: 'Bought food that was served, eaten otherwise, discarded or lost in making' }),
  servedPercentOfUsedUp: percent,
  wastedPercentOfUsedUp: percent,
  pricedG: grams.meta({ description: 'Of boughtG, what has a price' }),
  boughtMinor: minor.meta({ description: 'What pricedG cost' }),
  averageMinorPerKg: z.int().nullable().meta({ description: 'Of bought food with a price; null when nothing has one' }),
});

const baselineFields = {
  baselineId: uuid,
  month,
  throughMonth: month,
  note: z.string().nullable(),
  recordedAt: instant,
};

const Baseline = z.object({ ...baselineFields, figures: Figures }).meta({ id: 'SavingsBaseline' });

const Savings = z
  .object({
    currency: z.string().meta({ description: 'ISO 4217' }),
    period: Figures,
    baseline: z.object(baselineFields).extend({ figures: Figures }),
    saved: z.object({
      wastePoints: z
        .number()
        .meta({ description: 'Percentage points less of what was bought wasted; below zero: more' }),
      servedPoints: z.number().meta({ description: 'Percentage points more of what was bought served' }),
      savedG: grams.meta({ description: 'Below zero: lost' }),
      savedMinor: z.int().nullable().meta({ description: 'null: nothing that was bought has a price' }),
    }),
    method: z.string(),
    cautions: z.array(z.string()).meta({ description: 'What would make it wrong' }),
  })
  .meta({ id: 'Savings' });

export const getSavings = defineOperation({
  id: 'getSavings',
  method: 'get',
  path: '/v1/reports/savings',
  tag: 'reporting',
  summary: "What was saved against a period of the group's own past",
  description:
    'Share of the bought mass that was served and that was wasted, in a period of at most twelve months and in the newest baseline, and what the ' +
    'difference in waste comes to. For the whole group, so for those who may read all of it. The answer says how it was worked out.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ month, throughMonth: monthQuery.throughMonth, recordedAt: monthQuery.recordedAt }),
  answers: { 200: { description: 'What was saved', schema: Savings } },
  errors: ['rule-broken', 'period-too-long', 'history-too-short'],
  example: { status: 200, query: { month: '2026-11' }, role: 'finance' },
});

export const createSavingsBaseline = defineOperation({
  id: 'createSavingsBaseline',
  method: 'post',
  path: '/v1/savings-baselines',
  tag: 'reporting',
  summary: 'Choose a period of the past to hold later ones against',
  description:
    'It is kept with what was known when it was chosen, so its figures stay what they are. The newest one holds; all are kept. A period that is ' +
    'over, of at most twelve months, in which food was bought.',
  permission: 'baselines.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({
    id: factId,
    month,
    throughMonth: month.optional().meta({ description: 'The last month; left out: one month' }),
    note: line(500).optional(),
  }),
  answers: { 201: { description: 'The baseline', schema: Baseline } },
  errors: ['rule-broken', 'month-not-ended', 'period-too-long', 'history-too-short'],
  example: {
    status: 201,
    role: 'finance',
    body: { id: exampleId('savings-baseline/example'), month: '2026-10', note: 'Before the new trim bins' },
  },
});

export type SavingsAnswer = z.output<typeof Savings>;
export type BaselineAnswer = z.output<typeof Baseline>;
