/** Which lots to send where, over HTTP: the worked example of the reference figures handed to the project, then what may not be offered. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const SUPPLY = [60, 50, 40, 30, 20];
const DEMANDS = 'S1:50,S2:60,S3:30,S4:40,S5:20';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let lots: string[];
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  for (const no of [1, 2, 3, 4, 5]) {
    const site = {
      code: `S${no}`,
      name: `Site ${no}`,
      kind: 'satellite',
      timeZone: 'Europe/London',
      jurisdiction: 'GB-ENG',
    };
    await kitchen.post('admin', '/v1/sites', site);
  }
  lots = SUPPLY.map(() => randomUUID());
  const lines = SUPPLY.map((quantity, at) => ({
    lotId: lots[at],
    lotCode: `L-${at}`,
    itemId: world.beefStewPackId,
    placeId: world.ckChillerId,
    quantity,
    unit: 'piece',
    useByDate: `2026-12-0${at + 1}`,
  }));
  const receipt = { siteId: world.ckId, supplierId: world.supplierId, occurredAt: '2026-11-25T06:00:00Z', lines };
  await kitchen.post('kitchen', '/v1/goods-receipts', receipt);
});
afterAll(() => service.stop());

const ask = (more: string, status = 200): Promise<Json> =>
  kitchen.get('kitchen', `/v1/reports/lots-to-use?siteId=${world.ckId}&itemId=${world.beefStewPackId}${more}`, status);

test('batch_dispersion of golden.json: 7 links, worst 110, average 60 by date; 5 links at best', async () => {
  const answer = await ask(`&demands=${DEMANDS}`);
  expect(answer.oldestFirst).toMatchObject({ links: 7, worstRecall: 110, worstRecallG: 33_000, averageRecall: 60 });
  const sends = answer.oldestFirst.sends.map((one: Json) => [one.lotCode, one.siteCode, one.quantity]);
  expect(sends).toEqual([
    ['L-0', 'S1', 50],
    ['L-0', 'S2', 10],
    ['L-1', 'S2', 50],
    ['L-2', 'S3', 30],
    ['L-2', 'S4', 10],
    ['L-3', 'S4', 30],
    ['L-4', 'S5', 20],
  ]);
  expect(answer.fewestLinks).toMatchObject({ links: 5, worstRecall: 60, averageRecall: 40, mostSites: 1 });
  expect(answer.bound).toEqual({ lotsAndSites: 10, atMost: 12 });
  expect(answer.offer).toMatch(/^Offer, not an order/);
});

test('a lot on hold is not offered, what is planned is taken off, and too little is said by site', async () => {
  const hold = await kitchen.post('quality', '/v1/holds', { kind: 'quality', lotId: lots[1], note: 'Seams look odd' });
  const line = { lotId: lots[4], placeId: world.ckChillerId, quantity: 5, unit: 'piece' };
  await kitchen.post('kitchen', '/v1/dispatches', { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] });
  const answer = await ask(`&demands=${DEMANDS}`);
  expect(answer.lots.map((one: Json) => [one.lotCode, one.quantity, one.offered])).toEqual([
    ['L-0', 60, true],
    ['L-1', 0, false],
    ['L-2', 40, true],
    ['L-3', 30, true],
    ['L-4', 15, true],
  ]);
  // 145 for 200; sites of the same hour go by code, so the last one waits
  expect(answer.demands.map((one: Json) => one.shortQuantity)).toEqual([0, 0, 0, 35, 20]);
  const { holdId } = hold;
  await kitchen.post('quality', `/v1/holds/${holdId}/lift`, { note: 'They are not' });
});

test('requirements: what a dispatch has already, and what the item does not suit, is left out', async () => {
  const asked = { serviceDate: '2026-11-26', itemId: world.beefStewPackId };
  const needs = await kitchen.post('receiver', '/v1/requirements', {
    siteId: world.w3Id,
    lines: [
      { ...asked, meal: 'lunch', portions: 22 },
      { ...asked, meal: 'dinner', portions: 9 },
      { ...asked, meal: 'lunch', portions: 3, textureLevel: 4 },
    ],
  });
  const lunch = needs.requirements.find((one: Json) => one.portions === 22 || one.requiredPortions === 22);
  const line = {
    lotId: lots[0],
    placeId: world.ckChillerId,
    quantity: 2,
    unit: 'piece',
    requirementId: lunch.requirementId,
  };
  await kitchen.post('kitchen', '/v1/dispatches', { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] });
  const answer = await ask('&date=2026-11-26');
  // 20 + 9; dinner at 17:30 (shared/meals.json) in London
  expect(answer.demands).toMatchObject([{ siteCode: 'W3', quantity: 29, neededAt: '2026-11-26T17:30:00.000Z' }]);
  expect(answer.unsuitable).toMatchObject([{ siteCode: 'W3', portions: 3 }]);
  expect([answer.oldestFirst.links, answer.fewestLinks.links]).toEqual([1, 1]);
  expect((await ask('&date=2026-11-27')).whyNoFewest).toContain('nothing to send');
});

test("a day that is over, a site twice, a site that is not there, somebody else's kitchen", async () => {
  expect((await ask('&date=2026-11-24', 422)).code).toBe('rule-broken');
  expect((await ask('&demands=S1:5,S1:6', 422)).code).toBe('rule-broken');
  expect((await ask('&demands=NOWHERE:5', 404)).code).toBe('not-found');
  expect((await ask('&demands=S1', 400)).code).toBe('invalid-request');
  const path = `/v1/reports/lots-to-use?siteId=${world.ckId}&itemId=${world.beefStewPackId}`;
  expect((await service.as('kitchen', world.w3Id).get(path)).status).toBe(404);
});
