/**
 * The demo's van without cooling on its morning round: what was in it is shortened or held, and nothing else is. The hotel follows the cook-chill
 * guidelines, so its packs are held; the school and the care home go by the item's validated model, which takes a day.
 */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { recomputeShelfLife } from '../../../src/features/shelf-life/index.ts';
import { exampleId, randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { demoTemplate } from '../../support/demo.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startService({ template: await demoTemplate() });
});
afterAll(() => service.stop());

const lot = exampleId('lot/chicken-d-packs-1');
const get = async (path: string): Promise<Json> => {
  const answer = await service.as('quality').get(path);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};

test('its packs are shortened at the school and the care home, held at the hotel, and left alone in the wards', async () => {
  const life = await get(`/v1/lots/${lot}/shelf-life`);
  const at = (place: string): Json => life.parts.find((part: Json) => part.placeId === exampleId(`place/${place}`));
  // Cooked on 24 November, five days with that day: printed to the end of the 28th. 1.5 h at 11 °C by (T + 1.18)² against 3.5 °C are 10 h.
  expect(life.printedUseByAt).toBe('2026-11-29T00:00:00.000Z');
  for (const place of ['sch-chiller', 'care-chiller']) {
    expect([at(place).useByAt, at(place).ruling, at(place).holds]).toEqual([
      '2026-11-28T00:00:00.000Z',
      'item-model',
      [],
    ]);
  }
  const hotel = at('hot-chiller');
  expect([hotel.forbiddenBy, hotel.holds.map((hold: Json) => hold.kind)]).toEqual(['cook-chill-10-c', ['safety']]);
  const rest = life.parts.filter(
    ({ placeId }: Json) => !['sch', 'care', 'hot'].some((key) => placeId === exampleId(`place/${key}-chiller`)),
  );
  expect(rest.length).toBeGreaterThan(0);
  for (const part of rest) expect([part.useByAt, part.holds]).toEqual(['2026-11-29T00:00:00.000Z', []]);
});

test('each of the three sites has it on its relabel list, and no other lot was touched', async () => {
  const changed: string[] = [];
  for (const key of ['ck', 'w3', 'w7', 'w9', 'sch', 'care', 'hot']) {
    const relabels = await get(`/v1/relabels?siteId=${exampleId(`site/${key}`)}&open=true`);
    for (const one of relabels.items) if (one.lotId === lot) changed.push(key);
  }
  expect(changed).toEqual(['sch', 'care', 'hot']);
  const holds = await get('/v1/holds?open=true&limit=500');
  const warm = holds.items.filter((hold: Json) => hold.kind === 'safety' && hold.note?.startsWith('Cook-chill'));
  expect(warm.map((hold: Json) => hold.lotId)).toEqual([lot]);
});

test('a recall can begin with it: the chicken, and the stew that rode along to the inn', async () => {
  const excursions = await get('/v1/excursions');
  const warm = excursions.items.find((one: Json) => one.vehicle !== null);
  const starts = [{ kind: 'excursion', excursionId: warm.excursionId }];
  const preview = await service.as('quality').post('/v1/recall-previews', { starts });
  expect(preview.status, preview.text).toBe(200);
  const [start] = preview.body.starts;
  expect(start.lots.map((one: Json) => one.itemName).sort()).toEqual([
    'Beef stew, pack of 300 g',
    'Chicken and leek pie filling, pack of 350 g',
  ]);
  const unknown = [{ kind: 'excursion', excursionId: exampleId('excursion/unknown') }];
  const nothing = await service.as('quality').post('/v1/recall-previews', { starts: unknown });
  expect([nothing.status, nothing.body.code]).toEqual([422, 'starts-match-nothing']);
});

test('computed again, nothing changes', async () => {
  const before = await get(`/v1/lots/${lot}/shelf-life`);
  const parts = { db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') };
  await recomputeShelfLife(parts).run({ groupId: service.groupId });
  expect(await get(`/v1/lots/${lot}/shelf-life`)).toEqual(before);
});
