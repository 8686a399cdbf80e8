/**
 * The month as page, print, workbook and CSV, from an invented month that was added up on paper (tests/support/month-items.ts): each is read
 * back by a reader of its own, and what is read adds up to those sums.
 */
import { buffer } from 'node:stream/consumers';
import { parse } from 'csv-parse/sync';
import { readXlsx } from 'hucre/xlsx';
import { parseHTML } from 'linkedom';
import { describe, expect, test } from 'vitest';
import { reportCsv, reportHtml, reportPdf, reportXlsx } from '../../../src/features/reporting/pages/index.ts';
import { TOTAL_GRAMS, TOTAL_MONEY } from '../../support/month-items.ts';
import { bookLines, monthReport } from '../../support/month-report.ts';
import { pdfPages } from '../../support/pdf-text.ts';

type Report = ReturnType<typeof monthReport>;
type Row = readonly unknown[];

type Page = ReturnType<typeof parseHTML>['document'];

/** What is read of a part of the page. */
interface Part {
  readonly textContent: string | null;
  querySelectorAll(selector: string): Iterable<Part>;
}

const documentOf = (html: string): Page => parseHTML(html).document;
const page = (report: Report = monthReport()) => documentOf(reportHtml(report));
/** Thin spaces and true minus as people read them, back to a number. */
const figure = (text: string | null): number => Number((text ?? '').replaceAll('\u202F', '').replace('\u2212', '-'));
const cents = (text: string | null): number => Math.round(figure(text) * 100);
const rowsOf = (section: Part | null, part = 'tbody'): (string | null)[][] =>
  [...(section?.querySelectorAll(`${part} tr`) ?? [])].map((row) =>
    [...row.querySelectorAll('th, td')].map((cell) => cell.textContent),
  );
const headsOf = (section: Part | null) =>
  [...(section?.querySelectorAll('thead th') ?? [])].map((cell) => (cell.textContent ?? '').replaceAll('\u00A0', ' '));
const add = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0);
const hostile = '"><script>alert(1)</script><img src=x onerror=alert(2)>&amp;\'';

describe('the page', () => {
  test('says at the top what it is, of what, and as recorded when', () => {
    expect(page().querySelector('.state')?.textContent).toMatch(/^CLOSED/);
    expect(page(monthReport({ state: 'open' })).querySelector('.state')?.textContent).toMatch(/^PROVISIONAL/);
    expect(page().querySelector('h1')?.textContent).toBe('Waste, yield and cost: October 2026');
    expect(page().querySelector('.cut')?.textContent).toContain('2026-11-02T09:14:07.311Z');
    // by hand: 48.00 trim of beef is the largest of 175.30 at the kitchen, of 289.05 in all
    expect(page().querySelector('.inbrief')?.textContent).toContain(
      'Quayside central kitchen lost the most: EUR 175.30, 60.6\u202F% of all food waste. Its largest loss is Beef shin, diced',
    );
  });

  test('every row of items adds up, and so does every column to the sums made on paper', () => {
    const document = page();
    const measures = [
      ['items-money', cents, TOTAL_MONEY],
      ['items-grams', figure, TOTAL_GRAMS],
      ['items-units', figure, null],
    ] as const;
    for (const [id, read, totals] of measures) {
      const section = document.getElementById(id);
      const heads = headsOf(section);
      const sides = (row: readonly (string | null)[], sign: string) =>
        add(row.flatMap((cell, at) => (heads[at]?.startsWith(sign) === true ? [read(cell)] : [])));
      const rows = rowsOf(section);
      expect(rows).toHaveLength(7);
      for (const row of rows) expect([id, row[0], sides(row, '+')]).toEqual([id, row[0], sides(row, '=')]);
      if (totals === null) continue;
      const columns = heads.slice(1).map((_, at) => add(rows.map((row) => read(row[at + 1] ?? ''))));
      expect(columns).toEqual(
        Object.values(rowsOf(section, 'tfoot')[0] ?? [])
          .slice(1)
          .map(read),
      );
      expect(columns[0]).toBe(totals.opening);
      expect(columns.at(-1)).toBe(totals.closing);
      expect(columns[heads.indexOf('= Wasted') - 1]).toBe(totals.wasted);
    }
  });

  test('waste: kitchens by reasons, row by row and by destination come to the same 289.05 and 49.5 kg', () => {
    const document = page();
    const lost = document.getElementById('lost');
    const reasons = headsOf(lost).slice(1, -2);
    expect(reasons).toHaveLength(7);
    for (const row of rowsOf(lost)) expect(add(row.slice(1, 8).map(cents))).toBe(cents(row[8] ?? ''));
    const columns = reasons.map((_, at) => add(rowsOf(lost).map((row) => cents(row[at + 1] ?? ''))));
    // on paper: past use-by, trim, over-production, plate, seal, temperature, damaged
    expect(columns).toEqual([7_675, 6_240, 5_000, 4_875, 3_250, 1_625, 240]);
    for (const id of ['waste', 'waste-by-reason', 'waste-by-destination', 'waste-by-stage']) {
      const rows = rowsOf(document.getElementById(id));
      expect([id, add(rows.map((row) => cents(row.at(-1) ?? '')))]).toEqual([id, 28_905]);
      expect([id, add(rows.map((row) => figure(row.at(-2) ?? '')))]).toEqual([id, 49_500]);
    }
    expect(rowsOf(document.getElementById('waste-by-destination'))).toHaveLength(11);
    // 6 000 g of trim went to compost, 4 200 g of it peel; 42 000 g of steam are shown and in no sum
    const compost = rowsOf(document.getElementById('waste-by-destination')).find((row) =>
      row[0]?.startsWith('Compost'),
    );
    expect(compost?.slice(1, 3).map(figure)).toEqual([1_800, 4_200]);
    const losses = document.getElementById('losses');
    expect(rowsOf(losses).map((row) => figure(row[5] ?? ''))).toEqual([42_000, 1_800]);
    expect(rowsOf(losses, 'tfoot')[0]?.slice(5, 7).map(figure)).toEqual([1_800, 4_200]);
    const sites = rowsOf(document.getElementById('sites'));
    expect([1, 2].map((at) => add(sites.map((row) => cents(row[at] ?? ''))))).toEqual([4_950_000, 29_055]);
    const [making] = rowsOf(document.getElementById('making'), 'tfoot');
    expect(making?.slice(1).map((text) => cents(text))).toEqual([292_500, 292_500]);
  });

  test('every link leads somewhere: to ledger lines of this service or to a place on the page', () => {
    const document = page();
    const links = [...document.querySelectorAll('a')].map((link) => link.getAttribute('href') ?? '');
    expect(links.length).toBeGreaterThan(100);
    for (const href of links) {
      if (href.startsWith('#')) expect([href, document.getElementById(href.slice(1)) === null]).toEqual([href, false]);
      else expect(href).toMatch(/^\/v1\/(reports\/waste-and-yield\/lines\?month=2026-10|batches\/|lots\/[^/]+\/cost$)/);
    }
    // a number that is not zero and has lines is a link to its own line
    const beef = document.querySelector('#items-grams tbody tr');
    const wasted = [...(beef?.querySelectorAll('a') ?? [])].find((link) => link.textContent === '9\u202F500');
    expect(wasted?.getAttribute('href')).toMatch(/&itemId=[-\da-f]+&line=wasted$/);
    expect(links.filter((href) => href.includes('line=revalued'))).toEqual([]);
  });

  test('stands by itself, and can be read without seeing it', () => {
    const html = reportHtml(monthReport());
    expect(html).not.toMatch(
      /<script|<link|<iframe|\bsrc=|@import|url\(|https?:\/\/(?!www\.w3\.org\/(2000\/svg|1999\/xlink|2000\/xmlns))/,
    );
    const document = documentOf(html);
    expect(document.documentElement.getAttribute('lang')).toBe('en');
    const tables = [...document.querySelectorAll('table')];
    expect(tables.length).toBeGreaterThan(12);
    for (const table of tables) {
      expect(table.querySelector('caption')?.textContent?.length).toBeGreaterThan(3);
      expect([...table.querySelectorAll('th')].filter((head) => !head.hasAttribute('scope'))).toEqual([]);
    }
    const pictures = [...document.querySelectorAll('svg[role="img"]')];
    expect(pictures).toHaveLength(5);
    for (const picture of pictures)
      for (const id of (picture.getAttribute('aria-labelledby') ?? '').split(' '))
        expect(document.getElementById(id)?.textContent?.length).toBeGreaterThan(10);
    const ids = [...document.querySelectorAll('[id]')].map((one) => one.id);
    expect(new Set(ids).size).toBe(ids.length);
  });

  test('names are text, whatever they hold; links elsewhere are none', () => {
    const report = monthReport();
    const items = report.items.map((item) => ({ ...item, itemName: hostile, linesHref: 'javascript:alert(1)' }));
    const waste = report.waste.map((row) => ({
      ...row,
      siteName: hostile,
      reasonLabel: hostile,
      linesHref: '//elsewhere',
    }));
    const bySite = report.bySite.map((site) => ({ ...site, siteName: hostile }));
    const batches = report.batches.map((batch) => ({ ...batch, itemName: hostile, code: hostile, batchId: '"/><b>' }));
    const html = reportHtml({ ...report, items, waste, bySite, batches, notes: [hostile] });
    const document = documentOf(html);
    expect(document.querySelectorAll('script, img, b')).toHaveLength(0);
    expect(document.querySelector('#items-grams tbody th')?.textContent).toContain(hostile);
    expect(html).not.toMatch(/href="(javascript|\/\/)/);
  });

  test('a month in which nothing was recorded says so and draws nothing empty', async () => {
    const report = monthReport();
    const nothing = {
      items: [],
      categories: [],
      waste: [],
      batches: [],
      recipes: [],
      late: [],
      notes: [],
      bySite: [],
      batchLosses: [],
    };
    const making = Object.fromEntries(Object.keys(report.making).map((name) => [name, 0])) as Report['making'];
    const zero = <T extends object>(of: T): T => Object.fromEntries(Object.keys(of).map((name) => [name, 0])) as T;
    const totals = { inGrams: zero(report.totals.inGrams), inMoney: zero(report.totals.inMoney) };
    const wasteBy = { reason: [], destination: [], stage: [] };
    const empty = { ...report, ...nothing, totals, wasteBy, making };
    const document = page(empty);
    expect(document.querySelectorAll('svg')).toHaveLength(0);
    expect(document.querySelector('#pictures')?.textContent).toContain('No food waste was recorded.');
    expect(pdfPages(await reportPdf(empty)).join('')).toContain('Nothing was wasted.');
  });
});

describe('the files', () => {
  test('CSV: one row an item, its columns come to the sums made on paper, and no text runs as a formula', () => {
    const report = monthReport();
    const [first, ...others] = report.items;
    if (!first) throw new Error('The month has items');
    const csv = reportCsv({ ...report, items: [{ ...first, itemName: '=HYPERLINK("x")' }, ...others] });
    const rows: Record<string, string>[] = parse(csv, { columns: true });
    expect(rows).toHaveLength(7);
    expect(rows[0]?.Item).toBe('\'=HYPERLINK("x")');
    const sum = (column: string) => Math.round(add(rows.map((row) => Number(row[column]))) * 100) / 100;
    expect(sum('Wasted (EUR)')).toBe(290.55);
    expect(sum('Later prices (EUR)')).toBe(1);
    expect(sum('Wasted (g)')).toBe(49_560);
    expect(sum('At the end (EUR)')).toBe(338.7);
    expect(rows[3]?.['Served (unit)']).toBe('60');
    expect(rows[0]?.['Found by counts (EUR)']).toBe('-4.00');
    const yen = parse(reportCsv(monthReport({ currency: { code: 'JPY', minorDigits: 0 } })), { columns: true });
    expect((yen as Record<string, string>[])[0]?.['Wasted (JPY)']).toBe('7600');
  });

  test('XLSX: a reader library finds real dates and numbers, whose sums are the figures of the report', async () => {
    const report = monthReport();
    const bytes = await buffer(reportXlsx(report, bookLines(report)));
    const workbook = await readXlsx(bytes);
    expect(workbook.sheets.map(({ name }) => name)).toEqual([
      'Summary',
      'Items',
      'Sites',
      'Waste',
      'Losses',
      'Batches',
      'Packing runs',
      'Late',
      'Lines',
    ]);
    const rows = (name: string): readonly Row[] => workbook.sheets.find((one) => one.name === name)?.rows ?? [];
    const column = (name: string, title: string, where: (row: Row) => boolean = () => true): number => {
      const [heads = [], ...body] = rows(name);
      const at = heads.indexOf(title);
      if (at < 0) throw new Error(`${name} has no column ${title}`);
      return Math.round(add(body.filter(where).map((row) => Number(row[at]))) * 100) / 100;
    };
    // on paper, in cents; a spreadsheet shows them in euros
    expect(column('Items', 'Wasted, EUR')).toBe(TOTAL_MONEY.wasted / 100);
    expect(column('Items', 'At the start, EUR')).toBe(397.5);
    expect(column('Items', 'Put to use in making, g')).toBe(TOTAL_GRAMS.consumed);
    expect(column('Sites', 'Food waste, g')).toBe(49_500);
    expect(column('Sites', 'Wasted, EUR')).toBe(290.55);
    expect(column('Waste', 'EUR')).toBe(290.55);
    expect(column('Waste', 'EUR', (row) => row[4] === 'no')).toBe(289.05);
    expect(column('Losses', 'Food, g', (row) => row[4] === 'no')).toBe(1_800);
    expect(column('Losses', 'Inedible parts, g')).toBe(4_200);
    expect(column('Batches', 'Lost beyond plan, EUR')).toBe(96);
    expect(column('Late', 'EUR')).toBe(17.25);
    const line = (words: string) => (row: Row) => row[5] === words;
    expect(column('Lines', 'EUR', line('Wasted'))).toBe(290.55);
    expect(column('Lines', 'EUR', line('Served'))).toBe(995);
    expect(column('Lines', 'EUR', line('Served, by counts'))).toBe(243.75);
    expect(column('Lines', 'Grams', line('Put to use in making'))).toBe(416_840);
    expect(column('Lines', 'Grams', line('Found by counts'))).toBe(-2_500);
    const wasted = rows('Summary').find((row) => row[0] === 'Wasted, EUR');
    expect(wasted?.slice(1, 3)).toEqual([290.55, 314]);
    expect(rows('Lines')[1]?.[0]).toEqual(new Date('2026-10-12'));
    const styled = await readXlsx(bytes, { readStyles: true });
    const cells = styled.sheets.find((one) => one.name === 'Lines')?.cells;
    const formats = [9, 11, 12].map((at) => cells?.get(`1,${at}`)?.style?.numFmt);
    expect(formats).toEqual(['#,##0', '#,##0.###', '#,##0.00']);
  });

  test('PDF: month, scope, state and hash on every page, the figures of the page in it', async () => {
    const pages = pdfPages(await reportPdf(monthReport()));
    expect(pages.length).toBeGreaterThan(4);
    for (const text of pages) {
      expect(text).toContain('October 2026 · all sites · CLOSED');
      expect(text.replaceAll('\n', '')).toMatch(/canonical JSON: [\da-f]{64}/);
    }
    const whole = pages.join('\n');
    for (const words of [
      'Which kitchen lost how much on what (EUR)',
      '289.05',
      '290.55',
      '62.40',
      'Fern House care home',
      '2\u202F925.00',
      'HERBS-261012',
    ])
      expect(whole).toContain(words);
    const open = pdfPages(await reportPdf(monthReport({ state: 'open' })));
    expect(open[0]).toContain('PROVISIONAL');
  });

  test('the same report gives the same bytes', async () => {
    const twice = async (make: () => Promise<Buffer> | string) => {
      const [first, second] = [await make(), await make()];
      expect(first.length).toBeGreaterThan(500);
      expect(Buffer.from(first).equals(Buffer.from(second))).toBe(true);
    };
    const report = monthReport();
    await twice(() => reportCsv(report));
    await twice(() => reportHtml(report));
    await twice(() => reportPdf(report));
    await twice(() => buffer(reportXlsx(report, bookLines(report))));
  });
});
