/** Kitchens side by side: what they wasted, in money and as a share, in one order. */
import { plot } from '../../../platform/charts.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { bands, CALM, draw, HALF_PX, INK, LOSS, MOST_SITES, siteLabel, type Picture } from './chart-parts.ts';
import { moneyText, percentText } from './words.ts';

const NAMES_PX = 180;

interface Row {
  readonly at: number;
  readonly name: string;
  readonly label: string;
  readonly minor: number;
  readonly percent: number | null;
}

/** Null when there is no kitchen. */
export function sitesPicture({ bySite, currency }: MonthReportAnswer): Picture | null {
  const { code, minorDigits } = currency;
  const sorted = bySite
    .filter((site) => site.siteId !== null || site.wastedFoodG !== 0)
    .sort((a, b) => b.wastedMinor - a.wastedMinor || b.wastedFoodG - a.wastedFoodG);
  const rows = sorted.slice(0, MOST_SITES).map((site, at): Row => {
    const percent = site.wastedPercentOfServedAndWasted.value;
    return { at, name: site.siteName, label: siteLabel(site, 27), minor: site.wastedMinor, percent };
  });
  if (rows.length === 0) return null;
  const frame = {
    marginLeft: NAMES_PX,
    marginRight: 84,
    marginTop: 2,
    marginBottom: 2,
    y: { type: 'band' as const, domain: bands(rows.length), axis: null, padding: 0.3 },
  };
  const names = plot.text(rows, {
    y: 'at',
    frameAnchor: 'left',
    textAnchor: 'start',
    dx: -NAMES_PX,
    fill: INK,
    text: (row: Row) => row.label,
  });
  const worth = (row: Row): number => Math.max(0, row.minor);
  const share = (row: Row): number => Math.max(0, row.percent ?? 0);
  const heightPx = 6 + rows.length * 23;
  const left = sorted.length - rows.length;
  return draw('sites', {
    widthPx: HALF_PX,
    title: 'Kitchens side by side',
    description: rows
      .map((row) => `${row.name}: wasted ${moneyText(row.minor, minorDigits)} ${code}, ${percentText(row.percent)}`)
      .join('. '),
    lines: ['The same order in both parts: by the worth of what was wasted.'],
    panels: [
      {
        heading: `Wasted, ${code}`,
        heightPx,
        options: {
          ...frame,
          x: { domain: [0, Math.max(1, ...rows.map(worth))], axis: null },
          marks: [
            plot.ruleX([0], { stroke: INK }),
            plot.barX(rows, { x1: 0, x2: worth, y: 'at', fill: LOSS }),
            plot.text(rows, {
              x: worth,
              y: 'at',
              textAnchor: 'start',
              dx: 5,
              fill: INK,
              text: (row: Row) => moneyText(row.minor, minorDigits),
            }),
            names,
          ],
        },
      },
      {
        heading: 'Wasted, percent of grams served + wasted',
        heightPx,
        options: {
          ...frame,
          x: { domain: [0, Math.max(1, ...rows.map(share))], axis: null },
          marks: [
            plot.ruleX([0], { stroke: INK }),
            plot.link(rows, { x1: 0, x2: share, y1: 'at', y2: 'at', stroke: CALM, strokeWidth: 2 }),
            plot.dot(rows, { x: share, y: 'at', fill: CALM, r: 5 }),
            plot.text(rows, {
              x: share,
              y: 'at',
              textAnchor: 'start',
              dx: 10,
              fill: INK,
              text: (row: Row) => percentText(row.percent),
            }),
            names,
          ],
        },
      },
    ],
    notes: left === 0 ? [] : [`${left} more in the table of kitchens.`],
  });
}
