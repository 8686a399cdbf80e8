/** The pictures of the month in rows, as they stand on the page and in the print; null where there is nothing to show. */
import type { MonthReportAnswer } from '../month/shapes.ts';
import { lostPicture } from './chart-lost.ts';
import { moneyPicture } from './chart-money.ts';
import { paretoPicture } from './chart-pareto.ts';
import type { Picture } from './chart-parts.ts';
import { sitesPicture } from './chart-sites.ts';
import { yieldPicture } from './chart-yields.ts';

interface Place {
  readonly picture: Picture | null;
  /** said in its place */
  readonly none: string;
}

export function pictureRows(report: MonthReportAnswer): readonly (readonly Place[])[] {
  return [
    [{ picture: lostPicture(report), none: 'No food waste was recorded.' }],
    [
      { picture: paretoPicture(report), none: 'No food waste to show by reason.' },
      { picture: sitesPicture(report), none: 'No kitchen to show.' },
    ],
    [
      { picture: moneyPicture(report), none: 'Nothing that has a price stood or moved.' },
      { picture: yieldPicture(report), none: 'No batch with a yield was completed.' },
    ],
  ];
}
