/** Kitchens by reasons: the worth of what was wasted, as fields with their numbers; darker is more. */
import { plot } from '../../../platform/charts.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { bands, draw, FULL_PX, INK, MOST_SITES, siteLabel, wrapped, type Picture } from './chart-parts.ts';
import { lostOf, type Lost, type LostAt } from './lost.ts';
import { moneyText, roughMassText } from './words.ts';

/** The palest and the darkest field: dark text on the darkest has a contrast of 7 to 1. */
const FIELD = { from: [253, 246, 238], to: [240, 158, 102] } as const;
const MOST_REASONS = 9;
const REST = 'other reasons';
const ROW_PX = 34;
const HEAD_PX = 44;
const NAMES_PX = 212;
const HEX = 16;

function fieldColour(share: number): string {
  const parts = ([0, 1, 2] as const).map((at) => {
    const value = Math.round(FIELD.from[at] + (FIELD.to[at] - FIELD.from[at]) * share);
    return value.toString(HEX).padStart(2, '0');
  });
  return `#${parts.join('')}`;
}

interface Field {
  readonly row: number;
  readonly column: number;
  readonly minor: number;
  readonly grams: number;
}

interface ReasonColumn {
  readonly label: string;
  readonly codes: readonly string[];
}

/** The dearest reasons, and the others together where there are many. */
function columnsOf({ reasons }: Lost): ReasonColumn[] {
  const each = reasons.map(({ code, label }): ReasonColumn => ({ label, codes: [code] }));
  if (each.length <= MOST_REASONS) return each;
  const rest = each.slice(MOST_REASONS - 1);
  return [
    ...each.slice(0, MOST_REASONS - 1),
    { label: `${rest.length} ${REST}`, codes: rest.flatMap(({ codes }) => codes) },
  ];
}

/** Null when nothing was wasted. */
export function lostPicture(report: MonthReportAnswer): Picture | null {
  const { code, minorDigits } = report.currency;
  const lost = lostOf(report);
  const reasons = columnsOf(lost);
  if (reasons.length === 0) return null;
  const sorted = lost.sites
    .filter((site) => site.siteId !== null || site.grams !== 0)
    .sort((a, b) => b.minor - a.minor || b.grams - a.grams);
  const sites = sorted.slice(0, MOST_SITES);
  const fields = sites.flatMap((site, row) =>
    reasons.flatMap(({ codes }, column): Field[] => {
      const losses = codes.flatMap((one) => site.byReason.get(one) ?? []);
      const minor = losses.reduce((sum, loss) => sum + loss.minor, 0);
      const grams = losses.reduce((sum, loss) => sum + loss.grams, 0);
      return minor === 0 && grams === 0 ? [] : [{ row, column, minor, grams }];
    }),
  );
  // The column of several reasons is no measure for those of one.
  const most = Math.max(
    1,
    ...fields.filter(({ column }) => reasons[column]?.codes.length === 1).map(({ minor }) => minor),
  );
  const whole = sites.map(({ minor, grams }, row): Field => ({ row, column: reasons.length, minor, grams }));
  const heads = [...reasons.map(({ label }, column) => ({ column, label })), { column: reasons.length, label: 'All' }];
  const numbers = (rows: readonly Field[], weight: 'bold' | 'normal') => [
    plot.text(rows, {
      x: 'column',
      y: 'row',
      dy: -6,
      fill: INK,
      fontSize: 12.5,
      fontWeight: weight,
      text: (one: Field) => moneyText(one.minor, minorDigits),
    }),
    plot.text(rows, { x: 'column', y: 'row', dy: 9, fill: INK, text: (one: Field) => roughMassText(one.grams) }),
  ];
  const sentences = sites.map((site) => {
    const largest = site.largest === null ? '' : `, most on ${site.largest.itemName}: ${site.largest.reasonLabel}`;
    return `${site.siteName}: ${moneyText(site.minor, minorDigits)} ${code}${largest}`;
  });
  const left = sorted.length - sites.length;
  return draw('lost', {
    widthPx: FULL_PX,
    title: `Which kitchen lost how much on what (${code})`,
    description: sentences.join('. '),
    lines: ['Worth of wasted food with its weight below. Darker is more; the dearest kitchens and reasons come first.'],
    panels: [
      {
        heading: '',
        heightPx: HEAD_PX + sites.length * ROW_PX,
        options: {
          marginLeft: NAMES_PX,
          marginTop: HEAD_PX,
          marginBottom: 0,
          marginRight: 0,
          x: { type: 'band', domain: bands(heads.length), axis: null, padding: 0.04 },
          y: { type: 'band', domain: bands(sites.length), axis: null, padding: 0.08 },
          marks: [
            plot.cell(fields, {
              x: 'column',
              y: 'row',
              fill: (one: Field) => fieldColour(Math.min(1, Math.max(0, one.minor) / most)),
            }),
            ...numbers(fields, 'normal'),
            ...numbers(whole, 'bold'),
            plot.text(heads, {
              x: 'column',
              frameAnchor: 'top',
              lineAnchor: 'bottom',
              dy: -6,
              fill: INK,
              fontWeight: 'bold',
              fontSize: 10.5,
              text: (one: { label: string }) => wrapped(one.label, reasons.length > 7 ? 14 : 17, 3),
            }),
            plot.text(sites, {
              y: (_: unknown, row: number) => row,
              frameAnchor: 'left',
              textAnchor: 'start',
              dx: -NAMES_PX,
              fill: INK,
              fontWeight: 'bold',
              fontSize: 12.5,
              text: (site: LostAt) => siteLabel(site, 27),
            }),
          ],
        },
      },
    ],
    notes: left === 0 ? [] : [`${left} more in the table of kitchens.`],
  });
}
