/** What was rejected in packing, and what showed afterwards, over time. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const percent = z.number().meta({ description: 'Two decimals' });
const counts = {
  runs: z.int(),
  packsMade: z.int(),
  packsRejected: z.int(),
  byReason: z.record(z.string(), z.int()).meta({ description: 'By reason, and not-said; adds up to packsRejected' }),
  rejectPercent: percent.nullable().meta({ description: 'Of packs made and rejected; null without any' }),
  sealTests: z
    .object({ tested: z.int(), failed: z.int() })
    .meta({ description: 'Of the sample seal tests that stand; they are among the packs made or rejected' }),
  faults: z.record(z.string(), z.int()).meta({
    description: 'By kind: packs of these runs that showed a fault afterwards, whenever; a numbered pack once a kind',
  }),
};

const PackRejects = z
  .object({
    siteId: uuid,
    fromDate: date,
    toDate: date.meta({ description: 'The last day' }),
    by: z.enum(['week', 'month']),
    rows: z
      .array(
        z.object({
          equipmentId: uuid,
          equipmentName: z.string(),
          programmeId: uuid.nullable(),
          programme: z.string().meta({ description: 'Its latest name in the period' }),
          ...counts,
          periods: z.array(
            z.object({
              begins: date.meta({ description: 'A Monday, or the first of a month' }),
              ...counts,
              limits: z
                .object({
                  lowerPercent: percent,
                  upperPercent: percent,
                  rough: z.boolean().meta({ description: 'Fewer than five were to be expected: read with care' }),
                })
                .nullable()
                .meta({ description: 'null with fewer than five periods' }),
              standsOut: z.enum(['above', 'below']).nullable(),
            }),
          ),
        }),
      )
      .meta({ description: 'One row a machine and programme, by name' }),
    method: z.string(),
    notes: z.array(z.string()),
  })
  .meta({ id: 'PackRejects' });

export const getPackRejects = defineOperation({
  id: 'getPackRejects',
  method: 'get',
  path: '/v1/reports/pack-rejects',
  tag: 'production',
  summary: 'Reject rates of machines and programmes over time',
  description:
    'Packing runs of a site that stand, by the date on which they ended there, at most twelve months. A period stands out when its share of ' +
    'rejected packs is beyond mean ± 3 x sqrt(mean x (1 - mean) / n) of its row (p-chart; NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2). ' +
    'Faults that showed afterwards count with the run that sealed the pack. With format=svg (or Accept: image/svg+xml) and a machine it is a picture.',
  permission: 'reports.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    siteId: uuid,
    fromDate: date,
    toDate: date.meta({ description: 'The last day' }),
    by: z.enum(['week', 'month']).optional().meta({ description: 'week, if left out' }),
    equipmentId: uuid.optional().meta({ description: 'Needed for a picture' }),
    format: z.enum(['json', 'svg']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The rates', schema: PackRejects },
      { description: 'The machine over time, a panel a programme', contentType: 'image/svg+xml' },
    ],
  },
  errors: ['not-found', 'rule-broken', 'period-too-long'],
  example: {
    status: 200,
    query: { siteId: exampleId('site/ck'), fromDate: '2026-10-01', toDate: '2026-11-25', format: 'json' },
  },
});

export type PackRejectsAnswer = z.output<typeof PackRejects>;
export type RejectRow = PackRejectsAnswer['rows'][number];
