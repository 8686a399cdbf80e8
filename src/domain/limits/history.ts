/**
 * Where each part of a lot has been. From the lot's postings in event time: what moves takes its history along, what joins keeps both
 * ways, and every limit then takes the worse of them. Whether a fact was recorded late does not matter, only when it happened.
 *
 * A way begins where the lot was made or taken in; what its inputs went through is in the dates and limits that it was born with. What was
 * counted missing and found again in the same place is taken never to have left, and so is what leaves a place after all that was booked
 * there had left. Food that turns up where it never was booked has been nobody knows where since the lot was made.
 */

/** One standing posting, reversals taken off. */
export interface LotPosting {
  readonly occurredAtMs: number;
  readonly fromAccountId: string;
  readonly toAccountId: string;
  readonly quantity: number;
  /** the batch, packing run or conversion that took it; null for anything else */
  readonly processId: string | null;
}

export interface LotAccount {
  readonly accountId: string;
  /** a shortfall account counts as the account that it is the twin of */
  readonly kind: 'place' | 'transit' | 'supplier' | 'consumed' | 'produced' | 'served' | 'waste' | 'variance';
  readonly twinOf: string | null;
}

/** The food was in that account; null: nobody knows where. */
interface AccountStay {
  readonly accountId: string | null;
  readonly fromMs: number;
  /** null: it is still there */
  readonly toMs: number | null;
}

export type Way = readonly AccountStay[];

interface PartHistory {
  readonly accountId: string;
  readonly quantity: number;
  /** by time; at least one */
  readonly ways: readonly Way[];
}

/** What a process took: where that had been until then. */
interface TakenHistory {
  readonly processId: string;
  readonly atMs: number;
  readonly ways: readonly Way[];
}

export interface LotHistory {
  readonly parts: readonly PartHistory[];
  readonly taken: readonly TakenHistory[];
  /** there were more ways than are looked at */
  readonly shortened: boolean;
}

/** Food that is fetched one by one all day makes many ways that hardly differ; those that moved last of all are kept. */
const MOST_WAYS = 60;

interface State {
  readonly quantities: Map<string, number>;
  readonly ways: Map<string, Way[]>;
  /** by account: the ways of what left it last; of an outside account, of what came to it last */
  readonly last: Map<string, Way[]>;
  readonly taken: Map<string, { atMs: number; ways: Way[] }>;
  readonly bornAtMs: number;
  shortened: boolean;
}

/**
 * @param postings of one lot, in any order, without those that were reversed and their reversals
 * @param accounts of every account that they name
 */
export function lotHistory(
  bornAtMs: number,
  postings: readonly LotPosting[],
  accounts: ReadonlyMap<string, LotAccount>,
): LotHistory {
  const state: State = {
    quantities: new Map(),
    ways: new Map(),
    last: new Map(),
    taken: new Map(),
    bornAtMs,
    shortened: false,
  };
  for (const posting of inOrder(postings, accounts)) take(state, posting, accounts);
  const parts = [...state.quantities].flatMap(([accountId, quantity]) =>
    quantity > 0 ? [{ accountId, quantity, ways: state.ways.get(accountId) ?? [unknownWay(bornAtMs)] }] : [],
  );
  parts.sort((a, b) => (a.accountId < b.accountId ? -1 : 1));
  const taken = [...state.taken].map(([processId, one]) => ({ processId, ...one }));
  taken.sort((a, b) => (a.processId < b.processId ? -1 : 1));
  return { parts, taken, shortened: state.shortened };
}

function physical(accountId: string, accounts: ReadonlyMap<string, LotAccount>): string | null {
  const account = accounts.get(accountId);
  if (!account || (account.kind !== 'place' && account.kind !== 'transit')) return null;
  return account.twinOf ?? account.accountId;
}

const textOf = (one: LotPosting): string =>
  [one.fromAccountId, one.toAccountId, String(one.quantity), one.processId ?? ''].join('|');

/** Clocks differ: food that is said to have left before it came is taken to have left when it came, if that is within a day. */
const CLOCKS_DIFFER_MS = 24 * 3_600_000;

/**
 * By time; food arrives before it goes on, so a move whose food has not come yet waits for it. The order does not depend on ids or on what
 * was recorded first.
 */
function inOrder(postings: readonly LotPosting[], accounts: ReadonlyMap<string, LotAccount>): LotPosting[] {
  const sorted = [...postings].sort((a, b) => a.occurredAtMs - b.occurredAtMs || (textOf(a) < textOf(b) ? -1 : 1));
  const out: LotPosting[] = [];
  const there = new Map<string, number>();
  let waiting: LotPosting[] = [];
  const move = (accountId: string | null, change: number): void => {
    if (accountId !== null) there.set(accountId, (there.get(accountId) ?? 0) + change);
  };
  const isReady = ({ fromAccountId, quantity }: LotPosting): boolean => {
    const from = physical(fromAccountId, accounts);
    return from === null || (there.get(from) ?? 0) >= quantity;
  };
  const goes = (posting: LotPosting, atMs: number): void => {
    move(physical(posting.fromAccountId, accounts), -posting.quantity);
    move(physical(posting.toAccountId, accounts), posting.quantity);
    out.push({ ...posting, occurredAtMs: atMs });
  };
  const release = (atMs: number): void => {
    for (let next = waiting.findIndex(isReady); next !== -1; next = waiting.findIndex(isReady)) {
      const [posting] = waiting.splice(next, 1) as [LotPosting];
      goes(posting, Math.max(atMs, posting.occurredAtMs));
    }
  };
  const giveUp = (beforeMs: number): void => {
    const late = waiting.filter((one) => one.occurredAtMs < beforeMs);
    waiting = waiting.filter((one) => one.occurredAtMs >= beforeMs);
    for (const one of late) goes(one, one.occurredAtMs);
  };
  for (const posting of sorted) {
    giveUp(posting.occurredAtMs - CLOCKS_DIFFER_MS);
    if (!isReady(posting)) {
      waiting.push(posting);
      continue;
    }
    goes(posting, posting.occurredAtMs);
    release(posting.occurredAtMs);
  }
  giveUp(Infinity);
  return out;
}

function take(state: State, posting: LotPosting, accounts: ReadonlyMap<string, LotAccount>): void {
  const { occurredAtMs: atMs, quantity, processId } = posting;
  const from = physical(posting.fromAccountId, accounts);
  const to = physical(posting.toAccountId, accounts);
  if (from === to) return;
  if (from !== null) {
    const moved = state.ways.get(from) ?? state.last.get(from) ?? [unknownWay(state.bornAtMs)];
    state.last.set(from, moved);
    if (to === null) {
      state.last.set(posting.toAccountId, reached(moved, null, atMs));
      if (processId !== null) remember(state, processId, atMs, closed(moved, atMs));
    }
    const left = (state.quantities.get(from) ?? 0) - quantity;
    state.quantities.set(from, left);
    if (left <= 0) state.ways.delete(from);
    if (to !== null) arrive(state, to, atMs, quantity, reached(moved, to, atMs));
  } else if (to !== null) {
    arrive(state, to, atMs, quantity, waysFromOutside(state, posting, to, accounts));
  }
}

function arrive(state: State, to: string, atMs: number, quantity: number, ways: readonly Way[]): void {
  const now = (state.quantities.get(to) ?? 0) + quantity;
  state.quantities.set(to, now);
  if (now > 0) state.ways.set(to, joined(state, state.ways.get(to) ?? [], ways));
}

/** Made or taken in there; found again; back from a ward; or nobody knows. */
function waysFromOutside(
  state: State,
  { fromAccountId, occurredAtMs: atMs }: LotPosting,
  to: string,
  accounts: ReadonlyMap<string, LotAccount>,
): Way[] {
  const kind = accounts.get(fromAccountId)?.kind;
  const known = kind === 'variance' ? (state.ways.get(to) ?? state.last.get(to)) : undefined;
  if (known) return known;
  if (kind === 'supplier' || kind === 'produced') return reached([[]], to, atMs);
  return reached(state.last.get(fromAccountId) ?? [unknownWay(state.bornAtMs)], to, atMs);
}

function unknownWay(fromMs: number): Way {
  return [{ accountId: null, fromMs, toMs: null }];
}

/** Ways that end at a time. */
function closed(ways: readonly Way[], atMs: number): Way[] {
  return ways.map((way) => {
    const last = way.at(-1);
    if (!last || last.toMs !== null) return way;
    const before = way.slice(0, -1);
    return atMs > last.fromMs ? [...before, { ...last, toMs: atMs }] : before;
  });
}

/** Ways that go on elsewhere from a time on. */
function reached(ways: readonly Way[], accountId: string | null, atMs: number): Way[] {
  return closed(ways, atMs).map((way) => [...way, { accountId, fromMs: atMs, toMs: null }]);
}

const wayText = (way: Way): string => way.map((one) => `${one.accountId ?? ''}@${one.fromMs}`).join('>');

const SAME_WITHIN_MS = 15 * 60_000;

/**
 * Packs that are scanned one by one make a way each, seconds apart. Ways through the same accounts that came to each within the same quarter
 * of an hour are told by those that came first or last somewhere.
 */
function outermost(ways: readonly Way[]): Way[] {
  const groups = new Map<string, Way[]>();
  for (const way of ways) {
    const key = way.map((one) => `${one.accountId ?? ''}@${Math.floor(one.fromMs / SAME_WITHIN_MS)}`).join('>');
    groups.set(key, [...(groups.get(key) ?? []), way]);
  }
  return [...groups.values()].flatMap((group) => {
    const kept = new Set<Way>();
    for (let at = 0; at < (group[0] as Way).length; at += 1) {
      const from = (way: Way): number => (way[at] as AccountStay).fromMs;
      const [first] = group;
      kept.add(group.reduce((a, b) => (from(b) < from(a) ? b : a), first as Way));
      kept.add(group.reduce((a, b) => (from(b) > from(a) ? b : a), first as Way));
    }
    return [...kept];
  });
}

function joined(state: State, there: readonly Way[], arrived: readonly Way[]): Way[] {
  const ways = new Map([...there, ...arrived].map((way) => [wayText(way), way]));
  const texts = [...ways].sort(([a], [b]) => (a < b ? -1 : 1));
  const sorted = outermost(texts.map(([, way]) => way));
  if (sorted.length <= MOST_WAYS) return sorted;
  state.shortened = true;
  const lastMoveMs = (way: Way): number => way.at(-1)?.fromMs ?? 0;
  return sorted.sort((a, b) => lastMoveMs(b) - lastMoveMs(a)).slice(0, MOST_WAYS);
}

function remember(state: State, processId: string, atMs: number, ways: readonly Way[]): void {
  const before = state.taken.get(processId);
  state.taken.set(processId, {
    atMs: Math.max(atMs, before?.atMs ?? atMs),
    ways: joined(state, before?.ways ?? [], ways),
  });
}
