import { bind, type BoundOperation } from '../../../platform/http/contract.ts';
import { readCoolingRules, readTargets, reckonCooling, reckonLethality } from './commands.ts';
import { listCoolingRules, listLethalityTargets, tryCooling, tryLethality } from './contract.ts';

export const heatOperations: readonly BoundOperation[] = [
  bind(tryLethality, reckonLethality),
  bind(tryCooling, reckonCooling),
  bind(listLethalityTargets, readTargets),
  bind(listCoolingRules, readCoolingRules),
];
