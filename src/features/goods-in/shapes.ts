/** Fields that goods receipts and opening stock share. */
import { z } from 'zod';

/** Instead of quantity and unit. */
export const entered = {
  entryUnit: z
    .string()
    .regex(/^[a-z0-9][a-z0-9/.-]{0,19}$/, 'such as case, tin, tray or gn-1/1')
    .optional()
    .meta({ description: "One of the item's entry units, instead of unit", example: 'case' }),
  entryQuantity: z
    .number()
    .min(0)
    .max(1_000_000_000)
    .multipleOf(0.001)
    .optional()
    .meta({ description: 'How many of entryUnit; half a case is 0.5 where it comes out whole', example: 2 }),
};

/** Rows of one opening stock. */
export const MOST_ROWS = 500;
