/** The only door to production: batches, packing runs, release. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { complete, open, putIn, readBatch, readBatches } from './commands-batch.ts';
import { takeOut } from './commands-outputs.ts';
import { pack } from './commands-packing.ts';
import { reject, release } from './commands-release.ts';
import * as packing from './contract-packing.ts';
import * as decisions from './contract-release.ts';
import * as contract from './contract.ts';

export const productionOperations: readonly BoundOperation[] = [
  bind(contract.createBatch, open),
  bind(contract.listBatches, readBatches),
  bind(contract.getBatch, readBatch),
  bind(contract.createBatchInput, putIn),
  bind(contract.createBatchOutputs, takeOut),
  bind(packing.createPackingRun, pack),
  bind(contract.createBatchCompletion, complete),
  bind(decisions.createRelease, release),
  bind(decisions.createRejection, reject),
];
