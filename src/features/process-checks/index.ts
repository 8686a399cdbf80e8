/** The only door to process checks: plans, records, heat and cooling, probes, deviations. */
import type { BoundOperation } from '../../platform/http/contract.ts';
import { checkOperations } from './checks/operations.ts';
import { heatOperations } from './heat/operations.ts';
import { planOperations } from './plans/operations.ts';
import { probeOperations } from './probes/operations.ts';

export { checkReply, listCheckDetails, type CheckDetails } from './checks/answer.ts';
export { correctCheck, takeAction } from './checks/commands.ts';
export { createCheckCorrection, createCorrectiveAction, createProcessCheck } from './checks/contract.ts';
export { failedCheckHold, failedCheckHoldId } from './checks/follows.ts';
export { holdNewLoads } from './checks/new-loads.ts';
export { listStandingChecks } from './checks/queries.ts';
export { findCheckSeries } from './checks/queries-more.ts';
export type { CheckSubject, DecidedCheck, ReleasedLot, TakenCheck } from './checks/shapes.ts';
export { decideCheck, takeCheck, writeCheck } from './checks/take.ts';
export { seriesChart } from './heat/chart.ts';
export {
  copyPlanToBatch,
  findBatchPlan,
  findSiteLimit,
  getSeparation,
  type BatchPlan,
  type SiteSeparation,
} from './plans/at-site.ts';
export { listDoubtedChecks } from './probes/doubted.ts';
export { proveHeat } from './probes/heat-checks.ts';

// Paths are tried in order: those that name a thing come before those that name a check by its id.
export const processCheckOperations: readonly BoundOperation[] = [
  ...heatOperations,
  ...planOperations,
  ...probeOperations,
  ...checkOperations,
];
