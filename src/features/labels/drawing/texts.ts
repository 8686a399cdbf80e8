/** Dates, weights and lists as a label words them. Throws RangeError on what is no date or no weight. */
import { DateTime } from 'luxon';
import type { LabelContent } from './content.ts';
import { bold, regular } from './sketch.ts';
import type { TextRun } from './text-fit.ts';
import { ENGLISH, type LabelWords } from './words.ts';

/** `2026-11-29` as `29 NOV 2026`, uncoded (Regulation (EU) No 1169/2011 Annex X); a time and what follows it stay behind. */
export function dayMonthYear(text: string, language: string): string {
  const match = /^(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}.*))?$/.exec(text);
  const date = DateTime.fromISO(match?.[1] ?? '', { zone: 'utc' });
  if (!match || !date.isValid) throw new RangeError(`Not a date to print on a label: ${text}`);
  // British English writes SEPT; every month gets three letters here.
  const locale = language.startsWith('en') ? 'en-US' : language;
  const month = date.setLocale(locale).toFormat('LLL').replace('.', '').toLocaleUpperCase(locale);
  return [date.toFormat('d'), month, date.toFormat('yyyy'), match[2]].filter(Boolean).join(' ');
}

/** Kilograms to the gram, with the decimal sign of the language: `1.750 kg`, in German `1,750 kg`. */
export function kilograms(massG: number, language: string): string {
  const digits = { minimumFractionDigits: 3, maximumFractionDigits: 3, useGrouping: false };
  return `${(massG / 1000).toLocaleString(language, digits)} kg`;
}

export function netWeight(netWeightG: number, language: string): string {
  if (!Number.isInteger(netWeightG) || netWeightG <= 0) throw new RangeError(`Not a net weight: ${netWeightG} g`);
  return netWeightG < 1000 ? `${netWeightG} g` : kilograms(netWeightG, language);
}

export const wordsOf = (label: { readonly words?: LabelWords }): LabelWords => label.words ?? ENGLISH;

/** A list of words in bold behind its heading; commas between. */
function listed(heading: string, words: readonly string[]): TextRun[] {
  return [regular(heading), ...words.map((word, index) => bold(index < words.length - 1 ? `${word},` : word))];
}

const escaped = (term: string): string => term.replaceAll(/[.*+?^${}()|[\]\\]/g, String.raw`\$&`);

/** A word as it may stand in a list of ingredients: in the singular or the plural, in capitals or not, not within another word. */
function finderOf(term: string): RegExp {
  const plain = term.replace(/\s*\(.*\)$/u, '').trim();
  const stem = plain.length > 3 ? plain.replace(/s$/u, '') : plain;
  return new RegExp(`(?<!\\p{L})${escaped(stem)}(?:e?s)?(?!\\p{L})`, 'giu');
}

/**
 * The ingredients with every allergen bold, and what of the allergens the list does not name. A token is bold as a whole, comma and
 * bracket included.
 */
function emphasise(text: string, allergens: readonly string[], more: readonly string[]): [TextRun[], string[]] {
  const spans: { from: number; to: number }[] = [];
  const unnamed: string[] = [];
  for (const term of [...allergens, ...more]) {
    const found = term.trim() === '' ? [] : [...text.matchAll(finderOf(term))];
    spans.push(...found.map(({ index, 0: match }) => ({ from: index, to: index + match.length })));
    if (found.length === 0 && allergens.includes(term)) unnamed.push(term);
  }
  const runs = [...text.matchAll(/\S+/gu)].map(({ index, 0: token }) =>
    spans.some(({ from, to }) => from < index + token.length && to > index) ? bold(token) : regular(token),
  );
  return [runs, unnamed];
}

/** What is in it: allergens within the ingredients where a list is given, else the allergens alone. */
export function contentsOf(label: LabelContent): TextRun[][] {
  const { allergens, mayContain, ingredients } = label;
  const words = wordsOf(label);
  const list = ingredients?.trim() ?? '';
  const paragraphs: TextRun[][] = [];
  if (list === '') {
    paragraphs.push(
      allergens.length > 0 ? listed(words.contains, allergens) : [regular(words.allergens), bold(words.noneRecorded)],
    );
  } else {
    const [runs, unnamed] = emphasise(list, allergens, label.emphasised ?? []);
    paragraphs.push([regular(words.ingredients), ...runs]);
    if (unnamed.length > 0) paragraphs.push(listed(words.contains, unnamed));
  }
  if (mayContain.length > 0) paragraphs.push(listed(words.mayContain, mayContain));
  return paragraphs;
}

/** Storage, and the day of freezing (Annex X point 3, from memory). */
export function keepingOf(label: LabelContent): TextRun[][] {
  const words = wordsOf(label);
  const frozenOn = label.frozenOn ?? null;
  const frozen = frozenOn === null ? [] : [[regular(words.frozenOn), bold(dayMonthYear(frozenOn, words.language))]];
  return [...frozen, [regular(label.storageInstruction)]];
}

/** `Packed 25 NOV 2026 by Jo Marsh, Riverside Central Kitchen, 1 Mill Lane`. */
export function madeText(label: LabelContent): string {
  const words = wordsOf(label);
  const by = label.packer === null ? '' : ` ${words.by} ${label.packer}`;
  const deed = words.deeds[label.deed ?? 'Packed'];
  const where = [label.siteName, label.siteAddress ?? ''].filter((text) => text !== '').join(', ');
  return [`${deed} ${dayMonthYear(label.packedOn, words.language)}${by}`, where]
    .filter((text) => text !== '')
    .join(', ');
}

/** What stands under a GS1 symbol for people: `(01)09521…(10)LOT`. Null for symbols without elements. */
export function readable(label: LabelContent): string | null {
  if (!label.symbol || !('elements' in label.symbol)) return null;
  return label.symbol.elements.map(({ ai, value }) => `(${ai})${value}`).join(' ');
}
