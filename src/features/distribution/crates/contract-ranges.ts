/** Ranges of SSCCs: company prefix and extension digit. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const companyPrefix = z
  .string()
  .regex(/^[0-9]{4,12}$/, '4 to 12 digits')
  .meta({ description: 'The GS1 company prefix that was licensed to the group', example: '952001234' });
const extensionDigit = z.int().min(0).max(9).meta({ description: 'The first digit of the SSCC; yours to choose' });
const serialReference = z.int().min(0).max(999_999_999_999);

const SsccRange = z
  .object({
    rangeId: uuid,
    companyPrefix,
    extensionDigit,
    firstSerial: serialReference,
    given: z.int().meta({ description: 'Numbers that were given' }),
    left: z
      .int()
      .meta({ description: 'Numbers that are left; ranges are used up in the order in which they were added' }),
    addedAt: instant,
  })
  .meta({ id: 'SsccRange' });

export const createSsccRange = defineOperation({
  id: 'createSsccRange',
  method: 'post',
  path: '/v1/sscc-ranges',
  tag: 'distribution',
  summary: 'Add a GS1 company prefix, or a further extension digit of it, to make SSCCs of',
  description:
    'Numbers are given in order and never twice; when a range is used up, the next one in the order of adding begins. The prefix added last is the one of the group. Only for those who act for every site.',
  permission: 'sites.write',
  naming: 'fact',
  mode: 'write',
  body: z
    .strictObject({
      id: factId,
      companyPrefix,
      extensionDigit: extensionDigit.optional().meta({ description: '0, if left out' }),
      firstSerial: serialReference
        .optional()
        .meta({ description: 'Where to begin when numbers were given elsewhere before; 0, if left out' }),
    })
    .meta({ id: 'NewSsccRange' }),
  answers: { 201: { description: 'Added', schema: SsccRange, headers: ['Location'] } },
  errors: ['forbidden', 'rule-broken'],
  example: {
    status: 201,
    body: { id: exampleId('new/sscc-range'), companyPrefix: '952001234', extensionDigit: 1 },
    role: 'operations',
  },
});

export const listSsccRanges = defineOperation({
  id: 'listSsccRanges',
  method: 'get',
  path: '/v1/sscc-ranges',
  tag: 'distribution',
  summary: 'Ranges of SSCCs in the order in which they are used up',
  permission: 'crates.read',
  naming: 'none',
  mode: 'read',
  answers: {
    200: { description: 'Ranges', schema: z.object({ items: z.array(SsccRange) }).meta({ id: 'SsccRanges' }) },
  },
  errors: [],
  example: { status: 200 },
});
