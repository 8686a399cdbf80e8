/** What making food adds to what went in: labour, energy, overhead, packaging. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { date, factId, instant, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { amountMinor, currency } from '../prices/contract.ts';

const kind = z.enum(['labour', 'energy', 'overhead', 'packaging']);

const CostRate = z
  .object({
    costRateId: uuid,
    kind,
    siteId: uuid.nullable().meta({ description: 'null: every site' }),
    recipeId: uuid.nullable().meta({ description: 'null: every recipe' }),
    perBatchMinor: amountMinor.nullable(),
    perKgMinor: amountMinor.nullable().meta({ description: 'For each kg that comes out of the batch' }),
    currency,
    fromDate: date,
    throughDate: date.nullable().meta({ description: 'null: until another takes its place' }),
    note: z.string().nullable(),
    replaced: z
      .boolean()
      .meta({ description: 'A newer one of the same kind, site, recipe and fromDate took its place' }),
    moneyNo: z
      .int()
      .meta({ description: 'Its number among the facts that change costs, in the order in which they became known' }),
    recordedAt: instant,
    recordedBy: uuid,
  })
  .meta({ id: 'CostRate' });

export const createCostRate = defineOperation({
  id: 'createCostRate',
  method: 'post',
  path: '/v1/cost-rates',
  tag: 'costs',
  summary: 'Say what labour, energy, overhead or packaging add to a batch or to a kg of its output',
  description:
    'A batch carries of each kind the most specific rate of the day on which it began: for its recipe and site, its recipe, its site, or for ' +
    'all; of equals the one that began later. Saying it again with the same kind, site, recipe and fromDate takes the place of what was said ' +
    'before; 0 ends it. An amount for the batch is shared like what went in; an amount for a kg is carried by what came out.',
  permission: 'cost-rates.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      kind,
      siteId: uuid.optional(),
      recipeId: uuid.optional(),
      perBatchMinor: amountMinor.optional(),
      perKgMinor: z.int().min(0).max(100_000_000).optional(),
      currency: currency.optional(),
      fromDate: date,
      throughDate: date.optional(),
      note: line(300).optional(),
    })
    .meta({ id: 'NewCostRate' }),
  answers: { 201: { description: 'Recorded', schema: CostRate, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken', 'currency-differs', 'month-closed'],
  example: {
    status: 201,
    role: 'finance',
    body: {
      id: exampleId('new/cost-rate'),
      kind: 'labour',
      siteId: exampleId('site/ck'),
      perKgMinor: 85,
      fromDate: '2026-12-01',
      note: 'Two cooks and a porter, from the rota of November',
    },
  },
});

export const listCostRates = defineOperation({
  id: 'listCostRates',
  method: 'get',
  path: '/v1/cost-rates',
  tag: 'costs',
  summary: 'List rates, newest first',
  permission: 'costs.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ kind: kind.optional(), siteId: uuid.optional(), recipeId: uuid.optional(), ...pageQuery }),
  answers: { 200: { description: 'Of your sites and of every site', schema: pageSchema(CostRate), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200 },
});
