/** Which month a movement belongs to, and on which line of a report it stands for a set of sites. */
import { siteOfPlace, type MonthFact, type MonthWorld } from './month-facts.ts';
import type { ToldMovement } from './month-postings.ts';

export const IN_LINES = ['received', 'produced', 'returnedIn', 'transferIn', 'adjusted'] as const;
export const OUT_LINES = [
  'consumed',
  'served',
  'servedDerived',
  'staffMeals',
  'donated',
  'tasted',
  'sampled',
  'wasted',
  'transferOut',
  'returnedToSupplier',
] as const;
export type Flow = (typeof IN_LINES)[number] | (typeof OUT_LINES)[number];
export type Line = Flow | 'opening' | 'closing';
export type MoneyLine = Line | 'revalued';

/** A close that is in force: its month, and how many facts were told before it. */
export interface ActiveClose {
  readonly month: string;
  readonly cut: number;
}

export function activeCloses(facts: readonly MonthFact[]): ActiveClose[] {
  const active: ActiveClose[] = [];
  for (const [at, fact] of facts.entries()) {
    if (fact.kind === 'close') active.push({ month: fact.month, cut: at });
    if (fact.kind === 'reopening')
      active.splice(
        active.findIndex((close) => close.month === fact.month),
        1,
      );
  }
  return active.sort((a, b) => (a.month < b.month ? -1 : 1));
}

/** How many facts had been told when the month was closed, by the close in force; null when there is none. */
export function cutOfClose(facts: readonly MonthFact[], month: string): number | null {
  const closes = activeCloses(facts);
  const [first] = closes;
  if (first && month < first.month) return first.cut;
  return closes.find((close) => close.month === month)?.cut ?? null;
}

function monthAfter(month: string): string {
  const [year = 0, ordinal = 0] = month.split('-').map(Number);
  return ordinal === 12 ? `${year + 1}-01` : `${year}-${String(ordinal + 1).padStart(2, '0')}`;
}

export function monthBefore(month: string): string {
  const [year = 0, ordinal = 0] = month.split('-').map(Number);
  return ordinal === 1 ? `${year - 1}-12` : `${year}-${String(ordinal - 1).padStart(2, '0')}`;
}

/** The first month from its own on in which it could still be written. */
export function periodOf(moved: ToldMovement, closes: readonly ActiveClose[]): string {
  const [first] = closes;
  let month = moved.occurredOn.slice(0, 7);
  // what happened before the first close was closed with it
  if (first && month < first.month) {
    if (moved.told <= first.cut) return month;
    month = first.month;
  }
  for (;;) {
    const close = closes.find((one) => one.month === month);
    if (close === undefined || moved.told <= close.cut) return month;
    month = monthAfter(month);
  }
}

const familyOf = (account: string): string => account.slice(0, account.indexOf(':'));

function outsideLine(moved: ToldMovement, family: string, inward: boolean): { line: Flow; sign: 1 | -1 } {
  switch (family) {
    case 'supplier':
      return { line: inward ? 'received' : 'returnedToSupplier', sign: 1 };
    case 'produced':
      return { line: 'produced', sign: 1 };
    case 'consumed':
      return { line: 'consumed', sign: 1 };
    case 'waste':
      return { line: 'wasted', sign: 1 };
    case 'variance':
      return { line: 'adjusted', sign: inward ? 1 : -1 };
    case 'served': {
      if (moved.kind === 'count') return { line: 'servedDerived', sign: inward ? -1 : 1 };
      if (inward) return { line: 'returnedIn', sign: 1 };
      const purposes: Readonly<Record<string, Flow>> = {
        'staff-meal': 'staffMeals',
        donation: 'donated',
        tasting: 'tasted',
        laboratory: 'sampled',
      };
      return { line: purposes[moved.reason ?? ''] ?? 'served', sign: 1 };
    }
    default:
      throw new Error(`oracle: no line for ${family}`);
  }
}

export interface Scope {
  /** null: the whole group, with the road */
  readonly siteIds: readonly string[] | null;
}

/** On which line a movement stands for the scope, and how much; null: on none. */
export function lineOf(
  world: MonthWorld,
  { siteIds }: Scope,
  moved: ToldMovement,
): { line: Flow; quantity: number; inward: boolean } | null {
  const within = (account: string): boolean => {
    const name = account.slice(account.indexOf(':') + 1);
    if (familyOf(account) === 'road') return siteIds === null;
    if (familyOf(account) !== 'place') return false;
    return siteIds === null || siteIds.includes(siteOfPlace(world, name));
  };
  const [fromIn, toIn] = [within(moved.from), within(moved.to)];
  if (fromIn === toIn) return null;
  const family = familyOf(fromIn ? moved.to : moved.from);
  if (family === 'place' || family === 'road') {
    return { line: toIn ? 'transferIn' : 'transferOut', quantity: moved.quantity, inward: toIn };
  }
  const { line, sign } = outsideLine(moved, family, toIn);
  return { line, quantity: sign * moved.quantity, inward: toIn };
}
