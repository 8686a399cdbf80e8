/** A page of ledger lines, with what all lines of its filter come to. Refusal: `rule-broken`, what stood at one place of several. */
import { Refused } from '../../../domain/errors.ts';
import { behind, printedOf, type Behind, type Wanted } from '../../../domain/month/behind.ts';
import { inGrams, inMoney } from '../../../domain/month/printed.ts';
import type { LateFlow } from '../../../domain/month/late.ts';
import { tallyFlows, type Tally } from '../../../domain/month/tally.ts';
import { wasteRows } from '../../../domain/month/waste.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { loadCosts } from '../costs/index.ts';
import { readFlows } from './flows.ts';
import { NOT_SAID } from './hrefs.ts';
import { listLinePage, type LineFilter, type PageOfLines, type ReportLine } from './lines.ts';
import { listReportItems } from './queries.ts';
import { inScope, readingOf, type Asked } from './scope.ts';

/** What the report counts a flow under. */
const reasonOf = (flow: LateFlow): string | null =>
  flow.reason ?? (flow.to.kind === 'waste' || flow.from.kind === 'waste' ? 'other' : null);

function wantedOf(filter: LineFilter): Wanted {
  const { reason, destination, material, lateMonth, lateKind } = filter;
  return {
    line: filter.line ?? null,
    at: filter.at ?? null,
    fits: (flow) =>
      (reason === undefined || reasonOf(flow) === reason) &&
      (destination === undefined || (flow.destination ?? NOT_SAID) === destination) &&
      (material === undefined || (flow.material ?? 'food') === material) &&
      (lateMonth === undefined || flow.lateMonth === lateMonth) &&
      (lateKind === undefined || flow.undoes === (lateKind === 'undone')),
  };
}

type Printed = Pick<Behind, 'grams' | 'valueMinor'> | null;

/** The number of the report that the filter is the one of. */
function printedFor(
  filter: LineFilter,
  flows: readonly LateFlow[],
  tally: Tally | undefined,
  isIn: (book: string) => boolean,
): Printed {
  const { itemId, line, at, reason, destination, material, lateMonth, lateKind } = filter;
  if (itemId === undefined || tally === undefined) return null;
  const rest = [at, reason, destination, material, lateMonth, lateKind].filter((one) => one !== undefined).length;
  if (rest === 0) return printedOf(tally, line ?? null);
  if (line !== 'wasted' || lateMonth !== undefined || lateKind !== undefined) return null;
  const whole = { grams: inGrams(tally).wasted, valueMinor: inMoney(tally, 0n).wasted };
  const rows = wasteRows(flows, isIn, () => whole);
  return (
    rows.find(
      (row) =>
        row.book === at &&
        row.reason === reason &&
        (row.destination ?? NOT_SAID) === destination &&
        row.material === material,
    ) ?? null
  );
}

export async function readLines(
  tx: Tx,
  asked: Asked,
  filter: LineFilter,
  page: PageOfLines,
): Promise<{ lines: ReportLine[]; sum: Behind }> {
  if (filter.at !== undefined && (filter.line === 'opening' || filter.line === 'closing')) {
    const detail = 'What stands is told of all the sites asked for; ask for that site alone instead.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/at' }] });
  }
  const reading = await readingOf(tx, asked);
  const costs = await loadCosts(tx, reading.cut);
  const lines = await listLinePage(tx, reading, costs, filter, page);
  const { month, throughMonth, siteIds, cut, closes } = reading;
  const itemId = filter.itemId ?? null;
  const flows = await readFlows(tx, { month, throughMonth, siteIds, cutSeq: cut.seq, closes, costs, itemId });
  const isIn = inScope(siteIds);
  const { items } = tallyFlows(flows, isIn);
  const units = new Set((await listReportItems(tx, [...items.keys()])).map((item) => item.unit));
  const printed = printedFor(filter, flows, items.get(filter.itemId ?? ''), isIn);
  const sum = behind(flows, [...items.values()], isIn, wantedOf(filter), { printed, oneUnit: units.size <= 1 });
  return { lines, sum };
}
