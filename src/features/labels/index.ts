/** The only door to labels: prints of lots, and sheets to write on. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { printLabels } from './commands.ts';
import { printLotLabels } from './contract.ts';
import * as sheetCommands from './sheets/commands.ts';
import * as sheets from './sheets/contract.ts';

export const labelOperations: readonly BoundOperation[] = [
  bind(printLotLabels, printLabels),
  bind(sheets.printRecipeSheet, sheetCommands.printRecipe),
  bind(sheets.printBatchSheet, sheetCommands.printBatch),
  bind(sheets.printDropSheet, sheetCommands.printDrop),
  bind(sheets.printTemperatureSheet, sheetCommands.printTemperatures),
];
