/** Which kitchen lost how much on what: the waste rows gathered by kitchen and standard reason. Pure. */
import { discardReasonLabel } from './labels.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';

type WasteRow = MonthReportAnswer['waste'][number];

/** Food and parts that are not eaten; packaging is in no sum of food waste. */
function foodWaste({ waste }: MonthReportAnswer): WasteRow[] {
  return waste.filter((row) => !row.packaging);
}

const sumOf = (rows: readonly WasteRow[], of: 'valueMinor' | 'grams'): number =>
  rows.reduce((sum, row) => sum + row[of], 0);

interface Loss {
  readonly minor: number;
  readonly grams: number;
}

export interface LostAt {
  readonly siteId: string | null;
  readonly siteCode: string;
  readonly siteName: string;
  readonly byReason: ReadonlyMap<string, Loss>;
  readonly minor: number;
  readonly grams: number;
  /** the item and reason with the largest worth, or weight where nothing has a price; null when nothing was wasted */
  readonly largest: { readonly itemName: string; readonly reasonLabel: string; readonly minor: number } | null;
}

export interface Lost {
  /** standard reasons, the dearest first */
  readonly reasons: readonly {
    readonly code: string;
    readonly label: string;
    readonly minor: number;
    readonly grams: number;
  }[];
  /** in the order of the report's sites */
  readonly sites: readonly LostAt[];
}

const byWorth = (a: Loss, b: Loss): number => b.minor - a.minor || b.grams - a.grams;

function largestOf(rows: readonly WasteRow[]): LostAt['largest'] {
  const sums = new Map<string, Loss & { itemName: string; reasonLabel: string }>();
  for (const row of rows) {
    const key = `${row.itemId} ${row.standardReason}`;
    const before = sums.get(key);
    const minor = (before?.minor ?? 0) + row.valueMinor;
    const grams = (before?.grams ?? 0) + row.grams;
    sums.set(key, { itemName: row.itemName, reasonLabel: discardReasonLabel(row.standardReason), minor, grams });
  }
  return [...sums.values()].sort(byWorth)[0] ?? null;
}

export function lostOf(report: MonthReportAnswer): Lost {
  const food = foodWaste(report);
  const codes = [...new Set(food.map((row) => row.standardReason))];
  const reasons = codes.map((code) => {
    const rows = food.filter((row) => row.standardReason === code);
    return { code, label: discardReasonLabel(code), minor: sumOf(rows, 'valueMinor'), grams: sumOf(rows, 'grams') };
  });
  reasons.sort((a, b) => byWorth(a, b) || (a.code < b.code ? -1 : 1));
  const sites = report.bySite.map(({ siteId, siteCode, siteName }): LostAt => {
    const own = food.filter((row) => row.siteId === siteId);
    const byReason = new Map(
      reasons.map(({ code }) => {
        const rows = own.filter((row) => row.standardReason === code);
        return [code, { minor: sumOf(rows, 'valueMinor'), grams: sumOf(rows, 'grams') }];
      }),
    );
    const minor = sumOf(own, 'valueMinor');
    return { siteId, siteCode, siteName, byReason, minor, grams: sumOf(own, 'grams'), largest: largestOf(own) };
  });
  return { reasons, sites };
}
