/** Excursions: stretches of time outside a place's or a dispatch's limits. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { instant, pageQuery, quantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId, groupIdOf } from '../../../platform/ids.ts';
import { excursionIdOf } from './names.ts';

const state = z.enum(['open', 'ended', 'superseded']).meta({
  description:
    'open: it goes on in the last reading that is known. superseded: later readings or statements say otherwise; kept to show what was believed meanwhile',
});

const Trip = z.object({
  dispatchId: uuid,
  code: z.string(),
  fromSiteId: uuid,
  toSiteId: uuid,
  fromAt: instant.meta({ description: 'From when it was on the road during the excursion' }),
  toAt: instant.nullable().meta({ description: 'Until when; null while it is on the road and the excursion is open' }),
});

const fields = {
  excursionId: uuid,
  siteId: uuid.meta({ description: 'Of the place; of a vehicle or crate, the site whose sensor it carries' }),
  placeId: uuid.nullable(),
  vehicle: z.string().nullable(),
  crateCode: z.string().nullable(),
  side: z.enum(['above', 'below']).meta({ description: 'Of the upper or the lower limit' }),
  state,
  certainty: z.enum(['proven', 'suspected']).meta({
    description: 'suspected: without readings whose own time was late or skewed it would be no excursion',
  }),
  limitC: z.number(),
  delayMin: z.number().meta({ description: 'Outside for no longer would have been no excursion' }),
  startAt: instant,
  endAt: instant.nullable(),
  seenToAt: instant.meta({ description: 'The last reading of it' }),
  peakC: z.number().meta({ description: 'The warmest; below the lower limit the coldest' }),
  peakAt: instant,
  outsideMs: z.int(),
  areaCMin: z.number().meta({ description: 'Degrees beyond the limit times minutes' }),
  unmonitoredMs: z
    .int()
    .meta({ description: 'Part of outsideMs in which nothing was seen, counted at what was seen last' }),
  dispatches: z.array(Trip).meta({ description: 'What was on the road on it for longer than the delay' }),
  version: z.int(),
  updatedAt: instant,
};

/** The demo's: the cooling of a van was off while it went its round. */
const WARM_VAN = excursionIdOf(groupIdOf('ostermere'), 'vehicle:Van 1', {
  side: 'above',
  startMs: Date.parse('2026-11-25T06:00:00Z'),
});

const Excursion = z.object(fields).meta({ id: 'Excursion' });

const LotThere = z.object({
  lotId: uuid,
  lotCode: z.string(),
  itemName: z.string(),
  placeId: uuid.nullable(),
  dispatchId: uuid.nullable(),
  quantity: quantity.meta({ description: 'The most that was there at one moment of the excursion' }),
  unit,
});

const base = { tag: 'temperature', permission: 'temperature.read', naming: 'none', mode: 'read' } as const;

export const listExcursions = defineOperation({
  ...base,
  id: 'listExcursions',
  method: 'get',
  path: '/v1/excursions',
  summary: 'Excursions, the latest first',
  description:
    'Follows from the readings alone, whatever the order in which they came. from and to: what touches that time. Those of vehicles and crates are shown while a dispatch was on the road with them. Without state, all that stand.',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    placeId: uuid.optional(),
    state: state.optional(),
    from: instant.optional(),
    to: instant.optional(),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(Excursion), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { query: { siteId: exampleId('site/ck') }, status: 200 },
});

export const getExcursion = defineOperation({
  ...base,
  id: 'getExcursion',
  method: 'get',
  path: '/v1/excursions/{excursionId}',
  summary: 'One excursion, with the lots that were there and how much of each',
  description:
    'Lots by the ledger: what stood in the place, or was in transit on the vehicle or in the crate, at any moment of it. Whether it harmed them is for their shelf life to say, and for a quality lead to decide.',
  params: z.strictObject({ excursionId: uuid }),
  answers: {
    200: {
      description: 'The excursion',
      schema: z.object({ ...fields, lots: z.array(LotThere) }).meta({ id: 'ExcursionWithLots' }),
      headers: ['ETag'],
    },
  },
  errors: ['not-found'],
  example: { params: { excursionId: WARM_VAN }, status: 200 },
});
