/** What limits are computed from, and what they are. Times are whole milliseconds since the epoch. */
import type { Sums } from '../exposure/sums.ts';
import type { Segment } from '../exposure/shapes.ts';
import type { Basis } from './policies.ts';
import type { ControlFactor } from './controls.ts';
import type { RateModel } from '../life/relative-rates.ts';

/** Raised when the same facts come to other limits than before: everything in stock is computed anew. */
export const LIMITS_VERSION = 1;

export interface LotFacts {
  readonly bornAtMs: number;
  /** of the site where it was born: its days */
  readonly timeZone: string;
  readonly printedUseByAtMs: number | null;
  /** of the whole lot, where people or its inputs brought it forward; null: no limit */
  readonly lotUseByAtMs: number | null;
  readonly anchors: Readonly<Record<string, number>>;
  readonly origin: string;
  readonly storage: 'chilled' | 'frozen' | 'ambient';
  readonly handling: 'raw' | 'ready-to-eat';
  /** cooked and chilled by its batch's steps */
  readonly cookChill: boolean;
  readonly controls: readonly ControlFactor[];
  /** limits that it was born with: opened, thawed, regenerated, days left */
  readonly born: readonly { readonly why: string; readonly endsAtMs: number }[];
  readonly model: ItemModel | null;
  /** the earliest computed end of what it was made from without a kill step between; null: none has one */
  readonly input: InputLimit | null;
}

interface InputLimit {
  readonly endsAtMs: number;
  readonly lotCode: string;
  readonly code: string;
  /** what it was made from must not be eaten at all */
  readonly forbids: boolean;
}

/** An item's spoilage model with the person who validated it for the item. */
export interface ItemModel {
  readonly validationId: string;
  readonly model: RateModel;
  readonly reference: { readonly temperatureC: number; readonly lifeH: number };
  readonly validatedBy: string;
  readonly basis: 'challenge-test' | 'shelf-life-study' | 'published' | 'from-memory';
  readonly document: string | null;
}

/** What the food on one way went through until now. */
export interface WayExposure {
  readonly sums: Sums;
  readonly unmonitoredMs: number;
  readonly toMs: number;
  /** from when on nobody has seen that it is where it is presumed to be; null: it was seen */
  readonly presumedFromMs: number | null;
  /** the same in order; null when no rule needs it (`needsSegments`) */
  readonly segments: readonly Segment[] | null;
}

export interface Limit {
  readonly code: string;
  /** the policy set that it is of; null for what holds everywhere */
  readonly policySet: string | null;
  readonly label: string;
  readonly tier: 'everyday' | 'model';
  /** null: it sets no end as things stand */
  readonly endsAtMs: number | null;
  /** since when it sets that end, if something happened; null: from birth on */
  readonly sinceMs: number | null;
  /** the food must not be eaten, whatever the date */
  readonly forbids: boolean;
  readonly basis: Basis | 'validated' | 'recorded';
  readonly source: string;
  readonly assumption: string;
  readonly drives: boolean;
  /** it drives nothing only because nobody has seen the food where it is presumed to be */
  readonly presumed: boolean;
  /** why it drives nothing */
  readonly whySilent: string | null;
  readonly explanation: string;
  readonly unmonitoredMs: number;
  /** share of a model's life that is used; null for other limits */
  readonly usedFraction: number | null;
}

export const HOUR_MS = 3_600_000;
export const MINUTE_MS = 60_000;
