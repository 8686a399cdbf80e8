/**
 * Allergen codes and their union. Why: a lot copies the union of its inputs' allergens at birth, and the label must show
 * every one of them, in one order, with cereals and nuts named. A code is never dropped: a general code beside a named one
 * ("nuts" and "nuts:almonds") stays, because it may stand for another nut.
 *
 * Refusals: none. Codes are checked with `isAllergenCode` where they come in; an unknown one further in is a fault and
 * throws RangeError, since leaving it out silently could hurt somebody.
 */
import lists from '../../shared/allergens.json' with { type: 'json' };

const entries = lists.eu14.allergens.flatMap(({ code, label, named }) => [{ code, label }, ...named]);
const placeOf = new Map(entries.map(({ code }, place) => [code, place]));
const labelOf = new Map(entries.map(({ code, label }) => [code, label]));

/** Every code, in the order of Regulation (EU) No 1169/2011 Annex II; named cereals and nuts follow their group. */
export const allergenCodes: readonly string[] = entries.map(({ code }) => code);

/** True for a code of the list: a group (`nuts`) or a named one (`nuts:almonds`). */
export function isAllergenCode(code: string): boolean {
  return placeOf.has(code);
}

function placeInAnnex(code: string): number {
  const place = placeOf.get(code);
  if (place === undefined) throw new RangeError(`Unknown allergen code: ${code}`);
  return place;
}

/**
 * The word to print for a code, as in `Milk` or `Almonds`.
 * @throws RangeError on an unknown code
 */
export function allergenLabel(code: string): string {
  placeInAnnex(code);
  return labelOf.get(code) ?? code;
}

/**
 * Every code of every list, once, in Annex II order.
 * @throws RangeError on an unknown code
 */
export function unionAllergens(codeLists: readonly (readonly string[])[]): string[] {
  return [...new Set(codeLists.flat())].sort((a, b) => placeInAnnex(a) - placeInAnnex(b));
}

/**
 * Which of the nine US major food allergens (FALCPA, FASTER Act) stand behind these codes, in the US list's order.
 * The cautious way: gluten cereals without a name count as wheat. The names of nuts are in the codes, not here.
 * @throws RangeError on an unknown code
 */
export function usAllergensOf(codes: readonly string[]): string[] {
  codes.forEach(placeInAnnex);
  return lists.us9.allergens.filter(({ eu14 }) => eu14.some((code) => codes.includes(code))).map(({ code }) => code);
}
