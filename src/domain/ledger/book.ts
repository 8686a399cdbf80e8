/**
 * The ledger's arithmetic, pure. A book is what was loaded of the parts that a transaction touches; entries are posted
 * into it one by one and the accepted set is then written with one statement per table.
 *
 * Place and transit accounts have a shortfall twin: what leaves takes what is there and the rest from the twin, what
 * comes in settles the twin first. Never are both non-zero, so a part's state is the sum alone and any order of arrival
 * ends the same. Here a part has one signed net; the split into account and twin is made when a posting is written.
 *
 * A count asserts the balance at its own time. Whatever is recorded later but happened earlier (a late fact, a reversal,
 * another count) changes the difference of the next count after it by the opposite, in the same transaction. The difference
 * (counted minus booked) is variance; at a place used by count only what is over is, and what is gone was served. So a late
 * fact moves such a count's difference from v to w, and posts the change of use, max(0, -v) to max(0, -w), and of variance,
 * max(0, v) to max(0, w), each by itself: the totals follow from the facts alone, whatever came first.
 */
import {
  addComplete,
  addLine,
  isAfter,
  markKey,
  nextMark,
  openMarks,
  partKey,
  removeMarks,
  type CountDraft,
  type CountedLine,
  type CountHead,
  type CountMark,
  type Marks,
  type Moment,
  type Part,
} from './marks.ts';

export { partKey, type CountDraft, type CountHead, type CountMark };

type Basis = 'weighed' | 'counted' | 'from-recipe' | 'estimated' | 'derived';

export interface Move {
  readonly lotId: string;
  readonly fromAccountId: string;
  readonly toAccountId: string;
  /** whole units of the lot, above zero */
  readonly quantity: number;
  readonly basis: Basis;
  /** of waste: the site's code; of use: its purpose, none for service */
  readonly reason?: string | undefined;
  readonly destination?: string | undefined;
  /** of waste; none: food */
  readonly material?: 'inedible-parts' | undefined;
}

export interface EntryDraft {
  readonly entryId: string;
  readonly kind: string;
  readonly factId: string;
  readonly siteId: string;
  readonly occurredAtMs: number;
  readonly occurredOn: string;
  readonly contentHash: Buffer;
  readonly moves: readonly Move[];
  readonly reversesEntryId?: string;
  readonly batchId?: string;
  readonly packingRunId?: string;
  readonly dispatchId?: string;
  readonly countId?: string;
  readonly scanId?: string;
  readonly clockOffsetMs?: number | null;
  readonly note?: Readonly<Record<string, unknown>>;
}

/** What the book must know about a physical account. */
export interface PhysicalAccount {
  readonly accountId: string;
  readonly twinId: string;
  /** where a count's difference goes */
  readonly varianceId: string;
  /** where what a count finds gone goes, at a place used by count */
  readonly servedId: string;
}

/** A date that a part has of its own, earlier than its lot's. */
export interface PartDate {
  readonly holdId: string;
  readonly useByAtMs: number;
  /** everything in the part says it on its label */
  readonly labelled: boolean;
}

interface Delta extends Moment {
  readonly quantity: number;
}

export interface Book {
  readonly physical: Map<string, PhysicalAccount>;
  readonly nets: Map<string, number>;
  readonly marks: Marks;
  readonly deltas: Map<string, Delta[]>;
  readonly accepted: PostedEntry[];
  readonly touched: Set<string>;
  /** Use-by dates that parts have of their own, by `partKey`. */
  readonly dates: ReadonlyMap<string, PartDate>;
  /** Complete counts before it were not loaded, so nothing may be posted before it. */
  readonly sinceMs: number;
}

interface PostedEntry {
  readonly draft: EntryDraft;
  readonly postings: readonly Move[];
}

/**
 * @param lines what standing counts name of the parts that are touched
 * @param complete standing complete counts of the accounts that are touched
 * @param differences by `markKey`: what is posted for the marks of places used by count
 */
export function openBook(
  physical: readonly PhysicalAccount[],
  nets: ReadonlyMap<string, number>,
  lines: readonly CountMark[],
  complete: readonly CountHead[] = [],
  differences: ReadonlyMap<string, number> = new Map(),
  sinceMs = -Infinity,
  dates: ReadonlyMap<string, PartDate> = new Map(),
): Book {
  return {
    physical: new Map(physical.map((account) => [account.accountId, account])),
    nets: new Map(nets),
    marks: openMarks(lines, complete, differences),
    deltas: new Map(),
    accepted: [],
    touched: new Set(),
    dates,
    sinceMs,
  };
}

/** What is there now, below zero when it is a shortfall. */
export function netOf(book: Book, part: Part): number {
  return book.nets.get(partKey(part)) ?? 0;
}

/** Posts one entry, and the adjustments that it causes at later counts. Always succeeds. */
export function post(book: Book, draft: EntryDraft): void {
  if (draft.occurredAtMs < book.sinceMs) throw new RangeError('Posted before what the book was loaded for');
  book.accepted.push({ draft, postings: draft.moves.flatMap((move) => splitMove(book, move)) });
  const adjusting = new Map<string, Map<string, { mark: CountMark; change: number }>>();
  for (const move of draft.moves) {
    for (const [accountId, sign] of [
      [move.fromAccountId, -1],
      [move.toAccountId, 1],
    ] as const) {
      if (!book.physical.has(accountId)) continue;
      const part = { lotId: move.lotId, accountId };
      const key = partKey(part);
      const delta = { atMs: draft.occurredAtMs, countId: draft.countId ?? '', quantity: sign * move.quantity };
      addDelta(book, key, delta);
      const mark = nextMark(book.marks, part, delta);
      if (!mark) continue;
      const ofCount = adjusting.get(mark.countId) ?? new Map<string, { mark: CountMark; change: number }>();
      ofCount.set(key, { mark, change: (ofCount.get(key)?.change ?? 0) - delta.quantity });
      adjusting.set(mark.countId, ofCount);
    }
  }
  for (const byPart of adjusting.values()) {
    const changes = [...byPart.values()];
    const moves = changes.flatMap(({ mark, change }) => differenceMoves(book, mark, change));
    const [first] = changes;
    if (first && moves.length > 0) book.accepted.push(adjustment(book, draft, first.mark, moves));
  }
}

function addDelta(book: Book, key: string, delta: Delta): void {
  const before = book.deltas.get(key);
  if (before) before.push(delta);
  else book.deltas.set(key, [delta]);
}

function adjustment(book: Book, cause: EntryDraft, mark: CountHead, moves: readonly Move[]): PostedEntry {
  for (const move of moves) {
    const inwards = book.physical.has(move.toAccountId);
    const key = partKey({ lotId: move.lotId, accountId: inwards ? move.toAccountId : move.fromAccountId });
    const quantity = inwards ? move.quantity : -move.quantity;
    addDelta(book, key, { atMs: mark.occurredAtMs, countId: mark.countId, quantity });
  }
  const draft: EntryDraft = {
    entryId: '',
    kind: 'stock-count',
    factId: cause.factId,
    siteId: mark.siteId,
    occurredAtMs: mark.occurredAtMs,
    occurredOn: mark.occurredOn,
    contentHash: cause.contentHash,
    moves,
    countId: mark.countId,
    note: { adjustsCountFor: cause.entryId },
  };
  return { draft, postings: moves.flatMap((move) => splitMove(book, move)) };
}

/** The moves that change what is posted for a mark: its part goes up (or down) by the change of its difference. */
function differenceMoves(book: Book, mark: CountMark, change: number): Move[] {
  const account = book.physical.get(mark.accountId);
  if (!account || change === 0) return [];
  const { lotId, accountId } = mark;
  const over = (fromAccountId: string, quantity: number, basis: Basis): Move[] => {
    if (quantity === 0) return [];
    return quantity > 0
      ? [{ lotId, fromAccountId, toAccountId: accountId, quantity, basis }]
      : [{ lotId, fromAccountId: accountId, toAccountId: fromAccountId, quantity: -quantity, basis }];
  };
  if (!mark.usedByCount) return over(account.varianceId, change, 'counted');
  const before = book.marks.differences.get(markKey(mark)) ?? 0;
  const after = before + change;
  book.marks.differences.set(markKey(mark), after);
  const used = (difference: number) => Math.max(0, -difference);
  const found = (difference: number) => Math.max(0, difference);
  return [
    ...over(account.servedId, used(before) - used(after), 'derived'),
    ...over(account.varianceId, found(after) - found(before), 'counted'),
  ];
}

/**
 * Takes a count into the book: facts before it adjust it from now on. The caller posts the moves as the count's entry.
 * @param unnamed lots that may be at the place and that a complete count does not name
 * @param recordedBefore by `markKey`: the balance at the count's place in time from what was recorded before this transaction
 * @returns a line for each lot named, and for each unnamed one of which something was booked
 */
export function enterCount(
  book: Book,
  count: CountDraft,
  unnamed: readonly string[],
  recordedBefore: ReadonlyMap<string, number>,
): { lines: CountedLine[]; moves: Move[] } {
  const told = count.lines.map((line) => ({ ...line, named: true }));
  const implied = count.complete ? unnamed.map((lotId) => ({ lotId, counted: 0, named: false })) : [];
  const lines = [...told, ...implied].map((line): CountedLine => {
    const mark = { ...headOf(count), lotId: line.lotId };
    const booked = (recordedBefore.get(markKey(mark)) ?? 0) + bookedHere(book, mark);
    return { ...line, booked, difference: line.counted - booked };
  });
  if (count.complete) addComplete(book.marks, headOf(count));
  for (const { lotId } of count.lines) addLine(book.marks, { ...headOf(count), lotId });
  return {
    lines: lines.filter((line) => line.named || line.difference !== 0),
    moves: lines.flatMap((line) => differenceMoves(book, { ...headOf(count), lotId: line.lotId }, line.difference)),
  };
}

function headOf({ countId, accountId, siteId, occurredAtMs, occurredOn, usedByCount }: CountDraft): CountHead {
  return { countId, accountId, siteId, occurredAtMs, occurredOn, usedByCount };
}

/** What this transaction has posted to the part before the count, by event time. */
function bookedHere(book: Book, mark: CountMark): number {
  return (book.deltas.get(partKey(mark)) ?? [])
    .filter((delta) => isAfter(mark, delta))
    .reduce((sum, delta) => sum + delta.quantity, 0);
}

/** Takes a reversed count out of the book, so that it is adjusted no more. */
export function removeCount(book: Book, countId: string): void {
  removeMarks(book.marks, countId);
}

/** Splits a move between accounts and their twins and moves the nets. One or two, at most three postings. */
function splitMove(book: Book, move: Move): Move[] {
  const outs = segments(book, move.lotId, move.fromAccountId, move.quantity, -1);
  const ins = segments(book, move.lotId, move.toAccountId, move.quantity, 1);
  const postings: Move[] = [];
  let o = 0;
  let i = 0;
  while (o < outs.length && i < ins.length) {
    const out = outs[o] as Segment;
    const into = ins[i] as Segment;
    const quantity = Math.min(out.quantity, into.quantity);
    postings.push({ ...move, fromAccountId: out.accountId, toAccountId: into.accountId, quantity });
    out.quantity -= quantity;
    into.quantity -= quantity;
    if (out.quantity === 0) o += 1;
    if (into.quantity === 0) i += 1;
  }
  return postings;
}

interface Segment {
  readonly accountId: string;
  quantity: number;
}

function segments(book: Book, lotId: string, accountId: string, quantity: number, sign: 1 | -1): Segment[] {
  const account = book.physical.get(accountId);
  if (!account) return [{ accountId, quantity }];
  const key = partKey({ lotId, accountId });
  const net = book.nets.get(key) ?? 0;
  book.nets.set(key, net + sign * quantity);
  book.touched.add(key);
  // going out: first what is there; coming in: first what is owed
  const first = Math.min(quantity, Math.max(0, -sign * net));
  const [firstId, restId] = sign === -1 ? [accountId, account.twinId] : [account.twinId, accountId];
  return [
    { accountId: firstId, quantity: first },
    { accountId: restId, quantity: quantity - first },
  ].filter((segment) => segment.quantity > 0);
}
