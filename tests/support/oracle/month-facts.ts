/**
 * What can be told in a story of some months: food that moves, prices, rates, closes. The order of the list is the order of telling: a
 * cut is the number of facts told by then. Times are epoch milliseconds, quantities whole numbers in the item's unit, money minor units.
 */
export interface MonthSite {
  readonly id: string;
  readonly timeZone: string;
}

export interface MonthPlace {
  readonly id: string;
  readonly siteId: string;
  /** What a count finds gone there was served. */
  readonly usedByCount: boolean;
}

export interface MonthItem {
  readonly id: string;
  readonly unit: 'g' | 'ml' | 'piece';
  /** of one unit */
  readonly unitMassMg: number;
  readonly packaging?: boolean;
  /** water: one standing pseudo-lot, which costs nothing and was not bought */
  readonly untracked?: boolean;
}

export interface MonthRecipe {
  readonly id: string;
  readonly itemId: string;
  readonly expectedYieldPpm: number;
}

export interface MonthWorld {
  readonly sites: readonly MonthSite[];
  readonly places: readonly MonthPlace[];
  readonly items: readonly MonthItem[];
  readonly recipes: readonly MonthRecipe[];
}

interface Told {
  readonly id: string;
  readonly occurredAt: number;
}

interface Part {
  readonly lotId: string;
  readonly placeId: string;
  readonly quantity: number;
}

/** A lot is born with its whole quantity and its whole mass. */
interface Born extends Part {
  readonly itemId: string;
  /** milligrams; left out: quantity times the item's unit mass */
  readonly massMg?: number;
}

type BoughtFact = Told & Born & { readonly kind: 'bought'; readonly priceMinor: number | null };
type PriceFact = Told & {
  readonly kind: 'price';
  readonly lotId: string;
  readonly priceMinor: number;
  /** null: for all of the lot */
  readonly perQuantity: number | null;
  readonly freeOfCharge: boolean;
};
export type RateFact = Told & {
  readonly kind: 'rate';
  readonly rateKind: string;
  readonly siteId: string | null;
  readonly recipeId: string | null;
  readonly perBatchMinor: number | null;
  readonly perKgMinor: number | null;
  readonly fromDate: string;
  readonly throughDate: string | null;
};
/** `occurredAt` is when it was started. */
export type BatchFact = Told & {
  readonly kind: 'batch';
  readonly batchId: string;
  readonly siteId: string;
  readonly recipeId: string;
};
/** `itemId` of an item that is not kept by lot: it comes from the tap, and its standing lot is born with its first use. */
type InputFact = Told & Part & { readonly kind: 'input'; readonly batchId: string; readonly itemId?: string };
export type OutputFact = Told & Born & { readonly kind: 'output'; readonly batchId: string };
type CompletionFact = Told & {
  readonly kind: 'completion';
  readonly batchId: string;
  readonly gainsMg: number;
};
type PackingFact = Told & {
  readonly kind: 'packing';
  readonly batchId: string;
  readonly fills: readonly { readonly from: Part; readonly packs: Born }[];
};
type ConversionFact = Told & { readonly kind: 'conversion'; readonly from: Part; readonly into: Born };
type MoveFact = Told & Part & { readonly kind: 'move'; readonly toPlaceId: string };
type DepartureFact = Told & {
  readonly kind: 'departure';
  readonly dispatchId: string;
  readonly toSiteId: string;
  readonly lines: readonly Part[];
};
type ArrivalFact = Told & { readonly kind: 'arrival'; readonly dispatchId: string; readonly lines: readonly Part[] };
type UseFact = Told &
  Part & {
    readonly kind: 'use';
    readonly purpose: 'service' | 'staff-meal' | 'donation' | 'tasting' | 'laboratory';
  };
type DiscardFact = Told &
  Part & {
    readonly kind: 'discard';
    readonly reason: string;
    readonly destination: string | null;
    readonly material: 'food' | 'inedible-parts';
  };
type ReturnFact = Told & Part & { readonly kind: 'back-from-service' | 'back-to-supplier' };
type CountFact = Told & {
  readonly kind: 'count';
  readonly placeId: string;
  readonly lines: readonly { readonly lotId: string; readonly counted: number }[];
};
type ReversalFact = Told & { readonly kind: 'reversal'; readonly ofFactId: string };
type CloseFact = Told & { readonly kind: 'close'; readonly month: string };
/** Takes the month's newest close out of force. */
type ReopeningFact = Told & { readonly kind: 'reopening'; readonly month: string };

export type MonthFact =
  | BoughtFact
  | PriceFact
  | RateFact
  | BatchFact
  | InputFact
  | OutputFact
  | CompletionFact
  | PackingFact
  | ConversionFact
  | MoveFact
  | DepartureFact
  | ArrivalFact
  | UseFact
  | DiscardFact
  | ReturnFact
  | CountFact
  | ReversalFact
  | CloseFact
  | ReopeningFact;

/** What a lot was born with. */
export interface MonthLot {
  readonly lotId: string;
  readonly itemId: string;
  readonly quantity: number;
  readonly massMg: number;
  readonly bought: BoughtFact | null;
}

export function itemOf(world: MonthWorld, itemId: string): MonthItem {
  const item = world.items.find((one) => one.id === itemId);
  if (item === undefined) throw new Error(`oracle: no item ${itemId}`);
  return item;
}

export function siteOfPlace(world: MonthWorld, placeId: string): string {
  const place = world.places.find((one) => one.id === placeId);
  if (place === undefined) throw new Error(`oracle: no place ${placeId}`);
  return place.siteId;
}

/** Every lot that was ever born, undone or not: a lot keeps what it was born with. */
export function lotsOf(world: MonthWorld, facts: readonly MonthFact[]): Map<string, MonthLot> {
  const lots = new Map<string, MonthLot>();
  const bear = (born: Born, bought: BoughtFact | null): void => {
    const { lotId, itemId, quantity } = born;
    const massMg = born.massMg ?? quantity * itemOf(world, itemId).unitMassMg;
    lots.set(lotId, { lotId, itemId, quantity, massMg, bought });
  };
  for (const fact of facts) {
    if (fact.kind === 'bought') bear(fact, fact);
    if (fact.kind === 'output') bear(fact, null);
    if (fact.kind === 'input' && fact.itemId !== undefined) {
      const { lotId, itemId } = fact;
      lots.set(lotId, { lotId, itemId, quantity: 1, massMg: itemOf(world, itemId).unitMassMg, bought: null });
    }
    if (fact.kind === 'conversion') bear(fact.into, null);
    if (fact.kind === 'packing') for (const fill of fact.fills) bear(fill.packs, null);
  }
  return lots;
}

/** The site's date of an instant, YYYY-MM-DD. */
export function dateAt(world: MonthWorld, siteId: string, atMs: number): string {
  const site = world.sites.find((one) => one.id === siteId);
  if (site === undefined) throw new Error(`oracle: no site ${siteId}`);
  return new Intl.DateTimeFormat('en-CA', { timeZone: site.timeZone }).format(atMs);
}
