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

const groups: ReadonlyMap<string, readonly string[]> = new Map(
  lists.eu14.allergens.map(({ code, named }) => [code, named.map((one) => one.code)]),
);
const groupOf = (code: string): string => code.split(':')[0] ?? code;

/** Groups that the law wants named, said without a name: `gluten-cereals`, `nuts`. */
export function notNamed(codes: readonly string[]): string[] {
  return unionAllergens([codes]).filter((code) => (groups.get(code) ?? []).length > 0);
}

/**
 * What a label says beyond what is expected, in Annex II order. A named cereal or nut is expected where its group is; a bare
 * group is more than one of its names, because it may stand for another.
 */
export function declaredBeyond(declared: readonly string[], expected: readonly string[]): string[] {
  return unionAllergens([declared]).filter((code) => !expected.includes(code) && !expected.includes(groupOf(code)));
}

/**
 * What is there and a label does not say, in Annex II order. A bare group says its named ones, if vaguely; one named nut says
 * the group `nuts` where nobody knows which nut it is.
 */
export function leftUnsaid(declared: readonly string[], present: readonly string[]): string[] {
  const said = (code: string) =>
    declared.includes(code) ||
    declared.includes(groupOf(code)) ||
    (groups.get(code) ?? []).some((named) => declared.includes(named));
  return unionAllergens([present]).filter((code) => !said(code));
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
