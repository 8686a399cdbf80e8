/** Records as food law asks for them: tracking events, and the file of a case with its map. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import * as eventCommands from './records/commands.ts';
import * as records from './records/contract.ts';
import * as fileCommands from './records/commands-file.ts';

export const recordsOperations: readonly BoundOperation[] = [
  bind(records.listTrackingEvents, eventCommands.readTrackingEvents),
  bind(records.getRecallFile, fileCommands.readFile),
  bind(records.getRecallMap, fileCommands.readMap),
];
