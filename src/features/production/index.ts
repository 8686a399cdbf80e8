/** The only door to production: batches, packing runs, release. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { complete, open, putIn, readBatch, readBatches, takeOut } from './commands-batch.ts';
import { pack } from './commands-packing.ts';
import { reject, release } from './commands-release.ts';
import * as contract from './contract.ts';

export const productionOperations: readonly BoundOperation[] = [
  bind(contract.createBatch, open),
  bind(contract.listBatches, readBatches),
  bind(contract.getBatch, readBatch),
  bind(contract.createBatchInput, putIn),
  bind(contract.createBatchOutputs, takeOut),
  bind(contract.createPackingRun, pack),
  bind(contract.createBatchCompletion, complete),
  bind(contract.createRelease, release),
  bind(contract.createRejection, reject),
];
