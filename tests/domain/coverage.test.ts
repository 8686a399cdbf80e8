/** What was sent against what was required; counted by hand. */
import { expect, test } from 'vitest';
import { coverageOf, type SentLine } from '../../src/domain/coverage.ts';

const line = (lineNo: number, packs: number, more: Partial<SentLine> = {}): SentLine => ({
  dispatchId: 'd',
  lineNo,
  state: 'closed',
  requirementId: 'lunch',
  lotId: 'stew',
  packs,
  portionsPerPack: 2,
  ...more,
});
const numbers = (
  required: Record<string, number>,
  lines: readonly SentLine[],
  accepted: Record<string, number> = {},
): Record<string, number[]> => {
  const coverage = coverageOf(new Map(Object.entries(required)), lines, new Map(Object.entries(accepted)));
  return Object.fromEntries(
    [...coverage].map(([id, one]) => [
      id,
      [one.plannedPortions, one.departedPortions, one.receivedPortions, one.shortPortions, one.overPortions],
    ]),
  );
};

test('planned, departed and received are in portions of the item that was sent', () => {
  const lines = [
    line(1, 3, { state: 'planned' }),
    line(1, 2, { dispatchId: 'e', state: 'departed' }),
    line(1, 4, { dispatchId: 'f' }),
  ];
  expect(numbers({ lunch: 20 }, lines, { 'f|stew': 3 })).toEqual({ lunch: [6, 12, 6, 2, 0] });
});

test('what goes beyond it is over, and nothing is short then', () => {
  expect(numbers({ lunch: 5 }, [line(1, 3)], { 'd|stew': 3 })).toEqual({ lunch: [0, 6, 6, 0, 1] });
  expect(numbers({ lunch: 0 }, [line(1, 3)])).toEqual({ lunch: [0, 6, 0, 0, 6] });
});

test('one lot on two lines: what was accepted goes to the lines in their order, however they are given', () => {
  const lines = [line(2, 4, { requirementId: 'dinner' }), line(1, 2), line(3, 5, { requirementId: null })];
  expect(numbers({ lunch: 4, dinner: 8 }, lines, { 'd|stew': 5 })).toEqual({
    lunch: [0, 4, 4, 0, 0],
    dinner: [0, 8, 6, 0, 0],
  });
});

test('lines of requirements that nobody asked about are left out; a requirement without a line is short', () => {
  expect(numbers({ lunch: 4 }, [line(1, 9, { requirementId: 'other' })])).toEqual({ lunch: [0, 0, 0, 4, 0] });
});
