/** Packing runs that lost something: the part of what was lost in making that is in no batch. */
import type { MonthReportAnswer } from '../month/shapes.ts';
import { left, right, words, type Table } from './table.ts';
import { moneyText, numberText } from './words.ts';

export function packingTable({ packingRuns, sites, currency: { code, minorDigits } }: MonthReportAnswer): Table {
  const { count, runs } = packingRuns;
  const names = new Map(sites.map((site) => [site.siteId, site.siteName]));
  const more = count > runs.length ? ` ${numberText(count - runs.length)} more lost less than these.` : '';
  return {
    id: 'packing',
    heading: 'Packing runs that lost something',
    caption: `Taken to fill packs and not in them, without packaging. Packing plans no loss: all of it is an expense.${more}`,
    columns: [
      left('Batch', 20),
      left('Packed', 34),
      left('Kitchen', 26),
      right('Lost, g', 10),
      right(`Lost, ${code}`, 10),
    ],
    rows: runs.map((run) => [
      words(run.batchCode),
      words(run.itemName),
      words(names.get(run.siteId) ?? ''),
      words(numberText(run.lossG)),
      words(moneyText(run.abnormalLossMinor, minorDigits)),
    ]),
    none: 'No packing run lost anything.',
  };
}
