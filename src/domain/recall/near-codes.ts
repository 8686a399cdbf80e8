/**
 * Which known codes somebody may have meant: those within two slips of a finger (a character too many, too few or another one), and those
 * that begin alike. Codes are compared in capitals, letters and digits only. Two slips and half a common beginning: common practice.
 */

export interface NearCode<T> {
  readonly candidate: T;
  readonly distance: number;
}

const MOST_SLIPS = 2;

/** Levenshtein distance, or MOST_SLIPS + 1 when it is more than that. */
function slipsBetween(a: string, b: string): number {
  if (Math.abs(a.length - b.length) > MOST_SLIPS) return MOST_SLIPS + 1;
  let row = Array.from({ length: b.length + 1 }, (_, at) => at);
  for (let i = 1; i <= a.length; i += 1) {
    const next = [i];
    for (let j = 1; j <= b.length; j += 1) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      next.push(Math.min((row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1, (row[j - 1] ?? 0) + same));
    }
    row = next;
  }
  return Math.min(row[b.length] ?? 0, MOST_SLIPS + 1);
}

function commonBeginning(a: string, b: string): number {
  let at = 0;
  while (at < a.length && at < b.length && a[at] === b[at]) at += 1;
  return at;
}

/** Nearest first; the same distance: the longer common beginning first. At most `most`. */
export function nearestCodes<T>(
  asked: string,
  candidates: readonly T[],
  keyOf: (one: T) => string,
  most: number,
): NearCode<T>[] {
  const enough = Math.max(3, Math.ceil(asked.length / 2));
  return candidates
    .map((candidate) => {
      const key = keyOf(candidate);
      return { candidate, key, distance: slipsBetween(asked, key), begins: commonBeginning(asked, key) };
    })
    .filter((one) => one.distance <= MOST_SLIPS || one.begins >= enough)
    .sort((a, b) => a.distance - b.distance || b.begins - a.begins || (a.key < b.key ? -1 : a.key > b.key ? 1 : 0))
    .slice(0, most)
    .map(({ candidate, distance }) => ({ candidate, distance }));
}
