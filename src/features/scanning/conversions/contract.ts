/** Conversions at a site: one beep opens, decants, portions, regenerates, cooks, freezes, thaws or sets a sample aside. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import {
  date,
  factId,
  instant,
  line,
  lotCode,
  quantity,
  scannedSymbol,
  serial,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { FindingBrief } from '../../ledger/index.ts';

const kind = z.enum(['open', 'decant', 'portion', 'regenerate', 'cook', 'freeze', 'thaw', 'sample']);
const integerText = z.string().regex(/^-?\d+$/);
const exactG = z
  .object({ numerator: integerText, denominator: integerText })
  .meta({ description: 'Grams as an exact fraction' });

const NewConversion = z
  .strictObject({
    id: factId,
    kind,
    code: scannedSymbol.optional().meta({
      description: 'As read: LOT or LOT/SERIAL, or the GS1 symbol of the pack; goes with siteId',
      example: 'STEW-1/7',
    }),
    lotId: uuid.optional().meta({ description: 'Instead of code; goes with placeId' }),
    siteId: uuid.optional(),
    placeId: uuid.optional().meta({
      description: 'Where it was taken from. A pack with a serial: where its scans say, if left out',
    }),
    quantity: quantity.optional().meta({ description: 'What goes in; 1 for packs if left out, required for bulk' }),
    unit: unit.optional(),
    toItemId: uuid
      .optional()
      .meta({ description: "What it becomes; the item's openedItemId or the same item if left out" }),
    toQuantity: quantity.optional().meta({ description: 'As counted or weighed; computed if left out' }),
    toUnit: unit.optional(),
    toPlaceId: uuid.optional().meta({
      description: 'Where it is put; thawing: the chilled, freezing: the frozen put-away; else where it was',
    }),
    toLotCode: lotCode.optional(),
    serialised: z
      .boolean()
      .optional()
      .meta({ description: 'New labels with serial numbers; freezing and thawing: as it was, if left out' }),
    occurredAt: instant,
    coreTemperatureC: z.number().min(-60).max(150).multipleOf(0.01).optional().meta({
      description:
        'cook: with 60 °C or more it counts as a kill step; whether it was enough is for your food-safety plan to say',
    }),
    disposeAfter: date.optional().meta({
      description: 'sample: the last day that it is kept; as many days as are usual, and said so, if left out',
    }),
    sampleFor: z.enum(['retained', 'laboratory']).optional().meta({ description: 'sample: retained if left out' }),
  })
  .meta({ id: 'NewConversion' });

const ConversionLimit = z.object({
  why: z.enum([
    'source-use-by',
    'opened-life',
    'regenerated-life',
    'frozen-life',
    'days-left',
    'time-left',
    'thawed-life',
    'item-life',
    'dispose-after',
  ]),
  endsAt: instant,
  date: date.nullable(),
});

const Conversion = z
  .object({
    conversionId: uuid,
    entryId: uuid.meta({ description: 'Brought the new lot about; undo the whole conversion by it' }),
    kind,
    siteId: uuid,
    occurredAt: instant,
    occurredOn: date,
    recordedAt: instant,
    source: z.object({
      lotId: uuid,
      lotCode,
      serial: serial.nullable(),
      placeId: uuid,
      quantity,
      unit,
    }),
    lot: z.object({
      lotId: uuid,
      code: lotCode,
      itemId: uuid,
      itemName: z.string(),
      quantity,
      unit,
      serialised: z.boolean(),
      handling: z.enum(['raw', 'ready-to-eat']),
      placeId: uuid,
      placePresumed: z.boolean().meta({ description: 'Nobody said where it is' }),
      useByAt: instant.nullable().meta({ description: 'The first moment at which it may no longer be used' }),
      useByDate: date.nullable(),
    }),
    limits: z
      .array(ConversionLimit)
      .meta({ description: 'Each that applies, the earliest first: that one is in force' }),
    assumed: z.array(z.string()).meta({ description: 'What was taken for granted' }),
    consumedG: exactG,
    outputG: exactG,
    unexplainedG: exactG.meta({ description: 'Went in and did not come out; below zero when more came out' }),
    label: z.object({
      path: line(200).nullable().meta({ description: 'Where its label is; null when there is no use-by to print' }),
      printTime: z.boolean().meta({ description: 'The date alone is not enough: hours rule' }),
      text: z.string().meta({ description: 'What to print or write on it', example: 'Use by 2026-11-26 11:40' }),
    }),
    findings: z.array(FindingBrief),
    mayUse: z.boolean(),
    whyNot: z.string().nullable().meta({ description: 'In words that a cook can act on' }),
    caution: z.string(),
  })
  .meta({ id: 'Conversion' });

export const createConversion = defineOperation({
  id: 'createConversion',
  method: 'post',
  path: '/v1/conversions',
  tag: 'stock',
  summary: 'Open, decant, portion, regenerate, cook, freeze, thaw or set aside a sample: one lot becomes another',
  description:
    'An observation: it states what happened at a site and is never refused for stock, hold or date; what conflicts with the rules ' +
    'becomes a finding. With a scanned code all else has defaults. The new lot has its own code and label, the allergens of both ' +
    'and the earliest of all limits that apply; no life is ever made longer, and no hours are made up where none are set. What was ' +
    'opened once stays opened. Freezing keeps what was left of the life, thawing gives that much back and no more; what was thawed ' +
    'and frozen again without cooking between is held. Undo it by a reversal of its entry.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: NewConversion,
  answers: { 201: { description: 'Recorded', schema: Conversion, headers: ['Location'] } },
  errors: [
    'not-found',
    'unit-mismatch',
    'rule-broken',
    'serials-do-not-fit',
    'scan-unreadable',
    'portions-do-not-divide',
    'item-unsuitable',
    'code-taken',
  ],
  example: {
    status: 201,
    body: {
      id: exampleId('new/conversion'),
      kind: 'open',
      siteId: exampleId('site/w3'),
      code: 'STEW-1/31',
      occurredAt: '2026-11-25T11:40:00+00:00',
    },
  },
});

export type ConversionAnswer = z.output<typeof Conversion>;
