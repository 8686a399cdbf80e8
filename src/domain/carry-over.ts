/**
 * What food leaves behind on a packing machine for the food after it. Between two foods only a full clean-down counts; a rinse takes off
 * what can be seen. Two things carry over: an allergen that the later food does not hold, and raw food before food that is eaten as it
 * is. Judged from what happened when, never from what was recorded when, so that late facts end the same. Refusals: none.
 */

/** One food on the machine: a fill of a run, until the run changes over or ends. */
export interface Pass {
  readonly key: string;
  readonly runId: string;
  readonly beginsMs: number;
  readonly endsMs: number;
  readonly allergens: readonly string[];
  readonly raw: boolean;
}

export interface CarryOver {
  readonly kind: 'allergen-carry-over' | 'raw-before-ready-to-eat';
  readonly earlier: Pass;
  readonly later: Pass;
  /** those that the later food does not hold and no pass between the two had left already */
  readonly allergens: readonly string[];
}

/**
 * How many runs without a clean-down between are looked back over: more than a machine does in a day, after which it is cleaned
 * (common practice).
 */
export const LOOK_BACK_RUNS = 100;

const inTime = (a: Pass, b: Pass): number => a.endsMs - b.endsMs || (a.key < b.key ? -1 : 1);

/**
 * @param passes of one machine
 * @param cleanedAtMs its full clean-downs; one counts between two passes when the earlier was over and the later had not begun
 */
export function carryOvers(passes: readonly Pass[], cleanedAtMs: readonly number[]): CarryOver[] {
  const ordered = [...passes].sort(inTime);
  return ordered.flatMap((later, at) => carriedTo(later, ordered.slice(0, at).reverse(), cleanedAtMs));
}

/** @param before newest first */
function carriedTo(later: Pass, before: readonly Pass[], cleanedAtMs: readonly number[]): CarryOver[] {
  const found: CarryOver[] = [];
  const named = new Set(later.allergens);
  const runs = new Set<string>();
  let raw = later.raw;
  for (const earlier of before) {
    runs.add(earlier.runId);
    if (runs.size > LOOK_BACK_RUNS) break;
    // What ended before this one was cleaned off by the same clean-down.
    if (cleanedAtMs.some((atMs) => atMs >= earlier.endsMs && atMs <= later.beginsMs)) break;
    const allergens = earlier.allergens.filter((code) => !named.has(code)).sort();
    for (const code of allergens) named.add(code);
    if (allergens.length > 0) found.push({ kind: 'allergen-carry-over', earlier, later, allergens });
    if (earlier.raw && !raw) {
      found.push({ kind: 'raw-before-ready-to-eat', earlier, later, allergens: [] });
      raw = true;
    }
  }
  return found;
}
