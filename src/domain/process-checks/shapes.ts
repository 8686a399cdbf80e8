/**
 * What a process is checked for: control points, plans, what was measured, what it was held against and what came of it. Temperatures are
 * in degrees Celsius here, times in minutes or milliseconds; what is sent in Fahrenheit is converted before it comes here.
 */

export const STAGES = [
  'goods-in',
  'storage',
  'preparation',
  'cook',
  'chill',
  'pack',
  'freeze',
  'thaw',
  'load-out',
  'receipt',
  'regeneration',
  'hot-holding',
  'cleaning',
  'other',
] as const;
export type Stage = (typeof STAGES)[number];

/**
 * core-temperature, temperature (air, surface, between packs), ph, salt-in-water (%), water-activity: one value. elapsed-time: minutes
 * between two moments. lethality, cooling: a series. seal-test, metal-detection: a sample, so many tried, so many failed. yes-no: an answer.
 */
export const CHECK_KINDS = [
  'core-temperature',
  'temperature',
  'ph',
  'salt-in-water',
  'water-activity',
  'elapsed-time',
  'lethality',
  'cooling',
  'seal-test',
  'metal-detection',
  'yes-no',
] as const;
export type CheckKind = (typeof CHECK_KINDS)[number];

export type Basis = 'published' | 'second-hand' | 'common-practice' | 'from-memory';

/** Where a number comes from. `recomputed`: worked out from published inputs. */
export interface Source {
  readonly source: string;
  readonly edition: string;
  readonly basis: Basis | 'recomputed';
}

/** Minutes at a reference temperature that are wanted, and how lethality falls off on either side of it. */
export interface LethalityTarget {
  readonly code: string;
  readonly label: string;
  readonly referenceTemperatureC: number;
  readonly zBelowC: number;
  readonly zAboveC: number;
  readonly targetMinutes: number;
  /** decimal reductions that the target stands for */
  readonly logReduction: number;
  readonly source: Source;
}

/** One point of a cooling rule: from a temperature, or from the beginning, to a temperature within so many minutes. */
export interface CoolingPoint {
  readonly code: string;
  readonly label: string;
  /** null: from the first point of the series, which is the beginning of chilling */
  readonly fromC: number | null;
  readonly toC: number;
  readonly withinMinutes: number;
}

export interface CoolingRule {
  readonly code: string;
  readonly label: string;
  readonly points: readonly CoolingPoint[];
  readonly source: Source;
}

export type Limit =
  | { readonly form: 'value'; readonly atLeast: number | null; readonly atMost: number | null }
  | { readonly form: 'lethality'; readonly target: LethalityTarget }
  | { readonly form: 'cooling'; readonly rule: CoolingRule }
  | { readonly form: 'sample'; readonly leastTested: number; readonly mostFailed: number }
  | { readonly form: 'answer' };

export interface ControlPoint {
  /** of the plan: cook, chill, seal */
  readonly code: string;
  readonly label: string;
  readonly stage: Stage;
  readonly kind: CheckKind;
  readonly limit: Limit;
  readonly source: Source;
  /** a person has confirmed a limit that is from memory: without it, it never releases by itself */
  readonly confirmed: boolean;
  /** in a batch's copy: it asks less than the default of the site's jurisdiction */
  readonly looser?: true;
  /** what each needs one of its own of */
  readonly per: 'batch' | 'load' | 'packing-run';
  /** release: before food may leave; packing: before it may be packed as well; null: wanted, and holds nothing up */
  readonly requiredFor: 'release' | 'packing' | null;
  /** cannot be accepted when it failed or is missing: reject, rework, or correct the record */
  readonly critical: boolean;
  /** a later check of the same point may pass what an earlier one failed: cooked on, sealed again. Never for cooling */
  readonly repeatable: boolean;
}

export interface ProcessPlan {
  readonly points: readonly ControlPoint[];
  /** automatic: as soon as every point that release wants has passed and no deviation is open */
  readonly release: 'automatic' | 'by-hand';
  /** whoever had a hand in the batch does not release it */
  readonly twoPeople: boolean;
}

/** A series point; minutes from any beginning. */
export interface SeriesPoint {
  readonly minute: number;
  readonly temperatureC: number;
}

export type Measured =
  | { readonly form: 'value'; readonly value: number }
  | { readonly form: 'elapsed'; readonly fromMs: number; readonly toMs: number }
  | { readonly form: 'series'; readonly points: readonly SeriesPoint[] }
  | { readonly form: 'sample'; readonly tested: number; readonly failed: number }
  | { readonly form: 'answer'; readonly yes: boolean };

/** What the service made of a check. */
export interface Judgement {
  readonly result: 'passed' | 'failed';
  /** one plain sentence each; why it failed, or what was assumed */
  readonly reasons: readonly string[];
  /** what was reckoned: equivalentMinutes, crossings …; JSON */
  readonly numbers: Readonly<Record<string, unknown>>;
}

/** A check that stands: nothing supersedes it. */
export interface StandingCheck {
  readonly checkId: string;
  readonly controlPoint: string | null;
  readonly kind: CheckKind;
  readonly stage: Stage;
  readonly result: 'passed' | 'failed';
  readonly occurredAtMs: number;
  readonly batchId: string | null;
  readonly lotId: string | null;
  readonly packingRunId: string | null;
  readonly deviation: 'none' | 'open' | 'closed';
  /** it passed, and stands in the place of one that had failed */
  readonly madeGood: boolean;
}
