/** The only door to scanning. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { readScan, recordScans } from './commands.ts';
import { createReversal, createScans, getScan } from './contract.ts';
import { convertFood } from './conversions/commands.ts';
import { createConversion } from './conversions/contract.ts';
import { interpret } from './interpretation/commands.ts';
import { createScanInterpretation } from './interpretation/contract.ts';
import { enterPaper } from './paper/commands.ts';
import { createPaperEntries } from './paper/contract.ts';
import { reverse } from './reversal.ts';

export { identifyScans } from './jobs.ts';

export const scanningOperations: readonly BoundOperation[] = [
  bind(createScans, recordScans),
  bind(getScan, readScan),
  bind(createScanInterpretation, interpret),
  bind(createReversal, reverse),
  bind(createConversion, convertFood),
  bind(createPaperEntries, enterPaper),
];
