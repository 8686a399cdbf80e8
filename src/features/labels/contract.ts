/** Labels of lots, ready for the printer. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { exampleId } from '../../platform/ids.ts';
import { uuid } from '../../platform/http/scalars.ts';
import { lotParams } from '../ledger/index.ts';

const RANGE = '[1-9][0-9]{0,5}(-[1-9][0-9]{0,5})?';

export const printLotLabels = defineOperation({
  id: 'printLotLabels',
  method: 'get',
  path: '/v1/lots/{lotId}/label',
  tag: 'labels',
  summary: 'Print labels of a lot, 100 x 60 mm, one a page',
  description:
    'The use-by printed is the one in force when that is earlier than the one at birth. A serialised lot gets one label for each ' +
    'serial asked for, a counted lot one label; at most 500 at once. A hold in force is printed. No label for a rejected lot, ' +
    'for one without a use-by, or for an item that is not lot-tracked.',
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params: lotParams,
  query: z.strictObject({
    serials: z
      .string()
      .max(400)
      .regex(new RegExp(`^${RANGE}(,${RANGE})*$`), 'serials such as 1-20, 3 or 1,4,7-9')
      .optional()
      .meta({ description: 'Serials and ranges of them; all of a serialised lot if left out' }),
    placeId: uuid
      .optional()
      .meta({ description: 'Where the packs stand: the use-by in force there; the earliest of any part if left out' }),
  }),
  answers: { 200: { description: 'The labels', contentType: 'application/pdf' } },
  errors: ['not-found', 'serials-do-not-fit', 'rule-broken', 'on-hold', 'item-unsuitable'],
  example: { status: 200, params: { lotId: exampleId('lot/beef-stew-packs-1') }, query: { serials: '1-2' } },
});
