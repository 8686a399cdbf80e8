/** What people sign: controlling factors of a batch, and models that are valid for an item. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, line, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'shelf-life';
export const MOST_MINUTES = 10_000;
const document = line(200).meta({ description: 'Where it can be read: a report, a record sheet' });

const ControlFactorStatement = z
  .object({
    statementId: uuid,
    batchId: uuid,
    factor: z.enum(['heat', 'ph', 'salt', 'water-activity']),
    value: z.number(),
    minutes: z.number().nullable(),
    signedBy: z.string(),
    document: z.string().nullable(),
    checkId: uuid.nullable().meta({ description: 'It rests on this check, and counts no more when that is corrected' }),
    recordedAt: instant,
    recordedBy: uuid,
    lifts: z.boolean().meta({ description: 'It lifts the 10 days of vacuum-packed chilled food at the site now' }),
    whyNot: z.string().nullable(),
  })
  .meta({ id: 'ControlFactorStatement' });

export const createControlFactorStatement = defineOperation({
  id: 'createControlFactorStatement',
  method: 'post',
  path: '/v1/batches/{batchId}/control-factors',
  tag,
  summary: 'Sign that something besides the cold controls C. botulinum in a batch',
  description:
    'Lifts the 10-day rule for what the batch made, and nothing else; printed dates stay. Heat counts by the published equivalents to 90 °C ' +
    'for 10 minutes from 85 °C up; pH, salt and water activity only where their rule is confirmed for the site.',
  permission: 'shelf-life.decide',
  naming: 'fact',
  mode: 'write',
  params: z.strictObject({ batchId: uuid }),
  body: z
    .strictObject({
      id: factId,
      factor: z.enum(['heat', 'ph', 'salt', 'water-activity']),
      value: z.number().min(0).max(200).optional().meta({
        description:
          'Wanted without checkId. heat: core temperature, °C; salt: % in the water; pH and water activity as they are',
        example: 90,
      }),
      minutes: z
        .number()
        .min(1)
        .max(MOST_MINUTES)
        .optional()
        .meta({ description: 'heat without checkId only, and wanted there: how long at that temperature or more' }),
      checkId: uuid.optional().meta({
        description:
          'heat: a lethality check of the batch with the target botulinum-90 that stands and passed, in place of value and minutes. Of one load of several: every load needs one; the least counts. Only heat from 85 °C up is counted',
      }),
      signedBy: line(100),
      document: document.optional(),
    })
    .meta({ id: 'NewControlFactorStatement' }),
  answers: { 201: { description: 'Recorded', schema: ControlFactorStatement, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    role: 'quality',
    params: { batchId: exampleId('batch/awaiting') },
    body: {
      id: exampleId('new/control-factor'),
      factor: 'heat',
      value: 90,
      minutes: 10,
      signedBy: 'Nora Pell',
      document: 'Core probe sheet of the batch',
    },
  },
});

const celsius = z.number().min(-60).max(60);
const model = z
  .discriminatedUnion('kind', [
    z.strictObject({ kind: z.literal('square-root'), minTemperatureC: celsius.meta({ example: -10 }) }),
    z.strictObject({ kind: z.literal('q10'), q10: z.number().min(1).max(20) }),
    z.strictObject({
      kind: z.literal('arrhenius'),
      activationEnergyKjPerMol: z.number().min(1).max(500),
    }),
  ])
  .meta({ id: 'ItemLifeModel' });

const ModelValidation = z
  .object({
    validationId: uuid,
    itemId: uuid,
    version: z.int(),
    model: model.nullable().meta({ description: 'null: withdrawn' }),
    reference: z.object({ temperatureC: z.number(), lifeH: z.number() }).nullable(),
    validatedBy: z.string(),
    basis: z.enum(['challenge-test', 'shelf-life-study', 'published', 'from-memory']),
    document: z.string().nullable(),
    drives: z.boolean(),
    recordedAt: instant,
    recordedBy: uuid,
  })
  .meta({ id: 'ModelValidation' });

export const createModelValidation = defineOperation({
  id: 'createModelValidation',
  method: 'post',
  path: '/v1/items/{itemId}/model-validations',
  tag,
  summary: 'Say that a spoilage model holds for an item, or that it does no more',
  description:
    'From then on the model is a limit of every lot of the item, beside the others: it can bring a date forward, never put one back. A model ' +
    'with values from memory is told and drives nothing. Left out, model and reference say that the one before is withdrawn.',
  permission: 'policies.write',
  naming: 'fact',
  mode: 'write',
  params: z.strictObject({ itemId: uuid }),
  body: z
    .strictObject({
      id: factId,
      model: model.optional(),
      reference: z
        .strictObject({
          temperatureC: z.number().min(-5).max(40).meta({ example: 4 }),
          lifeH: z.number().min(1).max(50_000).meta({ example: 120 }),
        })
        .optional(),
      validatedBy: line(100),
      basis: z.enum(['challenge-test', 'shelf-life-study', 'published', 'from-memory']),
      document: document.optional(),
    })
    .meta({ id: 'NewModelValidation' }),
  answers: { 201: { description: 'Recorded', schema: ModelValidation, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    role: 'quality',
    params: { itemId: exampleId('item/beef-stew-pack') },
    body: {
      id: exampleId('new/model-validation'),
      model: { kind: 'square-root', minTemperatureC: -10 },
      reference: { temperatureC: 4, lifeH: 240 },
      validatedBy: 'Nora Pell',
      basis: 'shelf-life-study',
      document: 'Study of October 2026',
    },
  },
});
