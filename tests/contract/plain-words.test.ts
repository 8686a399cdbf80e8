import { expect, test } from 'vitest';
import { z } from 'zod';
import { invalidRequest } from '../../src/platform/http/problem.ts';

test('what is missing, and what should be whole, is said in plain words', () => {
  const schema = z.strictObject({ placeId: z.string(), quantity: z.int().min(1) });
  const result = schema.safeParse({ quantity: 1.5, colour: 'red' });
  if (result.success) throw new Error('the body was taken');
  expect(invalidRequest(result.error, 'body').more.errors).toEqual([
    { detail: 'this is missing', pointer: '#/placeId' },
    { detail: 'a whole number is wanted', pointer: '#/quantity' },
    { detail: 'unknown field', pointer: '#/colour' },
  ]);
});
