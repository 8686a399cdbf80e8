/** Parts of the contracts of labels. */
import { z } from 'zod';
import type { AnswerShape } from '../../platform/http/contract.ts';

const RANGE = '[1-9][0-9]{0,5}(-[1-9][0-9]{0,5})?';

export const serialRanges = z
  .string()
  .max(400)
  .regex(new RegExp(`^${RANGE}(,${RANGE})*$`), 'serials such as 1-20, 3 or 1,4,7-9')
  .meta({ description: 'Serials and ranges of them', example: '1-20' });

export const fileQuery = {
  format: z
    .enum(['pdf', 'svg', 'png'])
    .optional()
    .meta({ description: 'As Accept says if left out; svg and png hold one label' }),
  dpi: z.enum(['203', '300', '600']).optional().meta({
    description:
      'Dots per inch of the printer: bars are whole dots of it. If left out 203 for a roll, 600 for a sheet, 300 for a picture',
  }),
  start: z
    .string()
    .regex(/^([1-9]|[1-9][0-9])$/, 'a place on the sheet from 1')
    .optional()
    .meta({ description: 'First free place of a sheet of which some labels are gone' }),
};

export const fileAnswers: readonly AnswerShape[] = [
  { description: 'The labels, one a page or on sheets, at true size', contentType: 'application/pdf' },
  { description: 'One label at true size, its words as outlines', contentType: 'image/svg+xml' },
  { description: 'One label, dot by dot', contentType: 'image/png' },
];

/** Crate labels need room for the bars of an SSCC. */
export const crateLayout = z.enum(['roll-100x150', 'a4-2x2']);
