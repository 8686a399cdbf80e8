/** Readiness as answers tell it. */
import type { PointReadiness } from '../../../domain/process-checks/readiness.ts';
import type { BatchPlan } from '../../process-checks/index.ts';

export const pointBrief = ({ code, label, state, checkId, critical, requiredFor }: PointReadiness) => ({
  code,
  label,
  state,
  checkId,
  critical,
  requiredFor,
});

export const planBrief = (row: BatchPlan | null) =>
  row && {
    planId: row.planId,
    version: row.planVersion,
    release: row.plan.release,
    twoPeople: row.plan.twoPeople,
  };
