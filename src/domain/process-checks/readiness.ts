/**
 * What stands between food and its release: for each load, and for packs where the plan asks something of each packing run, the points of
 * the plan with what the checks that stand say of them.
 *
 * Which checks count: per batch, any check of the point in the batch; per load, those of that load, and those of the batch as a whole where
 * it has a single load; per packing run, those of the run or of any packs of it. One that failed counts for every load or run that it may be
 * about: whatever does not name another one. A point that may be repeated goes by its latest check; of two at one time the failed one counts.
 * A point that may not be repeated has failed as soon as one check that stands has.
 */
import type { CheckKind, ControlPoint, ProcessPlan, StandingCheck } from './shapes.ts';

export interface LotToRelease {
  readonly lotId: string;
  readonly kind: 'load' | 'packs';
  readonly packingRunId: string | null;
  /** packs: the loads that they were made from */
  readonly fromLotIds: readonly string[];
}

/** deviation-open: passed since, but what was done about an earlier failure is not closed */
export type PointState = 'passed' | 'failed' | 'missing' | 'deviation-open';

/**
 * Why nothing is released by a check, though it passed. limit-from-memory: nobody has confirmed its limit. looser-limit: its
 * limit asks less than the default of the jurisdiction, and nobody has confirmed it. probe-doubted: the probe was found to
 * measure wrongly, and nothing shows that it measured well then. before-batch: it is dated well before the batch began. whole-batch: it names no load,
 * and further loads may come out of the batch. made-good: a correction stands in the place of a check that had failed.
 */
export type Unsure =
  'limit-from-memory' | 'looser-limit' | 'probe-doubted' | 'before-batch' | 'whole-batch' | 'made-good';

export interface PointReadiness {
  readonly code: string;
  readonly label: string;
  readonly state: PointState;
  /** the check that rules */
  readonly checkId: string | null;
  readonly critical: boolean;
  readonly requiredFor: ControlPoint['requiredFor'];
  /** a person decides, whatever was measured; empty when nothing speaks against the check that rules */
  readonly unsure: readonly Unsure[];
}

/** What is known of the batch beside its checks. */
export interface BatchFacts {
  readonly startedAtMs: number;
  /** no load comes out of it any more */
  readonly completed: boolean;
  /** ids of checks that a failed calibration puts in doubt */
  readonly doubted: ReadonlySet<string>;
  /** food is in it that was rejected for rework: before or after it went in */
  readonly reworks: boolean;
}

type LotState = 'complete' | 'missing' | 'failed' | 'deviation-open';

/**
 * Whether a load that food for rework went into was heated, which is all that makes such food safe: a check of this batch shows it, or one is
 * asked that is to show it, or none is.
 */
type Heat = 'not-needed' | 'shown' | 'asked' | 'not-asked';

export interface LotReadiness {
  readonly lotId: string;
  /** of the points that release waits for; the worst */
  readonly state: LotState;
  readonly points: readonly PointReadiness[];
  readonly heat: Heat;
  /** a check of no point of the plan failed, of the batch or of this lot, and what was done about it is not closed */
  readonly openBeside: boolean;
  /** every point that release waits for has passed, by checks that nothing speaks against, and the plan allows it */
  readonly releasesByItself: boolean;
}

const isOfLot = (point: ControlPoint, lot: LotToRelease): boolean =>
  point.per === 'packing-run' ? lot.kind === 'packs' : lot.kind === 'load';

const ofWholeBatch = (check: StandingCheck): boolean => check.lotId === null && check.packingRunId === null;

const isOfRun = (check: StandingCheck, lot: LotToRelease): boolean =>
  check.packingRunId !== null && check.packingRunId === lot.packingRunId;

function checksOf(
  point: ControlPoint,
  lot: LotToRelease,
  lots: readonly LotToRelease[],
  loadIds: ReadonlySet<string>,
  checks: readonly StandingCheck[],
): StandingCheck[] {
  const ofPoint = checks.filter((check) => check.controlPoint === point.code);
  if (point.per === 'batch') return ofPoint;
  if (point.per === 'load') {
    const ofAnother = (check: StandingCheck) => {
      if (check.lotId !== null && loadIds.has(check.lotId)) return check.lotId !== lot.lotId;
      const packs = lots.filter((one) => isOfRun(check, one));
      return packs.length > 0 && packs.every((one) => !one.fromLotIds.includes(lot.lotId));
    };
    return ofPoint.filter((check) =>
      check.result === 'failed'
        ? !ofAnother(check)
        : check.lotId === lot.lotId || (loadIds.size === 1 && ofWholeBatch(check)),
    );
  }
  return ofPoint.filter((check) => {
    const ofThis = isOfRun(check, lot) || check.lotId === lot.lotId;
    const ofAnotherLoad = check.lotId !== null && loadIds.has(check.lotId) && !lot.fromLotIds.includes(check.lotId);
    const mayBe = check.packingRunId === null && !ofAnotherLoad;
    return ofThis || (check.result === 'failed' && mayBe);
  });
}

/** Oldest first; of two at one time the failed one last. */
const byTime = (a: StandingCheck, b: StandingCheck): number =>
  a.occurredAtMs - b.occurredAtMs || Number(a.result === 'failed') - Number(b.result === 'failed');

interface Ruled {
  readonly state: PointState;
  /** the check that rules */
  readonly ruling: StandingCheck | null;
  /** what passes it passes by a correction of what had failed */
  readonly madeGood: boolean;
}

function ruleOf(point: ControlPoint, checks: readonly StandingCheck[]): Ruled {
  const inOrder = [...checks].sort(byTime);
  const failed = inOrder.filter((check) => check.result === 'failed');
  const latest = inOrder.at(-1);
  if (!latest) return { state: 'missing', ruling: null, madeGood: false };
  const ruling = point.repeatable ? latest : (failed.at(-1) ?? latest);
  // Cooked on and measured again, it has passed by itself; what cannot be repeated cannot be measured away.
  const madeGood = point.repeatable ? ruling.madeGood : inOrder.some((check) => check.madeGood);
  if (ruling.result === 'failed') return { state: 'failed', ruling, madeGood };
  const open = failed.some((check) => check.deviation === 'open');
  return { state: open ? 'deviation-open' : 'passed', ruling, madeGood };
}

/**
 * By so much a check may be dated before its batch: tablets are minutes apart, times are typed as whole minutes, and a batch is often opened
 * when the first thing is in the kettle already. Common practice.
 */
const EARLY_MS = 15 * 60_000;

/** Dated so well before the batch that it may be a check of other food. */
export const isBeforeBatch = (occurredAtMs: number, startedAtMs: number): boolean =>
  occurredAtMs < startedAtMs - EARLY_MS;

/** pH, salt and water bind only food that is kept by them: a soup may have its own. */
const OF_HEAT_OR_COLD: readonly CheckKind[] = ['core-temperature', 'temperature'];

function unsureOf(point: ControlPoint, { ruling, madeGood }: Ruled, batch: BatchFacts): Unsure[] {
  const unsure: Unsure[] = [];
  if (point.source.basis === 'from-memory' && !point.confirmed) unsure.push('limit-from-memory');
  if (point.looser && !point.confirmed && OF_HEAT_OR_COLD.includes(point.kind)) unsure.push('looser-limit');
  if (!ruling) return unsure;
  if (batch.doubted.has(ruling.checkId)) unsure.push('probe-doubted');
  if (isBeforeBatch(ruling.occurredAtMs, batch.startedAtMs)) unsure.push('before-batch');
  if (point.per === 'load' && !batch.completed && ofWholeBatch(ruling)) unsure.push('whole-batch');
  if (madeGood) unsure.push('made-good');
  return unsure;
}

const showsHeat = ({ kind, stage }: ControlPoint): boolean =>
  kind === 'lethality' || (kind === 'core-temperature' && stage === 'cook');

function heatOf(points: readonly PointReadiness[]): Heat {
  if (points.some((point) => point.state === 'passed')) return 'shown';
  return points.some((point) => point.requiredFor !== null) ? 'asked' : 'not-asked';
}

const WORST_FIRST = ['failed', 'missing', 'deviation-open'] as const;

/**
 * @param lots all loads and packs of the batch: how many loads there are decides what a check of the whole batch counts for
 * @param checks of the batch, those that stand
 */
export function readiness(
  plan: ProcessPlan,
  lots: readonly LotToRelease[],
  checks: readonly StandingCheck[],
  batch: BatchFacts,
): LotReadiness[] {
  const loadIds = new Set(lots.filter((lot) => lot.kind === 'load').map((lot) => lot.lotId));
  const codes = new Set<string | null>(plan.points.map((point) => point.code));
  const heats = new Set(plan.points.filter(showsHeat).map((point) => point.code));
  return lots.map((lot) => {
    const points = plan.points
      .filter((point) => isOfLot(point, lot))
      .map((point): PointReadiness => {
        const ruled = ruleOf(point, checksOf(point, lot, lots, loadIds, checks));
        const { state, ruling } = ruled;
        const { code, label, critical, requiredFor } = point;
        const unsure = unsureOf(point, ruled, batch);
        return { code, label, state, checkId: ruling?.checkId ?? null, critical, requiredFor, unsure };
      });
    const wanted = points.filter((point) => point.requiredFor !== null);
    const state = WORST_FIRST.find((one) => wanted.some((point) => point.state === one)) ?? 'complete';
    const openBeside = checks.some(
      (check) =>
        check.deviation === 'open' &&
        !codes.has(check.controlPoint) &&
        (ofWholeBatch(check) || check.lotId === lot.lotId || isOfRun(check, lot)),
    );
    const ofHeat = points.filter((point) => heats.has(point.code));
    const heat = batch.reworks && lot.kind === 'load' ? heatOf(ofHeat) : 'not-needed';
    // A plan that asks nothing of a lot shows nothing about it either: then a person decides.
    const releasesByItself =
      plan.release === 'automatic' &&
      state === 'complete' &&
      wanted.length > 0 &&
      !openBeside &&
      (heat === 'shown' || heat === 'not-needed') &&
      wanted.every((point) => point.unsure.length === 0);
    return { lotId: lot.lotId, state, points, heat, openBeside, releasesByItself };
  });
}

/** Packs wait for a release of their own where the plan asks something of each packing run before it. */
export const packsWait = (plan: ProcessPlan): boolean =>
  plan.points.some((point) => point.per === 'packing-run' && point.requiredFor !== null);

/** Points that stand against a release: missing or failed, and wanted for it. */
export const standingAgainst = (lot: LotReadiness): PointReadiness[] =>
  lot.points.filter((point) => point.requiredFor !== null && (point.state === 'missing' || point.state === 'failed'));

/** Points that have to have passed before food of the lot is packed. */
export const againstPacking = (lot: LotReadiness): PointReadiness[] =>
  standingAgainst(lot).filter((point) => point.requiredFor === 'packing');

const WORDS: Readonly<Record<PointState, string>> = {
  passed: 'has passed',
  failed: 'has failed',
  missing: 'has not been checked',
  'deviation-open': 'has passed since it failed, but what was done about it is not closed',
};

/** One plain sentence for each point that is not as release wants it. */
export const inWords = (lot: LotReadiness): string[] =>
  lot.points
    .filter((point) => point.requiredFor !== null && point.state !== 'passed')
    .map((point) => `${point.label} ${WORDS[point.state]}.`);
