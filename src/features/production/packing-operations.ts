/** What belongs to packing beside the run itself: programmes, reading runs, faults that show afterwards, reject rates. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as faultCommands from './faults/commands.ts';
import * as faults from './faults/contract.ts';
import * as runs from './packing-runs/contract.ts';
import { readRun, readRuns } from './packing-runs/queries.ts';
import * as programmeCommands from './programmes/commands.ts';
import * as programmes from './programmes/contract.ts';
import { readRejects } from './rejects/commands.ts';
import { getPackRejects } from './rejects/contract.ts';

export const packingOperations: readonly BoundOperation[] = [
  bind(programmes.createPackingProgramme, programmeCommands.addProgramme),
  bind(programmes.listPackingProgrammes, programmeCommands.readProgrammes),
  bind(programmes.getPackingProgramme, programmeCommands.readProgramme),
  bind(programmes.changePackingProgramme, programmeCommands.changeProgramme),
  bind(programmes.getPackingProgrammeSuggestions, programmeCommands.readSuggestions),
  bind(runs.listPackingRuns, readRuns),
  bind(runs.getPackingRun, readRun),
  bind(faults.createPackFault, faultCommands.recordFault),
  bind(faults.createPackFaultWithdrawal, faultCommands.withdrawFault),
  bind(faults.listPackFaults, faultCommands.readFaults),
  bind(faults.getPackFault, faultCommands.readFault),
  bind(getPackRejects, readRejects),
];
