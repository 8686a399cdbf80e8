/** Relabelling: parts whose labels say a later use-by than the one in force, and the proof that they were relabelled. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import {
  date,
  factId,
  instant,
  lotCode,
  pageQuery,
  quantity,
  quantityOrZero,
  serial,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const params = z.strictObject({ relabelId: uuid });
const How = z.enum(['scanned', 'written-witnessed']);

const Relabel = z
  .object({
    relabelId: uuid,
    siteId: uuid,
    placeId: uuid,
    placeName: z.string(),
    lotId: uuid,
    lotCode,
    itemName: z.string(),
    serialised: z.boolean(),
    quantity: quantityOrZero.meta({ description: 'What stands there now' }),
    unit,
    left: quantityOrZero.meta({
      description:
        'How much of it may still carry the old date. With doubt it counts: packs used since are taken for relabelled ones',
    }),
    printedUseByAt: instant.nullable(),
    printedUseByDate: date.nullable(),
    newUseByAt: instant.meta({ description: 'In force there; the first moment at which it may no longer be used' }),
    newUseByText: z.string().meta({ description: 'What to write on the pack, in the time of the site' }),
    over: z.boolean().meta({
      description: 'That date has passed: nothing is to be written on. Discard it, or ask the quality lead',
    }),
    ruling: z.string().meta({ description: 'The limit that rules' }),
    reason: z.string(),
    openedAt: instant,
    state: z.enum(['open', 'done', 'gone', 'replaced']).meta({
      description:
        'done: every label says the date. gone: nothing stands there any more. replaced: another date has come since, or it was loosened',
    }),
  })
  .meta({ id: 'Relabel', description: 'A part whose labels say a later use-by than the one in force' });

const RelabelDetail = Relabel.extend({
  done: z.array(
    z.object({
      doneId: uuid,
      how: How,
      quantity: quantityOrZero,
      serials: z.array(serial),
      witnessId: uuid.nullable(),
      nothingLeft: z.boolean(),
      doneAt: instant,
      doneBy: uuid,
      recordedAt: instant,
    }),
  ),
  caution: z.string(),
}).meta({ id: 'RelabelDetail' });

export const listRelabels = defineOperation({
  id: 'listRelabels',
  method: 'get',
  path: '/v1/relabels',
  tag: 'shelf-life',
  summary: 'What to relabel: packs, printed date, new date, why',
  description:
    'The earliest new date first. As JSON, or as a list to print for one site (format=pdf or Accept: application/pdf). One opens by itself ' +
    'when the use-by in force of a part becomes earlier than its label; it closes when the labels follow, or when the food is gone.',
  permission: 'shelf-life.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    open: z
      .enum(['true', 'false'])
      .optional()
      .meta({ description: 'All if left out; the printed list has the open ones' }),
    format: z.enum(['json', 'pdf']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'Relabels at your sites', schema: pageSchema(Relabel), headers: ['Link'] },
      { description: 'The open ones of a site on A4', contentType: 'application/pdf' },
    ],
  },
  errors: ['bad-cursor', 'not-found', 'rule-broken'],
  example: { status: 200, query: { open: 'true', format: 'json' } },
});

export const getRelabel = defineOperation({
  id: 'getRelabel',
  method: 'get',
  path: '/v1/relabels/{relabelId}',
  tag: 'shelf-life',
  summary: 'Read a relabel, with what was done',
  permission: 'shelf-life.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The relabel', schema: RelabelDetail } },
  errors: ['not-found'],
  example: { status: 200, params: { relabelId: exampleId('relabel/w3') } },
});

export const recordRelabel = defineOperation({
  id: 'recordRelabel',
  method: 'post',
  path: '/v1/relabels/{relabelId}/done',
  tag: 'shelf-life',
  summary: 'Say that packs were relabelled: scanned, or written on and witnessed',
  description:
    'Scanned: the serials of the new labels, or how many where packs have none. Where there is no printer: the date written on by hand, ' +
    'and who looked, which is somebody else. Until all are done the finding `label-outlives-use-by` stands.',
  permission: 'relabels.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      how: How,
      serials: z.array(serial).min(1).max(500).optional().meta({ description: 'Packs with serials, by scan' }),
      quantity: quantity.optional().meta({ description: 'Whole units of the lot; where no serials are named' }),
      witnessId: uuid.optional().meta({ description: 'Written on by hand: who looked' }),
      nothingLeft: z
        .boolean()
        .optional()
        .meta({ description: 'true: you looked, and nothing of the lot stands there with the old date' }),
      doneAt: instant.optional().meta({ description: 'Now if left out' }),
    })
    .meta({ id: 'NewRelabelDone' }),
  answers: { 201: { description: 'Recorded', schema: RelabelDetail, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken', 'serials-do-not-fit', 'wrong-state', 'time-in-future'],
  example: {
    status: 201,
    params: { relabelId: exampleId('relabel/w3') },
    body: {
      id: exampleId('new/relabel-done'),
      how: 'written-witnessed',
      quantity: 1,
      witnessId: exampleId('person/packer'),
    },
  },
});

export type RelabelAnswer = z.output<typeof Relabel>;
export type RelabelDetailAnswer = z.output<typeof RelabelDetail>;
