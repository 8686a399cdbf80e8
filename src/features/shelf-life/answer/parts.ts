/** Parts as answers speak of them. */
import type { ComputedLot } from '../limits/compute.ts';

export interface Where {
  readonly placeId: string | null;
  readonly dispatchId: string | null;
  /** in words */
  readonly where: string;
}

export interface PartInForce {
  readonly part: ComputedLot['parts'][number];
  /** in force: the part's own or the lot's, whichever is earlier */
  readonly useByAtMs: number | null;
  readonly where: Where;
}
