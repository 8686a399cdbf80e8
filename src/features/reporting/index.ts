/** The only door to reporting: the month's waste and yield. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readWasteAndYield } from './commands.ts';
import { getWasteAndYield } from './contract.ts';

export const reportingOperations: readonly BoundOperation[] = [bind(getWasteAndYield, readWasteAndYield)];
