/**
 * The whole demo as EPCIS: every event fits GS1's published schema (test data beside the repository, skipped aloud where it is not), and
 * what the events say comes to what the ledger keeps by itself: per lot, what came less what went is what is there.
 */
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { Ajv, type ValidateFunction } from 'ajv';
import addFormats from 'ajv-formats';
import pg from 'pg';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { demoTemplate } from '../../support/demo.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';

const schemaFile = path.resolve(
  import.meta.dirname,
  '../../../../shared/reference/standards/epcis/schema/EPCIS-JSON-Schema.json',
);
const there = existsSync(schemaFile);

function compiled(): ValidateFunction {
  const ajv = new Ajv({ strict: false, allErrors: false });
  addFormats.default(ajv);
  return ajv.compile(JSON.parse(readFileSync(schemaFile, 'utf8')) as object);
}

let service: TestService;
let document: Json;
let events: Json[];
beforeAll(async () => {
  service = await startService({ template: await demoTemplate() });
  const answer = await service.as('quality').get('/v1/epcis/documents');
  expect(answer.status).toBe(200);
  document = answer.body;
  events = document.epcisBody.eventList as Json[];
}, 180_000);
afterAll(() => service.stop());

async function rows<Row extends pg.QueryResultRow>(sql: string): Promise<Row[]> {
  const client = new pg.Client(service.databaseUrl);
  await client.connect();
  try {
    return (await client.query<Row>(sql)).rows;
  } finally {
    await client.end();
  }
}

test.skipIf(!there)('every event of the demo fits the schema that GS1 publishes', () => {
  const validate = compiled();
  const bad = events.filter((event) => !validate({ ...document, epcisBody: { eventList: [event] } }));
  console.log(`${events.length} EPCIS events against GS1's schema`);
  expect(
    bad
      .slice(0, 3)
      .map((event) => [event, validate({ ...document, epcisBody: { eventList: [event] } }) || validate.errors]),
  ).toEqual([]);
  expect(events.length).toBeGreaterThan(500);
});
if (!there) console.log("GS1's EPCIS schema is not beside the repository: skipped");

/** What an object event does to how much there is: sides that the vocabulary's words have, said here by hand. */
function signOf(event: Json): number {
  if (event.action === 'DELETE') return -1;
  if (event.action === 'ADD') return 1;
  const supplied = event.bizStep === 'receiving' && event.bizTransactionList?.[0]?.type !== 'desadv';
  return supplied || event.bizStep === 'stock_taking' ? 1 : 0;
}

test('what the events say of each lot comes to what is there', async () => {
  const wrong = new Set(events.filter((event) => event.errorDeclaration).map((event) => event.eventID));
  const sums = new Map<string, number>();
  const add = (epcClass: string, quantity: number) => sums.set(epcClass, (sums.get(epcClass) ?? 0) + quantity);
  for (const event of events.filter(({ eventID }) => !wrong.has(eventID))) {
    for (const { epcClass, quantity } of event.inputQuantityList ?? []) add(epcClass, -quantity);
    for (const { epcClass, quantity } of event.outputQuantityList ?? []) add(epcClass, quantity);
    if (event.type !== 'ObjectEvent') continue;
    for (const { epcClass, quantity } of event.quantityList ?? [])
      if (quantity) add(epcClass, signOf(event) * quantity);
    for (const epc of event.epcList ?? []) add((epc as string).replace(/\/21\/.*$/, ''), signOf(event));
  }
  const stock = await rows<{ uri: string; quantity: string }>(
    `select case when i.gtin is null or (l.origin = 'supplied' and l.supplier_lot_code is null) then 'urn:uuid:' || l.lot_id
                 else 'https://id.gs1.org/01/' || i.gtin || '/10/'
                      || case when l.origin = 'supplied' then l.supplier_lot_code else l.code end end as uri,
            sum(b.quantity) as quantity
       from balance b join account a using (group_id, account_id) join lot l using (group_id, lot_id)
       join item i using (group_id, item_id)
      where a.sign <> 0 and l.origin <> 'pseudo' group by 1`,
  );
  const kept = new Map(stock.map((row) => [row.uri, Number(row.quantity)]));
  const pseudo = new Set(
    (await rows<{ uri: string }>(`select 'urn:uuid:' || lot_id as uri from lot where origin = 'pseudo'`)).map(
      (row) => row.uri,
    ),
  );
  const differing = [...sums].filter(([uri, quantity]) => !pseudo.has(uri) && quantity !== (kept.get(uri) ?? 0));
  expect(differing).toEqual([]);
  expect(sums.size).toBeGreaterThan(100);
});

test('what was undone is there as it was and again, declared as wrong', async () => {
  const [counted] = await rows<{ reversals: string }>(
    `select count(*) as reversals from entry where kind = 'reversal'`,
  );
  const declared = events.filter((event) => event.errorDeclaration);
  expect(declared.length).toBeGreaterThanOrEqual(Number(counted?.reversals));
  for (const { errorDeclaration, recordTime, ...event } of declared) {
    expect(errorDeclaration.reason).toBe('did_not_occur');
    const { recordTime: before, ...first } = events.find((one) => one.eventID === event.eventID) ?? {};
    expect(first).toEqual(event);
    expect(Date.parse(recordTime)).toBeGreaterThanOrEqual(Date.parse(before));
  }
});

test('asking again derives nothing twice; a dispatch and a lot are documents of their own', async () => {
  const again = (await service.as('quality').get('/v1/epcis/documents')).body;
  expect(again.epcisBody.eventList).toEqual(events);
  const shipped = events.find((event) => event.bizStep === 'shipping' && event.bizTransactionList);
  const dispatchId = shipped?.bizTransactionList[0].bizTransaction.slice('urn:uuid:'.length);
  const one = (await service.as('quality').get(`/v1/epcis/documents?dispatchId=${dispatchId}`)).body;
  const own = one.epcisBody.eventList as Json[];
  expect(own.length).toBeGreaterThan(0);
  expect(new Set(own.map((event) => event.bizTransactionList[0].bizTransaction))).toEqual(
    new Set([`urn:uuid:${dispatchId}`]),
  );
  const backwards = '/v1/epcis/documents?from=2026-11-25T00:00:00Z&to=2026-11-24T00:00:00Z';
  expect((await service.as('quality').get(backwards)).body.code).toBe('rule-broken');
});

test('a day of a place is told once it is over, with what its sensors saw', async () => {
  const days = events.filter((event) => event.bizStep === 'sensor_reporting');
  expect(days.length).toBeGreaterThan(10);
  for (const day of days) {
    const [{ minValue, maxValue, meanValue }] = day.sensorElementList[0].sensorReport;
    expect(minValue).toBeLessThanOrEqual(meanValue);
    expect(meanValue).toBeLessThanOrEqual(maxValue);
    expect(Date.parse(day.eventTime)).toBeLessThanOrEqual(Date.parse('2026-11-25T12:00:00Z'));
  }
});

test('a drill says nothing to partners, a recall does', async () => {
  const drills = await rows<{ uri: string }>(`select hold_id as uri from hold where kind = 'drill'`);
  expect(drills.length).toBeGreaterThan(0);
  const recalled = events.filter((event) => event.disposition === 'recalled');
  const [reached] = await rows<{ count: string }>(
    `select count(*) from hold h join hold_reach using (group_id, hold_id) where h.kind = 'recall'`,
  );
  expect(recalled.length).toBe(Number(reached?.count));
  expect(recalled.every((event) => event.persistentDisposition.set[0] === 'recalled')).toBe(true);
});
