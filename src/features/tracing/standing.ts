/**
 * Where everything of a scope is, by item and by account, with the meaning that it has in a trace (quantities.ts).
 * Refusal: `trace-too-large`.
 */
import { Refused } from '../../domain/errors.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { WhereAnswer } from './contract.ts';
import { sum, whereOf, type ItemName } from './quantities.ts';
import { listFlows, type AsOf, type Direction } from './queries.ts';
import {
  expectMany,
  listAccounts,
  listItemNames,
  sumScope,
  sumScopeThen,
  type AccountRow,
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

interface Sum {
  produced: number;
  readonly where: (ItemWhere & { quantity: number })[];
}

async function standingOf(tx: Tx, sums: ScopeSums, asOf: AsOf | null): Promise<ScopeStanding> {
  const lotCounts = new Map(sums.lots.map(({ itemId, quantity }) => [itemId, quantity]));
  const lotCount = sum([...lotCounts.values()]);
  if (lotCount > MOST_LOTS) throw new Refused('trace-too-large', `More than ${MOST_LOTS} lots hang together here.`);
  const accounts = await listAccounts(tx, [...sums.stands.keys()]);
  const flows = sums.givenBack.size === 0 ? [] : await listFlows(tx, [...sums.givenBack.keys()], asOf);
  const names = await listItemNames(tx, [...lotCounts.keys()]);
  const items = new Map<string, Sum>([...lotCounts.keys()].map((itemId) => [itemId, { produced: 0, where: [] }]));
  for (const account of accounts) {
    for (const { itemId, quantity } of sums.stands.get(account.accountId) ?? [])
      addSum(items.get(itemId), account, quantity);
  }
  for (const { kind, lotId, siteId, siteName, quantity } of flows) {
    const item = items.get(sums.givenBack.get(lotId) ?? '');
    if (kind !== 'supplier' || quantity === 0 || item === undefined) continue;
    item.produced += quantity;
    item.where.push(...whereOf([], [{ siteId, siteName, quantity }]).map((one) => ({ ...one, toSiteName: null })));
  }
  return {
    lotCount,
    items: names.map((name) => {
      const { produced, where } = items.get(name.itemId) ?? { produced: 0, where: [] };
      return { ...name, lotCount: lotCounts.get(name.itemId) ?? 0, produced, where };
    }),
  };
}

/** A shortfall counts with its place or dispatch. There are thousands of these in a large scope, so nothing is copied. */
function addSum(item: Sum | undefined, account: AccountRow, quantity: number): void {
  if (item === undefined) return;
  const { kind, standsForId } = account;
  if (kind === 'supplier' || kind === 'produced') {
    item.produced -= quantity;
    return;
  }
  const isPlace = kind === 'place';
  const isTransit = kind === 'transit';
  if (standsForId !== account.accountId) {
    const same = item.where.find((one) => (isPlace ? one.placeId : one.dispatchId) === standsForId);
    if (same) {
      same.quantity += quantity;
      return;
    }
  }
  item.where.push({
    kind,
    siteId: account.siteId,
    siteName: account.siteName,
    placeId: isPlace ? standsForId : null,
    placeName: account.placeName,
    dispatchId: isTransit ? standsForId : null,
    toSiteId: isTransit ? account.toSiteId : null,
    toSiteName: isTransit ? account.toSiteName : null,
    quantity,
  });
}
