/**
 * Where everything of a scope is, by item and by account, with the meaning that it has in a trace (quantities.ts).
 * Refusal: `trace-too-large`.
 */
import { Refused } from '../../domain/errors.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { WhereAnswer } from './contract.ts';
import { producedOf, sum, whereOf, type ItemName } from './quantities.ts';
import { listFlows, type AsOf, type Direction, type FlowRow, type StandingRow } from './queries.ts';
import {
  expectMany,
  findAccounts,
  findItemNames,
  sumScope,
  sumScopeThen,
  type ScopeSums,
  type ScopeSource,
} from './scope-store.ts';

/** A year of a group's lots that all hold the same salt; above it, a report over a period answers more than a trace (common practice). */
const MOST_LOTS = 200_000;

/** What there is of one item in one account; of what is on the road, `siteId` is where it came from. */
interface ItemWhere extends WhereAnswer {
  readonly toSiteName: string | null;
}

export interface ItemStanding extends ItemName {
  readonly lotCount: number;
  readonly produced: number;
  /** everything outside supplier and production; sums to `produced` */
  readonly where: readonly ItemWhere[];
}

export interface ScopeStanding {
  readonly lotCount: number;
  /** by name */
  readonly items: readonly ItemStanding[];
}

export interface StandingOptions {
  /** also places where something of it once was and nothing is now, with quantity 0; half as long again over a large scope */
  readonly passed?: boolean;
}

/** Fast for tens of thousands of lots: they are summed where they are. Throws `trace-too-large` above 200,000. */
export async function scopeStanding(
  tx: Tx,
  source: ScopeSource,
  options: StandingOptions = {},
): Promise<ScopeStanding> {
  await expectMany(tx);
  return standingOf(tx, await sumScope(tx, source, MOST_LOTS + 1, options.passed ?? false), null);
}

/** The same of a walk, as recorded at a past moment. */
export async function standingThen(
  tx: Tx,
  walk: { readonly lotId: string; readonly direction: Direction },
  asOf: AsOf,
): Promise<ScopeStanding> {
  await expectMany(tx);
  return standingOf(tx, await sumScopeThen(tx, walk, MOST_LOTS + 1, asOf), asOf);
}

async function standingOf(tx: Tx, sums: ScopeSums, asOf: AsOf | null): Promise<ScopeStanding> {
  const lotCounts = new Map(sums.lots.map(({ itemId, quantity }) => [itemId, quantity]));
  const lotCount = sum([...lotCounts.values()]);
  if (lotCount > MOST_LOTS) throw new Refused('trace-too-large', `More than ${MOST_LOTS} lots hang together here.`);
  const accounts = await findAccounts(tx, [...sums.stands.keys()]);
  const flows = sums.givenBack.size === 0 ? [] : await listFlows(tx, [...sums.givenBack.keys()], asOf);
  const names = await findItemNames(tx, [...lotCounts.keys()]);
  const standing = new Map<string, Map<string, Standing>>();
  for (const [accountId, ofItems] of sums.stands) {
    const account = accounts.get(accountId);
    if (!account) continue;
    const { standsForId, accountId: _own, ...rest } = account;
    for (const { itemId, quantity } of ofItems) {
      const ofItem = standing.get(itemId) ?? new Map<string, Standing>();
      standing.set(itemId, ofItem);
      const before = ofItem.get(standsForId)?.quantity ?? 0;
      ofItem.set(standsForId, { ...rest, accountId: standsForId, quantity: before + quantity });
    }
  }
  const returns = new Map<string, FlowRow[]>();
  for (const flow of flows) {
    const itemId = sums.givenBack.get(flow.lotId);
    if (flow.kind !== 'supplier' || flow.quantity === 0 || itemId === undefined) continue;
    returns.set(itemId, [...(returns.get(itemId) ?? []), flow]);
  }
  const items = [...names.values()].map((name): ItemStanding => {
    const stands = [...(standing.get(name.itemId)?.values() ?? [])];
    const back = returns.get(name.itemId) ?? [];
    const sites = new Map(stands.map((row) => [row.toSiteId, row.toSiteName]));
    const where = whereOf(stands, back).map((one): ItemWhere => ({
      ...one,
      toSiteName: sites.get(one.toSiteId) ?? null,
    }));
    return { ...name, lotCount: lotCounts.get(name.itemId) ?? 0, produced: producedOf(stands, back), where };
  });
  return { lotCount, items };
}

type Standing = Omit<StandingRow, 'lotId'>;
