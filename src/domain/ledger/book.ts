/**
 * The ledger's arithmetic, pure. A book is what was loaded of the parts that a transaction touches; entries are posted
 * into it one by one and the accepted set is then written with one statement per table.
 *
 * Place and transit accounts have a shortfall twin: what leaves takes what is there and the rest from the twin, what
 * comes in settles the twin first. Never are both non-zero, so a part's state is the sum alone and any order of arrival
 * ends the same. Here a part has one signed net; the split into account and twin is made when a posting is written.
 *
 * A count asserts the balance at its own time. Whatever is recorded later but happened earlier (a late fact, a reversal,
 * another count) adds the opposite variance to the next count after it, in the same transaction.
 */

type Basis = 'weighed' | 'counted' | 'from-recipe' | 'estimated' | 'derived';

export interface Move {
  readonly lotId: string;
  readonly fromAccountId: string;
  readonly toAccountId: string;
  /** whole units of the lot, above zero */
  readonly quantity: number;
  readonly basis: Basis;
  readonly reason?: string | undefined;
  readonly destination?: string | undefined;
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

export interface Part {
  readonly lotId: string;
  /** a place or transit account, never its twin */
  readonly accountId: string;
}

export interface CountMark extends Part {
  readonly countId: string;
  readonly occurredAtMs: number;
  readonly occurredOn: string;
  readonly siteId: string;
}

/** What the book must know about a physical account. */
export interface PhysicalAccount {
  readonly accountId: string;
  readonly twinId: string;
  /** where a count's difference goes */
  readonly varianceId: string;
}

interface Delta {
  readonly atMs: number;
  /** ordinary facts come before counts of the same millisecond, counts by their id */
  readonly countId: string;
  readonly quantity: number;
}

export interface Book {
  readonly physical: Map<string, PhysicalAccount>;
  readonly nets: Map<string, number>;
  readonly counts: Map<string, CountMark[]>;
  readonly deltas: Map<string, Delta[]>;
  readonly accepted: PostedEntry[];
  readonly touched: Set<string>;
}

interface PostedEntry {
  readonly draft: EntryDraft;
  readonly postings: readonly Move[];
}

export const partKey = (part: Part): string => `${part.lotId}|${part.accountId}`;

export function openBook(
  physical: readonly PhysicalAccount[],
  nets: ReadonlyMap<string, number>,
  counts: readonly CountMark[],
): Book {
  const byPart = new Map<string, CountMark[]>();
  for (const mark of counts) insertMark(byPart, mark);
  return {
    physical: new Map(physical.map((account) => [account.accountId, account])),
    nets: new Map(nets),
    counts: byPart,
    deltas: new Map(),
    accepted: [],
    touched: new Set(),
  };
}

/** What is there now, below zero when it is a shortfall. */
export function netOf(book: Book, part: Part): number {
  return book.nets.get(partKey(part)) ?? 0;
}

/** Posts one entry, and the adjusting variances that it causes at later counts. Always succeeds. */
export function post(book: Book, draft: EntryDraft): void {
  book.accepted.push({ draft, postings: draft.moves.flatMap((move) => splitMove(book, move)) });
  const adjusting = new Map<string, { mark: CountMark; byPart: Map<string, { part: Part; quantity: number }> }>();
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
      const mark = (book.counts.get(key) ?? []).find((one) => isAfter(one, delta));
      if (!mark) continue;
      const forCount = adjusting.get(mark.countId) ?? {
        mark,
        byPart: new Map<string, { part: Part; quantity: number }>(),
      };
      const so = forCount.byPart.get(key) ?? { part, quantity: 0 };
      forCount.byPart.set(key, { part, quantity: so.quantity - delta.quantity });
      adjusting.set(mark.countId, forCount);
    }
  }
  for (const { mark, byPart } of adjusting.values()) {
    const moves = [...byPart.values()].flatMap(({ part, quantity }) => varianceMoves(book, part, quantity));
    if (moves.length > 0) book.accepted.push(adjustment(book, draft, mark, moves));
  }
}

function addDelta(book: Book, key: string, delta: Delta): void {
  const before = book.deltas.get(key);
  if (before) before.push(delta);
  else book.deltas.set(key, [delta]);
}

function adjustment(book: Book, cause: EntryDraft, mark: CountMark, moves: readonly Move[]): PostedEntry {
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

/** The moves that bring a part up (or down) by a signed quantity against the site's variance. */
export function varianceMoves(book: Book, part: Part, quantity: number): Move[] {
  const account = book.physical.get(part.accountId);
  if (!account || quantity === 0) return [];
  const { lotId, accountId } = part;
  return quantity > 0
    ? [{ lotId, fromAccountId: account.varianceId, toAccountId: accountId, quantity, basis: 'counted' }]
    : [{ lotId, fromAccountId: accountId, toAccountId: account.varianceId, quantity: -quantity, basis: 'counted' }];
}

/**
 * The variance of a count: counted minus the balance at that time by event time.
 * @param recordedBefore the balance at the count's place in time from what was recorded before this transaction
 */
export function varianceOf(book: Book, mark: CountMark, counted: number, recordedBefore: number): number {
  const here = (book.deltas.get(partKey(mark)) ?? [])
    .filter((delta) => isAfter(mark, delta))
    .reduce((sum, delta) => sum + delta.quantity, 0);
  return counted - recordedBefore - here;
}

/** From now on in this book, facts before this count adjust it. */
export function addCount(book: Book, mark: CountMark): void {
  insertMark(book.counts, mark);
}

/** Takes a reversed count out of the book, so that it is adjusted no more. */
export function removeCount(book: Book, countId: string): void {
  for (const [key, marks] of book.counts) {
    book.counts.set(
      key,
      marks.filter((mark) => mark.countId !== countId),
    );
  }
}

function insertMark(counts: Map<string, CountMark[]>, mark: CountMark): void {
  const marks = [...(counts.get(partKey(mark)) ?? []), mark];
  marks.sort((a, b) => a.occurredAtMs - b.occurredAtMs || (a.countId < b.countId ? -1 : 1));
  counts.set(partKey(mark), marks);
}

/** Does the count come after the delta in event time? Ties: facts before counts, counts by id. */
function isAfter(mark: CountMark, delta: Pick<Delta, 'atMs' | 'countId'>): boolean {
  if (mark.occurredAtMs !== delta.atMs) return mark.occurredAtMs > delta.atMs;
  return mark.countId > delta.countId;
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
