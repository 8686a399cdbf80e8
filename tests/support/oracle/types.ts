/**
 * The words of the oracle: a second, slow and obvious reading of the ledger's rules, against which the real one is
 * compared. It shares no code with the product on purpose: a mistake would have to be made twice to go unseen.
 *
 * Times are epoch milliseconds. Quantities are integers in the lot's own unit. Ids are opaque strings.
 */

export interface OracleSite {
  readonly id: string;
  readonly receivingPlaceId: string;
  readonly quarantinePlaceId: string;
}

export interface OraclePlace {
  readonly id: string;
  readonly siteId: string;
  /** Nobody records use there: what a count finds gone was served. */
  readonly usedByCount?: boolean;
}

/** The last millisecond at which the lot may be used; a lot that is not listed has no limit. */
export interface DatedLot {
  readonly lotId: string;
  readonly useByMs: number;
}

export interface World {
  readonly sites: readonly OracleSite[];
  readonly places: readonly OraclePlace[];
  readonly lots?: readonly DatedLot[];
}

interface Told {
  readonly id: string;
  readonly occurredAt: number;
}

export interface LotAtPlace {
  readonly lotId: string;
  readonly placeId: string;
  readonly quantity: number;
}

export interface Fill {
  readonly fromLotId: string;
  readonly placeId: string;
  readonly usedQuantity: number;
  readonly packLotId: string;
  readonly packs: number;
  readonly toPlaceId: string;
}

export interface DispatchLine extends LotAtPlace {
  readonly serials?: readonly string[];
}

export type HoldScope = 'everywhere' | { readonly siteId: string } | { readonly placeId: string };

type ReceiveFact = Told & LotAtPlace & { readonly kind: 'receive' };
export type BatchInputFact = Told & LotAtPlace & { readonly kind: 'batch-input'; readonly batchId: string };
type BatchOutputFact = Told & LotAtPlace & { readonly kind: 'batch-output'; readonly batchId: string };
export type PackingFact = Told & {
  readonly kind: 'packing';
  readonly runId: string;
  readonly fills: readonly Fill[];
  /** The packs of a serialised lot are '1' up to String(packs). */
  readonly serialised: boolean;
};
export type MoveFact = Told & {
  readonly kind: 'move';
  readonly lotId: string;
  readonly fromPlaceId: string;
  readonly toPlaceId: string;
  readonly quantity: number;
};
export type DispatchFact = Told & {
  readonly kind: 'dispatch';
  readonly dispatchId: string;
  readonly toSiteId: string;
  readonly lines: readonly DispatchLine[];
};
type ArrivalCountedFact = Told & {
  readonly kind: 'arrival-counted';
  readonly dispatchId: string;
  readonly lotId: string;
  readonly quantity: number;
  readonly placeId?: string;
};
type UseFact = Told & LotAtPlace & { readonly kind: 'use' };
type DiscardFact = Told & LotAtPlace & { readonly kind: 'discard' };
type ReturnFact = Told & {
  readonly kind: 'return-from-service';
  readonly lotId: string;
  readonly siteId: string;
  readonly quantity: number;
};
export type CountFact = Told & {
  readonly kind: 'count';
  readonly placeId: string;
  readonly lines: readonly { readonly lotId: string; readonly counted: number }[];
  /** Of every lot that has no line there is nothing. */
  readonly complete?: boolean;
};
type ScanArrivalFact = Told & {
  readonly kind: 'scan-arrival';
  readonly dispatchId: string;
  readonly lotId: string;
  readonly serial: string;
  readonly placeId?: string;
};
type ScanPutAwayFact = Told & {
  readonly kind: 'scan-put-away';
  readonly siteId: string;
  readonly lotId: string;
  readonly serial: string;
  readonly placeId: string;
};
type ScanEndFact = Told & {
  readonly kind: 'scan-use' | 'scan-discard';
  readonly siteId: string;
  readonly lotId: string;
  readonly serial: string;
  readonly placeId?: string;
};
/**
 * A scan of a label without a serial. It sets a total: among those of one lot that speak of one thing (see totals.ts), the last
 * by time, then id, is all that counts.
 */
export type CountedScanFact = Told & {
  readonly kind: 'scan-counted';
  readonly what: 'arrival' | 'put-away' | 'use' | 'discard';
  readonly siteId: string;
  readonly lotId: string;
  readonly quantity: number;
  /** left out: the receiving place; a put-away always says where to */
  readonly placeId?: string;
  /** arrivals only */
  readonly dispatchId?: string;
  /** uses only */
  readonly meal?: string;
};
export type HoldFact = Told & {
  readonly kind: 'hold';
  readonly holdId: string;
  readonly lotId: string;
  readonly holdKind: string;
  readonly scope: HoldScope;
  readonly propagates: boolean;
};
type LiftFact = Told & { readonly kind: 'lift'; readonly holdId: string };
type ReversalFact = Told & { readonly kind: 'reversal'; readonly ofFactId: string };

export type ScanFact = ScanArrivalFact | ScanPutAwayFact | ScanEndFact;

export type OracleFact =
  | ReceiveFact
  | BatchInputFact
  | BatchOutputFact
  | PackingFact
  | MoveFact
  | DispatchFact
  | ArrivalCountedFact
  | UseFact
  | DiscardFact
  | ReturnFact
  | CountFact
  | ScanFact
  | CountedScanFact
  | HoldFact
  | LiftFact
  | ReversalFact;

/** One movement of one lot, at event time. Rank 1 is a count's difference: at one instant it comes after all else. */
export interface OraclePosting {
  readonly factId: string;
  readonly occurredAt: number;
  readonly rank: 0 | 1;
  readonly lotId: string;
  readonly from: string;
  readonly to: string;
  readonly quantity: number;
}

/** A hold in force on one lot: the one that was placed, or its copy on a descendant (always `everywhere`). */
export interface OpenHold {
  readonly holdId: string;
  readonly lotId: string;
  readonly holdKind: string;
  readonly scope: HoldScope;
  readonly copied: boolean;
}

export type TraceDirection = 'forward' | 'back';

/** `lots` includes the lot that was asked for; `edges` are written "parent>child" in both directions. */
export interface OracleTrace {
  readonly lots: Set<string>;
  readonly edges: Set<string>;
}

/** opening + received + produced + returned + transferIn - consumed - served - wasted - transferOut + adjusted = closing */
export interface MonthLine {
  readonly opening: number;
  readonly received: number;
  readonly produced: number;
  readonly returned: number;
  readonly transferIn: number;
  readonly consumed: number;
  readonly served: number;
  /** How much of `served` counts showed to be gone. */
  readonly servedDerived: number;
  readonly wasted: number;
  readonly transferOut: number;
  readonly adjusted: number;
  readonly closing: number;
}

export interface OracleState {
  readonly world: World;
  /** All facts in force (not reversed), in order of arrival. */
  readonly liveFacts: readonly OracleFact[];
  /** All movements in force, in event order. */
  readonly postings: readonly OraclePosting[];
  /** "lotId|accountKey" to its net; nets of zero are absent. */
  readonly net: Map<string, number>;
  /** "parent>child" */
  readonly edges: Set<string>;
  /** "lotId|accountKey" of every place or transit account whose net is below zero. */
  readonly shortfalls: Set<string>;
  /** "shortfall|lotId|accountKey", "seen-after-end|factId", "ended-twice|factId", "past-use-by|factId" */
  readonly findings: Set<string>;
  /** "holdId|lotId": what must be held, judged by the final graph alone. */
  readonly holdsMinimal: Set<string>;
  /** "holdId|lotId": what may be held, because a copy made on the way is not taken back when its edge vanishes. */
  readonly holdsPossible: Set<string>;
  /** The holds of `holdsMinimal`, in full. */
  readonly openHolds: readonly OpenHold[];
  readonly trace: (lotId: string, direction: TraceDirection) => OracleTrace;
  readonly whereIs: (lotId: string) => Map<string, number>;
  /** Months are half-open: [fromMs, toMs). `null` is the whole group. Lots without any figure are absent. */
  readonly monthReport: (fromMs: number, toMs: number, siteId: string | null) => Map<string, MonthLine>;
}
