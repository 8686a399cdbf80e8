import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { carryOvers, LOOK_BACK_RUNS, type Pass } from '../../src/domain/carry-over.ts';

const pass = (key: string, beginsMs: number, endsMs: number, allergens: readonly string[] = [], raw = false): Pass => ({
  key,
  runId: key.split(':')[0] ?? key,
  beginsMs,
  endsMs,
  allergens,
  raw,
});
const told = (passes: readonly Pass[], cleanedAtMs: readonly number[] = []) =>
  carryOvers(passes, cleanedAtMs)
    .map(({ kind, earlier, later, allergens }) => `${kind} ${earlier.key}>${later.key} ${allergens.join()}`.trim())
    .sort();

describe('carry-over', () => {
  const milk = pass('a', 0, 10, ['milk', 'eggs']);
  const none = pass('b', 20, 30);

  test('names what the later food does not hold, and only that', () => {
    expect(told([milk, none])).toEqual(['allergen-carry-over a>b eggs,milk']);
    expect(told([milk, pass('b', 20, 30, ['milk'])])).toEqual(['allergen-carry-over a>b eggs']);
    expect(told([none, pass('c', 40, 50, ['milk'])])).toEqual([]);
  });

  test('a named nut does not stand for all nuts, nor nuts for a named one', () => {
    const nuts = pass('a', 0, 10, ['nuts']);
    const almonds = pass('b', 20, 30, ['nuts:almonds']);
    expect(told([nuts, almonds])).toEqual(['allergen-carry-over a>b nuts']);
  });

  test('each allergen is put down to the latest food that held it', () => {
    const eggs = pass('b', 20, 30, ['eggs']);
    expect(told([milk, eggs, pass('c', 40, 50)])).toEqual([
      'allergen-carry-over a>b milk',
      'allergen-carry-over a>c milk',
      'allergen-carry-over b>c eggs',
    ]);
  });

  test('a clean-down counts from the end of the earlier to the beginning of the later, both included', () => {
    expect([9, 10, 15, 20, 21].map((at) => told([milk, none], [at]).length)).toEqual([1, 0, 0, 0, 1]);
  });

  test('raw before ready-to-eat, not before raw', () => {
    const raw = pass('a', 0, 10, [], true);
    expect(told([raw, none])).toEqual(['raw-before-ready-to-eat a>b']);
    expect(told([raw, pass('b', 20, 30, [], true)])).toEqual([]);
    expect(told([raw, none], [15])).toEqual([]);
  });

  test('foods of one run follow each other too', () => {
    expect(told([pass('r:1', 0, 10, ['milk']), pass('r:2', 10, 20)])).toEqual(['allergen-carry-over r:1>r:2 milk']);
  });

  test('looks back over so many runs and no more', () => {
    const row = Array.from({ length: LOOK_BACK_RUNS + 1 }, (_, at) => pass(`r${1_000 + at}`, 20 + at, 20 + at));
    expect(told([pass('a', 0, 10, ['milk']), ...row])).toHaveLength(LOOK_BACK_RUNS);
  });

  test('the order in which it is told does not matter', () => {
    const one = fc.record({
      beginsMs: fc.integer({ min: 0, max: 50 }),
      tookMs: fc.integer({ min: 0, max: 5 }),
      allergens: fc.uniqueArray(fc.constantFrom('milk', 'eggs', 'celery')),
      raw: fc.boolean(),
    });
    fc.assert(
      fc.property(fc.array(one, { maxLength: 8 }), fc.array(fc.integer({ min: 0, max: 60 })), (ones, cleaned) => {
        const passes = ones.map(({ beginsMs, tookMs, allergens, raw }, at) =>
          pass(`run${at}`, beginsMs, beginsMs + tookMs, allergens, raw),
        );
        expect(told([...passes].reverse(), cleaned)).toEqual(told(passes, cleaned));
      }),
    );
  });
});
