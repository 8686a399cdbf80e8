/** The only door to reporting: the month's waste and yield and its closing, the morning list. */
import type { Clock } from '../../platform/clock.ts';
import type { Db } from '../../platform/db/db.ts';
import { bind, type BoundOperation } from '../../platform/http/contract.ts';
import type { Job } from '../../platform/jobs.ts';
import * as closeCommands from './closes/commands.ts';
import * as reopeningCommands from './closes/commands-reopenings.ts';
import * as closes from './closes/contract.ts';
import * as reopenings from './closes/contract-reopenings.ts';
import { getRestatedMonth } from './closes/contract-restated.ts';
import { makeMonthFiles } from './closes/files-job.ts';
import { readRestated } from './closes/queries-restated.ts';
import { readWasteAndYield } from './commands.ts';
import { getWasteAndYield } from './contract.ts';
import * as rateCommands from './cost-rates/commands.ts';
import * as rates from './cost-rates/contract.ts';
import * as lotCostCommands from './lot-costs/commands.ts';
import * as lotCosts from './lot-costs/contract.ts';
import * as priceCommands from './prices/commands.ts';
import * as prices from './prices/contract.ts';
import { reckonCostsJob } from './costs/index.ts';
import * as exportCommands from './exports/commands.ts';
import * as exportContract from './exports/contract.ts';
import { makeReportExports } from './exports/job.ts';
import { readReportLines } from './lines/commands.ts';
import { listReportLines } from './lines/contract.ts';
import { digestPostings } from './month/index.ts';
import { createRunOutCost, getHowMuchToMake } from './making/contract.ts';
import { getLotsToUse } from './making/contract-lots.ts';
import { readLotsToUse } from './making/lots.ts';
import { readHowMuch } from './making/how-much.ts';
import { stateRunOutCost } from './making/run-out-costs.ts';
import { readMorningList } from './morning/commands.ts';
import { getMorningList } from './morning/contract.ts';
import { chooseBaseline, readSavings } from './savings/commands.ts';
import { createSavingsBaseline, getSavings } from './savings/contract.ts';
import { readYields } from './yields/commands.ts';
import { findYieldsThatStandOut } from './yields/look.ts';
import { getYields } from './yields/contract.ts';

// For those who run a job or make a report without its operation: benches and tests.
export { digestPostings, makeMonthReport, type MonthReportAnswer } from './month/index.ts';
export { findYieldsThatStandOut } from './yields/look.ts';

const closeOperations: readonly BoundOperation[] = [
  bind(closes.getMonthChecks, closeCommands.readChecks),
  bind(closes.createMonthClose, closeCommands.closeMonth),
  bind(closes.listMonthCloses, closeCommands.readCloses),
  bind(closes.getMonthClose, closeCommands.readClose),
  bind(closes.getMonthCloseFile, closeCommands.readCloseFile),
  bind(getRestatedMonth, readRestated),
  bind(reopenings.createMonthReopening, reopeningCommands.askForReopening),
  bind(reopenings.createReopeningConfirmation, reopeningCommands.confirmReopening),
];

const exportOperations: readonly BoundOperation[] = [
  bind(exportContract.createReportExport, exportCommands.askForExport),
  bind(exportContract.listReportExports, exportCommands.readExports),
  bind(exportContract.getReportExport, exportCommands.readExport),
  bind(exportContract.getReportExportFile, exportCommands.readExportFile),
];

export const reportingOperations: readonly BoundOperation[] = [
  bind(prices.createPrice, priceCommands.sayPrice),
  bind(prices.listPrices, priceCommands.readPrices),
  bind(rates.createCostRate, rateCommands.sayCostRate),
  bind(rates.listCostRates, rateCommands.readCostRates),
  bind(lotCosts.getLotCost, lotCostCommands.readLotCost),
  bind(lotCosts.listUncostedLots, lotCostCommands.readUncostedLots),
  bind(getWasteAndYield, readWasteAndYield),
  bind(listReportLines, readReportLines),
  bind(getMorningList, readMorningList),
  ...closeOperations,
  ...exportOperations,
  bind(getYields, readYields),
  bind(getSavings, readSavings),
  bind(createSavingsBaseline, chooseBaseline),
  bind(getHowMuchToMake, readHowMuch),
  bind(getLotsToUse, readLotsToUse),
  bind(createRunOutCost, stateRunOutCost),
];

/** Costs and sums are kept up with what is recorded; files of closes and exports are made. */
export function reportingJobs(parts: { readonly db: Db; readonly clock: Clock }): readonly Job[] {
  const figures = [reckonCostsJob(parts), digestPostings(parts), findYieldsThatStandOut(parts)];
  return [...figures, makeMonthFiles(parts), makeReportExports(parts)];
}
