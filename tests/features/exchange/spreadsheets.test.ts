/** Spreadsheets of stock, lots and receipts over a story small enough to count by hand; see tests/features/recall/records-story.ts. */
import { parse } from 'csv-parse/sync';
import { readXlsx } from 'hucre/xlsx';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { csvRow } from '../../../src/features/exchange/spreadsheets/files.ts';
import { startService, type TestService } from '../../support/service.ts';
import { vectorsAreThere, vectorsOf } from '../../standards/vectors.ts';
import { tellRecordsStory, type RecordsStory } from '../recall/records-story.ts';

let service: TestService;
let story: RecordsStory;

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-11-23T05:00:00Z') });
  story = await tellRecordsStory(service);
  const { beefShinId } = story.world;
  const changed = await service
    .as('admin')
    .patch(`/v1/items/${beefShinId}`, { gtin: '09521234000013' }, { 'if-match': '*' });
  if (changed.status !== 200) throw new Error(changed.text);
  await story.kitchen.shin(500, { supplierLotCode: '=1+1' });
});
afterAll(() => service.stop());

type Row = Readonly<Record<string, string>>;

async function rowsOf(path: string, role = 'quality', site: string | null = null): Promise<Row[]> {
  const answer = await service.as(role, site).get(path);
  expect(answer.status).toBe(200);
  expect(answer.text).toMatch(/\r\n$/);
  return parse(answer.text, { columns: true });
}

const of = (rows: readonly Row[], ...titles: string[]): string[][] =>
  rows.map((row) => titles.map((title) => row[title] ?? '?'));

describe('as CSV', () => {
  test('stock: what is on hand in each place, numbers with their unit apart, leading zeros kept', async () => {
    const rows = await rowsOf('/v1/exports/stock');
    const { shin, load, packs } = story.lotCodes;
    const amounts = of(rows, 'Lot code', 'Quantity', 'Unit', 'Supplier lot code', 'GTIN');
    expect(amounts).toHaveLength(5);
    // 10 kg came, 8 kg were cooked; 6 kg of stew came out, 3 kg were packed; 10 packs, 6 left, 5 arrived, 2 served, 1 thrown away
    expect(amounts).toEqual(
      expect.arrayContaining([
        [shin, '2000', 'g', 'BRK-1', '09521234000013'],
        [load, '3000', 'g', '', ''],
        [packs, '4', 'piece', '', ''],
        [packs, '2', 'piece', '', ''],
        [expect.any(String), '500', 'g', "'=1+1", '09521234000013'],
      ]),
    );
    const ward = await rowsOf(`/v1/exports/stock?siteId=${story.world.w3Id}`);
    expect(of(ward, 'Lot code', 'Quantity')).toEqual([[packs, '2']]);
  });

  test('lots: those of these days by the date of their site', async () => {
    const rows = await rowsOf('/v1/exports/lots?from=2026-11-23&to=2026-11-24');
    const { shin, load, packs } = story.lotCodes;
    // 10 packs of 300 g
    expect(of(rows, 'Lot code', 'Quantity', 'Net mass (g)')).toEqual([
      [shin, '10000', '10000'],
      [load, '6000', '6000'],
      [packs, '10', '3000'],
    ]);
    expect(rows[0]?.['Made or taken in at (UTC)']).toBe('2026-11-23T07:00:00.000Z');
  });

  test('receipts: the delivery and the dispatch, with where they came from', async () => {
    const rows = await rowsOf('/v1/exports/receipts?from=2026-11-23&to=2026-11-24');
    const { shin, packs } = story.lotCodes;
    expect(of(rows, 'Kind', 'Day', 'Document', 'Lot code', 'Quantity', 'Unit', 'Condition')).toEqual([
      ['goods-receipt', '2026-11-23', 'DN-77', shin, '10000', 'g', ''],
      ['receipt', '2026-11-24', story.dispatchCode, packs, '5', 'piece', 'accepted'],
    ]);
    expect(rows.map((row) => row.From)).toEqual(['Brook Farm Meats', 'Central kitchen']);
  });

  test('whoever may act at one site only sees what is there', async () => {
    const { w3Id } = story.world;
    expect(of(await rowsOf('/v1/exports/stock', 'receiver', w3Id), 'Quantity')).toEqual([['2']]);
    expect(of(await rowsOf('/v1/exports/receipts', 'receiver', w3Id), 'Quantity')).toEqual([['5']]);
    const other = await service.as('receiver', w3Id).get(`/v1/exports/stock?siteId=${story.world.ckId}`);
    expect([other.status, other.body.code]).toEqual([404, 'not-found']);
  });
});

test('as a workbook: codes are texts, quantities numbers, days dates', async () => {
  const { status, raw } = await service.as('quality').get('/v1/exports/stock?format=xlsx');
  expect(status).toBe(200);
  const [sheet] = (await readXlsx(raw)).sheets;
  const [heading = [], ...rows] = sheet?.rows ?? [];
  const cell = (row: readonly unknown[] | undefined, title: string): unknown => row?.[heading.indexOf(title)];
  const formula = rows.find((row) => cell(row, 'Supplier lot code') === '=1+1');
  expect([cell(formula, 'GTIN'), cell(formula, 'Quantity')]).toEqual(['09521234000013', 500]);
});

test('a date with a time: its last whole day, beside the time', async () => {
  const { ckId, ckChillerId } = story.world;
  const opening = { kind: 'open', siteId: ckId, placeId: ckChillerId, code: 'STEW-1/10' };
  const opened = await story.kitchen.post('kitchen', '/v1/conversions', {
    ...opening,
    occurredAt: '2026-11-25T11:00:00Z',
  });
  const rows = await rowsOf('/v1/exports/stock');
  const lot = rows.filter((row) => row['Lot code'] === opened.lot.code);
  // opened for 24 hours at 11:00 on the 25th: the 25th is the last day that it may be used all day
  expect(of(lot, 'Use by', 'Use by at (UTC)')).toEqual([['2026-11-25', '2026-11-26T11:00:00.000Z']]);
  const [made] = (await rowsOf('/v1/exports/lots?from=2026-11-25&to=2026-11-25')).filter(
    (row) => row['Lot code'] === opened.lot.code,
  );
  expect(made?.['Use by in force']).toBe('2026-11-25');
});

test('bad input is refused by name', async () => {
  const get = async (path: string) => (await service.as('quality').get(path)).body.code as string;
  expect(await get('/v1/exports/lots?from=2026-11-31')).toBe('rule-broken');
  expect(await get('/v1/exports/receipts?from=2026-11-24&to=2026-11-23')).toBe('rule-broken');
  expect(await get('/v1/exports/stock?format=ods')).toBe('invalid-request');
  expect(await get('/v1/exports/stock?siteId=00000000-0000-4000-8000-000000000000')).toBe('not-found');
});

describe.skipIf(!vectorsAreThere)('published vectors', () => {
  test('rows of RFC 4180', () => {
    const vectors = vectorsOf('csv.row');
    console.log(`CSV vectors run: ${vectors.length + vectorsOf('csv.formula-injection').length}`);
    for (const { input, expected } of vectors) {
      expect(csvRow(input as string[])).toBe(`${(expected as { line: string }).line}\r\n`);
    }
  });

  test('texts that would run do not, numbers stay numbers', () => {
    for (const { input } of vectorsOf('csv.formula-injection')) {
      const [[cell = ''] = []]: string[][] = parse(csvRow([String(input)]));
      expect(cell).toBe(`'${String(input)}`);
    }
    expect(csvRow([-5, '-5'])).toBe("-5,'-5\r\n");
  });
});
