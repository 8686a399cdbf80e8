/** The month of a kitchen in every format, by the service: each says the same, and every link of the page leads to lines that sum to its number. */
import { parse } from 'csv-parse/sync';
import { readXlsx } from 'hucre/xlsx';
import { parseHTML } from 'linkedom';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json } from '../../support/kitchen.ts';
import { pdfPages } from '../../support/pdf-text.ts';
import { startService, type TestService } from '../../support/service.ts';
import { tellStewMonth } from '../../support/stew-month.ts';

const MONTH = '/v1/reports/waste-and-yield?month=2026-11';

describe('the month in every format', () => {
  let service: TestService;
  let report: Json;
  const get = (query: string) => service.as('finance').get(`${MONTH}${query}`);

  beforeAll(async () => {
    service = await startService();
    const { world } = await tellStewMonth(service);
    // 180.50 for 20 kg, so that there is money in it
    await kitchenOf(service, world).post('kitchen', '/v1/goods-receipts', {
      siteId: world.ckId,
      supplierId: world.supplierId,
      occurredAt: '2026-11-28T08:00:00Z',
      lines: [
        { itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 20_000, unit: 'g', priceMinor: 18_050 },
      ],
    });
    report = (await get('')).body;
  });
  afterAll(() => service.stop());

  const totalG = (line: string): number =>
    report.items.reduce((sum: number, item: Json) => sum + item.inGrams[line], 0);

  test('a page with a policy of its own: its style may be used, nothing may be fetched', async () => {
    const answer = await get('&format=html');
    expect([answer.status, answer.headers['content-type']]).toEqual([200, 'text/html; charset=utf-8']);
    expect(answer.headers['content-disposition']).toBe('inline; filename="waste-and-yield-2026-11-all-sites.html"');
    expect(answer.headers['content-security-policy']).toMatch(/^default-src 'none'; style-src 'unsafe-inline';/);
    expect(answer.headers['x-content-type-options']).toBe('nosniff');
    expect(answer.text).toContain('PROVISIONAL');
  });

  test('every number of an item leads to ledger lines that come to it', async () => {
    const { document } = parseHTML((await get('&format=html')).text);
    const read = { 'items-grams': ['grams', 1], 'items-money': ['valueMinor', 100] } as const;
    let followed = 0;
    for (const [id, [measure, factor]] of Object.entries(read)) {
      const links = [...document.querySelectorAll(`#${id} tbody td a`)] as Json[];
      for (const link of links) {
        const href: string = link.getAttribute('href');
        const line = /line=(\w+)/.exec(href)?.[1];
        const figure = Number(link.textContent.replaceAll('\u202F', '').replace('\u2212', '-'));
        const { status, body } = await service.as('finance').get(href);
        expect([href, status]).toEqual([href, 200]);
        if (line === undefined) continue;
        expect([href, body.sum[measure]]).toEqual([href, Math.round(figure * factor)]);
        followed += 1;
      }
    }
    expect(followed).toBeGreaterThan(15);
    expect(document.querySelector('#items-money')?.textContent).toContain('180.50');
    const others = [...document.querySelectorAll('section:not([id^="items"]) a[href^="/v1/reports"]')] as Json[];
    for (const href of new Set<string>(others.map((link) => link.getAttribute('href'))))
      expect([href, (await service.as('finance').get(href)).status]).toEqual([href, 200]);
  });

  test('a workbook whose lines come to the report, line by line', async () => {
    const answer = await get('&format=xlsx');
    expect(answer.status).toBe(200);
    expect(answer.headers['content-disposition']).toBe('attachment; filename="waste-and-yield-2026-11-all-sites.xlsx"');
    const { sheets } = await readXlsx(answer.raw);
    const rows = sheets.find(({ name }) => name === 'Lines')?.rows ?? [];
    const sum = (words: string): number =>
      rows.filter((row) => row[5] === words).reduce((all, row) => all + Number(row[11]), 0);
    const moved = {
      Received: 'received',
      'Put to use in making': 'consumed',
      Served: 'served',
      Wasted: 'wasted',
      Produced: 'produced',
    };
    for (const [words, line] of Object.entries(moved)) {
      expect([line, totalG(line)]).not.toEqual([line, 0]);
      // lines are to the milligram, rows of the report to the gram
      expect([line, Math.abs(sum(words) - totalG(line)) <= report.items.length / 2]).toEqual([line, true]);
    }
  });

  test('CSV by Accept, and a print', async () => {
    const csv = await service.as('finance').get(MONTH, { Accept: 'text/csv' });
    expect(csv.headers['content-type']).toBe('text/csv; charset=utf-8; header=present');
    const rows: Record<string, string>[] = parse(csv.text, { columns: true });
    expect(rows.map((row) => row['Item code'])).toEqual(report.items.map((item: Json) => item.itemCode));
    expect(rows.reduce((all, row) => all + Number(row['Wasted (g)']), 0)).toBe(totalG('wasted'));
    const pdf = await get('&format=pdf');
    expect([pdf.status, pdf.headers['content-type']]).toEqual([200, 'application/pdf']);
    expect(pdfPages(pdf.raw)[0]).toContain('November 2026 · all sites · PROVISIONAL');
  });
});
