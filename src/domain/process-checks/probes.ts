/**
 * What a thermometer is worth at a moment, and how far back it is in doubt. A failed point is put right by a later good one of the same
 * method, or by a laboratory: ice says nothing about how it measures at 75 °C.
 */
export const CALIBRATION_METHODS = ['ice-point', 'boiling-point', 'reference-thermometer', 'laboratory'] as const;
export type CalibrationMethod = (typeof CALIBRATION_METHODS)[number];

export interface CalibrationSeen {
  readonly calibrationId: string;
  readonly method: CalibrationMethod;
  readonly result: 'passed' | 'failed';
  readonly occurredAtMs: number;
  /** the moment is after the last day on which it counts */
  readonly lapsed: boolean;
}

export interface ProbeStanding {
  /** failed: measured wrongly, and nothing since shows otherwise. overdue: the last calibration has lapsed. never: there is none */
  readonly state: 'good' | 'failed' | 'overdue' | 'never';
  /** the calibration that says so */
  readonly calibrationId: string | null;
}

/** @param seen the last calibration by each method up to the moment, in any order */
export function standingOf(seen: readonly CalibrationSeen[]): ProbeStanding {
  const newestFirst = [...seen].sort((a, b) => b.occurredAtMs - a.occurredAtMs || worseFirst(a, b));
  const failed = newestFirst.find((one) => one.result === 'failed' && !seen.some((other) => putsRight(other, one)));
  if (failed) return { state: 'failed', calibrationId: failed.calibrationId };
  const last = newestFirst[0];
  if (!last) return { state: 'never', calibrationId: null };
  return { state: last.lapsed ? 'overdue' : 'good', calibrationId: last.calibrationId };
}

const worseFirst = (a: CalibrationSeen, b: CalibrationSeen): number =>
  Number(b.result === 'failed') - Number(a.result === 'failed');

const putsRight = (good: CalibrationSeen, failed: CalibrationSeen): boolean =>
  good.result === 'passed' &&
  good.occurredAtMs > failed.occurredAtMs &&
  (good.method === failed.method || good.method === 'laboratory');
