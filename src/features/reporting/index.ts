/** The only door to reporting: the month's waste and yield, the morning list. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readWasteAndYield } from './commands.ts';
import { getWasteAndYield } from './contract.ts';
import { readMorningList } from './morning/commands.ts';
import { getMorningList } from './morning/contract.ts';

export const reportingOperations: readonly BoundOperation[] = [
  bind(getWasteAndYield, readWasteAndYield),
  bind(getMorningList, readMorningList),
];
