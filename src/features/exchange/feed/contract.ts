/** The event feed. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { instant, line, uuid } from '../../../platform/http/scalars.ts';
import { eventTypeNames } from './types.ts';

export const EVENT_STREAM = 'text/event-stream';
/** Longer than anybody keeps a system off by mistake, and than the year whose season comes round again: common practice. */
export const EVENTS_KEEP_DAYS = 400;

export const eventType = z.enum(eventTypeNames as [string, ...string[]]);

/** A position of the feed, as text: a number, but nobody calculates with it. */
export const eventCursor = z
  .string()
  .regex(/^(0|[1-9]\d{0,14})$/, 'a cursor of the feed')
  .meta({ example: '0' });

const Event = z
  .object({
    eventNo: z.int().min(1).meta({ description: 'Its number in the feed of the group, without gaps; its cursor' }),
    eventId: uuid.meta({ description: 'The same in every sending of it, by webhooks as well' }),
    type: z.string(),
    recordedAt: instant,
    siteIds: z.array(uuid).meta({ description: 'Sites that it touched when it got its number; none: the whole group' }),
    href: line(200).nullable().meta({ description: 'Where what it is about can be read' }),
    data: z.record(z.string(), z.unknown()).meta({ description: 'Ids and codes, by its type; see listEventTypes' }),
  })
  .meta({ id: 'Event' });

const EventPage = z
  .object({
    items: z.array(Event),
    next: eventCursor.meta({
      description: 'Give it as `after` the next time; beyond what was left out by your filter',
    }),
    more: z.boolean().meta({ description: 'More is there already: ask again at once' }),
    newest: eventCursor,
    oldest: eventCursor.meta({ description: 'The `after` with which the oldest event that is kept comes first' }),
  })
  .meta({ id: 'EventPage' });

const base = { tag: 'exchange', permission: 'events.read', naming: 'none' } as const;

export const listEvents = defineOperation({
  ...base,
  id: 'listEvents',
  method: 'get',
  path: '/v1/events',
  mode: 'read',
  summary: 'Follow what happens',
  description:
    'Every committed fact once, in the order of its number. Numbers are given after the commit, so a reader who goes on from `next` misses nothing and gets nothing twice, whoever writes at the same time. ' +
    'Left out, `after` begins with the oldest event that is kept (400 days); `after=newest` begins with what happens from now on. With `waitS` the answer waits until there is something. ' +
    `With Accept: ${EVENT_STREAM} it is a stream of server-sent events that goes on for five minutes; the id of each is its cursor, and a reader who connects again with Last-Event-ID goes on from there. ` +
    'Who acts at some sites gets the events that touch them, and sees gaps in the numbers. A cursor beyond the newest number is refused: the service was set back to an earlier state, and what was read may not be so.',
  query: z.strictObject({
    after: z.union([eventCursor, z.literal('newest')]).optional(),
    limit: z
      .string()
      .regex(/^([1-9]|[1-9]\d|[1-4]\d\d|500)$/, 'a whole number from 1 to 500')
      .optional(),
    types: line(1000)
      .optional()
      .meta({ description: 'Names of types, separated by commas', example: 'hold-placed,hold-lifted' }),
    waitS: z
      .string()
      .regex(/^(\d|1\d|2[0-5])$/, 'a whole number from 0 to 25')
      .optional(),
  }),
  answers: {
    200: [
      { description: 'Events, oldest first', schema: EventPage },
      { description: 'Server-sent events', contentType: EVENT_STREAM },
    ],
  },
  errors: ['events-gone', 'bad-cursor', 'rule-broken'],
  example: { query: { limit: '5' }, role: 'operations', status: 200 },
});

export const listEventTypes = defineOperation({
  ...base,
  id: 'listEventTypes',
  method: 'get',
  path: '/v1/event-types',
  mode: 'read',
  summary: 'Types of events',
  description:
    'What each says, and the fields of its data. New types and fields are added; pass over what you do not know.',
  answers: {
    200: {
      description: 'All types',
      schema: z.object({
        items: z.array(
          z.object({ type: z.string(), about: z.string(), fields: z.array(z.string()) }).meta({ id: 'EventType' }),
        ),
      }),
    },
  },
  errors: [],
  example: { role: 'operations', status: 200 },
});
