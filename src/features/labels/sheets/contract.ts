/** Sheets to write on when the network is down: a batch, a drop, the temperatures of a day. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const pdf = (description: string) => ({ 200: { description, contentType: 'application/pdf' } }) as const;

export const printRecipeSheet = defineOperation({
  id: 'printRecipeSheet',
  method: 'get',
  path: '/v1/recipes/{recipeId}/batch-sheet',
  tag: 'labels',
  summary: 'Print a batch sheet for a batch that is not opened yet',
  description:
    'What the recipe expects, the lots that the site has of it (earliest date first) with their codes, and lines to write on. What was ' +
    'written is entered afterwards through the recorded-afterwards operations.',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ recipeId: uuid }),
  query: z.strictObject({ siteId: uuid.meta({ description: 'The kitchen that cooks' }) }),
  answers: pdf('The sheet, A4'),
  errors: ['not-found'],
  example: {
    status: 200,
    params: { recipeId: exampleId('recipe/beef-stew') },
    query: { siteId: exampleId('site/ck') },
  },
});

export const printBatchSheet = defineOperation({
  id: 'printBatchSheet',
  method: 'get',
  path: '/v1/batches/{batchId}/sheet',
  tag: 'labels',
  summary: 'Print the sheet of a batch, with its code',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ batchId: uuid }),
  answers: pdf('The sheet, A4'),
  errors: ['not-found'],
  example: { status: 200, params: { batchId: exampleId('batch/open') } },
});

export const printDropSheet = defineOperation({
  id: 'printDropSheet',
  method: 'get',
  path: '/v1/dispatches/{dispatchId}/sheet',
  tag: 'labels',
  summary: 'Print the drop sheet of a dispatch: what is sent, with codes, and lines for what was found',
  permission: 'dispatch.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ dispatchId: uuid }),
  answers: pdf('The sheet, A4'),
  errors: ['not-found'],
  example: { status: 200, params: { dispatchId: exampleId('dispatch/w3-on-the-road') } },
});

export const printTemperatureSheet = defineOperation({
  id: 'printTemperatureSheet',
  method: 'get',
  path: '/v1/sites/{siteId}/temperature-sheet',
  tag: 'labels',
  summary: "Print a day's temperature sheet of a site's places",
  description: "The limits are those of the group's food-safety plan: they are written in by hand.",
  permission: 'stock.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ siteId: uuid }),
  query: z.strictObject({ date: date.optional().meta({ description: "The site's today, if left out" }) }),
  answers: pdf('The sheet, A4'),
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, params: { siteId: exampleId('site/w3') }, query: { date: '2026-11-25' } },
});
