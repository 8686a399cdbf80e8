/** The only door to tracing: walks with quantities, and their picture. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readTrace } from './commands.ts';
import { traceLot } from './contract.ts';

export const tracingOperations: readonly BoundOperation[] = [bind(traceLot, readTrace)];
