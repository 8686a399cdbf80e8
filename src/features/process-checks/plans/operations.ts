/** Operations on process plans and site process policies. */
import { bind, type BoundOperation } from '../../../platform/http/contract.ts';
import * as commands from './commands.ts';
import * as plans from './contract.ts';
import * as policyCommands from './policy-commands.ts';
import * as policies from './policy-contract.ts';

export const planOperations: readonly BoundOperation[] = [
  bind(plans.createProcessPlan, commands.createPlan),
  bind(plans.listProcessPlans, commands.readPlans),
  bind(plans.getProcessPlan, commands.readPlan),
  bind(plans.suggestProcessPlan, commands.suggest),
  bind(plans.getBatchProcessPlan, commands.readBatchPlan),
  bind(policies.getSiteProcessPolicy, policyCommands.readProcessPolicy),
  bind(policies.createSiteProcessPolicy, policyCommands.createProcessPolicy),
];
