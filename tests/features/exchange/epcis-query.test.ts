/**
 * The EPCIS query interface over a morning of three deliveries and one batch: what is expected is told from those facts, and every answer is
 * valid by GS1's own schema where that is beside the repository. Numbers of the demonstration range 952 are invented.
 */
import { existsSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { Ajv } from 'ajv';
import addFormats from 'ajv-formats';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json } from '../../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const CK = 'https://id.gs1.org/414/9521321000018';
const GTIN = '09521234543213';
const lot = (code: string) => `https://id.gs1.org/01/${GTIN}/10/${code}`;

let service: TestService;
let world: World;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  const admin = service.as('admin');
  await admin.patch(`/v1/sites/${world.ckId}`, { gln: '9521321000018' }, { 'if-match': '*' });
  await admin.patch(`/v1/items/${world.beefShinId}`, { gtin: GTIN }, { 'if-match': '*' });
  const first = await kitchen.shin(10_000, { supplierLotCode: 'BRK-1' });
  await kitchen.shin(2_000, { supplierLotCode: 'BRK-2' });
  const line = {
    itemId: world.beefShinId,
    placeId: world.w3ChillerId,
    quantity: 500,
    unit: 'g',
    supplierLotCode: 'BRK-3',
  };
  const occurredAt = '2026-11-25T09:00:00Z';
  await kitchen.post('kitchen', '/v1/goods-receipts', {
    siteId: world.w3Id,
    supplierId: world.supplierId,
    occurredAt,
    lines: [line],
  });
  await kitchen.stew(first, 4_000, 3_400);
}, 60_000);
afterAll(() => service.stop());

const ask = (search: string, headers: Record<string, string> = {}): Promise<Answer> =>
  service.as('quality').get(`/v1/epcis/${search}`, headers);
const eventsOf = (answer: Answer): Json[] => {
  expect(answer.status, answer.text).toBe(200);
  return answer.body.epcisBody.queryResults.resultsBody.eventList;
};
const found = async (search: string) => eventsOf(await ask(search));
const classesOf = (events: Json[]): string[] =>
  events.flatMap((event) => (event.quantityList ?? []).map((one: Json) => one.epcClass as string));

const schemaFile = path.resolve(
  import.meta.dirname,
  '../../../../shared/reference/standards/epcis/schema/EPCIS-JSON-Schema.json',
);
if (!existsSync(schemaFile)) console.log('EPCIS: no GS1 schema here, the answers are not validated by it');

describe('queries', () => {
  test.skipIf(!existsSync(schemaFile))("the whole answer is valid by GS1's schema", async () => {
    const ajv = new Ajv({ strict: false, allErrors: true });
    (addFormats as unknown as (target: Ajv) => void)(ajv);
    const validate = ajv.compile(JSON.parse(readFileSync(schemaFile, 'utf8')) as object);
    const answer = await ask('events?perPage=500');
    expect(eventsOf(answer).length).toBeGreaterThanOrEqual(4);
    expect(validate(answer.body), JSON.stringify(validate.errors?.slice(0, 5))).toBe(true);
    expect(answer.headers).toMatchObject({
      'gs1-epcis-version': '2.0.0',
      'gs1-cbv-version': '2.0.0',
      'gs1-epc-format': 'Always_GS1_Digital_Link',
    });
  });

  test('by step, time, place, article: all have to hold, values of one are alternatives', async () => {
    const receiving = 'events?EQ_bizStep=receiving';
    expect(await found(receiving)).toHaveLength(3);
    expect(classesOf(await found(`${receiving}&LT_eventTime=2026-11-25T10:00:00Z`))).toEqual([lot('BRK-3')]);
    expect(classesOf(await found(`${receiving}&GE_eventTime=2026-11-25T12:00:00Z`))).toHaveLength(2);
    // It was put into a chiller at the kitchen: that is below the kitchen, and not the kitchen itself.
    expect(await found(`${receiving}&EQ_bizLocation=${CK}`)).toHaveLength(0);
    expect(await found(`${receiving}&EQ_readPoint=${CK}`)).toHaveLength(2);
    expect(await found(`${receiving}&WD_bizLocation=${CK}|https://id.gs1.org/414/9521321000025`)).toHaveLength(2);
    expect(await found(`${receiving}&MATCH_epcClass=${lot('BRK-2')}|${lot('BRK-3')}`)).toHaveLength(2);
    expect(await found(`${receiving}&MATCH_anyEPCClass=${lot('*')}`)).toHaveLength(3);
    expect(await found(`${receiving}&MATCH_anyEPCClass=urn:epc:class:lgtin:9521234.054321.BRK-2`)).toHaveLength(1);
    expect(await found(`${receiving}&EQ_action=ADD`)).toHaveLength(0);
    // 10 kg, 2 kg and half a kilogram, in grams
    expect(await found(`${receiving}&GT_quantity=2000`)).toHaveLength(1);
    expect(await found(`${receiving}&GE_quantity=2000`)).toHaveLength(2);
    expect(await found(`${receiving}&EXISTS_errorDeclaration=true`)).toHaveLength(0);
  });

  test('an article that went in is found as input, not as what an event is about', async () => {
    const types = (events: Json[]) => events.map((event) => event.type as string);
    expect(types(await found(`events?MATCH_inputEPCClass=${lot('BRK-1')}`))).toEqual(['TransformationEvent']);
    expect(types(await found(`events?MATCH_epcClass=${lot('BRK-1')}`))).not.toContain('TransformationEvent');
    expect(types(await found(`events?MATCH_anyEPCClass=${lot('BRK-1')}`))).toContain('TransformationEvent');
    expect(await found(`events?MATCH_outputEPCClass=${lot('BRK-1')}`)).toHaveLength(0);
  });

  test('page by page, in order, each event once; limits', async () => {
    const all = await found('events?orderBy=eventTime&orderDirection=ASC&perPage=500');
    const times = all.map((event) => Date.parse(event.eventTime));
    expect(times).toEqual([...times].sort((a, b) => a - b));
    const seen: Json[] = [];
    let next: string | undefined = 'events?orderBy=eventTime&orderDirection=ASC&perPage=1';
    while (next !== undefined && seen.length <= all.length) {
      const page: Answer = await ask(next);
      seen.push(...eventsOf(page));
      next = /<\/v1\/epcis\/([^>]+)>; rel="next"/.exec(page.headers['link'] ?? '')?.[1];
    }
    expect(seen).toEqual(all);
    const two = await ask('events?orderBy=recordTime&eventCountLimit=2&perPage=1');
    const rest = /<\/v1\/epcis\/([^>]+)>/.exec(two.headers['link'] ?? '')?.[1] ?? '';
    const second = await ask(rest);
    expect(eventsOf(second)).toHaveLength(1);
    expect(second.headers['link']).toBeUndefined();
    const tooMany = await ask('events?EQ_bizStep=receiving&maxEventCount=2');
    expect([tooMany.status, tooMany.body.type]).toEqual([413, 'epcisException:QueryTooLargeException']);
    expect(await found('events?EQ_bizStep=receiving&maxEventCount=3')).toHaveLength(3);
  });

  test('resources and what they name; one event', async () => {
    const types = await ask('eventTypes');
    expect(types.body.member).toContain('TransformationEvent');
    expect((await ask('bizSteps')).body.member).toContain('receiving');
    expect((await ask('epcs?perPage=500')).body.member).toEqual(expect.arrayContaining([lot('BRK-1'), lot('BRK-3')]));
    expect(await found('bizSteps/receiving/events')).toHaveLength(3);
    expect(await found(`readPoints/${encodeURIComponent(CK)}/events?EQ_bizStep=receiving`)).toHaveLength(2);
    expect(await found(`epcs/${encodeURIComponent(lot('BRK-2'))}/events`)).toHaveLength(1);
    const [event] = await found('eventTypes/TransformationEvent/events');
    const alone = await found(`events/${encodeURIComponent(event.eventID)}`);
    expect(alone).toEqual([event]);
    const none = await ask('events/urn:uuid:00000000-0000-4000-8000-000000000000');
    expect([none.status, none.body.type]).toEqual([404, 'epcisException:NoSuchResourceException']);
  });

  test('every parameter of the standard can be carried out', async () => {
    const values = [
      'WD_readPoint=https://example.org/a',
      'EQ_transformationID=urn:uuid:1',
      'EQ_persistentDisposition_set=recalled',
      'EQ_correctiveEventID=urn:uuid:1',
      'EQ_errorReason=did_not_occur',
      'GE_errorDeclarationTime=2026-11-25T10:00:00Z',
      'GE_startTime=2026-11-25T10:00:00Z',
      'MATCH_parentID=https://id.gs1.org/00/*',
      'MATCH_anyEPC=https://id.gs1.org/00/195212345678900013|https://id.gs1.org/00/*',
      'EQ_bizTransaction_po=urn:example:po:1',
      'EQ_source_location=https://id.gs1.org/414/9521321000018',
      'EQ_type=Temperature',
      'EQ_deviceID=urn:example:1',
      'EQ_booleanValue=true',
      'GT_value_CEL=5',
      'EXISTS_sensorElementList=true',
      'EQ_ILMD_cbvmda:lotNumber=none',
      'EXISTS_example:field=true',
    ];
    for (const one of values) eventsOf(await ask(`events?${one}`));
  });

  test("refused in the standard's words: unknown parameters, other versions, other formats, repeated parameters", async () => {
    const refused = async (search: string, headers: Record<string, string> = {}) => {
      const { status, body } = await ask(search, headers);
      return `${status} ${body.type}`;
    };
    const parameter = '400 epcisException:QueryParameterException';
    expect(await refused('events?EQ_bizstep=shipping')).toBe(parameter);
    expect(await refused('events?__proto__=x')).toBe(parameter);
    expect(await refused('events?MATCH_anyEPC=https://id.gs1.org/*')).toBe(parameter);
    expect(await refused('events?eventCountLimit=5')).toBe(parameter);
    expect(await refused('events?EQ_bizStep=shipping&EQ_bizStep=receiving')).toBe(parameter);
    expect(await refused('events?nextPageToken=abc')).toBe(parameter);
    expect(await refused('bizSteps/receiving/events?colour=red')).toBe(parameter);
    const acceptable = '406 epcisException:NotAcceptableException';
    expect(await refused('events', { accept: 'text/csv' })).toBe(acceptable);
    expect(await refused('events', { 'gs1-epcis-min': '2.1' })).toBe(acceptable);
    expect(await refused('events', { 'gs1-epc-format': 'Always_EPC_URN' })).toBe(acceptable);
    const receiver = await service.as('receiver').get('/v1/epcis/events');
    expect([receiver.status, receiver.body.type]).toEqual([403, 'epcisException:SecurityException']);
    const ld = await ask('events?perPage=1', { accept: 'application/ld+json' });
    expect(ld.headers['content-type']).toBe('application/ld+json');
  });

  test('who acts at one site sees the events of that site', async () => {
    const there = await service.as('quality', world.w3Id).get('/v1/epcis/events?perPage=500');
    expect(classesOf(eventsOf(there))).toEqual([lot('BRK-3')]);
    const named = await service.as('quality', world.w3Id).get('/v1/epcis/epcs');
    expect(named.body.member).toEqual([lot('BRK-3')]);
  });
});
