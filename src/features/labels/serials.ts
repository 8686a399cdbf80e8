/** Serials as a person writes them. Refusals: `serials-do-not-fit`, `rule-broken` (too many at once). */
import { Refused } from '../../domain/errors.ts';

/** A roll holds about as many; more at once keeps others waiting (common practice). */
const MOST_LABELS = 500;

/** @throws Refused `rule-broken` */
export function requireFew(count: number): void {
  if (count > MOST_LABELS) {
    throw new Refused('rule-broken', `At most ${MOST_LABELS} labels are printed at once, not ${count}; name serials.`);
  }
}

/**
 * The serials to print, in the order written; null for one label without a serial.
 * @param text such as `1,4,7-9`, its form checked already; undefined for all
 * @param lot with `quantity` packs at birth: serials run from 1 to it
 * @param pointer where the request says them
 */
export function serialsToPrint(
  text: string | undefined,
  lot: { code: string; serialised: boolean; quantity: number },
  pointer: '#/query/serials' | '#/serials',
): (string | null)[] {
  const misfit = (detail: string): Refused =>
    new Refused('serials-do-not-fit', detail, { errors: [{ detail, pointer }] });
  if (!lot.serialised) {
    if (text !== undefined) throw misfit(`Lot ${lot.code} is counted; its packs have no serials.`);
    return [null];
  }
  const ranges = (text ?? `1-${lot.quantity}`).split(',').map((part) => {
    const [first = 0, last = first] = part.split('-').map(Number);
    if (last < first) throw misfit(`The range ${part} runs backwards.`);
    if (last > lot.quantity) throw misfit(`Lot ${lot.code} has the serials 1 to ${lot.quantity}, not ${last}.`);
    return { first, count: last - first + 1 };
  });
  requireFew(ranges.reduce((sum, range) => sum + range.count, 0));
  const serials = ranges.flatMap(({ first, count }) => Array.from({ length: count }, (_, at) => String(first + at)));
  // Two packs with one serial could not be told apart.
  if (new Set(serials).size < serials.length) throw misfit('A serial is named twice.');
  return serials;
}
