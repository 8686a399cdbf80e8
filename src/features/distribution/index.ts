/** The only door to distribution: dispatches, what was found on arrival, refused, borrowed; van runs; crates and boxes. */
import type { Tokens } from '../../platform/auth/tokens.ts';
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as boxCommands from './boxes/commands.ts';
import * as boxes from './boxes/contract.ts';
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
import { addRange, readRanges } from './crates/commands-ranges.ts';
import * as crateCommands from './crates/commands.ts';
import * as ranges from './crates/contract-ranges.ts';
import * as crates from './crates/contract.ts';
import * as receivingCommands from './receiving/commands.ts';
import * as receiving from './receiving/contract.ts';
import * as requirementCommands from './requirements/commands.ts';
import * as requirements from './requirements/contract.ts';
import * as sheets from './requirements/contract-sheets.ts';
import { readCoverage, readPickList } from './requirements/pick-list.ts';
import { readProductionSheet } from './requirements/production-sheet.ts';

export { conditionFinding } from './commands-receipt.ts';
export { listCrateLoads, listDispatchLoads, type CrateLoadRow } from './crates/loads.ts';
export { crateIdOf } from './crates/names.ts';
export { findCratesByCode, findVisibleCrates, type CrateRow } from './crates/store.ts';
export { requirementIdOf } from './requirements/names.ts';
export { closeReceipts } from './receiving/job.ts';
export { closeComplete } from './receiving/closing.ts';
export { forgetMissing, refreshMissing } from './missing.ts';
export { findAstray, findCarried, type AstrayRow, type CarriedRow } from './store-carried.ts';
export { findDispatches, lockDispatches, setState, type DispatchRow } from './store.ts';

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
  bind(ranges.createSsccRange, addRange),
  bind(ranges.listSsccRanges, readRanges),
  bind(crates.createCrates, crateCommands.makeCrates),
  bind(crates.listCrates, crateCommands.readCrates),
  bind(crates.getCrate, crateCommands.readCrate),
  bind(crates.createCratePlacement, crateCommands.place),
  bind(boxes.createBoxType, boxCommands.addBoxType),
  bind(boxes.listBoxTypes, boxCommands.readBoxTypes),
  bind(boxes.createBoxCount, boxCommands.countBoxes),
  bind(boxes.createBoxMovement, boxCommands.moveBoxes),
  bind(boxes.listBoxBalances, boxCommands.readBoxBalances),
];

/** The receiving list is signed, so that a device can believe it without asking. */
export const receivingOperations = ({ tokens }: { readonly tokens: Tokens }): readonly BoundOperation[] => [
  bind(receiving.getReceivingPolicy, receivingCommands.readPolicy),
  bind(receiving.setReceivingPolicy, receivingCommands.choosePolicy),
  bind(receiving.getReceivingList, (context) => receivingCommands.readList(context, tokens.statements)),
  bind(receiving.listSigningKeys, () => receivingCommands.readKeys(tokens.statements)),
];
