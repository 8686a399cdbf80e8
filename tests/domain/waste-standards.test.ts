/**
 * The codes of waste against the standards that they stand for. The lists are written here by hand, in the standards' own words; where the
 * sheet of worked examples is at hand they are held against that as well.
 */
import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import destinations from '../../shared/destinations.json' with { type: 'json' };
import discardReasons from '../../shared/discard-reasons.json' with { type: 'json' };
import { FOOD_WASTE_STAGES, reasonsOf, STANDARD_REASONS } from '../../src/domain/waste-reasons.ts';

/** Published figures that stand beside the repository where there are any. */
const sheetUrl = new URL('../../../shared/reference/worked-examples.json', import.meta.url);
const sheetIsThere = existsSync(sheetUrl);
if (!sheetIsThere)
  console.warn('waste-standards.test: SKIPPED the sheet of worked examples, it is not beside this checkout');

/** code here, then the words of the standard */
const DESTINATIONS: readonly (readonly [string, string])[] = [
  ['animal-feed', 'animal feed'],
  ['biomaterial', 'biomaterial/processing'],
  ['anaerobic-digestion', 'co/anaerobic digestion'],
  ['composting', 'compost/aerobic'],
  ['controlled-combustion', 'controlled combustion'],
  ['land-application', 'land application'],
  ['landfill', 'landfill'],
  ['not-harvested', 'not harvested'],
  ['refuse', 'refuse/discards'],
  ['sewer', 'sewer'],
];
const STAGES: readonly (readonly [string, string])[] = [
  ['primary-production', 'primary production'],
  ['processing-and-manufacturing', 'processing and manufacturing'],
  ['retail-and-other-distribution', 'retail and other distribution of food'],
  ['restaurants-and-food-services', 'restaurants and food services'],
  ['households', 'households'],
];

describe('destinations and stages', () => {
  test('exactly the ten destinations of the Food Loss and Waste Standard 1.0 (2016)', () => {
    expect(destinations.list.map((one) => one.code)).toEqual(DESTINATIONS.map(([code]) => code));
  });

  test('exactly the five stages of Commission Delegated Decision (EU) 2019/1597, OJ L 248, p. 77', () => {
    expect(FOOD_WASTE_STAGES).toEqual(STAGES.map(([code]) => code));
  });

  test.skipIf(!sheetIsThere)(
    'FLW Protocol, FLW Standard v1.0 (2016) scope template; Decision (EU) 2019/1597: as on the sheet of worked examples',
    () => {
      const sheet = JSON.parse(readFileSync(sheetUrl, 'utf8')) as { id: string; expected: Record<string, string[]> }[];
      const expected = (id: string) => sheet.find((one) => one.id === id)?.expected;
      expect(expected('flw-destinations')?.destinations).toEqual(DESTINATIONS.map(([, words]) => words));
      expect(expected('flw-destinations')?.material_types).toEqual(['food', 'inedible parts']);
      expect(expected('eu-fw-stages')?.stages).toEqual(STAGES.map(([, words]) => words));
    },
  );
});

describe('reasons', () => {
  test('each standard reason has a stage of the five', () => {
    const stages = STAGES.map(([code]) => code);
    for (const { code, stage } of discardReasons.reasons.list)
      expect([code, stages.includes(stage)]).toEqual([code, true]);
    expect(STANDARD_REASONS.size).toBe(13);
  });

  test('a code of its own has the stage of what it maps to, or the one that its site reports under', () => {
    const own = [
      { code: 'bones', label: 'Bones', standardReason: 'trim' },
      { code: 'recall', label: 'Called back', standardReason: 'recall' },
    ];
    const byReason = reasonsOf(null, own);
    expect(byReason.get('bones')).toEqual({
      label: 'Bones',
      standardReason: 'trim',
      stage: 'processing-and-manufacturing',
    });
    expect(byReason.get('recall')?.label).toBe('Called back');
    expect(byReason.get('damaged')?.stage).toBe('restaurants-and-food-services');
    expect(byReason.size).toBe(14);
    expect(new Set(Array.from(reasonsOf('households', own).values(), (one) => one.stage))).toEqual(
      new Set(['households']),
    );
  });
});
