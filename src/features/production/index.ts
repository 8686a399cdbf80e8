/** The only door to production: batches, packing runs, release, clean-downs. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { complete, open, readBatch, readBatches } from './commands-batch.ts';
import { cleanDown, readCleanDowns } from './commands-cleaning.ts';
import { putIn, recordInput } from './commands-inputs.ts';
import { takeOut } from './commands-outputs.ts';
import { pack, recordRun } from './commands-packing.ts';
import { reject, release } from './commands-release.ts';
import * as machines from './contract-cleaning.ts';
import * as inputs from './contract-inputs.ts';
import * as packing from './contract-packing.ts';
import * as decisions from './contract-release.ts';
import * as contract from './contract.ts';

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
  bind(decisions.createRelease, release),
  bind(decisions.createRejection, reject),
  bind(machines.createCleanDown, cleanDown),
  bind(machines.getCleanDowns, readCleanDowns),
];
