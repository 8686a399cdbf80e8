import { bind, type BoundOperation } from '../../../platform/http/contract.ts';
import * as commands from './commands.ts';
import * as contract from './contract.ts';
import { createCalibrationCorrection } from './contract-corrections.ts';
import { listRetainedSamples } from './contract-samples.ts';
import { readSamples } from './samples.ts';

export const probeOperations: readonly BoundOperation[] = [
  bind(contract.createCalibration, commands.calibrate),
  bind(createCalibrationCorrection, commands.correctCalibration),
  bind(contract.listCalibrations, commands.readCalibrations),
  bind(contract.getCalibration, commands.readCalibration),
  bind(contract.listSuspectChecks, commands.readSuspectChecks),
  bind(contract.listProbes, commands.readProbes),
  bind(listRetainedSamples, readSamples),
];
