/** The only door to production: batches, packing runs, release, clean-downs. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { createCheckCorrection, createCorrectiveAction, createProcessCheck } from '../process-checks/index.ts';
import { act, check, correct } from './checks/commands.ts';
import { complete, open, readBatch, readBatches } from './commands-batch.ts';
import { cleanDown, readCleanDowns } from './commands-cleaning.ts';
import { putIn, recordInput } from './commands-inputs.ts';
import { takeOut } from './commands-outputs.ts';
import { pack, recordRun } from './commands-packing.ts';
import * as machines from './contract-cleaning.ts';
import * as inputs from './contract-inputs.ts';
import * as packing from './contract-packing.ts';
import * as contract from './contract.ts';
import { readRecord } from './record/commands.ts';
import { getBatchRecord } from './record/contract.ts';
import { packingOperations } from './packing-operations.ts';
import { release } from './release/commands.ts';
import * as decisions from './release/contract.ts';
import { readReadiness } from './release/readiness.ts';
import { reject } from './release/rejection.ts';
import { readUses } from './uses/commands.ts';
import { listEquipmentUses } from './uses/contract.ts';

export { judgeWithoutRun } from './machines.ts';

export const productionOperations: readonly BoundOperation[] = [
  bind(contract.createBatch, open),
  bind(contract.listBatches, readBatches),
  bind(contract.getBatch, readBatch),
  bind(inputs.createBatchInput, putIn),
  bind(inputs.createRecordedBatchInput, recordInput),
  bind(contract.createBatchOutputs, takeOut),
  bind(packing.createPackingRun, pack),
  bind(packing.createRecordedPackingRun, recordRun),
  bind(contract.createBatchCompletion, complete),
  bind(getBatchRecord, readRecord),
  bind(decisions.getReleaseReadiness, readReadiness),
  bind(decisions.createRelease, release),
  bind(decisions.createRejection, reject),
  bind(createProcessCheck, check),
  bind(createCheckCorrection, correct),
  bind(createCorrectiveAction, act),
  bind(machines.createCleanDown, cleanDown),
  bind(machines.getCleanDowns, readCleanDowns),
  bind(listEquipmentUses, readUses),
  ...packingOperations,
];
