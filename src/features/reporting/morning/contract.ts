/** The morning list of a site. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, instant, lotCode, quantity, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const Part = z
  .object({
    lotId: uuid,
    lotCode,
    itemName: z.string(),
    placeId: uuid,
    placeName: z.string(),
    quantity,
    unit,
    useByAt: instant.nullable(),
    due: z.string().nullable().meta({ example: 'by 15:00' }),
    lastSeenAt: instant.nullable().meta({ description: 'When a fact last named it there' }),
    whyNot: z.string().nullable().meta({ description: 'Why it may not be used, in words that a cook can act on' }),
  })
  .meta({ id: 'MorningPart' });

const Morning = z
  .object({
    siteId: uuid,
    siteName: z.string(),
    date: date.meta({ description: "The site's" }),
    madeAt: instant,
    useToday: z.array(Part).meta({ description: 'Its date ends today; earliest first' }),
    pastDate: z.array(Part).meta({ description: 'Not to be used: discard it and record the discard' }),
    setAside: z.array(Part).meta({ description: 'In quarantine or on hold; waits for a decision' }),
    notAccountedFor: z
      .array(
        z.object({
          why: z.enum(['missing-in-transit', 'still-on-the-road', 'place-presumed']),
          lotId: uuid,
          lotCode,
          itemName: z.string(),
          quantity: signedQuantity,
          unit,
          where: z.string().meta({ description: 'The dispatch, or the place where it is presumed to be' }),
          sinceAt: instant,
        }),
      )
      .meta({ description: 'Booked, and nobody has seen it here' }),
    arriving: z
      .array(
        z.object({
          dispatchId: uuid,
          code: z.string(),
          fromSiteName: z.string(),
          departedAt: instant,
          lots: z.int(),
          quantity: signedQuantity,
        }),
      )
      .meta({ description: 'Left today and not yet all received' }),
    findings: z
      .array(
        z.object({
          findingId: uuid,
          kind: z.string(),
          label: z.string(),
          advice: z.string(),
          lotCode: lotCode.nullable(),
          itemName: z.string().nullable(),
          quantity: signedQuantity.nullable(),
          occurredAt: instant,
        }),
      )
      .meta({ description: 'To settle, besides what is on the lists above; oldest first' }),
    more: z.boolean().meta({ description: 'true: a list was cut; read /v1/stock and /v1/findings for the rest' }),
    caution: z.string(),
  })
  .meta({ id: 'MorningList' });

export const getMorningList = defineOperation({
  id: 'getMorningList',
  method: 'get',
  path: '/v1/sites/{siteId}/morning-list',
  tag: 'reporting',
  summary: 'What to do first today: use, discard, look for, settle',
  description:
    'As JSON, or as a page that prints (format=pdf or Accept: application/pdf). Each part of the stock is on one list only. It is a ' +
    'help for trained staff; the food-safety plan of the group and local law come first.',
  permission: 'findings.read',
  naming: 'none',
  mode: 'read',
  params: z.strictObject({ siteId: uuid }),
  query: z.strictObject({
    format: z.enum(['json', 'pdf']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The list', schema: Morning },
      { description: 'The list on A4', contentType: 'application/pdf' },
    ],
  },
  errors: ['not-found'],
  example: { status: 200, params: { siteId: exampleId('site/w3') }, query: { format: 'json' } },
});

export type MorningAnswer = z.output<typeof Morning>;
