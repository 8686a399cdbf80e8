/** The only door to labels: settings of sites, previews, prints, and sheets to write on. */
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import { printLabels, printRun } from './commands.ts';
import { printLotLabels, printRunLabels } from './contract.ts';
import * as crateCommands from './crates/commands.ts';
import * as crates from './crates/contract.ts';
import * as printCommands from './prints/commands.ts';
import * as prints from './prints/contract.ts';
import * as printReading from './prints/reading.ts';
import * as settingsCommands from './settings/commands.ts';
import * as settings from './settings/contract.ts';
import * as sheetCommands from './sheets/commands.ts';
import * as sheets from './sheets/contract.ts';

export { findSupersededPrints, type SupersededPrint } from './prints/superseded.ts';

export const labelOperations: readonly BoundOperation[] = [
  bind(printLotLabels, printLabels),
  bind(printRunLabels, printRun),
  bind(crates.printCrateLabel, crateCommands.previewCrate),
  bind(crates.printDispatchLabels, crateCommands.previewDispatch),
  bind(prints.createLabelPrint, printCommands.print),
  bind(prints.listLabelPrints, printReading.readPrints),
  bind(prints.getLabelPrint, printReading.readPrint),
  bind(prints.getLabelPrintFile, printReading.readFile),
  bind(settings.getLabelSettings, settingsCommands.readSettings),
  bind(settings.setLabelSettings, settingsCommands.chooseSettings),
  bind(sheets.printRecipeSheet, sheetCommands.printRecipe),
  bind(sheets.printBatchSheet, sheetCommands.printBatch),
  bind(sheets.printDropSheet, sheetCommands.printDrop),
  bind(sheets.printTemperatureSheet, sheetCommands.printTemperatures),
];
