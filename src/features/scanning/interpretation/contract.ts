/** What a scan says and what it is here. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, instant, lotCode, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const Warning = z
  .object({
    code: z.string().meta({
      description:
        'Machine-readable: required-ai, excluded-ai, ai-repeated, separator-missing, gtin-or-lot, lot-unknown, lot-ambiguous, crate-unknown, article-unknown, article-differs, use-by-differs, use-by-shortened, label-superseded, serial-outside',
    }),
    ai: z.string().nullable().meta({ description: 'The application identifier that it is about' }),
    text: z.string().meta({ description: 'In plain words' }),
  })
  .meta({ id: 'ScanWarning' });

const Interpretation = z
  .object({
    form: z.enum(['element-string', 'digital-link', 'bracketed', 'gtin', 'lot-code']),
    symbologyIdentifier: z
      .string()
      .nullable()
      .meta({ description: 'Of ISO/IEC 15424, as ]d2; null: the reader sent none' }),
    elements: z
      .array(z.object({ ai: z.string(), value: z.string(), title: z.string() }))
      .meta({ description: 'As in the symbol, in its order' }),
    warnings: z.array(Warning),
    gtin: z.string().nullable().meta({ description: '14 digits' }),
    lotCode: z.string().nullable(),
    serial: z.string().nullable(),
    sscc: z.string().nullable(),
    useBy: date
      .nullable()
      .meta({ description: 'From (17) or (7003); the last day of the month where the symbol has no day' }),
    useByTime: z.string().nullable().meta({ description: 'HH:MM where it was packed; with (7003) only' }),
    bestBefore: date.nullable(),
    productionDate: date.nullable(),
    packedOn: date.nullable(),
    netWeightG: z.int().nullable().meta({ description: 'Whole grams; null also when the symbol has parts of a gram' }),
    netWeightKg: z.string().nullable().meta({ description: 'Exactly as the symbol has it' }),
    count: z.int().nullable(),
    gln: z.string().nullable(),
    shipToGln: z.string().nullable(),
    contentGtin: z.string().nullable(),
    digitalLink: z.string().nullable().meta({ description: 'The same as a canonical GS1 Digital Link' }),
    bracketed: z.string().nullable().meta({ description: 'The same for people' }),
    matches: z.object({
      lots: z
        .array(
          z.object({
            lotId: uuid,
            lotCode,
            itemId: uuid,
            itemName: z.string(),
            how: z.enum(['lot-code', 'supplier-lot-code']),
            useBy: date.nullable().meta({ description: 'In force for the lot; null: none, or an instant' }),
          }),
        )
        .meta({ description: 'More than one: the supplier used one code for several deliveries' }),
      item: z.object({ itemId: uuid, code: z.string(), name: z.string() }).nullable(),
      crate: z.object({ crateId: uuid, code: z.string(), kind: z.enum(['crate', 'roll-cage', 'pallet']) }).nullable(),
      dispatches: z
        .array(z.object({ dispatchId: uuid, code: z.string(), toSiteId: uuid }))
        .meta({ description: 'Those that carry the crate, from or to your sites' }),
      site: z.object({ siteId: uuid, code: z.string(), name: z.string() }).nullable().meta({ description: 'By GLN' }),
    }),
    judgedAt: z
      .object({ siteId: uuid, placeId: uuid })
      .nullable()
      .meta({ description: 'Where mayUse holds: the place asked about, else where the site receives' }),
    mayUse: z.boolean().nullable().meta({
      description:
        'null: no one lot is known. Of a crate: whether all that its dispatch says is in it may be used. false also where the label alone says so',
    }),
    whyNot: z.string().nullable().meta({ description: 'In words that a cook can act on' }),
  })
  .meta({ id: 'ScanInterpretation' });

export const createScanInterpretation = defineOperation({
  id: 'createScanInterpretation',
  method: 'post',
  path: '/v1/scan-interpretations',
  tag: 'scanning',
  summary: 'Say what a scan says, and what it is here',
  description:
    'Records nothing. Takes what any reader sends: a GS1 element string with GS (U+001D) between elements, with or without the symbology identifier; a GS1 Digital Link; the bracketed text; a bare GTIN; a plain label of ours. Two-digit years are told by the day of reading. Where a separator is missing behind a lot, the lot is looked up. What cannot be read answers 422 with `position` (from 0) and `reason`. mayUse is decision support: it knows holds and dates that are recorded, not how the pack looks or smells; whoever uses it decides.',
  permission: 'scans.write',
  naming: 'none',
  mode: 'read',
  body: z
    .strictObject({
      scan: z.string().min(1).max(16_384).meta({
        description:
          'As the reader sent it, any character; CR, LF or tab at the end is left out; more than 4,096 are refused as unreadable',
      }),
      readAt: instant,
      siteId: uuid.optional().meta({ description: 'Where it was read; your site, if you have one only' }),
      placeId: uuid.optional().meta({ description: 'Where the pack is; a place of that site' }),
    })
    .meta({ id: 'NewScanInterpretation' }),
  answers: { 200: { description: 'What it says', schema: Interpretation } },
  errors: ['not-found', 'rule-broken', 'scan-unreadable'],
  example: {
    status: 200,
    body: { scan: 'STEW-1/31', readAt: '2026-11-25T11:02:10+00:00', siteId: exampleId('site/w3') },
  },
});
