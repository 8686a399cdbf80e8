/**
 * What becomes of the dates that parts have of their own when food moves. A date goes along with the food; where two parts join, the
 * earlier one holds for both, because they cannot be told apart any more. It stays where it came from as well: what is left there, or
 * comes back by an undo, went through the same.
 */
import { partKey, type Book, type PartDate } from './book.ts';
import type { Part } from './marks.ts';

interface CarriedDate extends Part {
  /** the row whose date goes along */
  readonly from: PartDate;
  /** the later date that stood there */
  readonly replaces: PartDate | null;
  /** all that is in the part now came from parts whose labels say the date */
  readonly labelled: boolean;
}

export interface DatesAfter {
  readonly carried: readonly CarriedDate[];
  /** rows of parts whose labels said the date, into which food came whose labels do not */
  readonly unlabelled: readonly string[];
  /** every part that has, or now gets, a date of its own and that was touched */
  readonly parts: readonly Part[];
}

/** Goes through what the book accepted, in its order, so that what is sent and received in one go takes its date all the way. */
export function datesAfter(book: Book): DatesAfter {
  const bases = new Map(
    [...book.physical.values()].flatMap(({ accountId, twinId }) => [
      [accountId, accountId],
      [twinId, accountId],
    ]),
  );
  const now = new Map(book.dates);
  const labelledIn = new Map<string, number>();
  const fresh = new Map<string, Omit<CarriedDate, 'labelled'>>();
  const unlabelled = new Set<string>();
  const parts = new Map<string, Part>();
  for (const { postings } of book.accepted) {
    for (const { lotId, fromAccountId, toAccountId, quantity } of postings) {
      const [from, to] = [bases.get(fromAccountId), bases.get(toAccountId)];
      const source = from === undefined ? undefined : { lotId, accountId: from };
      const target = to === undefined ? undefined : { lotId, accountId: to };
      for (const part of [source, target]) if (part && now.has(partKey(part))) parts.set(partKey(part), part);
      if (!source || !target || from === to) continue;
      const date = now.get(partKey(source));
      const key = partKey(target);
      const there = now.get(key);
      if (date?.labelled) labelledIn.set(key, (labelledIn.get(key) ?? 0) + quantity);
      if (date && (!there || date.useByAtMs < there.useByAtMs)) {
        now.set(key, date);
        parts.set(key, target);
        fresh.set(key, { ...target, from: date, replaces: book.dates.get(key) ?? null });
      } else if (there?.labelled && !date?.labelled) {
        unlabelled.add(there.holdId);
      }
    }
  }
  const carried = Array.from(fresh, ([key, one]) => {
    const labelled = one.from.labelled && (book.nets.get(key) ?? 0) <= (labelledIn.get(key) ?? 0);
    return { ...one, labelled };
  });
  return { carried, unlabelled: [...unlabelled], parts: [...parts.values()] };
}
