/** A packing run while it is decided. */
import type { ReachingHold } from '../../ledger/index.ts';
import type { MadeFill } from '../fills.ts';
import type { BatchRow } from '../store.ts';

export interface RunSoFar {
  readonly batch: BatchRow;
  readonly fills: readonly MadeFill[];
  /** that reach what is packed */
  readonly holds: readonly ReachingHold[];
  readonly finishedAtMs: number;
  /** a request; else recorded afterwards */
  readonly asked: boolean;
}
