/** Returnable boxes: their kinds, counted, moved, and how many should be where. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { code, factId, instant, line, pageQuery, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'distribution';
const MOST_BOXES = 1_000_000;
const boxes = z.int().min(0).max(MOST_BOXES);

const BoxType = z.object({ boxTypeId: uuid, code, name: z.string() }).meta({ id: 'BoxType' });

export const createBoxType = defineOperation({
  id: 'createBoxType',
  method: 'post',
  path: '/v1/box-types',
  tag,
  summary: 'Add a kind of box that comes back',
  permission: 'catalogue.write',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({ id: factId, code, name: line(100) }).meta({ id: 'NewBoxType' }),
  answers: { 201: { description: 'Added', schema: BoxType, headers: ['Location'] } },
  errors: ['code-taken'],
  example: {
    status: 201,
    body: { id: exampleId('new/box-type'), code: 'TRAY-BLUE', name: 'Blue tray, 600 × 400' },
    role: 'operations',
  },
});

export const listBoxTypes = defineOperation({
  id: 'listBoxTypes',
  method: 'get',
  path: '/v1/box-types',
  tag,
  summary: 'Kinds of boxes by code',
  permission: 'crates.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject(pageQuery),
  answers: { 200: { description: 'Kinds', schema: pageSchema(BoxType), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { status: 200 },
});

export const createBoxCount = defineOperation({
  id: 'createBoxCount',
  method: 'post',
  path: '/v1/box-counts',
  tag,
  summary: 'Record how many boxes are at a site',
  description:
    'It says what is there at its time; what moved until then is in it. What is recorded later and moved earlier changes what should have been there, never what was counted.',
  permission: 'crates.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({ id: factId, siteId: uuid, boxTypeId: uuid, quantity: boxes, occurredAt: instant })
    .meta({ id: 'NewBoxCount' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: z
        .object({ countId: uuid, siteId: uuid, boxTypeId: uuid, quantity: boxes, occurredAt: instant })
        .meta({ id: 'BoxCount' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/box-count'),
      siteId: exampleId('site/w3'),
      boxTypeId: exampleId('box-type/grey'),
      quantity: 3,
      occurredAt: '2026-11-25T11:30:00+00:00',
    },
  },
});

export const createBoxMovement = defineOperation({
  id: 'createBoxMovement',
  method: 'post',
  path: '/v1/box-movements',
  tag,
  summary: 'Record boxes that went without a dispatch of food',
  description:
    'Empties going back, boxes bought, lost or handed to a supplier: an end that is left out is outside the group. Boxes of crates that leave with food move by themselves.',
  permission: 'crates.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      boxTypeId: uuid,
      fromSiteId: uuid.nullable().optional(),
      toSiteId: uuid.nullable().optional(),
      supplierId: uuid.optional().meta({ description: 'Who they came from or went to, outside the group' }),
      dispatchId: uuid.optional().meta({ description: 'The dispatch that they went along with' }),
      quantity: boxes.min(1),
      occurredAt: instant,
      note: text(500).optional(),
    })
    .meta({ id: 'NewBoxMovement' }),
  answers: {
    201: {
      description: 'Recorded',
      schema: z
        .object({
          movementId: uuid,
          boxTypeId: uuid,
          fromSiteId: uuid.nullable(),
          toSiteId: uuid.nullable(),
          supplierId: uuid.nullable(),
          dispatchId: uuid.nullable(),
          quantity: boxes,
          occurredAt: instant,
          note: z.string().nullable(),
        })
        .meta({ id: 'BoxMovement' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'rule-broken'],
  example: {
    status: 201,
    body: {
      id: exampleId('new/box-movement'),
      boxTypeId: exampleId('box-type/grey'),
      fromSiteId: exampleId('site/w3'),
      toSiteId: exampleId('site/ck'),
      quantity: 2,
      occurredAt: '2026-11-25T11:40:00+00:00',
      note: 'Empties on the way back',
    },
  },
});

const count = z.int();

export const listBoxBalances = defineOperation({
  id: 'listBoxBalances',
  method: 'get',
  path: '/v1/box-balances',
  tag,
  summary: 'How many boxes should be where, and where they stay',
  description:
    'Worked out from counts, movements and dispatches with crates on every reading, so late facts in any order give the same figures. Before its first count a site has what came less what left.',
  permission: 'crates.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, siteId: uuid.optional(), boxTypeId: uuid.optional() }),
  answers: {
    200: {
      description: 'By site and kind of box',
      schema: pageSchema(
        z
          .object({
            siteId: uuid,
            siteName: z.string(),
            boxTypeId: uuid,
            boxTypeCode: code,
            shouldBe: count.meta({ description: 'Now; below zero: more left than was ever counted or came' }),
            onTheRoad: count.meta({
              description: 'On their way here with food that was not received yet; not in shouldBe',
            }),
            lastCount: z
              .object({
                countId: uuid,
                occurredAt: instant,
                quantity: count,
                shouldHaveBeen: count,
                difference: count.meta({
                  description: 'Counted less what should have been there; below zero: missing',
                }),
              })
              .nullable(),
            cameSince: count.meta({ description: 'Since the last count' }),
            leftSince: count,
            lastCameAt: instant.nullable(),
            lastLeftAt: instant
              .nullable()
              .meta({ description: 'Boxes are here and none has left for long: they stay here' }),
          })
          .meta({ id: 'BoxBalance' }),
      ),
      headers: ['Link'],
    },
  },
  errors: ['bad-cursor'],
  example: { status: 200, query: { siteId: exampleId('site/w3') } },
});
