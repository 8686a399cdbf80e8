/** A kitchen and a ward with food in them, told in order into a group of its own. Groups do not see each other, so copies share all ids. */
import { createGroup } from '../../src/features/identity/index.ts';
import { exampleId } from '../../src/platform/ids.ts';
import { kitchenOf, type Kitchen } from './kitchen.ts';
import { ADMIN_PASSWORD, type TestService } from './service.ts';
import { buildWorld } from './world.ts';

export const LOTS = {
  shin: exampleId('story/shin'),
  lateShin: exampleId('story/late-shin'),
  stew: exampleId('story/stew'),
  serialised: exampleId('story/serialised'),
  counted: exampleId('story/counted'),
};
export const BATCH = exampleId('story/batch');
export const DISPATCH = exampleId('story/dispatch');
export const PLATE = exampleId('story/plate');
export const CK = exampleId('site/ck');
export const W3 = exampleId('site/w3');
export const CK_CHILLER = exampleId('place/ck-chiller');
const CK_FREEZER = exampleId('place/ck-freezer');
export const CK_PREP = exampleId('place/ck-prep');
/** used by count */
export const W3_CHILLER = exampleId('place/w3-chiller');
/** before the first and after the last observation */
export const MORNING_MS = Date.UTC(2026, 10, 25, 6);
const NOON_MS = Date.UTC(2026, 10, 25, 12);
const instant = (ms: number) => new Date(ms).toISOString();

let groups = 0;

/** A group with 20 packs that have serial numbers, 20 that have not, a second delivery, and a dispatch of 8 packs planned. */
export async function beginStory(service: TestService): Promise<Kitchen> {
  groups += 1;
  service.clock.set(MORNING_MS);
  const code = `kitchen-${process.pid}-${groups}`;
  const personId = exampleId('person/admin');
  const admin = { personId, name: 'Alex Reed', signInName: 'admin', password: ADMIN_PASSWORD };
  const made = await createGroup(service.db, { code, name: code, currency: 'GBP', admin, nowMs: MORNING_MS });
  const own: TestService = {
    ...service,
    groupId: made.groupId,
    as: (role, siteId = null) => service.as(role, siteId, made.groupId),
  };
  const world = await buildWorld(own);
  const kitchen = kitchenOf(own, world);
  const post: Kitchen['post'] = (...request) => kitchen.post(...request);
  await post('operations', '/v1/items', {
    id: PLATE,
    code: 'STEW-PLATE',
    name: 'Beef stew, portion',
    kind: 'prepared',
    unit: 'piece',
    unitMassMg: 150_000,
    allergens: ['mustard'],
    handling: 'ready-to-eat',
    storageInstruction: 'Keep at 3 °C or below',
  });
  const change = async (path: string, fields: object): Promise<void> => {
    const answer = await own.as('operations').patch(path, fields, { 'if-match': '*' });
    if (answer.status !== 200) throw new Error(answer.text);
  };
  const lives = { portionsPerUnit: 2, regeneratedLifeH: 2, frozenLifeDays: 90, thawedLifeH: 24 };
  await change(`/v1/items/${world.beefStewPackId}`, { openedItemId: world.beefStewId, ...lives });
  await change(`/v1/items/${world.beefStewId}`, { regeneratedLifeH: 2, frozenLifeDays: 90, thawedLifeH: 24 });
  await change(`/v1/sites/${CK}`, { putAway: { chilled: CK_CHILLER, frozen: CK_FREEZER, ambient: null } });
  await change(`/v1/sites/${W3}`, { putAway: { chilled: W3_CHILLER, frozen: null, ambient: null } });
  await change(`/v1/places/${W3_CHILLER}`, { usedByCount: true });
  const line = { itemId: world.beefShinId, placeId: CK_CHILLER, unit: 'g' };
  const late = { lotId: LOTS.lateShin, lotCode: 'LATE', quantity: 5_000, useByDate: '2026-11-27', allergens: ['milk'] };
  await post('kitchen', '/v1/goods-receipts', {
    siteId: CK,
    supplierId: world.supplierId,
    occurredAt: instant(MORNING_MS),
    lines: [
      { ...line, lotId: LOTS.shin, lotCode: 'SHIN', quantity: 20_000 },
      { ...line, ...late },
    ],
  });
  await post('kitchen', '/v1/batches', { id: BATCH, siteId: CK, recipeId: world.recipeId });
  const batch = `/v1/batches/${BATCH}`;
  const input = { lotId: LOTS.shin, placeId: CK_CHILLER, quantity: 15_000, unit: 'g' };
  await post('kitchen', `${batch}/inputs`, input);
  const load = { lotId: LOTS.stew, lotCode: 'STEW', placeId: CK_CHILLER, quantity: 14_000, unit: 'g' };
  await post('kitchen', `${batch}/outputs`, { loads: [{ ...load, cookEndedAt: instant(MORNING_MS) }] });
  for (const [packLotId, packLotCode, serialised] of [
    [LOTS.serialised, 'SER', true],
    [LOTS.counted, 'CNT', false],
  ] as const) {
    const from = { fromLotId: LOTS.stew, fromPlaceId: CK_CHILLER, usedQuantity: 6_000, usedUnit: 'g' };
    const packs = { packItemId: world.beefStewPackId, packs: 20, toPlaceId: CK_CHILLER };
    const times = { startedAt: instant(MORNING_MS), finishedAt: instant(MORNING_MS) };
    await post('kitchen', `${batch}/packing-runs`, {
      id: exampleId(`story/run-${packLotCode}`),
      equipmentId: world.packerId,
      programme: 'Moist dishes',
      ...times,
      fills: [{ ...from, ...packs, packLotId, packLotCode, serialised }],
    });
  }
  await kitchen.release(BATCH);
  await post('operations', '/v1/dispatches', {
    id: DISPATCH,
    code: 'DROP',
    fromSiteId: CK,
    toSiteId: W3,
    lines: [{ lotId: LOTS.counted, placeId: CK_CHILLER, quantity: 8, unit: 'piece' }],
  });
  service.clock.set(NOON_MS);
  return kitchen;
}
