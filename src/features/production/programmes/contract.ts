/** Packing programmes: what a machine is set to for a kind of food, and why. */
import { z } from 'zod';
import { FOOD_TYPES, REJECT_REASONS } from '../../../domain/process-checks/programmes.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'production';
const foodType = z.enum(FOOD_TYPES);
const basis = z
  .enum(['published', 'second-hand', 'common-practice', 'from-memory'])
  .meta({ description: 'Where the settings come from' });

const settings = {
  foodType,
  vacuumMbar: z
    .int()
    .min(1)
    .max(1000)
    .meta({ description: 'Pressure left in the chamber when it is sealed; 1000 is no vacuum', example: 40 }),
  pulses: z.int().min(1).max(10).meta({ description: '1: evacuated in one go; more: with rests between' }),
  earlyStop: z.boolean().meta({ description: 'Sealed as soon as bubbles rise' }),
  tiltedInsert: z.boolean().meta({ description: 'The pouch lies with its mouth up' }),
  gentleAirReturn: z.boolean().meta({ description: 'Air is let back slowly' }),
  doubleSeam: z.boolean(),
  sealTemperatureC: z.number().min(50).max(300).nullable().meta({
    description: 'null: the machine seals by time only',
  }),
  sealS: z.number().min(0.1).max(30).meta({ description: 'Seconds of sealing', example: 2.2 }),
  mostCoreTemperatureC: z.number().min(-30).max(95).meta({
    description: 'No warmer into the chamber: warm food boils while air is drawn',
    example: 3,
  }),
  reasons: z.array(line(300)).min(1).max(10).meta({ description: 'Why it is set like that, one sentence each' }),
};

const Programme = z
  .object({
    programmeId: uuid,
    code,
    name: z.string(),
    ...settings,
    basis,
    active: z.boolean(),
    version: z.int(),
  })
  .meta({ id: 'PackingProgramme' });

export type ProgrammeAnswer = z.output<typeof Programme>;

const params = z.strictObject({ programmeId: uuid });

export const createPackingProgramme = defineOperation({
  id: 'createPackingProgramme',
  method: 'post',
  path: '/v1/packing-programmes',
  tag,
  summary: 'Add a packing programme',
  description:
    'What a machine is set to for a kind of food. It belongs to the whole group; runs name it and keep the version that they were packed with.',
  permission: 'programmes.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      code,
      name: line(60),
      ...settings,
      sealTemperatureC: settings.sealTemperatureC.optional(),
      basis,
    })
    .meta({ id: 'NewPackingProgramme' }),
  answers: { 201: { description: 'Added', schema: Programme, headers: ['Location', 'ETag'] } },
  errors: ['code-taken'],
  example: {
    status: 201,
    role: 'quality',
    body: {
      id: exampleId('new/packing-programme'),
      code: 'FISH-LOW',
      name: 'Fish fillets, lower vacuum',
      foodType: 'delicate',
      vacuumMbar: 250,
      pulses: 1,
      earlyStop: false,
      tiltedInsert: false,
      gentleAirReturn: true,
      doubleSeam: false,
      sealTemperatureC: 175,
      sealS: 1.8,
      mostCoreTemperatureC: 3,
      reasons: ['A full vacuum crushes the flakes.'],
      basis: 'common-practice',
    },
  },
});

export const listPackingProgrammes = defineOperation({
  id: 'listPackingProgrammes',
  method: 'get',
  path: '/v1/packing-programmes',
  tag,
  summary: 'Packing programmes by code',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, foodType: foodType.optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Programme), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200, query: { foodType: 'moist-dish' } },
});

export const getPackingProgramme = defineOperation({
  id: 'getPackingProgramme',
  method: 'get',
  path: '/v1/packing-programmes/{programmeId}',
  tag,
  summary: 'One packing programme',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The programme', schema: Programme, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { status: 200, params: { programmeId: exampleId('packing-programme/moist') } },
});

export const changePackingProgramme = defineOperation({
  id: 'changePackingProgramme',
  method: 'patch',
  path: '/v1/packing-programmes/{programmeId}',
  tag,
  summary: 'Change a packing programme for the runs that are yet to come',
  permission: 'programmes.write',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z
    .strictObject({ name: line(60), ...settings, basis, active: z.boolean() })
    .partial()
    .meta({ id: 'PackingProgrammeChange' }),
  answers: { 200: { description: 'Changed', schema: Programme, headers: ['ETag'] } },
  errors: ['not-found'],
  example: {
    status: 200,
    role: 'quality',
    params: { programmeId: exampleId('packing-programme/moist') },
    body: { sealS: 2.4 },
    ifMatch: '*',
  },
});

const Suggestions = z
  .object({
    source: z.string(),
    basis: z.string(),
    confirmBy: z.string(),
    programmes: z.array(z.object({ name: z.string(), ...settings })),
    rejectReasons: z.array(z.object({ code: z.enum(REJECT_REASONS), label: z.string(), advice: z.string() })),
  })
  .meta({ id: 'PackingProgrammeSuggestions' });

export const getPackingProgrammeSuggestions = defineOperation({
  id: 'getPackingProgrammeSuggestions',
  method: 'get',
  path: '/v1/packing-programme-suggestions',
  tag,
  summary: 'What the trade does for each kind of food, with its reasons',
  description:
    'Common practice, to begin with: no text was read for the settings, and what seals depends on machine, pouch and food. Also the reasons for which packs are rejected, and what helps.',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  answers: { 200: { description: 'Settings by kind of food', schema: Suggestions } },
  errors: [],
  example: { status: 200 },
});
