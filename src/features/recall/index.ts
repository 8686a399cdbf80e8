/** The only door to recall: cases from the first call until every pack is accounted for. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readTrackingEvents } from './records/commands.ts';
import { listTrackingEvents } from './records/contract.ts';

export const recallOperations: readonly BoundOperation[] = [bind(listTrackingEvents, readTrackingEvents)];
