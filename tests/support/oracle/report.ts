/** The month of each lot, by event time: what was there, what came, what went, what a count changed, what is left. */
import { isPhysical, placeAccount } from './atlas.ts';
import type { MonthLine, OraclePosting, World } from './types.ts';

type Figures = { -readonly [K in keyof MonthLine]: number };

const nothing = (): Figures => ({
  opening: 0,
  received: 0,
  produced: 0,
  returned: 0,
  transferIn: 0,
  consumed: 0,
  served: 0,
  servedDerived: 0,
  wasted: 0,
  transferOut: 0,
  adjusted: 0,
  closing: 0,
});

const INFLOWS: Readonly<Record<string, keyof MonthLine>> = {
  supplier: 'received',
  produced: 'produced',
  served: 'returned',
  place: 'transferIn',
  transit: 'transferIn',
};

const OUTFLOWS: Readonly<Record<string, keyof MonthLine>> = {
  consumed: 'consumed',
  served: 'served',
  waste: 'wasted',
  place: 'transferOut',
  transit: 'transferOut',
};

const familyOf = (account: string): string => account.slice(0, account.indexOf(':'));

function flowName(table: Readonly<Record<string, keyof MonthLine>>, account: string): keyof MonthLine {
  const name = table[familyOf(account)];
  if (name === undefined) throw new Error(`oracle: no flow for account ${account}`);
  return name;
}

/**
 * Opening and closing are sums of balances, not of flows, so that the two sides of the identity are found apart.
 * With a site, goods on the road are outside; for the whole group (null) they are inside.
 */
export function monthOf(
  world: World,
  postings: readonly OraclePosting[],
  fromMs: number,
  toMs: number,
  siteId: string | null,
): Map<string, MonthLine> {
  const ownPlaces = new Set(world.places.filter((p) => p.siteId === siteId).map((p) => placeAccount(p.id)));
  const inScope = (account: string): boolean => (siteId === null ? isPhysical(account) : ownPlaces.has(account));

  const month = new Map<string, Figures>();
  for (const p of postings) {
    const line = month.get(p.lotId) ?? nothing();
    month.set(p.lotId, line);
    const comes = inScope(p.to);
    const goes = inScope(p.from);
    const change = (comes ? p.quantity : 0) - (goes ? p.quantity : 0);
    if (p.occurredAt < fromMs) line.opening += change;
    if (p.occurredAt < toMs) line.closing += change;
    if (p.occurredAt < fromMs || p.occurredAt >= toMs || comes === goes) continue;
    if (p.rank === 1 && p.to.startsWith('served:')) line.servedDerived += p.quantity;
    if (p.rank === 1 && !p.to.startsWith('served:')) line.adjusted += change;
    else if (comes) line[flowName(INFLOWS, p.from)] += p.quantity;
    else line[flowName(OUTFLOWS, p.to)] += p.quantity;
  }
  for (const [lotId, line] of month) {
    if (Object.values(line).every((figure) => figure === 0)) month.delete(lotId);
  }
  return month;
}
