/** Previews of labels of crates: logistic labels with the SSCC. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { crateIdOf } from '../../distribution/index.ts';
import { language } from '../settings/contract.ts';
import { crateLayout, fileAnswers, fileQuery } from '../shapes.ts';

const looks = z.strictObject({
  siteId: uuid
    .optional()
    .meta({ description: 'Whose language is used; where it goes from, or your only site, if left out' }),
  layout: crateLayout.optional().meta({ description: 'roll-100x150 if left out' }),
  language: language.optional(),
  ...fileQuery,
});
const description =
  'Records nothing: what goes on crates is recorded by a label print. The SSCC as GS1-128, what is in the crate, where from and to, the ' +
  'earliest use-by. Holds are printed; they keep no crate from having its label.';

export const printCrateLabel = defineOperation({
  id: 'printCrateLabel',
  method: 'get',
  path: '/v1/crates/{crateId}/label',
  tag: 'labels',
  summary: 'See the label of a crate, at true size',
  description,
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ crateId: uuid }),
  query: looks,
  answers: { 200: fileAnswers },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, params: { crateId: crateIdOf(exampleId('crates/w3-cage'), 1) }, query: { format: 'png' } },
});

export const printDispatchLabels = defineOperation({
  id: 'printDispatchLabels',
  method: 'get',
  path: '/v1/dispatches/{dispatchId}/labels',
  tag: 'labels',
  summary: 'See the labels of the crates of a dispatch',
  description,
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ dispatchId: uuid }),
  query: looks,
  answers: { 200: fileAnswers },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, params: { dispatchId: exampleId('dispatch/w3-on-the-road') } },
});
