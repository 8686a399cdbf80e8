/** Webhooks: events of the feed, sent to whoever asked. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import { factId, instant, line, pageQuery, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { eventCursor, eventType } from '../feed/contract.ts';

const Webhook = z
  .object({
    webhookId: uuid,
    url: z.string(),
    description: z.string(),
    types: z.array(z.string()).nullable().meta({ description: 'null: all types' }),
    siteIds: z.array(uuid).nullable().meta({ description: 'null: all sites; otherwise those of whoever made it' }),
    state: z.enum(['enabled', 'disabled']),
    disabledReason: z.string().nullable(),
    upTo: eventCursor.meta({ description: 'The last event that was looked at for it' }),
    waiting: z.int().meta({ description: 'Deliveries that are not made yet' }),
    hasSecret: z.boolean().meta({ description: 'Nothing is sent before a secret was made' }),
    createdAt: instant,
    version: z.int(),
  })
  .meta({ id: 'Webhook' });

const Delivery = z
  .object({
    deliveryNo: z.int(),
    messageId: uuid.meta({
      description: 'Sent as webhook-id: the same in every attempt, and in every replay of the event',
    }),
    eventNo: z.int().nullable().meta({ description: 'null: a test' }),
    state: z.enum(['waiting', 'delivered', 'given-up']),
    madeAt: instant,
    nextAttemptAt: instant.nullable(),
    endedAt: instant.nullable(),
    attempts: z.array(
      z.object({
        attemptNo: z.int(),
        startedAt: instant,
        tookMs: z.int(),
        status: z.int().nullable().meta({ description: 'Of the answer; null when none came' }),
        problem: z.string().nullable(),
      }),
    ),
  })
  .meta({ id: 'WebhookDelivery' });

const base = { tag: 'exchange', permission: 'webhooks.manage' } as const;
const params = z.strictObject({ webhookId: uuid });
const example = { params: { webhookId: exampleId('webhook/accounts') }, role: 'operations' } as const;
const url = line(500).meta({ description: 'https', example: 'https://hooks.ostermere-accounts.example/sealtrail' });
const types = z.array(eventType).min(1).max(100);

export const createWebhook = defineOperation({
  ...base,
  id: 'createWebhook',
  method: 'post',
  path: '/v1/webhooks',
  summary: 'Have events sent',
  description:
    'By the Standard Webhooks specification: POST with the headers webhook-id, webhook-timestamp and webhook-signature; the body has type, timestamp and data. Sending begins with what happens from now on, once a secret was made for it (createWebhookSecret). ' +
    'Any 2xx is taken as received; anything else, also a redirect, is tried again over three days; 410 ends it. Each event is sent at least once, in no order that can be relied on. An event that touches none of the sites of whoever makes this is not sent.',
  naming: 'fact',
  mode: 'write',
  body: z.strictObject({ id: factId, url, description: line(200), types: types.optional() }),
  answers: { 201: { description: 'Added', schema: Webhook, headers: ['Location', 'ETag'] } },
  errors: ['webhook-address-refused', 'rule-broken'],
  example: {
    body: {
      id: exampleId('new/webhook'),
      url: 'https://hooks.ostermere-orders.example/sealtrail',
      description: 'Order system',
      types: ['dispatch-departed', 'delivery-received'],
    },
    role: 'operations',
    status: 201,
  },
});

export const listWebhooks = defineOperation({
  ...base,
  id: 'listWebhooks',
  method: 'get',
  path: '/v1/webhooks',
  summary: 'Webhooks',
  naming: 'none',
  mode: 'read',
  query: z.strictObject(pageQuery),
  answers: { 200: { description: 'A page', schema: pageSchema(Webhook), headers: ['Link'] } },
  errors: ['bad-cursor'],
  example: { role: 'operations', status: 200 },
});

export const getWebhook = defineOperation({
  ...base,
  id: 'getWebhook',
  method: 'get',
  path: '/v1/webhooks/{webhookId}',
  summary: 'One webhook',
  naming: 'none',
  mode: 'read',
  params,
  answers: { 200: { description: 'The webhook', schema: Webhook, headers: ['ETag'] } },
  errors: ['not-found'],
  example: { ...example, status: 200 },
});

export const changeWebhook = defineOperation({
  ...base,
  id: 'changeWebhook',
  method: 'patch',
  path: '/v1/webhooks/{webhookId}',
  summary: 'Change a webhook, switch it off or on',
  description: 'Switched on again it goes on where it stopped; what waited is sent.',
  naming: 'none',
  mode: 'write',
  conditional: true,
  params,
  body: z.strictObject({
    url: url.optional(),
    description: line(200).optional(),
    types: types.nullable().optional(),
    enabled: z.boolean().optional(),
  }),
  answers: { 200: { description: 'Changed', schema: Webhook, headers: ['ETag'] } },
  errors: ['not-found', 'webhook-address-refused', 'rule-broken'],
  example: { ...example, body: { description: 'Accounts' }, ifMatch: '*', status: 200 },
});

export const createWebhookSecret = defineOperation({
  ...base,
  id: 'createWebhookSecret',
  method: 'post',
  path: '/v1/webhooks/{webhookId}/secret-rotations',
  summary: 'Make a new secret',
  description:
    'Told once, here. The one before goes on being signed with for a day (or as long as is asked for), so that the receiver can change over; both signatures are sent. One still older ends at once.',
  naming: 'none',
  mode: 'write',
  params,
  body: z.strictObject({
    overlapH: z
      .int()
      .min(0)
      .max(168)
      .optional()
      .meta({ description: 'How long the one before goes on; 24 if left out' }),
  }),
  answers: {
    200: {
      description: 'The new secret',
      schema: z
        .object({ webhookId: uuid, secret: z.string(), previousEndsAt: instant.nullable() })
        .meta({ id: 'WebhookSecret' }),
    },
  },
  errors: ['not-found'],
  example: { ...example, body: {}, status: 200 },
});

export const createWebhookReplay = defineOperation({
  ...base,
  id: 'createWebhookReplay',
  method: 'post',
  path: '/v1/webhooks/{webhookId}/replays',
  summary: 'Have events sent again',
  description:
    'Those after a cursor or recorded since a time, up to the last that was looked at for this webhook; at most 10,000. They go out under the message ids that they had.',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({
    id: factId,
    after: eventCursor.optional(),
    since: instant.optional(),
    types: types.optional(),
  }),
  answers: {
    201: {
      description: 'Waiting to be sent',
      schema: z
        .object({ replayId: uuid, webhookId: uuid, after: eventCursor, upTo: eventCursor, deliveries: z.int() })
        .meta({ id: 'WebhookReplay' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'rule-broken', 'events-gone', 'bad-cursor'],
  example: {
    ...example,
    body: { id: exampleId('new/webhook-replay'), since: '2026-11-25T11:00:00+00:00' },
    status: 201,
  },
});

export const createWebhookTest = defineOperation({
  ...base,
  id: 'createWebhookTest',
  method: 'post',
  path: '/v1/webhooks/{webhookId}/tests',
  summary: 'Send a test',
  description:
    'One message of type webhook-test, tried once, also when the webhook is off. See its attempt in the deliveries.',
  naming: 'fact',
  mode: 'write',
  params,
  body: z.strictObject({ id: factId }),
  answers: {
    201: {
      description: 'Waiting to be sent',
      schema: z.object({ webhookId: uuid, messageId: uuid, deliveryNo: z.int() }).meta({ id: 'WebhookTest' }),
      headers: ['Location'],
    },
  },
  errors: ['not-found'],
  example: { ...example, body: { id: exampleId('new/webhook-test') }, status: 201 },
});

export const listWebhookDeliveries = defineOperation({
  ...base,
  id: 'listWebhookDeliveries',
  method: 'get',
  path: '/v1/webhooks/{webhookId}/deliveries',
  summary: 'What was sent and how it went',
  description: 'The newest first. Those that ended are kept for 30 days.',
  naming: 'none',
  mode: 'read',
  params,
  query: z.strictObject({ ...pageQuery, state: z.enum(['waiting', 'delivered', 'given-up']).optional() }),
  answers: { 200: { description: 'A page', schema: pageSchema(Delivery), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor'],
  example: { ...example, status: 200 },
});
