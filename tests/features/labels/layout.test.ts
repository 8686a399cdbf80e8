import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { allergenWords, dietWords, fixedWords, heldNote, labelLanguages } from '../../../src/domain/labels/words.ts';
import { renderCrateSvg, ENGLISH, LAYOUTS } from '../../../src/features/labels/drawing/index.ts';
import type { CrateLabelContent, LabelContent, LabelWords } from '../../../src/features/labels/drawing/index.ts';
import { sketchCrate } from '../../../src/features/labels/drawing/crate.ts';
import { sketchPack } from '../../../src/features/labels/drawing/pack.ts';
import type { Sketch } from '../../../src/features/labels/drawing/sketch.ts';
import { makeMeter } from '../../../src/features/labels/drawing/text-fit.ts';
import { boldIn, faultsIn, saidBy, wordsMarks } from '../../support/label-ink.ts';

const meter = makeMeter();
const roll = LAYOUTS['roll-100x60'];

const stew: LabelContent = {
  dish: 'Beef and barley stew',
  packer: 'Jo Marsh',
  packedOn: '2026-11-25',
  useBy: '2026-11-29',
  storageInstruction: 'Keep at 0 to 3 °C. Reheat to 70 °C for 2 minutes at the core. Once open, use within 24 hours.',
  allergens: ['Barley', 'Milk', 'Celery'],
  mayContain: ['Mustard'],
  lotCode: 'STEW-261125-01',
  serial: '123',
  netWeightG: 1750,
  siteName: 'Riverside Central Kitchen',
  handling: 'ready-to-eat',
  heldNote: null,
};

const TWENTY_ALLERGENS = [
  ...['Wheat', 'Rye', 'Barley', 'Oats', 'Spelt (wheat)', 'Khorasan wheat (kamut)', 'Crustaceans', 'Eggs', 'Fish'],
  ...['Peanuts', 'Soybeans', 'Milk', 'Almonds', 'Hazelnuts', 'Walnuts', 'Celery', 'Mustard', 'Sesame'],
  ...['Sulphur dioxide and sulphites', 'Molluscs'],
];

/** As full as a label gets: everything long at once. */
const fullest: LabelContent = {
  ...stew,
  dish: 'Slow-cooked Mediterranean vegetable, chickpea and apricot tagine with lemon and herb cousc',
  allergens: TWENTY_ALLERGENS,
  mayContain: TWENTY_ALLERGENS.slice(0, 14),
  useBy: '2026-10-25 01:30 UTC+1',
  lotCode: 'W'.repeat(20),
  serial: 'W'.repeat(20),
  heldNote: 'Awaiting release: pack it and cook with it here; do not send it out or serve it',
  handling: 'raw',
  packer: 'Alexandrina Featherstonehaugh-Montgomery',
  siteName: 'Riverside and Lower Meadows Joint Central Production Kitchen',
};

describe('what a label says', () => {
  const layouts = Object.values(LAYOUTS);

  test('the fullest label has room on all but the smallest, which refuse it', () => {
    for (const layout of layouts) {
      for (const label of [fullest, { ...fullest, heldNote: null }]) {
        if (layout.widthMm < 90) expect(() => sketchPack(label, layout, 203, meter)).toThrow(/no room .* allergens/);
        else expect(saidBy(sketchPack(label, layout, 203, meter))).toContain('Molluscs');
      }
    }
  });

  test('twenty allergens have room on every size', () => {
    for (const layout of layouts) {
      const said = saidBy(sketchPack({ ...stew, allergens: TWENTY_ALLERGENS, mayContain: [] }, layout, 203, meter));
      for (const allergen of TWENTY_ALLERGENS) expect(said).toContain(allergen);
    }
  });

  const words = fc.array(fc.stringMatching(/^[A-Za-zé]{1,14}$/), { minLength: 1, maxLength: 12 });
  const some = fc.record({
    dish: words.map((list) => list.join(' ')),
    packer: fc.option(words.map((list) => list.slice(0, 3).join(' '))),
    allergens: fc.subarray(TWENTY_ALLERGENS),
    mayContain: fc.subarray(TWENTY_ALLERGENS),
    lotCode: fc.stringMatching(/^[A-Z0-9-]{1,20}$/),
    serial: fc.option(fc.stringMatching(/^[0-9]{1,6}$/)),
    netWeightG: fc.option(fc.integer({ min: 1, max: 25_000 })),
    heldNote: fc.option(words.map((list) => list.join(' '))),
    siteName: words.map((list) => list.join(' ')),
    textureLevel: fc.option(fc.integer({ min: 0, max: 7 })),
    diets: fc.subarray(['Vegetarian', 'Gluten free', 'Low potassium', 'Suitable for diabetes']),
    ingredients: fc.option(words.map((list) => list.join(', '))),
    frozenOn: fc.option(fc.constant('2026-09-30')),
    quarantine: fc.boolean(),
    useBy: fc.constantFrom('2026-11-29', '2026-09-30 14:30', '2026-10-25 01:30 UTC+1'),
    handling: fc.constantFrom('raw' as const, 'ready-to-eat' as const),
  });

  test('stands on the label and on nothing else, or is refused: no word is cut off or printed over', () => {
    let drawn = 0;
    fc.assert(
      fc.property(
        some,
        fc.constantFrom(...layouts),
        fc.constantFrom(203 as const, 300 as const),
        (more, layout, dpi) => {
          const label = { ...stew, ...more };
          let sketch: Sketch;
          try {
            sketch = sketchPack(label, layout, dpi, meter);
          } catch (error) {
            expect(error).toBeInstanceOf(RangeError);
            return;
          }
          drawn += 1;
          expect(faultsIn(sketch)).toEqual([]);
          const said = saidBy(sketch).replaceAll(' ', '');
          for (const allergen of more.allergens)
            expect(said.toLowerCase()).toContain(allergen.toLowerCase().replaceAll(' ', ''));
        },
      ),
      { numRuns: 300 },
    );
    expect(drawn).toBeGreaterThan(90);
  });

  test('a list of ingredients has its allergens in bold, and what it does not name behind it', () => {
    const ingredients = 'Water, beef, pearl barley, skimmed MILK powder, eggplant, celeriac, salt.';
    const sketch = sketchPack(
      { ...stew, ingredients, allergens: ['Barley', 'Milk', 'Eggs', 'Celery'], mayContain: [] },
      roll,
      203,
      meter,
    );
    const heavy = boldIn(sketch);
    expect(heavy).toEqual(expect.arrayContaining(['barley,', 'MILK']));
    // an eggplant is no egg, and celeriac is not named Celery
    expect(heavy).not.toContain('eggplant,');
    expect(saidBy(sketch)).toContain('Contains: Eggs, Celery');
    const named = { ...stew, ingredients: 'Eggs, celeriac', allergens: ['Eggs', 'Celery'], emphasised: ['celeriac'] };
    expect(boldIn(sketchPack(named, roll, 203, meter))).toEqual(expect.arrayContaining(['Eggs,', 'celeriac']));
  });

  test('texture and diets are larger than the words below them', () => {
    const sketch = sketchPack({ ...stew, textureLevel: 4, diets: ['Halal'] }, roll, 203, meter);
    const sizeOf = (word: string): number =>
      wordsMarks(sketch).find(({ text }) => text.lines.some(({ words: all }) => all.some((one) => one.text === word)))
        ?.text.sizePt ?? 0;
    expect(sizeOf('4')).toBeGreaterThanOrEqual(14);
    expect(sizeOf('Halal')).toBeGreaterThan(sizeOf('Contains:'));
    // the name of level 4 of the IDDSI framework
    expect(saidBy(sketch)).toContain('Extremely Thick');
  });

  test('food that nobody may use bears no date and no invitation', () => {
    const said = saidBy(sketchPack({ ...stew, quarantine: true, heldNote: 'ON HOLD: Safety hold' }, roll, 203, meter));
    expect(said).toContain('QUARANTINE');
    expect(said).not.toMatch(/USE BY|29 NOV|READY TO EAT/);
  });

  test('months stand in the language of the site', () => {
    const french: LabelWords = { ...ENGLISH, language: 'fr', useBy: 'À CONSOMMER JUSQU’AU' };
    const said = saidBy(sketchPack({ ...stew, useBy: '2026-08-02', words: french }, roll, 203, meter));
    expect(said).toContain('2 AOÛT 2026');
    expect(said).toContain('À CONSOMMER JUSQU’AU');
  });

  test('words of every language have room on every size, texture and two diets included', () => {
    for (const language of labelLanguages) {
      const words: LabelWords = { ...ENGLISH, ...fixedWords(language), language };
      const allergens = allergenWords(language, ['gluten-cereals:wheat', 'milk', 'celery', 'sulphites']);
      const diets = dietWords(language, ['gluten-free', 'vegetarian']);
      const heldNotes = [null, heldNote(language, new Set(['awaiting-release']))];
      for (const layout of layouts) {
        for (const note of heldNotes) {
          // The smallest sheet has no room for a hold's note beside the rest.
          const few = note !== null && layout.heightMm < 45;
          const marks = few ? {} : { textureLevel: 6, diets };
          const label = {
            ...stew,
            words,
            allergens,
            heldNote: note,
            storageInstruction: 'Keep at 3 °C or below',
            ...marks,
          };
          expect(faultsIn(sketchPack(label, layout, 203, meter)), `${language} on ${layout.code}`).toEqual([]);
        }
      }
    }
  });

  test.each(['W'.repeat(500), 'Żurek z białą kiełbasą', 'Μουσακάς', 'a\nb\u0000c', ''])(
    'a dish %j gives way',
    (dish) => {
      expect(faultsIn(sketchPack({ ...fullest, dish }, roll, 203, meter))).toEqual([]);
    },
  );

  test('a letter that the fonts do not have is refused, not printed as an empty box', () => {
    expect(() => sketchPack({ ...stew, dish: '牛肉 stew' }, roll, 203, meter)).toThrow(/no letter for 牛/);
  });

  test('a lot code that no label can hold is refused', () => {
    expect(() => sketchPack({ ...stew, lotCode: 'W'.repeat(400) }, roll, 203, meter)).toThrow(RangeError);
  });
});

describe('what a crate says', () => {
  const crate: CrateLabelContent = {
    sscc: '095210000000000018',
    boxType: 'Insulated crate',
    fromName: 'Riverside Central Kitchen',
    toName: 'Hillside Ward 3',
    toAddress: '12 Hill Road',
    dispatchCode: 'D-261125-04',
    earliestUseBy: '2026-11-27',
    storageInstruction: 'Keep at 0 to 3 °C',
    heldNote: 'ON HOLD: Safety hold',
    lines: Array.from({ length: 40 }, (_, at) => ({
      itemName: `Dish ${at + 1} with a name that is as long as names of dishes can be`,
      lotCode: `LOT-${at + 1}-${'W'.repeat(12)}`,
      quantity: '1,200 packs',
      useBy: at === 0 ? null : '2026-11-29',
    })),
  };

  test('lines without room are counted', () => {
    for (const layout of [LAYOUTS['roll-100x150'], LAYOUTS['a4-2x2']]) {
      const sketch = sketchCrate(crate, layout, 203, meter);
      expect(faultsIn(sketch)).toEqual([]);
      const said = saidBy(sketch);
      const shown = said.match(/\bDish \d+/g)?.length ?? 0;
      expect(said).toContain(`and ${40 - shown} more`);
      expect(said).toContain('(00)095210000000000018');
    }
  });

  test('a roll cage names the crates in it; what is not known is left out', () => {
    const cage = { ...crate, lines: [], innerSsccs: ['095210000000000025', '095210000000000032'], heldNote: null };
    const bare = { ...cage, toName: null, toAddress: null, dispatchCode: null, earliestUseBy: null, boxType: null };
    const said = saidBy(sketchCrate(cage, LAYOUTS['roll-100x150'], 203, meter));
    expect(said).toContain('Holds 2 crates (00)095210000000000025 (00)095210000000000032');
    expect(renderCrateSvg({ ...bare, storageInstruction: null }, LAYOUTS['roll-100x150'])).toContain('<svg');
  });
});
