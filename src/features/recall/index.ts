/** The only door to recall: cases from the first call until every pack is accounted for. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readExposure } from './exposure/commands.ts';
import { getRecallExposure } from './exposure/contract.ts';
import { readSideways } from './sideways/commands.ts';
import { listSideways } from './sideways/contract.ts';

export const recallOperations: readonly BoundOperation[] = [
  // Before the case with an id: its path would take the word for one.
  bind(getRecallExposure, readExposure),
  bind(listSideways, readSideways),
];
