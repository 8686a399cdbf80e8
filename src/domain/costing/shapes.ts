/** What the cost of lots is reckoned from, and what comes of it. */

/** Fine units in one minor unit of money: 10^18, so that what a floor leaves over never reaches a printed figure. */
export const FINE_PER_MINOR = 10n ** 18n;

export interface CostPrice {
  /** minor units for `perQuantity`; null: nobody said, or said 0 without saying that it was free of charge */
  readonly minor: bigint | null;
  /** in the lot's unit, above zero */
  readonly perQuantity: bigint;
  /** the last price said was 0 and is taken as not said */
  readonly zero?: boolean;
}

export interface CostLot {
  readonly lotId: string;
  /** at birth, in the lot's unit, above zero */
  readonly quantity: number;
  readonly massMg: number;
  /** packaging has no part in masses of food */
  readonly packaging: boolean;
  /**
   * `bought`: came from outside, at a price. `unbought`: came from outside and was never bought by lot (what was in a bin that nobody
   * kept count of). `free`: not kept by lot and without a price, such as water. `made`: came out of a process.
   */
  readonly source: 'bought' | 'unbought' | 'free' | 'made';
  /** of what came from outside */
  readonly price: CostPrice | null;
  /** of what was made; null for what came from outside */
  readonly processId: string | null;
  readonly madeBy: CostProcess['kind'] | null;
  /** what stands as made, reversals net, in the lot's unit; 0 for what came from outside */
  readonly stands: number;
}

/** What of a lot went into a process, reversals net. */
export interface CostTaking {
  readonly processId: string;
  readonly lotId: string;
  /** above zero, in the lot's unit */
  readonly quantity: number;
  /** the entry that first said so: of the takings that form a circle, the last one closes it */
  readonly firstSeq: number;
}

export interface CostProcess {
  readonly processId: string;
  readonly kind: 'batch' | 'packing' | 'conversion';
  /** of a batch, in millionths of the mass of what went in */
  readonly expectedYieldPpm: number;
  /** water taken up and the like, in mg; known once the batch is complete */
  readonly gainsMg: number;
  /** rates that apply, summed: minor units for the batch and for each kg that came out */
  readonly perBatchMinor: bigint;
  readonly perKgMinor: bigint;
}

export type UncostedReason = 'no-price' | 'price-zero' | 'uncosted-input' | 'nothing-went-in' | 'made-from-itself';

export interface LotCost {
  readonly lotId: string;
  /** fine units of one unit of quantity */
  readonly unitFine: bigint;
  /** some of what went in has no price */
  readonly uncosted: boolean;
  readonly reason: UncostedReason | null;
  /** of its mass, how much has no price: millionths, rounded up */
  readonly unpricedPpm: number;
  /** mass bought from suppliers that is in one unit, in micrograms, rounded down */
  readonly boughtUgPerUnit: bigint;
}

export interface ProcessCost {
  readonly processId: string;
  /** what went in and what was added by rates */
  readonly poolFine: bigint;
  /** of that, what was added by rates */
  readonly addedFine: bigint;
  /** the worth of what came out and stands */
  readonly carriedFine: bigint;
  /** pool less carried: work in process, or lost beyond the plan */
  readonly restFine: bigint;
}
