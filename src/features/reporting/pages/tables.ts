/**
 * The tables of the month, as text and links, for the page and for the print alike: so both say the same. What they hold adds up as it
 * stands: every row of a sum is printed, and the last row is the report's own figure.
 */
import type { MonthReportAnswer } from '../month/shapes.ts';
import { lostOf } from './lost.ts';
import { left, linesHref, linked, right, siteHref, spread, words, type Cell, type Table } from './table.ts';
import { LINE_WORDS, moneyText, monthText, numberText, percentText, periodText, safeHref } from './words.ts';

type Summary = MonthReportAnswer['summary'];
type SharedPeriod = MonthReportAnswer['comparison']['previous'];

interface Figure {
  readonly title: string;
  readonly of: string;
  readonly text: (summary: Summary) => string;
  /** of the ledger lines behind it */
  readonly line?: string;
}

const optional = (value: number | null): string => (value === null ? 'not known' : numberText(value));

function figuresOf({ currency: { code, minorDigits }, summary }: MonthReportAnswer): Figure[] {
  const grams = (title: string, of: (one: Summary) => number, about: string, line?: string): Figure => ({
    title: `${title}, g`,
    of: about,
    text: (one) => numberText(of(one)),
    ...(line === undefined ? {} : { line }),
  });
  const money = (title: string, of: (one: Summary) => number, about: string, line?: string): Figure => ({
    title: `${title}, ${code}`,
    of: about,
    text: (one) => moneyText(of(one), minorDigits),
    ...(line === undefined ? {} : { line }),
  });
  const share = (title: string, of: (one: Summary) => Summary['yieldPercent']): Figure => ({
    title,
    of: `percent of ${of(summary).of}`,
    text: (one) => percentText(of(one).value),
  });
  return [
    money('Wasted', (one) => one.wastedMinor, 'at cost, with packaging', 'wasted'),
    grams('Wasted', (one) => one.wastedG, 'food and inedible parts, without packaging', 'wasted'),
    grams('of it food', (one) => one.wastedFoodG, 'could have been eaten'),
    grams('of it inedible parts', (one) => one.wastedInediblePartsG, 'peelings, bones and the like'),
    share('Wasted, of what was served and wasted', (one) => one.wastedPercentOfServedAndWasted),
    share('Wasted, of what came in', (one) => one.wastedPercentOfIn),
    share('Yield of batches', (one) => one.yieldPercent),
    grams('Bought', (one) => one.boughtG, 'received from suppliers, without packaging', 'received'),
    grams('Came in', (one) => one.inG, 'received + produced + back from service + from other sites'),
    grams('Served', (one) => one.servedG, 'seen and shown by counts'),
    grams('of it shown by counts', (one) => one.servedDerivedG, 'nobody saw it served', 'servedDerived'),
    money('Served', (one) => one.servedMinor, 'at cost'),
    grams('Other use', (one) => one.otherUseG, 'staff meals, donated, tasted, laboratory'),
    grams('Unexplained', (one) => one.adjustedG, 'found by counts; below zero: missing', 'adjusted'),
    money('Unexplained', (one) => one.adjustedMinor, 'at cost', 'adjusted'),
    { title: 'Portions served', of: 'where an item says its portions', text: (one) => optional(one.portionsServed) },
    {
      title: 'Portions served per kg bought',
      of: 'portions served by kilograms bought',
      text: (one) => optional(one.portionsPerKgBought),
    },
  ];
}

const periodTitle = (period: SharedPeriod, otherwise: string): string =>
  period === null ? otherwise : periodText(period);

export function summaryTable(report: MonthReportAnswer): Table {
  const { previous, lastYear } = report.comparison;
  const all = linesHref(report);
  const other = (figure: Figure, period: SharedPeriod): Cell =>
    words(period === null ? 'nothing recorded' : figure.text(period.summary));
  return {
    id: 'summary',
    heading: 'Summary',
    caption: 'The period beside the one before and the same a year before. Each figure says what it is of.',
    columns: [
      left('Figure', 24),
      right(periodText(report), 14),
      right(periodTitle(previous, 'Period before'), 14),
      right(periodTitle(lastYear, 'A year before'), 14),
      left('What it is of', 34),
    ],
    rows: figuresOf(report).map((figure) => {
      const href = figure.line === undefined ? null : safeHref(all, { line: figure.line });
      const own = { text: figure.text(report.summary), href };
      return [words(figure.title), own, other(figure, previous), other(figure, lastYear), words(figure.of)];
    }),
    none: '',
  };
}

export const wasteAnchor = (siteId: string | null): string => `waste-${siteId ?? 'road'}`;

/** Kitchens by reasons, in money; each field leads to the rows of that kitchen. */
export function lostTable(report: MonthReportAnswer): Table {
  const { reasons, sites } = lostOf(report);
  const { code, minorDigits } = report.currency;
  const money = (minor: number): string => moneyText(minor, minorDigits);
  const rows = sites.map((site) => {
    const href = `#${wasteAnchor(site.siteId)}`;
    const fields = reasons.map((reason) => {
      const loss = site.byReason.get(reason.code);
      const some = loss !== undefined && (loss.minor !== 0 || loss.grams !== 0);
      return some ? { text: money(loss.minor), href } : words(money(0));
    });
    const largest =
      site.largest === null
        ? 'nothing wasted'
        : `${site.largest.itemName}: ${site.largest.reasonLabel} (${money(site.largest.minor)})`;
    return [words(site.siteName), ...fields, words(money(site.minor)), words(largest)];
  });
  const whole = reasons.reduce((sum, { minor }) => sum + minor, 0);
  return {
    id: 'lost',
    heading: 'Which kitchen lost how much on what',
    caption: `Wasted food and inedible parts by kitchen and standard reason, in ${code} at cost; without packaging.`,
    columns: [
      left('Kitchen', 12),
      ...spread(
        reasons.map(({ label }) => label),
        sites.map((site) => reasons.map((reason) => money(site.byReason.get(reason.code)?.minor ?? 0))),
        66,
      ),
      right('All', 7),
      left('Most of it', 15),
    ],
    rows,
    total: [words('All'), ...reasons.map(({ minor }) => words(money(minor))), words(money(whole)), words('')],
    none: 'No site is in it.',
  };
}

export function sitesTable(report: MonthReportAnswer): Table {
  const { code, minorDigits } = report.currency;
  const money = (minor: number): string => moneyText(minor, minorDigits);
  const { bySite } = report;
  const sum = (of: (site: (typeof bySite)[number]) => number): number => bySite.reduce((all, one) => all + of(one), 0);
  const { summary } = report;
  const atNoSite = report.making.abnormalLossAtNoSite;
  return {
    id: 'sites',
    heading: 'Kitchens side by side',
    caption: `Grams of food waste, without packaging; money in ${code} at cost, with packaging. Each kitchen is rounded alone, as in its own report. Lost in making: batches and packing, beyond the plan${atNoSite === 0 ? '' : `; ${money(atNoSite)} more is at no kitchen: what rounding leaves over`}. Percent of ${summary.wastedPercentOfServedAndWasted.of}.`,
    columns: [
      left('Kitchen', 24),
      right('Wasted, g', 12),
      right(`Wasted, ${code}`, 12),
      right('Wasted, %', 9),
      right(`Served, ${code}`, 11),
      right(`Served by counts, ${code}`, 11),
      right(`Unexplained, ${code}`, 11),
      right(`Lost in making, ${code}`, 11),
    ],
    rows: bySite.map((site) => {
      const lines = siteHref(report, site.siteId);
      const line = (value: number, text: string, name: string): Cell =>
        linked(value, text, safeHref(lines, { line: name }));
      return [
        { text: site.siteName, href: lines },
        line(site.wastedFoodG, numberText(site.wastedFoodG), 'wasted'),
        line(site.wastedMinor, money(site.wastedMinor), 'wasted'),
        words(percentText(site.wastedPercentOfServedAndWasted.value)),
        line(site.inMoney.served, money(site.inMoney.served), 'served'),
        line(site.inMoney.servedDerived, money(site.inMoney.servedDerived), 'servedDerived'),
        line(site.inMoney.adjusted, money(site.inMoney.adjusted), 'adjusted'),
        words(money(site.abnormalLossMinor)),
      ];
    }),
    total: [
      words('Kitchens added up'),
      words(numberText(sum((site) => site.wastedFoodG))),
      words(money(sum((site) => site.wastedMinor))),
      words(percentText(summary.wastedPercentOfServedAndWasted.value)),
      words(money(sum((site) => site.inMoney.served))),
      words(money(sum((site) => site.inMoney.servedDerived))),
      words(money(sum((site) => site.inMoney.adjusted))),
      words(money(sum((site) => site.abnormalLossMinor))),
    ],
    none: 'No site is in it.',
  };
}

export function makingTable({ making, currency: { code, minorDigits } }: MonthReportAnswer): Table {
  const money = (minor: number): Cell => words(moneyText(minor, minorDigits));
  const row = (title: string, plus: number | null, minus: number | null): Cell[] => [
    words(title),
    plus === null ? words('') : money(plus),
    minus === null ? words('') : money(minus),
  ];
  const came = making.workInProcessOpening + making.revalued + making.consumed + making.added;
  const went = making.produced + making.abnormalLoss + making.workInProcessClosing;
  return {
    id: 'making',
    heading: 'Making',
    caption: `What went into batches, packs and conversions, and what became of it, in ${code}. Loss within the plan is carried by what was made.`,
    columns: [left('What', 60), right(`Went in, ${code}`, 20), right(`Came of it, ${code}`, 20)],
    rows: [
      row('In open batches at the start', making.workInProcessOpening, null),
      row('Later prices of what had gone in and come out before', making.revalued, null),
      row('Put to use', making.consumed, null),
      row('Labour, energy, overheads and packaging', making.added, null),
      row('Produced', null, making.produced),
      row('Lost beyond the plan: an expense', null, making.abnormalLoss),
      row('In open batches at the end', null, making.workInProcessClosing),
    ],
    total: row('Both sides', came, went),
    none: '',
  };
}

const lineText = (line: string): string => (LINE_WORDS as Readonly<Record<string, string>>)[line] ?? line;

export function lateTable({ late, currency: { code, minorDigits } }: MonthReportAnswer): Table {
  const why = {
    'recorded-late': 'Recorded after the close',
    undone: 'Undone after the close',
    revalued: 'Price changed after the close',
  } as const;
  return {
    id: 'late',
    heading: 'Late facts',
    caption: `Of the figures above, what belongs to months that were closed when it was recorded. Money in ${code}.`,
    columns: [
      left('Of month', 14),
      left('Why', 22),
      left('Line', 18),
      left('Item', 22),
      right('Quantity', 10),
      left('Unit', 6),
      right('Grams', 10),
      right(code, 10),
    ],
    rows: late.map((one) => {
      const href = safeHref(one.linesHref);
      return [
        words(monthText(one.month)),
        words(why[one.kind]),
        words(lineText(one.line)),
        words(one.itemName),
        { text: numberText(one.quantity), href },
        words(one.unit),
        { text: numberText(one.grams), href },
        { text: moneyText(one.valueMinor, minorDigits), href },
      ];
    }),
    none: 'None: nothing was recorded late.',
  };
}
