/** Waste of a month, in the words of the sites and of the standard. */
import destinationTable from '../../../../shared/destinations.json' with { type: 'json' };
import reasonTable from '../../../../shared/discard-reasons.json' with { type: 'json' };
import { ROAD } from '../../../domain/month/lines.ts';
import { lossSum, type LossSum } from '../../../domain/month/batch-losses.ts';
import { wasteBy, wasteRows, type Material, type WasteSum } from '../../../domain/month/waste.ts';
import type { Flow } from '../../../domain/month/tally.ts';
import { reasonsOf } from '../../../domain/waste-reasons.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listWasteReasons } from '../../catalogue/index.ts';
import type { BatchLosses } from './batch-losses.ts';
import { linesHref, NOT_SAID, siteOrNull, type Scope } from './hrefs.ts';
import type { MonthReportAnswer } from './shapes.ts';

const OTHER = { label: 'Other', standardReason: 'other', stage: 'restaurants-and-food-services' };

type Waste = MonthReportAnswer['waste'][number];

/** Largest first, then by name. */
const bySize = (a: Waste, b: Waste): number =>
  b.grams - a.grams ||
  [a.siteName, a.itemCode, a.reason, a.destination ?? '', a.material]
    .join('|')
    .localeCompare([b.siteName, b.itemCode, b.reason, b.destination ?? '', b.material].join('|'), 'en');

/** Without packaging, in the words of the standard; every word has its sum. */
function sumsOf(waste: readonly Waste[], losses: BatchLosses): MonthReportAnswer['wasteBy'] {
  const food = waste.filter((row) => !row.packaging) as (Waste & { material: Material })[];
  const destinations = [...destinationTable.list, { code: NOT_SAID, label: 'Not said' }];
  const withLosses = (sums: WasteSum[], codeOf: (loss: BatchLosses[number]) => string): (WasteSum & LossSum)[] =>
    sums.map((sum) => ({ ...sum, ...lossSum(losses, (loss) => codeOf(loss) === sum.code) }));
  const reasons = wasteBy(reasonTable.reasons.list, food, (row) => row.standardReason);
  const ordered = reasons.sort((a, b) => b.foodG + b.inediblePartsG - (a.foodG + a.inediblePartsG));
  return {
    reason: withLosses(ordered, (loss) => loss.kind),
    destination: withLosses(
      wasteBy(destinations, food, (row) => row.destination ?? NOT_SAID),
      (loss) => loss.destination ?? NOT_SAID,
    ),
    stage: withLosses(
      wasteBy(reasonTable.stages.list, food, (row) => row.stage),
      (loss) => loss.stage,
    ),
  };
}

export async function readWaste(
  tx: Tx,
  scope: Scope,
  flows: readonly Flow[],
  isIn: (book: string) => boolean,
  items: ReadonlyMap<string, MonthReportAnswer['items'][number]>,
  siteNames: ReadonlyMap<string, string>,
  losses: BatchLosses,
): Promise<Pick<MonthReportAnswer, 'waste' | 'wasteBy'>> {
  const rows = wasteRows(flows, isIn, (itemId) => {
    const item = items.get(itemId);
    return item ? { grams: item.inGrams.wasted, valueMinor: item.inMoney.wasted } : null;
  });
  const sites = [...new Set(rows.map((row) => row.book))].filter((book) => book !== ROAD);
  const known = await listWasteReasons(tx, sites);
  // Thrown away on the road: no site's words.
  const standard = reasonsOf(null, []);
  const waste = rows.flatMap((row): Waste[] => {
    const item = items.get(row.itemId);
    if (!item) return [];
    const reason = (known.get(row.book) ?? standard).get(row.reason) ?? OTHER;
    const { itemId, itemCode, itemName, category, unit } = item;
    const { reason: code, destination, material } = row;
    return [
      {
        siteId: siteOrNull(row.book),
        siteName: siteNames.get(row.book) ?? 'On the road',
        itemId,
        itemCode,
        itemName,
        category,
        packaging: item.itemKind === 'packaging',
        reason: code,
        reasonLabel: reason.label,
        standardReason: reason.standardReason,
        stage: reason.stage,
        destination,
        material,
        quantity: row.quantity,
        unit,
        grams: row.grams,
        valueMinor: row.valueMinor,
        linesHref: linesHref(scope, { itemId, line: 'wasted', at: row.book, reason: code, destination, material }),
      },
    ];
  });
  waste.sort(bySize);
  return { waste, wasteBy: sumsOf(waste, losses) };
}
