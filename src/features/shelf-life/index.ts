/** The only door to shelf life: what is left of it, and labels that have to follow. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as relabelCommands from './relabels/commands.ts';
import * as relabels from './relabels/contract.ts';

const relabelOperations: readonly BoundOperation[] = [
  bind(relabels.listRelabels, relabelCommands.readRelabels),
  bind(relabels.getRelabel, relabelCommands.readRelabel),
  bind(relabels.recordRelabel, relabelCommands.record),
];

export const shelfLifeOperations: readonly BoundOperation[] = [...relabelOperations];
