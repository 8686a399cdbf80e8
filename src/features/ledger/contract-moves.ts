/** Moves within a site: asked for, or recorded afterwards. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { factId, instant, quantity, unit, uuid } from '../../platform/http/scalars.ts';
import { derivedId, exampleId } from '../../platform/ids.ts';
import { EntryAnswer } from './shapes.ts';

const tag = 'stock';
const moved = {
  id: factId,
  lotId: uuid,
  fromPlaceId: uuid,
  toPlaceId: uuid,
  quantity,
  unit,
};
const example = {
  lotId: exampleId('lot/beef-stew-packs-1'),
  fromPlaceId: exampleId('place/ck-chiller'),
  toPlaceId: derivedId('quarantine-place', exampleId('site/ck')),
  quantity: 1,
  unit: 'piece',
};

export const createMove = defineOperation({
  id: 'createMove',
  method: 'post',
  path: '/v1/moves',
  tag,
  summary: 'Move a lot between two places of one site',
  description: 'A request: refused when there is not that much there. Food on hold may be moved within its site.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({ ...moved, occurredAt: instant.optional().meta({ description: 'Now, if left out' }) })
    .meta({ id: 'NewMove' }),
  answers: { 201: { description: 'Moved', schema: EntryAnswer, headers: ['Location'] } },
  errors: ['not-found', 'unit-mismatch', 'insufficient-stock', 'same-place', 'time-in-future', 'rule-broken'],
  example: { status: 201, body: { id: exampleId('new/move'), ...example } },
});

export const createRecordedMove = defineOperation({
  id: 'createRecordedMove',
  method: 'post',
  path: '/v1/recorded-moves',
  tag,
  summary: 'Record a move that was made already',
  description:
    'An observation, for when the network was down or the paper comes later: it always posts. What was not booked where it left from is a finding, shortfall.',
  permission: 'stock.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({ ...moved, occurredAt: instant }).meta({ id: 'NewRecordedMove' }),
  answers: { 201: { description: 'Recorded', schema: EntryAnswer, headers: ['Location'] } },
  errors: ['not-found', 'unit-mismatch', 'same-place'],
  example: {
    status: 201,
    body: { id: exampleId('new/recorded-move'), ...example, occurredAt: '2026-11-25T11:30:00+00:00' },
  },
});
