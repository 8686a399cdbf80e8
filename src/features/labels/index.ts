/** The only door to labels: prints of lots. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { printLabels } from './commands.ts';
import { printLotLabels } from './contract.ts';

export const labelOperations: readonly BoundOperation[] = [bind(printLotLabels, printLabels)];
