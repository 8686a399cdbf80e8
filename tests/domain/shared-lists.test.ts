import { describe, expect, test } from 'vitest';
import destinations from '../../shared/destinations.json' with { type: 'json' };
import discardReasons from '../../shared/discard-reasons.json' with { type: 'json' };
import holds from '../../shared/holds.json' with { type: 'json' };
import units from '../../shared/units.json' with { type: 'json' };

const codes = (list: readonly { code: string }[]): string[] => list.map(({ code }) => code);
const words = (text: string): string[] => text.split(' ');

describe('lists that server and clients share', () => {
  test('the five stages of Delegated Decision (EU) 2019/1597, and food services is the fourth', () => {
    const stages = codes(discardReasons.stages.list);
    expect(stages).toHaveLength(5);
    expect(stages[3]).toBe('restaurants-and-food-services');
  });

  test('every discard reason has a stage of the list', () => {
    expect(codes(discardReasons.reasons.list)).toEqual(
      words(
        'trim cooking-loss drip-loss over-production past-use-by temperature seal-failure damaged plate-return contamination recall sample other',
      ),
    );
    for (const { stage } of discardReasons.reasons.list) expect(codes(discardReasons.stages.list)).toContain(stage);
  });

  test('the ten destinations of the FLW Standard 1.0', () => {
    expect(codes(destinations.list)).toEqual(
      words(
        'animal-feed biomaterial anaerobic-digestion composting controlled-combustion land-application landfill not-harvested refuse sewer',
      ),
    );
  });

  test('the four units', () => {
    expect(codes(units.list)).toEqual(['mg', 'g', 'ml', 'piece']);
  });

  test('what each hold blocks', () => {
    expect(Object.fromEntries(holds.kinds.map(({ code, blocks }) => [code, blocks]))).toEqual({
      'awaiting-release': ['leave-site', 'serve'],
      'awaiting-laboratory': ['leave-site', 'serve'],
      quality: ['use-in-batch', 'leave-site', 'serve'],
      safety: ['use-in-batch', 'leave-site', 'serve'],
      recall: ['use-in-batch', 'leave-site', 'serve'],
      'failed-check': ['use-in-batch', 'leave-site', 'serve'],
      // hot food is never left standing for a label
      declaration: ['leave-site', 'serve'],
      'for-rework': ['use-in-batch', 'leave-site', 'serve'],
      rejected: ['use-in-batch', 'leave-site', 'serve'],
      'use-by': [],
      drill: [],
    });
    expect(codes(holds.actions)).toEqual(['use-in-batch', 'leave-site', 'serve']);
    expect(codes(holds.alwaysAllowed)).toEqual(['move-within-site', 'count', 'discard']);
  });

  test('every entry has words to show, and codes are kebab-case and unique', () => {
    for (const list of [
      discardReasons.stages.list,
      discardReasons.reasons.list,
      destinations.list,
      units.list,
      holds.actions,
      holds.alwaysAllowed,
      holds.kinds,
    ]) {
      expect(new Set(codes(list)).size).toBe(list.length);
      for (const { code, label } of list) {
        expect(code).toMatch(/^[a-z]+(-[a-z]+)*$/);
        expect(label.length).toBeGreaterThan(1);
      }
    }
    for (const { sentence } of holds.kinds) expect(sentence.length).toBeLessThanOrEqual(110);
  });
});
