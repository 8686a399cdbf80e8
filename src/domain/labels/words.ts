/**
 * The words of labels by language (shared/label-words.json). Refusals: none. A language or code that is not in the list is a fault of the
 * caller and throws RangeError: an allergen must never be left out because its word is missing.
 */
import table from '../../../shared/label-words.json' with { type: 'json' };
import { unionAllergens } from '../allergens.ts';

export type LabelLanguage = keyof typeof table.languages;

export const labelLanguages = Object.keys(table.languages) as readonly LabelLanguage[];

/** How sure the words of a language are: only English is anything but from memory. */
export const basisOfLanguage = (language: LabelLanguage): string => table.languages[language].basis;

/** Fixed words, as the table has them. */
export const fixedWords = (language: LabelLanguage) => table.languages[language].words;

function wordsOf(list: Readonly<Record<string, string>>, codes: readonly string[]): string[] {
  return codes.map((code) => {
    const word = list[code];
    if (word === undefined) throw new RangeError(`There is no word for ${code}`);
    return word;
  });
}

/** In the order of Annex II, each once. */
export function allergenWords(language: LabelLanguage, codes: readonly string[]): string[] {
  return wordsOf(table.languages[language].allergens, unionAllergens([codes]));
}

export function dietWords(language: LabelLanguage, codes: readonly string[]): string[] {
  return wordsOf(table.languages[language].diets, codes);
}

/** What stands on a label for the holds in force, the gravest first; null without any. `use-by` is told as a date. */
export function heldNote(language: LabelLanguage, kinds: ReadonlySet<string>): string | null {
  const { holds, words } = table.languages[language];
  const known = Object.keys(holds).filter((kind) => kinds.has(kind));
  if (known.length === 0) return null;
  const labels = wordsOf(holds, known.reverse());
  if (known.length === 1 && known[0] === 'awaiting-release')
    return `${holds['awaiting-release']}: ${words.doNotSendOut}`;
  return `${words.onHold}: ${labels.join(', ')}`;
}
