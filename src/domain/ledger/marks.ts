/**
 * What counts assert, in event time. A count that names a lot asserts what it counted of it; a complete count asserts zero
 * of every other lot of its place, also of lots that are heard of only later. So the marks of a part are the lines that name
 * it and the complete counts of its account that do not. Refusals: none.
 */

export interface Part {
  readonly lotId: string;
  /** a place or transit account, never its twin */
  readonly accountId: string;
}

export const partKey = (part: Part): string => `${part.lotId}|${part.accountId}`;

export interface CountHead {
  readonly countId: string;
  readonly accountId: string;
  readonly siteId: string;
  readonly occurredAtMs: number;
  readonly occurredOn: string;
  /** nobody records use there: what the count finds gone was served */
  readonly usedByCount: boolean;
}

/** A count in what it says of one lot. */
export interface CountMark extends CountHead {
  readonly lotId: string;
}

/** A count as it is told: the lots that it names, each once. */
export interface CountDraft extends CountHead {
  readonly complete: boolean;
  readonly lines: readonly { readonly lotId: string; readonly counted: number }[];
}

/** What a count says of one lot. difference = counted - booked */
export interface CountedLine {
  readonly lotId: string;
  readonly counted: number;
  readonly booked: number;
  readonly difference: number;
  /** false: a complete count says it by not naming the lot */
  readonly named: boolean;
}

export interface Moment {
  readonly atMs: number;
  /** ordinary facts ('') come before counts of the same millisecond, counts by their id */
  readonly countId: string;
}

export interface Marks {
  /** by part, in event order */
  readonly lines: Map<string, CountMark[]>;
  /** complete counts by account, in event order */
  readonly complete: Map<string, CountHead[]>;
  /** count and part: what complete counts name themselves */
  readonly named: Set<string>;
  /** count and part: counted minus booked as far as it is posted; absent is nought. Kept for places used by count. */
  readonly differences: Map<string, number>;
}

export const markKey = (mark: CountMark): string => `${mark.countId}|${partKey(mark)}`;

export function openMarks(
  lines: readonly CountMark[],
  complete: readonly CountHead[],
  differences: ReadonlyMap<string, number>,
): Marks {
  const marks: Marks = { lines: new Map(), complete: new Map(), named: new Set(), differences: new Map(differences) };
  for (const line of lines) addLine(marks, line);
  for (const head of complete) addComplete(marks, head);
  return marks;
}

export function addLine(marks: Marks, line: CountMark): void {
  marks.lines.set(partKey(line), inOrder([...(marks.lines.get(partKey(line)) ?? []), line]));
  marks.named.add(markKey(line));
}

export function addComplete(marks: Marks, head: CountHead): void {
  marks.complete.set(head.accountId, inOrder([...(marks.complete.get(head.accountId) ?? []), head]));
}

export function removeMarks(marks: Marks, countId: string): void {
  for (const kept of [marks.lines, marks.complete] as Map<string, CountHead[]>[]) {
    for (const [key, heads] of kept) {
      const without = heads.filter((head) => head.countId !== countId);
      if (without.length < heads.length) kept.set(key, without);
    }
  }
}

/** The first count after a moment that says something of the part. */
export function nextMark(marks: Marks, part: Part, moment: Moment): CountMark | null {
  const line = firstAfter(marks.lines.get(partKey(part)) ?? [], moment, () => true);
  const unnamed = ({ countId }: CountHead) => !marks.named.has(`${countId}|${partKey(part)}`);
  const head = firstAfter(marks.complete.get(part.accountId) ?? [], moment, unnamed);
  if (!head || (line && compare(line, head) < 0)) return line;
  return { ...head, lotId: part.lotId };
}

/** Does the count come after the moment in event time? Ties: facts before counts, counts by id. */
export function isAfter(mark: CountHead, moment: Moment): boolean {
  if (mark.occurredAtMs !== moment.atMs) return mark.occurredAtMs > moment.atMs;
  return mark.countId > moment.countId;
}

const compare = (a: CountHead, b: CountHead): number =>
  a.occurredAtMs - b.occurredAtMs || (a.countId < b.countId ? -1 : 1);

const inOrder = <T extends CountHead>(heads: T[]): T[] => heads.sort(compare);

/** Halving: a place may have been counted a thousand times, and scans come by the thousand. */
function firstAfter<T extends CountHead>(ordered: readonly T[], moment: Moment, fits: (head: T) => boolean): T | null {
  let low = 0;
  let high = ordered.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (isAfter(ordered[middle] as T, moment)) high = middle;
    else low = middle + 1;
  }
  for (let at = low; at < ordered.length; at += 1) if (fits(ordered[at] as T)) return ordered[at] as T;
  return null;
}
