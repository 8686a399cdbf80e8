/**
 * Tracking events against a story whose rows are written down by hand. What the law asks for: 21 CFR 1.1340(a), 1.1345(a), 1.1350(a), as
 * published; Regulation (EU) 931/2011 Art. 3(1).
 */
import { parse } from 'csv-parse/sync';
import { readXlsx } from 'hucre/xlsx';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { tellRecordsStory, type RecordsStory } from './records-story.ts';

const BROOK = 'Brook Farm Meats; 01632 960101; Weir Road 2; Selwick; ZZ8 3JK; GB';
const KITCHEN = 'Central kitchen; 01632 960001; 1 Kiln Lane; Ostermere; ZZ9 1AA; GB';
const WARD = 'Ward 3 pantry; 2 Larch Rise; Ostermere; ZZ9 2AB; GB';

let service: TestService;
let story: RecordsStory;
let file: Json;

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-11-23T05:00:00Z') });
  story = await tellRecordsStory(service);
  file = await read(`lotId=${story.load}`);
});
afterAll(() => service.stop());

async function read(query: string, role = 'quality'): Promise<Json> {
  const answer = await service.as(role).get(`/v1/tracking-events?${query}`);
  expect(answer.status).toBe(200);
  return answer.body;
}

const eventsOf = (event: string): Json[] => file.events.filter((one: Json) => one.event === event);
const one = (event: string): Json => {
  expect(eventsOf(event)).toHaveLength(1);
  return eventsOf(event)[0];
};
const where = (locationId: string): string =>
  file.locations.find((location: Json) => location.locationId === locationId).description;

describe('tracking events', () => {
  test('the whole story, row by row: nothing that was undone, no move within a site', () => {
    const rows = file.events.map((row: Json) =>
      [row.event, row.criticalTrackingEvent, row.traceabilityLotCode, row.quantity, row.unit, row.occurredAt].join(' '),
    );
    const { shin, load, packs } = story.lotCodes;
    expect(rows).toEqual([
      `goods-in receiving ${shin} 10000 g 2026-11-23T07:00:00.000Z`,
      `batch-input transformation ${shin} 8000 g 2026-11-23T10:00:00.000Z`,
      `batch-output transformation ${load} 6000 g 2026-11-23T10:00:00.000Z`,
      `packing-input transformation ${load} 3000 g 2026-11-23T12:00:00.000Z`,
      `packing-output transformation ${packs} 10 piece 2026-11-23T12:00:00.000Z`,
      `departure shipping ${packs} 6 piece 2026-11-24T05:50:00.000Z`,
      `receipt receiving ${packs} 5 piece 2026-11-24T07:15:00.000Z`,
      `use  ${packs} 2 piece 2026-11-24T12:00:00.000Z`,
      `discard  ${packs} 1 piece 2026-11-25T11:00:00.000Z`,
    ]);
    expect([file.eventCount, file.lotCount]).toEqual([9, 3]);
  });

  test('21 CFR 1.1345(a)(1)-(8), receiving from a supplier', () => {
    const row = one('goods-in');
    expect(row).toMatchObject({
      traceabilityLotCode: story.lotCodes.shin,
      supplierLotCode: 'BRK-1',
      quantity: 10_000,
      unit: 'g',
      productName: 'Beef shin, diced',
      occurredOn: '2026-11-23',
      referenceDocumentType: 'delivery-note',
      referenceDocumentNumber: 'DN-77',
      recordedAt: '2026-11-23T07:30:00.000Z',
      recordedBy: 'Sam Dale',
    });
    expect([row.previousSourceId, row.locationId, row.tlcSourceId].map(where)).toEqual([BROOK, KITCHEN, KITCHEN]);
    expect(row.recipientId).toBeNull();
    // Nobody said in what it was packed, nor when the supplier sent it: empty, and said to be.
    expect([row.packSize, row.packStyle, row.dispatchedOn]).toEqual([null, null, null]);
    expect(row.missing).toEqual(['packSize', 'packStyle', 'dispatchedOn']);
  });

  test('21 CFR 1.1350(a)(1), food used in transformation: lot, product, quantity and unit used from that lot', () => {
    expect(one('batch-input')).toMatchObject({
      traceabilityLotCode: story.lotCodes.shin,
      productName: 'Beef shin, diced',
      quantity: 8_000,
      unit: 'g',
      role: 'input',
    });
  });

  test('21 CFR 1.1350(a)(2), food made by transformation: new lot code, where, when, product, quantity, document, and what went in', () => {
    expect(one('batch-output')).toMatchObject({
      traceabilityLotCode: story.lotCodes.load,
      productName: 'Beef stew',
      packStyle: 'bulk',
      quantity: 6_000,
      occurredOn: '2026-11-23',
      referenceDocumentType: 'batch-record',
      referenceDocumentNumber: story.batchCode,
      inputs: [
        { traceabilityLotCode: story.lotCodes.shin, productName: 'Beef shin, diced', quantity: 8_000, unit: 'g' },
      ],
      missing: [],
    });
    expect(one('packing-output')).toMatchObject({
      traceabilityLotCode: 'STEW-1',
      packSize: '300 g',
      packStyle: 'vacuum pack',
      inputs: [{ traceabilityLotCode: story.lotCodes.load, productName: 'Beef stew', quantity: 3_000, unit: 'g' }],
    });
    expect(where(one('packing-output').locationId)).toBe(KITCHEN);
  });

  test('21 CFR 1.1340(a)(1)-(8) and 1.1320, shipping: the lot code stays, recipient, shipped from, date, source, document', () => {
    const row = one('departure');
    expect(row).toMatchObject({
      traceabilityLotCode: 'STEW-1',
      quantity: 6,
      unit: 'piece',
      productName: 'Beef stew, pack of 300 g',
      packSize: '300 g',
      packStyle: 'vacuum pack',
      occurredOn: '2026-11-24',
      referenceDocumentType: 'dispatch',
      referenceDocumentNumber: story.dispatchCode,
    });
    expect([row.locationId, row.recipientId, row.tlcSourceId].map(where)).toEqual([KITCHEN, WARD, KITCHEN]);
    expect(row.missing).toEqual(['recipient.phone']);
  });

  test("21 CFR 1.1345(a), receiving at a satellite: the kitchen's lot code and its source are kept", () => {
    const row = one('receipt');
    expect(row).toMatchObject({
      traceabilityLotCode: 'STEW-1',
      quantity: 5,
      occurredOn: '2026-11-24',
      dispatchedOn: '2026-11-24',
      referenceDocumentType: 'dispatch',
      referenceDocumentNumber: story.dispatchCode,
      missing: ['location.phone'],
    });
    expect([row.previousSourceId, row.locationId, row.tlcSourceId].map(where)).toEqual([KITCHEN, WARD, KITCHEN]);
  });

  test('(EU) 931/2011 Art. 3(1)(a)-(h) for a consignment', () => {
    const row = one('receipt');
    const owner = file.locations.find((location: Json) => location.locationId === row.ownerId);
    expect({
      a: row.productName,
      b: [row.quantity, row.unit],
      c: where(row.previousSourceId),
      d: owner.name,
      e: where(row.locationId),
      f: owner.kind,
      g: row.traceabilityLotCode,
      h: row.dispatchedOn,
    }).toEqual({
      a: 'Beef stew, pack of 300 g',
      b: [5, 'piece'],
      c: KITCHEN,
      d: 'Ostermere Catering',
      e: WARD,
      f: 'group',
      g: 'STEW-1',
      h: '2026-11-24',
    });
  });

  test('what is missing is counted by element, by hand: one delivery, one telephone that two rows need', () => {
    expect(file.missing).toEqual(
      expect.arrayContaining([
        { element: 'recipient', part: 'phone', law: '21 CFR 1.1340(a)(4); (EU) 931/2011 Art. 3(1)(e)', rows: 1 },
        { element: 'location', part: 'phone', law: '21 CFR 1.1345(a)(5); (EU) 931/2011 Art. 3(1)(e)', rows: 1 },
        { element: 'dispatchedOn', part: null, law: '(EU) 931/2011 Art. 3(1)(h)', rows: 1 },
        { element: 'packSize', part: null, law: '21 CFR 1.1345(a)(3)', rows: 1 },
        { element: 'packSize', part: null, law: '21 CFR 1.1350(a)(1)', rows: 1 },
      ]),
    );
    expect(file.missing.reduce((sum: number, entry: Json) => sum + entry.rows, 0)).toBe(7);
  });
});

describe('what is asked for', () => {
  const lots = (body: Json) => [...new Set(body.events.map((row: Json) => row.traceabilityLotCode))];

  test('a lot alone, with what it became, with what it came from', async () => {
    const { shin, load, packs } = story.lotCodes;
    expect(lots(await read(`lotId=${story.load}&walk=none`))).toEqual([load]);
    expect(lots(await read(`lotId=${story.load}&walk=forward`))).toEqual([load, packs]);
    expect(lots(await read(`lotId=${story.load}&walk=back`))).toEqual([shin, load]);
    expect(lots(await read(`supplierId=${story.world.supplierId}&walk=none`))).toEqual([shin]);
  });

  test('a period, a day of it, a site; a receiver sees what happened at the own site, and all of a lot that was there', async () => {
    expect((await read('from=2026-11-23&to=2026-11-25')).eventCount).toBe(9);
    expect((await read('from=2026-11-24&to=2026-11-24')).events.map((row: Json) => row.event)).toEqual([
      'departure',
      'receipt',
      'use',
    ]);
    expect((await read(`from=2026-11-23&to=2026-11-25&siteId=${story.world.w3Id}`)).eventCount).toBe(3);
    const receiver = service.as('receiver', story.world.w3Id);
    const own = (await receiver.get('/v1/tracking-events?from=2026-11-23&to=2026-11-25')).body;
    expect(own.events.map((row: Json) => row.event)).toEqual(['receipt', 'use', 'discard']);
    expect((await receiver.get(`/v1/tracking-events?lotId=${story.packs}`)).body.eventCount).toBe(9);
    const elsewhere = await receiver.get(
      `/v1/tracking-events?from=2026-11-23&to=2026-11-25&siteId=${story.world.ckId}`,
    );
    expect([elsewhere.status, elsewhere.body.code]).toEqual([404, 'not-found']);
    // the shin never was at the ward
    expect((await receiver.get(`/v1/tracking-events?lotId=${story.shin}`)).body.code).toBe('not-found');
  });

  test('what cannot be answered is refused, and says where', async () => {
    const refused = async (query: string) => {
      const { status, body } = await service.as('quality').get(`/v1/tracking-events?${query}`);
      return [status, body.code, body.errors?.[0]?.pointer];
    };
    expect(await refused('from=2026-11-25&to=2026-11-23')).toEqual([422, 'rule-broken', '#/query/to']);
    expect(await refused('from=2026-02-30&to=2026-03-01')).toEqual([422, 'rule-broken', '#/query/from']);
    expect(await refused('from=2026-11-25')).toEqual([422, 'rule-broken', '#/query/to']);
    expect(await refused('from=2025-01-01&to=2026-11-25')).toEqual([422, 'rule-broken', '#/query/to']);
    expect(await refused('walk=back')).toEqual([422, 'rule-broken', '#/query/from']);
    expect((await refused(`lotId=${exampleId('no/lot')}`)).slice(0, 2)).toEqual([404, 'not-found']);
    expect((await refused(`supplierId=${exampleId('no/one')}`)).slice(0, 2)).toEqual([404, 'not-found']);
  });
});

describe('files', () => {
  test('the workbook, read by another library, says row for row what the CSV says; times are dates, quantities numbers', async () => {
    const query = `/v1/tracking-events?lotId=${story.load}`;
    const csv = await service.as('quality').get(`${query}&format=csv`);
    const [titles = [], ...rows]: string[][] = parse(csv.text);
    const workbook = await readXlsx((await service.as('quality').get(`${query}&format=xlsx`)).raw);
    expect(workbook.sheets.map((sheet) => sheet.name)).toEqual([
      'Summary',
      'Events',
      'Sites and suppliers',
      'Lots',
      'Glossary',
    ]);
    const sheet = workbook.sheets[1];
    const textOf = (value: unknown, title: string): string => {
      if (value === null || value === undefined) return '';
      if (!(value instanceof Date))
        return typeof value === 'number' || typeof value === 'string' ? String(value) : JSON.stringify(value);
      return title.endsWith('(UTC)') ? value.toISOString() : value.toISOString().slice(0, 10);
    };
    const [heading = [], ...lines] = sheet?.rows ?? [];
    expect(heading).toEqual(titles);
    expect(lines.map((line) => titles.map((title, at) => textOf(line[at], title)))).toEqual(rows);
    const quantity = titles.indexOf('Quantity');
    expect(lines.map((line) => line[quantity])).toEqual([10_000, 8_000, 6_000, 3_000, 10, 6, 5, 2, 1]);
    expect(lines[0]?.[titles.indexOf('Date')]).toEqual(new Date('2026-11-23T00:00:00Z'));
    // 21 CFR 1.1455 asks for a glossary: every column is in it.
    const glossary = (workbook.sheets[4]?.rows ?? []).filter((row) => row[0] === 'Column').map((row) => row[1]);
    expect(glossary).toEqual(titles);
  });

  test('a text that a spreadsheet would run is escaped in the CSV', async () => {
    const { supplierId } = story.world;
    await service.as('admin').patch(`/v1/suppliers/${supplierId}`, { name: '=1+1' }, { 'if-match': '*' });
    const csv = (await service.as('quality').get(`/v1/tracking-events?lotId=${story.shin}&walk=none&format=csv`)).text;
    expect(csv).toContain(",'=1+1; 01632 960101;");
    await service.as('admin').patch(`/v1/suppliers/${supplierId}`, { name: 'Brook Farm Meats' }, { 'if-match': '*' });
  });
});
