/** Crates: made with their SSCCs, put into each other, read with what is in them. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import {
  code,
  factId,
  instant,
  lotCode,
  pageQuery,
  quantity,
  scannedCode,
  serial,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { crateIdOf } from './names.ts';

const tag = 'distribution';
const params = z.strictObject({ crateId: uuid });
const crateCode = scannedCode
  .max(20)
  .meta({ description: 'What a dispatch line calls it: the SSCC, or a code of your own' });
const sscc = z.string().regex(/^[0-9]{18}$/, '18 digits');
const kind = z.enum(['crate', 'roll-cage', 'pallet']);

const CrateHead = z
  .object({
    crateId: uuid,
    code: crateCode,
    sscc: sscc.nullable().meta({ description: 'null: it has a code of your own' }),
    kind,
    boxTypeId: uuid.nullable(),
    boxTypeCode: code.nullable(),
    madeAtSiteId: uuid,
    madeAt: instant,
  })
  .meta({ id: 'CrateHead' });

const CratePlacement = z
  .object({
    placementId: uuid,
    crateId: uuid,
    crateCode,
    intoCrateId: uuid.nullable().meta({ description: 'null: taken out of the one that it was in' }),
    intoCrateCode: crateCode.nullable(),
    siteId: uuid,
    occurredAt: instant,
    recordedAt: instant,
  })
  .meta({ id: 'CratePlacement' });

const Crate = CrateHead.extend({
  state: z
    .enum(['empty', 'planned', 'on-the-road', 'delivered'])
    .meta({ description: 'By the latest dispatch that carries it or what is in it; delivered: its receipt is closed' }),
  atSiteId: uuid
    .nullable()
    .meta({ description: 'null on the road. Empty boxes that go without a dispatch are counted, not followed' }),
  inCrates: z
    .array(z.object({ crateId: uuid, code: crateCode }))
    .meta({ description: 'The crates around it now, from the inside out' }),
  inside: z
    .array(
      z.object({
        crateId: uuid,
        code: crateCode,
        sscc: sscc.nullable(),
        inCrateId: uuid,
        level: z.int().meta({ description: '1: directly in it' }),
      }),
    )
    .meta({ description: 'The crates in it now, in the order of a tree' }),
  dispatches: z
    .array(
      z.object({
        dispatchId: uuid,
        dispatchCode: code,
        fromSiteId: uuid,
        toSiteId: uuid,
        state: z.enum(['planned', 'departed', 'closed']),
        departedAt: instant.nullable(),
        lines: z.array(
          z.object({
            crateCode: crateCode.meta({ description: 'Its own, or that of a crate in it when the dispatch left' }),
            lotId: uuid,
            lotCode,
            itemName: z.string(),
            quantity,
            unit,
            serials: z.array(serial),
          }),
        ),
      }),
    )
    .meta({ description: 'The latest ten of your sites that carry it or what is in it, the newest first' }),
  placements: z
    .array(CratePlacement)
    .meta({ description: 'The latest hundred of it and of others into it, the newest first' }),
}).meta({ id: 'Crate', description: 'A logistic unit: a crate, a roll cage, a pallet' });

export const createCrates = defineOperation({
  id: 'createCrates',
  method: 'post',
  path: '/v1/crates',
  tag,
  summary: 'Make crates: each gets an SSCC of its own',
  description:
    "Numbers are taken from the group's SSCC ranges; none is given twice, however many ask at once. Without a company prefix, crates can have codes of your own: say `codes` in place of `count`. What is in a crate stands on the lines of a dispatch, by its code.",
  permission: 'crates.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      siteId: uuid,
      kind: kind.optional().meta({ description: 'crate, if left out' }),
      count: z.int().min(1).max(200).optional(),
      codes: z
        .array(crateCode)
        .min(1)
        .max(200)
        .optional()
        .meta({ description: 'Codes of your own, in place of SSCCs' }),
      boxTypeId: uuid.optional().meta({ description: 'The kind of box that has to come back' }),
    })
    .meta({ id: 'NewCrates' }),
  answers: {
    201: {
      description: 'Made',
      schema: z.object({ items: z.array(CrateHead) }).meta({ id: 'NewCratesAnswer' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'no-company-prefix', 'sscc-used-up', 'code-taken', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/crates'),
      siteId: exampleId('site/ck'),
      count: 3,
      boxTypeId: exampleId('box-type/grey'),
    },
  },
});

export const listCrates = defineOperation({
  id: 'listCrates',
  method: 'get',
  path: '/v1/crates',
  tag,
  summary: 'Crates of your sites, or by what is on the label',
  permission: 'crates.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional().meta({ description: 'Made there, or sent from there or to there' }),
    dispatchId: uuid.optional().meta({ description: 'On its lines, or around those' }),
    code: crateCode.optional(),
    sscc: sscc.optional(),
  }),
  answers: { 200: { description: 'Crates', schema: pageSchema(CrateHead), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { dispatchId: exampleId('dispatch/w3-on-the-road') } },
});

export const getCrate = defineOperation({
  id: 'getCrate',
  method: 'get',
  path: '/v1/crates/{crateId}',
  tag,
  summary: 'Read a crate: where it is, what is in it, what was put into what',
  permission: 'crates.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The crate', schema: Crate } },
  errors: ['not-found'],
  example: { status: 200, params: { crateId: crateIdOf(exampleId('crates/w3-cage'), 1) } },
});

export const createCratePlacement = defineOperation({
  id: 'createCratePlacement',
  method: 'post',
  path: '/v1/crates/{crateId}/placements',
  tag,
  summary: 'Put a crate into another one, or take it out',
  description:
    'One beep of the outer crate then stands for every crate in it. What was in what when a dispatch left decides, so a placement that is recorded afterwards needs its time. At most five levels.',
  permission: 'crates.write',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      intoCrateId: uuid.nullable().meta({ description: 'null: taken out of the one that it is in' }),
      siteId: uuid.optional().meta({ description: 'Where it was done; where the crate is, if left out' }),
      occurredAt: instant.optional().meta({ description: 'Now, if left out' }),
    })
    .meta({ id: 'NewCratePlacement' }),
  answers: { 201: { description: 'Recorded', schema: CratePlacement, headers: ['Location'] } },
  errors: ['not-found', 'crate-in-itself', 'rule-broken', 'time-in-future'],
  example: {
    status: 201,
    params: { crateId: crateIdOf(exampleId('crates/spare'), 1) },
    body: { id: exampleId('new/crate-placement'), intoCrateId: crateIdOf(exampleId('crates/spare-cage'), 1) },
  },
});
