/** Prints of labels over HTTP: what is on them, who may print again, what a relabel supersedes. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { tightenPart } from '../../../src/features/ledger/index.ts';
import { findSupersededPrints } from '../../../src/features/labels/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { prepareReader, readCodes } from '../../support/barcodes.ts';
import { buildWorld, type World } from '../../support/world.ts';

/** GS1's own example number of its demonstration range, check digit included. */
const GTIN = '09521234543213';
const GS = '\u001d';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let packs: string;
let batchId: string;
let load: string;
let runId: string;

beforeAll(async () => {
  prepareReader();
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const change = { gtin: GTIN, textureLevel: 4, dietCodes: ['low-salt'], ingredients: 'Beef, water, celery' };
  const changed = await service
    .as('operations')
    .patch(`/v1/items/${world.beefStewPackId}`, change, { 'If-Match': '*' });
  expect([changed.status, changed.body.ingredients]).toEqual([200, 'Beef, water, celery']);
  for (const role of ['quality', 'finance']) {
    const person = { name: role, signInName: `${role}.two`, password: 'kettle-on-the-back-burner' };
    const id = exampleId(`person/${role}`);
    await kitchen.post('admin', '/v1/people', { ...person, id, grants: [{ role, siteId: null }] });
  }
  ({ batchId, lotId: load } = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000));
  packs = await kitchen.pack(batchId, load, 9_000, 30, { packLotCode: 'STEW-7' });
  runId = (await kitchen.get('kitchen', `/v1/lots/${packs}`)).packingRunId as string;
});
afterAll(() => service.stop());

const symbolsOf = async (picture: Answer): Promise<string[]> => (await readCodes(picture.raw)).map(({ text }) => text);
const ask = (body: object, role = 'kitchen', siteId: string | null = null): Promise<Answer> =>
  service.as(role, siteId).post('/v1/label-prints', { id: randomUUID(), ...body });
const lot = (more: object = {}) => ({ about: { kind: 'lot', id: packs }, ...more });
async function made(body: object, role = 'kitchen', siteId: string | null = null): Promise<Json> {
  const answer = await ask(body, role, siteId);
  expect([answer.status, answer.text]).toEqual([201, answer.text]);
  return answer.body;
}
const refusal = async (body: object, role = 'kitchen', siteId: string | null = null): Promise<string> =>
  (await ask(body, role, siteId)).body.code as string;
const file = (print: Json, query: string): Promise<Answer> =>
  service.as('kitchen').get(`/v1/label-prints/${print.printId as string}/file${query}`);

test('a first print needs no reason; its picture scans as it should; another of the same pack needs a reason', async () => {
  const first = await made(lot({ serials: '1-3' }));
  expect(first).toMatchObject({ reason: 'first', labels: 3, layout: 'roll-100x60', siteId: world.ckId });
  // use by the 29th: five days from the 25th, that day included; gone with the end of that day in London
  expect(first.packs[2]).toMatchObject({ serial: '3', useByAt: '2026-11-30T00:00:00.000Z', supersededByPrintId: null });
  const picture = await file(first, '?format=png&label=2');
  expect(picture.headers['content-type']).toBe('image/png');
  // the lot last; between serial and lot a separator, behind a date none (General Specifications, predefined lengths)
  expect(await symbolsOf(picture)).toEqual([`01${GTIN}17261129212${GS}10STEW-7`]);
  expect((await file(first, '?format=svg&label=4')).body.code).toBe('rule-broken');

  expect(await refusal(lot({ serials: '3-4' }))).toBe('label-reason-missing');
  const further = await made(lot({ serials: '3-4', reason: 'misprint', note: 'Ribbon ran out' }));
  expect(further).toMatchObject({ reason: 'misprint', labels: 2 });
  const both = await service.as('kitchen').get(`/v1/label-prints?lotId=${packs}&serial=3`);
  expect(both.body.items.map((one: Json) => one.printId)).toEqual([further.printId, first.printId]);
});

test('a damaged label read from a sister pack needs a second person who may print there', async () => {
  const damaged = (secondPersonId?: string, serial = '9') =>
    lot({ serials: '1', reason: 'damaged', sister: { serial, ...(secondPersonId && { secondPersonId }) } });
  expect(await refusal(damaged())).toBe('second-person-needed');
  expect(await refusal(damaged(exampleId('person/kitchen')))).toBe('second-person-needed');
  expect(await refusal(damaged(exampleId('person/finance')))).toBe('second-person-needed');
  expect(await refusal(damaged(exampleId('person/nobody')))).toBe('second-person-needed');
  expect(await refusal(damaged(exampleId('person/quality'), '1'))).toBe('serials-do-not-fit');
  const print = await made(damaged(exampleId('person/quality')));
  expect(print.sister).toEqual({ serial: '9', secondPersonId: exampleId('person/quality') });
});

test('settings of a site: its language, its sheet, a Digital Link at its domain; what was printed stays as it was', async () => {
  const settings = `/v1/sites/${world.ckId}/label-settings`;
  expect((await service.as('kitchen').get(settings)).body).toMatchObject({ language: 'en', choice: null });
  const before = await made(lot({ serials: '10' }));
  const asPrinted = (await file(before, '?format=svg')).text;
  const choice = {
    id: randomUUID(),
    language: 'pl',
    layout: 'a4-2x4',
    symbol: 'gs1qrcode',
    digitalLinkDomain: 'food.example.org',
  };
  expect((await service.as('kitchen').post(settings, choice)).body.code).toBe('forbidden');
  expect((await service.as('quality').post(settings, choice)).body).toMatchObject({
    language: 'pl',
    choice: { version: 1 },
  });
  const run = await service.as('kitchen').get(`/v1/packing-runs/${runId}/labels`);
  // thirty packs, eight to a sheet
  expect(run.raw.toString('latin1').match(/\/Type \/Page\b/g)?.length).toBe(4);
  const print = await made(lot({ serials: '11' }));
  const picture = await file(print, '?format=png&dpi=600');
  expect(await symbolsOf(picture)).toEqual([`https://food.example.org/01/${GTIN}/10/STEW-7/21/11?17=261129`]);
  expect((await file(before, '?format=svg')).text).toBe(asPrinted);
  const english = { ...choice, id: randomUUID(), language: 'en', layout: 'roll-100x60', symbol: 'gs1datamatrix' };
  expect((await service.as('quality').post(settings, english)).body.choice.version).toBe(2);
  expect((await service.as('quality').post(settings, { ...english, language: 'xx' })).body.code).toBe(
    'invalid-request',
  );
});

test('a relabel prints the earlier date and supersedes; with serials they have to be said', async () => {
  const part = await kitchen.pack(batchId, load, 600, 2, { packLotCode: 'APART' });
  const first = await made({ about: { kind: 'lot', id: part } });
  const change = {
    lotId: part,
    accountId: world.ckChillerId,
    ruling: 'cook-chill-10-c',
    reason: 'Warm',
    resultId: null,
  };
  const useByAtMs = Date.parse('2026-11-26T14:30:00Z');
  await service.db.inGroup(service.groupId, 'write', (tx) =>
    tightenPart(tx, { ...change, useByAtMs }, exampleId('person/quality'), service.clock.nowMs()),
  );
  const { items } = (await service.as('kitchen').get(`/v1/relabels?siteId=${world.ckId}&open=true`)).body;
  const about = { kind: 'relabel', id: items[0].relabelId };
  expect(await refusal({ about })).toBe('serials-do-not-fit');
  expect(await refusal({ about, serials: '1', reason: 'lost' })).toBe('rule-broken');
  const print = await made({ about, serials: '1' });
  expect(print).toMatchObject({ reason: 'relabel', packs: [{ serial: '1', useByAt: '2026-11-26T14:30:00.000Z' }] });
  // with a time the date is AI (7003), of free length: a separator follows
  const picture = await file(print, '?format=png');
  expect(await symbolsOf(picture)).toEqual([`01${GTIN}70032611261430${GS}211${GS}10APART`]);
  const now = (await service.as('kitchen').get(`/v1/label-prints/${first.printId as string}`)).body;
  expect(now.packs.map((one: Json) => one.supersededByPrintId)).toEqual([print.printId, null]);
  const found = await service.db.inGroup(service.groupId, 'read', (tx) =>
    findSupersededPrints(
      tx,
      [1, 2].map((serial) => ({ lotId: part, serial: String(serial) })),
    ),
  );
  expect(found).toMatchObject([{ serial: '1', supersededByPrintId: print.printId, newUseByMs: useByAtMs }]);
  // the old label, scanned: the same pack, with the date that was printed first
  const printed = (await service.as('kitchen').get(`/v1/lots/${part}`)).body.printedUseByDate as string;
  const warned = async (date: string) => {
    const scan = `01${GTIN}${date}211${GS}10APART`;
    const asked = { scan, readAt: '2026-11-25T12:00:00Z', siteId: world.ckId, placeId: world.ckChillerId };
    const { body } = await service.as('kitchen').post('/v1/scan-interpretations', asked);
    return (body.warnings as Json[]).filter((one) => one.code === 'label-superseded').map((one) => one.text as string);
  };
  const [old] = await warned(`17${printed.slice(2).replaceAll('-', '')}`);
  expect(old).toContain('2026-11-26 14:30');
  expect(await warned(`70032611261430${GS}`)).toEqual([]);
});

test('food on hold gets a quarantine label or none: without a date, in words and in the symbol', async () => {
  await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId: packs, note: 'Pouch blown' });
  expect(await refusal(lot({ serials: '20' }))).toBe('on-hold');
  const print = await made(lot({ serials: '1', reason: 'quarantine' }));
  expect(print.packs[0].useByAt).toBeNull();
  const picture = await file(print, '?format=png');
  expect(await symbolsOf(picture)).toEqual([`01${GTIN}211${GS}10STEW-7`]);
});

test('a counted lot has as many first labels as packs; two at once are one after the other', async () => {
  const counted = await kitchen.pack(batchId, load, 1_200, 4, { packLotCode: 'COUNTED', serialised: false });
  const body = { about: { kind: 'lot', id: counted }, copies: 3 };
  const both = await Promise.all([ask(body), ask(body)]);
  expect(both.map((one) => one.status).sort()).toEqual([201, 422]);
  expect(await refusal({ ...body, copies: 501 })).toBe('invalid-request');
});

test('crates: what the scanner reads is the SSCC; a further print needs a reason', async () => {
  await kitchen.post('operations', '/v1/sscc-ranges', { companyPrefix: '952001234', extensionDigit: 3 });
  const [crate] = (await kitchen.post('kitchen', '/v1/crates', { siteId: world.ckId, count: 1 })).items;
  const fed = await kitchen.stew(await kitchen.shin(4_000), 4_000, 3_400);
  const sent = await kitchen.pack(fed.batchId, fed.lotId, 1_500, 5, { packLotCode: 'SENT' });
  const line = {
    lotId: sent,
    placeId: world.ckChillerId,
    quantity: 5,
    unit: 'piece',
    crateCode: crate.code,
    serials: ['1', '2', '3', '4', '5'],
  };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', plan);
  const all = await service.as('kitchen').get(`/v1/dispatches/${dispatchId as string}/labels?format=png`);
  expect(await symbolsOf(all)).toContain(`00${crate.sscc as string}`);
  const one = await service.as('kitchen').get(`/v1/crates/${crate.crateId as string}/label?format=png`);
  expect(one.raw.equals(all.raw)).toBe(true);
  const print = await made({ about: { kind: 'dispatch', id: dispatchId }, copies: 2 });
  expect(print).toMatchObject({
    labels: 2,
    layout: 'roll-100x150',
    packs: [],
    crates: [{ code: crate.code, labels: 2 }],
  });
  expect((await file(print, '?format=png&label=2')).raw.equals(all.raw)).toBe(true);
  const again = { about: { kind: 'crate', id: crate.crateId } };
  expect(await refusal(again)).toBe('label-reason-missing');
  expect(await refusal({ ...again, layout: 'roll-60x40', reason: 'lost' })).toBe('rule-broken');
  expect((await made({ ...again, reason: 'lost' })).crates).toHaveLength(1);
});

test('who does not work there gets none', async () => {
  expect(await refusal(lot({ serials: '5' }), 'receiver', world.w3Id)).toBe('not-found');
  expect(await refusal(lot({ serials: '5', siteId: exampleId('site/nowhere') }))).toBe('not-found');
  expect(await refusal(lot({ serials: '5' }), 'finance')).toBe('forbidden');
});
