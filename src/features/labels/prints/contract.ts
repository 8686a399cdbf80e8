/** Prints of labels: the record of every label that went on a pack, why, and what stood on it. */
import { z } from 'zod';
import { printReasons } from '../../../domain/labels/prints.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { factId, instant, lotCode, pageQuery, said, serial, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { language, layout, symbol } from '../settings/contract.ts';
import { fileAnswers, fileQuery, serialRanges } from '../shapes.ts';

const about = z.strictObject({ kind: z.enum(['lot', 'packing-run', 'relabel', 'crate', 'dispatch']), id: uuid }).meta({
  description:
    'What the labels are for. dispatch: its crates. relabel: the earlier date of a part, which supersedes the labels before',
});
const reason = z
  .enum(printReasons)
  .meta({ description: 'See shared/label-reasons.json. quarantine: labels that say not to use it, without a date' });

const PrintedPack = z.object({
  lotId: uuid,
  lotCode,
  itemName: z.string(),
  serial: serial.nullable().meta({ description: 'null: a counted lot' }),
  labels: z.int(),
  useByAt: instant.nullable().meta({ description: 'On the label; null on a quarantine label' }),
  supersededByPrintId: uuid.nullable().meta({
    description: 'A later print of this pack that says an earlier date, or not to use it: this label no longer holds',
  }),
});

const head = {
  printId: uuid,
  siteId: uuid,
  about: z.object({ kind: z.string(), id: uuid }),
  reason: z.string(),
  note: z.string().nullable(),
  layout,
  copies: z.int(),
  labels: z.int(),
  sister: z.object({ serial, secondPersonId: uuid }).nullable(),
  printedAt: instant,
  printedBy: uuid,
};

const LabelPrintHead = z.object(head).meta({ id: 'LabelPrintHead' });

const LabelPrint = z
  .object({
    ...head,
    packs: z.array(PrintedPack),
    crates: z.array(z.object({ code: z.string(), labels: z.int() })),
    files: z
      .object({ pdf: z.string(), svg: z.string(), png: z.string() })
      .meta({ description: 'Where the labels are, as they were printed' }),
  })
  .meta({ id: 'LabelPrint' });

const params = z.strictObject({ printId: uuid });

export const createLabelPrint = defineOperation({
  id: 'createLabelPrint',
  method: 'post',
  path: '/v1/label-prints',
  tag: 'labels',
  summary: 'Print labels, and record that they were printed',
  description:
    'A first print needs no reason; a pack whose label was printed before needs one. A label copied from a sister pack needs a second ' +
    'person who may print at the site and is somebody else. What waits for release is labelled, and says so; food on another hold or ' +
    'past its use-by gets quarantine labels only. A relabel prints the earlier date and supersedes the labels before; say by ' +
    '`POST /v1/relabels/{relabelId}/done` when they are on the packs.',
  permission: 'labels.print',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      about,
      serials: serialRanges.optional().meta({
        description: 'All of a serialised lot if left out; for a relabel of packs with serials they have to be said',
      }),
      siteId: uuid
        .optional()
        .meta({ description: 'Where it is printed; where the food is, or your only site, if left out' }),
      layout: layout
        .optional()
        .meta({ description: "Of packs the site's if left out; of crates roll-100x150, or a4-2x2" }),
      symbol: symbol.optional(),
      language: language.optional(),
      copies: z
        .int()
        .min(1)
        .max(500)
        .optional()
        .meta({ description: 'Of each; of a counted lot, how many labels. 1 if left out' }),
      reason: reason.optional(),
      note: said(500).optional(),
      sister: z
        .strictObject({
          serial: serial.meta({ description: 'Of the pack whose label was read in place of the damaged one' }),
          secondPersonId: uuid.optional().meta({ description: 'Who saw both packs as well' }),
        })
        .optional(),
    })
    .meta({ id: 'NewLabelPrint' }),
  answers: { 201: { description: 'Recorded', schema: LabelPrint, headers: ['Location'] } },
  errors: [
    'not-found',
    'rule-broken',
    'serials-do-not-fit',
    'label-reason-missing',
    'second-person-needed',
    'on-hold',
    'past-use-by',
    'item-unsuitable',
    'wrong-state',
  ],
  example: {
    status: 201,
    body: {
      id: exampleId('new/label-print'),
      about: { kind: 'lot', id: exampleId('lot/beef-stew-packs-1') },
      serials: '3',
      reason: 'damaged',
      note: 'Wet through in the crate',
      sister: { serial: '4', secondPersonId: exampleId('person/packer') },
    },
  },
});

export const listLabelPrints = defineOperation({
  id: 'listLabelPrints',
  method: 'get',
  path: '/v1/label-prints',
  tag: 'labels',
  summary: 'Prints of labels, the newest first',
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    lotId: uuid.optional(),
    serial: serial.optional().meta({ description: 'With lotId' }),
    reason: reason.optional(),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(LabelPrintHead), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { lotId: exampleId('lot/beef-stew-packs-1') } },
});

export const getLabelPrint = defineOperation({
  id: 'getLabelPrint',
  method: 'get',
  path: '/v1/label-prints/{printId}',
  tag: 'labels',
  summary: 'One print, with its packs and whether its labels still hold',
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The print', schema: LabelPrint } },
  errors: ['not-found'],
  example: { status: 200, params: { printId: exampleId('label-print/stew') } },
});

export const getLabelPrintFile = defineOperation({
  id: 'getLabelPrintFile',
  method: 'get',
  path: '/v1/label-prints/{printId}/file',
  tag: 'labels',
  summary: 'The labels of a print as they were printed',
  description:
    'Drawn again from what was kept with the print. Drawing them again is no print: for a further label record one.',
  permission: 'labels.read',
  naming: 'none',
  mode: 'read',
  params,
  query: z.strictObject({
    ...fileQuery,
    label: z
      .string()
      .regex(/^([1-9]|[1-9]\d|[1-4]\d\d|500)$/, 'a whole number from 1 to 500')
      .optional()
      .meta({ description: 'Which label, counted from 1; a picture is of the first if left out, a PDF of all' }),
  }),
  answers: { 200: fileAnswers },
  errors: ['not-found', 'rule-broken'],
  example: { status: 200, params: { printId: exampleId('label-print/stew') }, query: { format: 'svg', label: '2' } },
});
