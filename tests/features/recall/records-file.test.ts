/** The file of a case: its scope and nothing else in every format, the drill marked, the map; scans, counts and conversions as events. */
import { randomUUID } from 'node:crypto';
import { parse } from 'csv-parse/sync';
import { readXlsx } from 'hucre/xlsx';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { tellRecordsStory, type RecordsStory } from './records-story.ts';

let service: TestService;
let story: RecordsStory;
let drill: string;

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-11-23T05:00:00Z') });
  story = await tellRecordsStory(service);
  const { kitchen, world, shin, packs } = story;
  const { post } = { post: (...args: Parameters<typeof kitchen.post>) => kitchen.post(...args) };
  // a lot that has nothing to do with it
  await kitchen.shin(1_000);
  const at = '2026-11-25T12:30:00Z';
  const w3 = { siteId: world.w3Id };
  const scans = ['1', '2'].map((serial, no) => ({
    id: randomUUID(),
    kind: 'use',
    code: `${story.lotCodes.packs}/${serial}`,
    placeId: world.w3ChillerId,
    occurredAt: `2026-11-25T12:1${no}:00Z`,
  }));
  service.clock.set(Date.parse(at));
  const scanned = await service.as('receiver').post('/v1/scans', { ...w3, scans });
  if (scanned.status !== 207) throw new Error(scanned.text);
  await post('receiver', '/v1/stock-counts', {
    placeId: world.w3ChillerId,
    occurredAt: '2026-11-25T12:20:00Z',
    // 5 came, 2 + 2 were served, 1 thrown away: none is left, and one is there all the same
    lines: [{ lotId: packs, quantity: 1, unit: 'piece' }],
  });
  drill = (
    await post('quality', '/v1/recalls', { title: 'A drill', drill: true, starts: [{ kind: 'lot', lotId: shin }] })
  ).recallId as string;
});
afterAll(() => service.stop());

const file = (format: string, role = 'quality', site: string | null = null) =>
  service.as(role, site).get(`/v1/recalls/${drill}/file?format=${format}`);

describe('the file of a case', () => {
  test('JSON: the tracking events of the lots in scope, and the figures of the case', async () => {
    const { status, body } = await file('json');
    expect(status).toBe(200);
    expect(body.recall).toMatchObject({ drill: true, title: 'A drill', state: 'open', lotCount: 3 });
    expect(body.recall.figures.answeredShare.percent).toBeGreaterThan(0);
    expect([...new Set(body.events.map((row: Json) => row.lotId))].sort()).toEqual(
      [story.shin, story.load, story.packs].sort(),
    );
    // two beeps of one day are one row, the count's difference is another, what was undone is none
    const own = body.events.filter((row: Json) => row.occurredOn === '2026-11-25');
    expect(own.map((row: Json) => [row.event, row.quantity, row.facts, row.occurredAt, row.lastAt])).toEqual([
      ['discard', 1, 1, '2026-11-25T11:00:00.000Z', null],
      ['use', 2, 2, '2026-11-25T12:10:00.000Z', '2026-11-25T12:11:00.000Z'],
      ['count-found', 1, 1, '2026-11-25T12:20:00.000Z', null],
    ]);
  });

  test('the workbook and the CSV have the same rows; the workbook has the account and the timeline, and says that it is a drill', async () => {
    const [, ...csv] = parse((await file('csv')).text);
    const answer = await file('xlsx');
    expect(answer.headers['content-disposition']).toMatch(/^attachment; filename="DR-\d+-DRILL\.xlsx"$/);
    const workbook = await readXlsx(answer.raw);
    const sheet = (name: string) => workbook.sheets.find((one) => one.name === name)?.rows ?? [];
    const ids = (rows: readonly (readonly unknown[])[]) => rows.map((row) => row[28]);
    expect(ids(sheet('Events').slice(1))).toEqual(ids(csv));
    expect(sheet('Summary')[1]).toEqual(['DRILL', 'An exercise, not a real recall']);
    // by hand: 2 kg of shin, 3 kg of stew and 4 packs are at the kitchen, 1 pack on the road, 1 at the ward
    const account = sheet('Account')
      .slice(1)
      .map((row) => [row[0], row[1], row[8]]);
    expect(account).toEqual(
      expect.arrayContaining([
        ['Central kitchen', story.lotCodes.shin, 2_000],
        ['Central kitchen', story.lotCodes.load, 3_000],
        ['Central kitchen', story.lotCodes.packs, 4],
        ['Ward 3 pantry', story.lotCodes.packs, 2],
      ]),
    );
    expect(sheet('Timeline')[1]?.[2]).toBe('opened');
  });

  test('the PDF and the map', async () => {
    const pdf = await file('pdf');
    expect([pdf.headers['content-type'], pdf.raw.subarray(0, 5).toString()]).toEqual(['application/pdf', '%PDF-']);
    const svg = (await service.as('quality').get(`/v1/recalls/${drill}/map`)).text;
    expect(svg).toContain('DRILL, an exercise and not a real recall.');
    for (const words of ['Brook Farm Meats', 'Beef shin, diced', 'Beef stew', 'Ward 3 pantry', 'Central kitchen'])
      expect(svg).toContain(words);
    expect(svg).toContain('served: 4 pieces');
  });

  test('a site that has some of it reads it; a group does not see the case of another', async () => {
    expect((await file('json', 'quality', story.world.w3Id)).status).toBe(200);
    expect((await service.as('quality').get(`/v1/recalls/${randomUUID()}/file?format=csv`)).body.code).toBe(
      'not-found',
    );
    expect((await service.as('quality').get(`/v1/recalls/${randomUUID()}/map`)).body.code).toBe('not-found');
  });

  test('refused at the door: no receipt, and on its way back to the kitchen', async () => {
    const { kitchen, world, packs } = story;
    const at = new Date(service.clock.nowMs()).toISOString();
    const sent = { placeId: world.ckChillerId, serials: ['7', '8'] };
    const line = { lotId: packs, quantity: 2, unit: 'piece' };
    const ends = { fromSiteId: world.ckId, toSiteId: world.w3Id };
    const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', { ...ends, lines: [{ ...line, ...sent }] });
    await kitchen.post('kitchen', `/v1/dispatches/${dispatchId}/departure`, {});
    const refusal = { reason: 'Van too warm', occurredAt: at, lines: [{ ...line, serials: ['7', '8'] }] };
    await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/refusals`, refusal);
    const { events, locations } = (await service.as('quality').get(`/v1/tracking-events?lotId=${packs}&walk=none`))
      .body;
    const row = events.find((one: Json) => one.event === 'refused-at-door');
    expect(row).toMatchObject({ quantity: 2, criticalTrackingEvent: null, locationId: world.w3Id });
    expect(locations.find((one: Json) => one.locationId === row.recipientId).name).toBe('Central kitchen');
    expect(events.filter((one: Json) => one.event === 'receipt')).toHaveLength(1);
  });
});
