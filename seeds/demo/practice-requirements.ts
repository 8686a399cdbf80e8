/**
 * What the sites need for the demo's last day and the day after: sent in as a spreadsheet by operations, a number mended by ward 3, and a
 * first load planned for tomorrow, short of half. Somebody on ward 3 eats pureed food only, and somebody nothing from animals.
 */
import { requirementIdOf } from '../../src/features/distribution/index.ts';
import { receiverOf } from './vans.ts';
import { as } from './door.ts';
import { ck, id, type Story } from './story.ts';

const TODAY = 13;
const HEADING = 'site code,date,meal,item code,portions,texture,diets';
const STEW = 'BEEF-STEW-300';
const PUREE = 'BEEF-STEW-PUREED-180';
const DAHL = 'LENTIL-DAHL-300';

/** site, meal, item, portions, texture, diets */
type Need = readonly [
  site: string,
  meal: string,
  item: string,
  portions: number,
  texture?: number | null,
  diets?: string,
];

const NEEDS_TODAY: readonly Need[] = [
  ['W3', 'lunch', STEW, 22],
  ['W3', 'lunch', PUREE, 3, 4],
  ['W3', 'dinner', DAHL, 4, null, 'vegan'],
  ['W7', 'lunch', STEW, 12],
  ['W9', 'lunch', STEW, 10],
  ['SCH', 'lunch', STEW, 14],
  ['CARE', 'lunch', STEW, 10],
  ['HOT', 'dinner', 'CHICKEN-LEEK-350', 6],
];
const NEEDS_TOMORROW: readonly Need[] = [
  ['W3', 'lunch', STEW, 18],
  ['W3', 'lunch', PUREE, 3, 4],
  ['W3', 'dinner', DAHL, 6, null, 'vegan'],
  ['W7', 'lunch', DAHL, 14],
  ['W9', 'lunch', 'RICE-180', 14],
  ['SCH', 'lunch', STEW, 16],
  ['SCH', 'lunch', DAHL, 5, null, 'vegetarian'],
  ['CARE', 'lunch', STEW, 10],
  ['CARE', 'lunch', PUREE, 2, 4],
  ['HOT', 'dinner', DAHL, 8],
];

function csvOf(date: string, needs: readonly Need[]): string {
  const rows = needs.map(([site, meal, item, portions, texture, diets]) =>
    [site, date, meal, item, portions, texture ?? '', diets ?? ''].join(','),
  );
  return [HEADING, ...rows].join('\n');
}

/** A pureed stew, IDDSI level 4, which nobody has cooked yet. */
const PUREED = {
  category: 'Main dishes',
  code: PUREE,
  name: 'Beef stew, pureed, pack of 180 g',
  kind: 'packed',
  unit: 'piece',
  unitMassMg: 180_000,
  allergens: ['gluten-cereals:wheat', 'celery'],
  handling: 'ready-to-eat',
  storageInstruction: 'Keep at 3 °C or below. Heat to 75 °C in the middle. Check the texture before serving.',
  life: { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' },
  textureLevel: 4,
  portionsPerUnit: 1,
};

export function needs(story: Story): void {
  const { door, calendar } = story;
  const operations = as('operations');
  const [today, tomorrow] = [calendar.date(TODAY), calendar.date(TODAY + 1)];
  story.happens(TODAY - 1, '14:30', () => door.post(operations, '/v1/items', 'item/beef-stew-pureed-pack', PUREED));
  story.happens(TODAY - 1, '15:00', () =>
    door.post(operations, '/v1/requirements', 'requirements/today', { csv: csvOf(today, NEEDS_TODAY) }),
  );
  story.happens(TODAY, '08:50', () =>
    door.post(receiverOf('w3'), '/v1/requirements', 'requirements/w3-mended', {
      siteId: id('site/w3'),
      lines: [
        { serviceDate: today, meal: 'lunch', itemId: id('item/beef-stew-pack'), portions: 20, note: 'Two went home' },
      ],
    }),
  );
  story.happens(TODAY, '10:05', () =>
    door.post(operations, '/v1/requirements', 'requirements/tomorrow', { csv: csvOf(tomorrow, NEEDS_TOMORROW) }),
  );
  const requirementId = requirementIdOf({
    siteId: id('site/sch'),
    serviceDate: tomorrow,
    meal: 'lunch',
    itemId: id('item/beef-stew-pack'),
    textureLevel: null,
    dietCodes: [],
  });
  story.happens(TODAY, '11:20', async () => {
    const packs = { lotId: id('lot/beef-stew-packs-1'), placeId: id('place/ck-chiller'), quantity: 8, unit: 'piece' };
    await door.post(as('kitchen', 'site/ck'), '/v1/dispatches', 'dispatch/sch-tomorrow', {
      fromSiteId: ck(),
      toSiteId: id('site/sch'),
      plannedFor: calendar.at(TODAY + 1, '06:10'),
      lines: [{ ...packs, requirementId }],
    });
    await door.post(
      as('kitchen', 'site/ck'),
      `/v1/dispatches/${id('dispatch/sch-tomorrow')}/short-picks`,
      'short-pick/sch-tomorrow',
      { requirementId, shortPortions: 8, reason: 'The rest is packed from the stew on the stove' },
    );
  });
}
