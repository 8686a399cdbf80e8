/** The only door to shelf life: what warmth takes from a life, limits of parts, what follows, labels that have to follow. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as answerCommands from './answer/commands.ts';
import * as answer from './answer/contract.ts';
import { answerProjection } from './commands.ts';
import { projectShelfLife } from './contract.ts';
import { decide } from './decisions/commands.ts';
import * as policyCommands from './policies/commands.ts';
import * as policies from './policies/contract.ts';
import * as relabelCommands from './relabels/commands.ts';
import * as relabels from './relabels/contract.ts';
import * as statementCommands from './statements/commands.ts';
import * as statements from './statements/contract.ts';

export { recomputeShelfLife } from './limits/jobs.ts';
export { findRelabel } from './relabels/store.ts';
export { afterCorrection } from './statements/commands.ts';

const projectionOperations: readonly BoundOperation[] = [bind(projectShelfLife, answerProjection)];

const policyOperations: readonly BoundOperation[] = [
  bind(policies.listPolicySets, policyCommands.readPolicySets),
  bind(policies.getSitePolicy, policyCommands.readSitePolicy),
  bind(policies.setSitePolicy, policyCommands.choosePolicy),
];

const limitOperations: readonly BoundOperation[] = [
  bind(answer.getLotShelfLife, answerCommands.readShelfLife),
  bind(answer.decideShelfLife, decide),
  bind(statements.createControlFactorStatement, statementCommands.signControlFactor),
  bind(statements.createModelValidation, statementCommands.validateModel),
];

const relabelOperations: readonly BoundOperation[] = [
  bind(relabels.listRelabels, relabelCommands.readRelabels),
  bind(relabels.getRelabel, relabelCommands.readRelabel),
  bind(relabels.recordRelabel, relabelCommands.record),
];

export const shelfLifeOperations: readonly BoundOperation[] = [
  ...projectionOperations,
  ...policyOperations,
  ...limitOperations,
  ...relabelOperations,
];
