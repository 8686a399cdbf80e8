/**
 * Which month of the books a posting belongs to. A month that was closed stays as it was: what is recorded about it later stands in the
 * next month that was open then. Months are texts such as 2026-10, which sort as they follow.
 *
 * Refusals: none.
 */

/** A month that is closed, and the last entry that is in it. In month order, without a gap; cuts never fall. */
export interface Close {
  readonly month: string;
  readonly cutSeq: number;
}

/** `count` months on; back when below zero. */
export function monthsOn(month: string, count: number): string {
  const [year = 0, ordinal = 0] = month.split('-').map(Number);
  const at = year * 12 + ordinal - 1 + count;
  return `${String(Math.floor(at / 12)).padStart(4, '0')}-${String((at % 12) + 1).padStart(2, '0')}`;
}

/** How many months there are from the one through the other; below one when they are the wrong way round. */
export function monthsFrom(month: string, throughMonth: string): number {
  const [from = 0, through = 0] = [month, throughMonth].map((one) => {
    const [year = 0, ordinal = 0] = one.split('-').map(Number);
    return year * 12 + ordinal;
  });
  return through - from + 1;
}

/**
 * The earliest month that an entry could still get into, whatever its date: the month after the last one that was closed without it.
 * Null where none was: also before the first closed month, which is closed along with it.
 */
function floorOf(seq: number, closes: readonly Close[]): string | null {
  const missed = closes.filter((close) => seq > close.cutSeq).at(-1);
  return missed === undefined ? null : monthsOn(missed.month, 1);
}

/** What was summed: entries after `fromSeq` through `toSeq`, and the latest month that something in it happened in. */
export interface Stretch {
  readonly fromSeq: number;
  readonly toSeq: number;
  readonly lastMonth: string | null;
}

/** A run of entries that all have one floor and are all on one side of the report's cut. */
export interface Segment {
  readonly fromSeq: number;
  /** null: through whatever is the last one */
  readonly toSeq: number | null;
  /** read as sums; otherwise posting by posting */
  readonly summed: boolean;
  readonly floor: string | null;
  /** recorded after the report's cut */
  readonly beyond: boolean;
}

/**
 * Cuts all entries into runs: summed stretches as a whole where no cut lies within, else posting by posting between the cuts. What
 * cannot matter is left out: everything in it belongs to months before `since` and was known at the cut.
 * @param stretches in order of seq, without overlap; a gap is read posting by posting
 */
export function segmentsOf(
  stretches: readonly Stretch[],
  { cutSeq, closes, since }: { cutSeq: number; closes: readonly Close[]; since: string },
): Segment[] {
  const cuts = [...new Set([cutSeq, ...closes.map((close) => close.cutSeq)])].sort((a, b) => a - b);
  const segments: Segment[] = [];
  const add = (fromSeq: number, toSeq: number | null, summed: boolean): void => {
    segments.push({ fromSeq, toSeq, summed, floor: floorOf(fromSeq + 1, closes), beyond: fromSeq >= cutSeq });
  };
  const addPostings = (fromSeq: number, toSeq: number | null): void => {
    let from = fromSeq;
    for (const cut of cuts) {
      if (cut <= from || (toSeq !== null && cut >= toSeq)) continue;
      add(from, cut, false);
      from = cut;
    }
    if (toSeq === null || from < toSeq) add(from, toSeq, false);
  };
  let at = 0;
  for (const { fromSeq, toSeq, lastMonth } of stretches) {
    if (fromSeq > at) addPostings(at, fromSeq);
    at = toSeq;
    const latest = [lastMonth, floorOf(toSeq, closes)]
      .filter((month) => month !== null)
      .sort()
      .at(-1);
    if (lastMonth === null || (toSeq <= cutSeq && (latest ?? '') < since)) continue;
    if (cuts.some((cut) => cut > fromSeq && cut < toSeq)) addPostings(fromSeq, toSeq);
    else add(fromSeq, toSeq, true);
  }
  addPostings(at, null);
  return segments;
}
