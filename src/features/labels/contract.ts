/** Previews of labels of lots and packing runs. What is drawn here is not recorded; a print that counts is a label print. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { exampleId } from '../../platform/ids.ts';
import { uuid } from '../../platform/http/scalars.ts';
import { lotParams } from '../ledger/index.ts';
import { layout, language, symbol } from './settings/contract.ts';
import { fileAnswers, fileQuery, serialRanges } from './shapes.ts';

const looks = {
  siteId: uuid
    .optional()
    .meta({ description: 'Whose settings are used; where the food was made, or your only site, if left out' }),
  layout: layout.optional(),
  symbol: symbol.optional(),
  language: language.optional(),
  quarantine: z
    .enum(['true', 'false'])
    .optional()
    .meta({ description: 'true: a label that says not to use it, without a date; also for food that gets no other' }),
  ...fileQuery,
};

const refused = ['not-found', 'rule-broken', 'on-hold', 'past-use-by', 'item-unsuitable'] as const;

export const printLotLabels = defineOperation({
  id: 'printLotLabels',
  method: 'get',
  path: '/v1/lots/{lotId}/label',
  tag: 'labels',
  summary: 'See labels of a lot, at true size',
  description:
    'Records nothing: what goes on packs is recorded by a label print. The use-by printed is the one in force when that is earlier than the ' +
    'one at birth. A serialised lot gets one label for each serial asked for, a counted lot one label; at most 500 at once. That it waits for ' +
    'release or a laboratory, or lacks an allergen on its label, is printed. Food on any other hold or past its use-by gets a quarantine label ' +
    'or none.',
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  query: z.strictObject({
    serials: serialRanges
      .optional()
      .meta({ description: 'Serials and ranges of them; all of a serialised lot if left out' }),
    placeId: uuid
      .optional()
      .meta({ description: 'Where the packs stand: the use-by in force there; the earliest of any part if left out' }),
    ...looks,
  }),
  answers: { 200: fileAnswers },
  errors: [...refused, 'serials-do-not-fit'],
  example: { status: 200, params: { lotId: exampleId('lot/beef-stew-packs-1') }, query: { serials: '1-2' } },
});

export const printRunLabels = defineOperation({
  id: 'printRunLabels',
  method: 'get',
  path: '/v1/packing-runs/{packingRunId}/labels',
  tag: 'labels',
  summary: 'See the labels of all packs of a packing run',
  description: 'Records nothing. One for each pack of each lot that the run made; at most 500.',
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ packingRunId: uuid }),
  query: z.strictObject(looks),
  answers: { 200: fileAnswers },
  errors: refused,
  example: { status: 200, params: { packingRunId: exampleId('packing-run/beef-stew') }, query: { layout: 'a4-2x4' } },
});
