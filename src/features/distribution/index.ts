/** The only door to distribution: dispatches, what was found on arrival, refused, borrowed; van runs. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { borrow } from './commands-borrowings.ts';
import { depart, recordDeparture } from './commands-departure.ts';
import { receive } from './commands-receipt.ts';
import { refuse } from './commands-refusals.ts';
import { change, plan, readDispatch, readDispatches } from './commands.ts';
import { changeVanRun, planVanRun, readVanRun, readVanRuns, recordDropTimes } from './commands-van-runs.ts';
import { createBorrowing } from './contract-borrowings.ts';
import { createRefusal } from './contract-refusals.ts';
import * as vanRuns from './contract-vans.ts';
import * as contract from './contract.ts';
import * as requirementCommands from './requirements/commands.ts';
import * as requirements from './requirements/contract.ts';
import * as sheets from './requirements/contract-sheets.ts';
import { readCoverage, readPickList } from './requirements/pick-list.ts';
import { readProductionSheet } from './requirements/production-sheet.ts';

export { conditionFinding } from './commands-receipt.ts';
export { requirementIdOf } from './requirements/names.ts';
export { forgetMissing, refreshMissing } from './missing.ts';
export { findCarried, lockDispatches, setState, type CarriedRow, type DispatchRow } from './store.ts';

export const distributionOperations: readonly BoundOperation[] = [
  bind(contract.createDispatch, plan),
  bind(contract.listDispatches, readDispatches),
  bind(contract.getDispatch, readDispatch),
  bind(contract.changeDispatch, change),
  bind(contract.createDeparture, depart),
  bind(contract.createRecordedDeparture, recordDeparture),
  bind(contract.createReceipt, receive),
  bind(createRefusal, refuse),
  bind(createBorrowing, borrow),
  bind(vanRuns.createVanRun, planVanRun),
  bind(vanRuns.listVanRuns, readVanRuns),
  bind(vanRuns.getVanRun, readVanRun),
  bind(vanRuns.changeVanRun, changeVanRun),
  bind(vanRuns.createDropTimes, recordDropTimes),
  bind(requirements.createRequirements, requirementCommands.record),
  bind(requirements.listRequirements, requirementCommands.readRequirements),
  bind(requirements.getRequirement, requirementCommands.readRequirement),
  bind(requirements.createShortPick, requirementCommands.recordShortPick),
  bind(requirements.getRequirementCoverage, readCoverage),
  bind(sheets.getProductionSheet, readProductionSheet),
  bind(sheets.getPickList, readPickList),
];
