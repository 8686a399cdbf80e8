/** The month in a few words and figures, for the head of the page and of the print. */
import type { MonthReportAnswer } from '../month/shapes.ts';
import { lostOf } from './lost.ts';
import { massText, MINUS, moneyText, numberText, percentText } from './words.ts';

export interface HeadFigure {
  readonly title: string;
  readonly text: string;
  /** the figure of the period before, or what it is of */
  readonly below: string;
}

/** Who lost the most, on what; and what nobody explained. */
export function inBrief(report: MonthReportAnswer): string {
  const { currency, summary, making } = report;
  const money = (minor: number): string => `${currency.code} ${moneyText(minor, currency.minorDigits)}`;
  const sites = [...lostOf(report).sites].sort((a, b) => b.minor - a.minor || b.grams - a.grams);
  const whole = sites.reduce((sum, { minor }) => sum + minor, 0);
  const parts: string[] = [];
  const [worst] = sites;
  if (worst === undefined || worst.largest === null) parts.push('No food waste was recorded.');
  else {
    const share = whole > 0 ? `, ${percentText((worst.minor / whole) * 100)} of all food waste` : '';
    parts.push(
      `${worst.siteName} lost the most: ${money(worst.minor)}${share}.`,
      `Its largest loss is ${worst.largest.itemName}, "${worst.largest.reasonLabel}": ${money(worst.largest.minor)}.`,
    );
  }
  if (making.abnormalLoss > 0)
    parts.push(`Batches and packing lost ${money(making.abnormalLoss)} beyond what is planned.`);
  if (summary.adjustedG < 0)
    parts.push(
      `Counts found ${massText(-summary.adjustedG)} (${money(Math.abs(summary.adjustedMinor))}) missing that nobody explained.`,
    );
  return parts.join(' ');
}

export function headFigures({ summary, comparison, currency }: MonthReportAnswer): HeadFigure[] {
  const before = comparison.previous?.summary ?? null;
  const change = (now: number, then: number | undefined, text: (value: number) => string): string => {
    if (then === undefined) return 'nothing recorded the period before';
    const by = now - then;
    return by === 0 ? 'as the period before' : `${by > 0 ? '+' : MINUS}${text(Math.abs(by))} to the period before`;
  };
  const money = (minor: number): string => moneyText(minor, currency.minorDigits);
  return [
    {
      title: `Wasted, ${currency.code}`,
      text: money(summary.wastedMinor),
      below: change(summary.wastedMinor, before?.wastedMinor, money),
    },
    { title: 'Wasted', text: massText(summary.wastedG), below: change(summary.wastedG, before?.wastedG, massText) },
    {
      title: 'Wasted share',
      text: percentText(summary.wastedPercentOfServedAndWasted.value),
      below: `of ${summary.wastedPercentOfServedAndWasted.of}`,
    },
    {
      title: 'Yield of batches',
      text: percentText(summary.yieldPercent.value),
      below: `of ${summary.yieldPercent.of}`,
    },
    { title: 'Served', text: massText(summary.servedG), below: change(summary.servedG, before?.servedG, massText) },
    {
      title: 'Portions per kg bought',
      text: summary.portionsPerKgBought === null ? 'not known' : numberText(summary.portionsPerKgBought),
      below:
        summary.portionsServed === null
          ? 'no item says its portions'
          : `${numberText(summary.portionsServed)} portions served`,
    },
  ];
}
