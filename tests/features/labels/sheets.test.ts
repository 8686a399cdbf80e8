/** Sheets to write on. What stands on them is looked at as pictures; here: that they are made, for whom, and how long they get. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { renderSheet, type Sheet } from '../../../src/platform/pdf/sheet.ts';
import { kitchenOf, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const pagesOf = (pdf: Buffer): number => pdf.toString('latin1').match(/\/Type \/Page\b/g)?.length ?? 0;

let service: TestService;
let world: World;
let kitchen: Kitchen;
let batchId: string;
let dispatchId: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const made = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000);
  batchId = made.batchId;
  const packs = await kitchen.pack(batchId, made.lotId, 9_000, 30);
  const line = { lotId: packs, placeId: world.ckChillerId, quantity: 5, unit: 'piece' };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
  dispatchId = (await kitchen.post('kitchen', '/v1/dispatches', plan)).dispatchId;
});
afterAll(() => service.stop());

test('each is a PDF for those at the site, and not there for others', async () => {
  const sheets: readonly [string, string, string | null][] = [
    ['kitchen', `/v1/recipes/${world.recipeId}/batch-sheet?siteId=${world.ckId}`, world.w3Id],
    ['kitchen', `/v1/batches/${batchId}/sheet`, world.w3Id],
    // the receiver's own site gets it, a third one would not: there are two here
    ['receiver', `/v1/dispatches/${dispatchId}/sheet`, null],
    ['receiver', `/v1/sites/${world.ckId}/temperature-sheet?date=2026-11-25`, world.w3Id],
  ];
  for (const [role, path, elsewhere] of sheets) {
    const page = await service.as(role, elsewhere === null ? world.w3Id : world.ckId).get(path);
    expect([page.status, page.headers['content-type'], page.raw.subarray(0, 5).toString()]).toEqual([
      200,
      'application/pdf',
      '%PDF-',
    ]);
    if (elsewhere !== null) expect((await service.as(role, elsewhere).get(path)).body.code).toBe('not-found');
  }
  const unknown = randomUUID();
  for (const path of [
    `/v1/batches/${unknown}/sheet`,
    `/v1/recipes/${unknown}/batch-sheet?siteId=${world.ckId}`,
    `/v1/dispatches/${unknown}/sheet`,
  ]) {
    expect((await service.as('kitchen').get(path)).body.code).toBe('not-found');
  }
});

test('a day that is not on the calendar is refused', async () => {
  const answer = await service.as('receiver').get(`/v1/sites/${world.w3Id}/temperature-sheet?date=2026-02-30`);
  expect([answer.body.code, answer.body.errors[0].pointer]).toEqual(['rule-broken', '#/query/date']);
});

test('a long table goes on over pages; the same sheet gives the same bytes', async () => {
  const sheet = (rows: number): Sheet => ({
    title: 'Long',
    subtitle: 'Many rows',
    foot: 'Foot',
    madeAtMs: Date.parse('2026-11-25T12:00:00Z'),
    sections: [
      {
        heading: 'Rows',
        columns: [
          { title: 'No.', share: 1 },
          { title: 'Box', share: 3 },
        ],
        rows: Array.from({ length: rows }, (_, at) => [String(at), null]),
        rowMm: 9,
      },
    ],
  });
  // A4 is 297 mm high: at 9 mm a row some 27 stand below the title, some 29 on each page after it
  expect(pagesOf(await renderSheet(sheet(10)))).toBe(1);
  const long = await renderSheet(sheet(60));
  expect(pagesOf(long)).toBe(3);
  expect((await renderSheet(sheet(60))).equals(long)).toBe(true);
});
