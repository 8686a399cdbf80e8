/** Words of labels: no language leaves an allergen, a diet or a hold without its word. The lists are those of shared/, not of the words. */
import { expect, test } from 'vitest';
import diets from '../../../shared/diets.json' with { type: 'json' };
import holds from '../../../shared/holds.json' with { type: 'json' };
import { allergenCodes } from '../../../src/domain/allergens.ts';
import { allergenWords, dietWords, fixedWords, heldNote, labelLanguages } from '../../../src/domain/labels/words.ts';

test.each(labelLanguages)('%s has a word for everything', (language) => {
  const words = allergenWords(language, allergenCodes);
  // two allergens of one name could not be told apart
  expect(new Set(words).size).toBe(allergenCodes.length);
  expect(
    dietWords(
      language,
      diets.diets.list.map((diet) => diet.code),
    ).every((word) => word !== ''),
  ).toBe(true);
  const told = holds.kinds.filter((kind) => kind.blocks.length > 0);
  for (const { code } of told) expect(heldNote(language, new Set([code]))).not.toBeNull();
  expect(JSON.stringify(fixedWords(language))).not.toContain('""');
});

// Annex X of Regulation (EU) No 1169/2011 in its language versions, point 2 (a); from memory
test.each([
  ['en', 'use by'],
  ['fr', 'à consommer jusqu’au'],
  ['de', 'zu verbrauchen bis'],
  ['es', 'fecha de caducidad'],
  ['it', 'da consumare entro'],
  ['nl', 'te gebruiken tot'],
  ['pl', 'należy spożyć do'],
] as const)('%s: %s', (language, words) => {
  expect(fixedWords(language).useBy.toLowerCase()).toBe(words);
});

test('the gravest hold first; a date of its own is no hold to print; nothing is nothing', () => {
  expect(heldNote('en', new Set(['awaiting-release', 'recall']))).toBe('ON HOLD: Recalled, Awaiting release');
  expect(heldNote('de', new Set(['awaiting-release']))).toBe('Wartet auf Freigabe: nicht versenden');
  expect(heldNote('en', new Set(['use-by']))).toBeNull();
  expect(() => allergenWords('en', ['nuts:unheard-of'])).toThrow(RangeError);
});
