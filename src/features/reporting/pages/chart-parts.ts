/** What the pictures of the month share. No meaning is carried by colour alone: every bar and field has its number beside it. */
import { drawChart, type Chart } from '../../../platform/charts.ts';

export interface Picture {
  readonly name: string;
  readonly title: string;
  readonly svg: string;
}

export const INK = '#1c2126';
export const SOFT_INK = '#4b545c';
export const LOSS = '#b9572e';
export const CALM = '#2d6f8e';
export const HALF_PX = 560;
export const FULL_PX = 1_136;
export const MOST_SITES = 12;

export const shortened = (text: string, most: number): string =>
  text.length <= most ? text : `${text.slice(0, most - 1).trimEnd()}…`;

/** The name; cut, it has the code beside it, so that long names stay apart. */
export function siteLabel(
  { siteName, siteCode }: { readonly siteName: string; readonly siteCode: string },
  most: number,
): string {
  if (siteName.length <= most) return siteName;
  return `${shortened(siteName, Math.max(4, most - siteCode.length - 3))} (${siteCode})`;
}

/** Words over lines; what does not fit is cut and shows it. */
export function wrapped(text: string, mostChars: number, mostLines: number): string {
  const lines: string[] = [];
  for (const word of text.split(' ')) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= mostChars) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  const kept = lines.slice(0, mostLines);
  if (lines.length > mostLines) kept[mostLines - 1] = lines.slice(mostLines - 1).join(' ');
  return kept.map((line) => shortened(line, mostChars)).join('\n');
}

/** Places on an axis are numbers of rows, so that equal names stay apart. */
export const bands = (count: number): number[] => Array.from({ length: count }, (_, at) => at);

export function draw(name: string, chart: Omit<Chart, 'name'>): Picture {
  return { name, title: chart.title, svg: drawChart({ ...chart, name: `chart-${name}` }) };
}
