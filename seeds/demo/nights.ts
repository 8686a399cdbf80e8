/**
 * A real week's nights: stew that is done at 23:40 and packed after midnight; three trolleys of which one fails alone; an inn that only
 * counts; a night on paper, entered the next morning.
 */
import { addressOfSite } from './addresses.ts';
import { as, type Who } from './door.ts';
import { cook, receiveGoods } from './kitchen.ts';
import { ck, id, later, offShelf, type Story } from './story.ts';
import { receiverOf } from './vans.ts';
import { programmeId } from './process-packing.ts';
import { ZONE } from './calendar.ts';

const kitchen = as('kitchen', 'site/ck');
const quality = as('quality');
const innkeeper: Who = { name: 'person/receiver-inn', role: 'receiver', site: 'site/inn' };

async function addInn(story: Story): Promise<void> {
  const { door } = story;
  const admin = as('admin');
  const site = { code: 'INN', name: 'The Lantern Inn', kind: 'satellite', timeZone: ZONE, jurisdiction: 'GB-ENG' };
  await door.post(admin, '/v1/sites', 'site/inn', { ...site, address: addressOfSite('inn') });
  const chiller = { siteId: id('site/inn'), code: 'CHILL-1', name: 'INN chiller', kind: 'chiller', usedByCount: true };
  await door.post(admin, '/v1/places', 'place/inn-chiller', chiller);
  await door.post(admin, '/v1/people', 'person/receiver-inn', {
    name: 'Jory Penn',
    signInName: 'j.penn',
    password: 'lamp-over-the-harbour',
    grants: [{ role: 'receiver', siteId: id('site/inn') }],
  });
}

export function nights(story: Story): void {
  stores(story);
  lateStew(story);
  trolleys(story);
  inn(story);
  paperNight(story);
  wardThree(story);
}

/** What the nights need besides the fortnight's own deliveries. */
function stores(story: Story): void {
  receiveGoods(story, 9, 'brook', 'goods-receipt/nights-brook', [
    ['beef-shin-night', 'beef-shin', 12_000, 'BRK-7760', 6, 11_400],
    ['carrots-night', 'carrots', 5_000, 'BRK-7761', null, 450],
  ]);
  receiveGoods(story, 9, 'marl', 'goods-receipt/nights-marl', [
    ['onions-night', 'onions', 7_000, 'MH 2270', null, 490],
    ['potatoes-night', 'potatoes', 6_000, 'MH 2271', null, 390],
  ]);
  receiveGoods(story, 9, 'pantry', 'goods-receipt/nights-pantry', [
    ['lentils-night', 'lentils', 7_000, 'WP-88455', 350, 1_190],
    ['tomatoes-night', 'tomatoes', 4_000, 'WP-88456', 500, 560],
  ]);
  receiveGoods(story, 9, 'quern', 'goods-receipt/nights-quern', [
    ['flour-night', 'flour', 1_000, 'Q26-320-1', 200, 90],
    ['bouillon-night', 'bouillon', 500, 'Q26-321-2', 400, 415],
    ['oil-night', 'oil', 1_000, 'Q26-322-5', 250, 248],
    ['thyme-night', 'thyme', 30, 'Q26-323-1', 500, 47],
    ['long-grain-night', 'long-grain', 7_000, 'Q26-324-8', 300, 1_092],
  ]);
  receiveGoods(story, 9, 'saffron', 'goods-receipt/nights-saffron', [
    ['garlic-night', 'garlic', 200, 'SY/4540', 8, 160],
    ['curry-night', 'curry-powder', 300, 'SY/4541', 400, 297],
  ]);
}

const NIGHT_STORES = {
  'beef-shin': 'lot/beef-shin-night',
  carrots: 'lot/carrots-night',
  onions: 'lot/onions-night',
  potatoes: 'lot/potatoes-night',
  flour: 'lot/flour-night',
  bouillon: 'lot/bouillon-night',
  oil: 'lot/oil-night',
  thyme: 'lot/thyme-night',
  lentils: 'lot/lentils-night',
  tomatoes: 'lot/tomatoes-night',
  garlic: 'lot/garlic-night',
  'curry-powder': 'lot/curry-night',
};

/** The packer's clean-down after a run that the fortnight's own do not follow. */
function cleanDown(story: Story, day: number, time: string): void {
  const path = `/v1/equipment/${id('equipment/packer-1')}/clean-downs`;
  story.happens(day, time, (occurredAt) =>
    story.door.post(kitchen, path, `clean-down/night-${day}-${time}`, { occurredAt, kind: 'full' }),
  );
}

/** Done at 23:40 on day 10 and packed at 00:50: its five days count from day 10, the day of cooking. */
function lateStew(story: Story): void {
  cook(story, {
    name: 'late-stew',
    dish: 'beef-stew',
    day: 10,
    start: '21:20',
    packs: [100],
    packLotCode: 'STEW-LATE',
    from: NIGHT_STORES,
    checked: { byItself: true },
    deliver: [],
  });
  cleanDown(story, 11, '01:45');
}

/** Three trolleys of dahl; the third stood too long before it was chilled, and is rejected alone. */
function trolleys(story: Story): void {
  cook(story, {
    name: 'trolleys',
    dish: 'lentil-dahl',
    day: 11,
    start: '09:10',
    packs: [30, 30, 30],
    from: NIGHT_STORES,
    stopAfter: 'completion',
    deliver: [],
  });
  cleanDown(story, 11, '13:35');
  const batch = `/v1/batches/${id('batch/trolleys')}`;
  story.happens(11, '14:20', () =>
    story.door.post(quality, `${batch}/rejection`, 'rejection/trolley-3', {
      lotIds: [id('lot/trolleys-load-3')],
      reason: 'Trolley 3 stood in the corridor: 14 °C in the middle after four hours',
    }),
  );
  story.happens(11, '14:30', () =>
    story.door.post(quality, `${batch}/release`, 'release/trolleys', {
      lotIds: [1, 2].map((load) => id(`lot/trolleys-load-${load}`)),
      note: 'Trolleys 1 and 2: at 3 °C within 90 minutes',
    }),
  );
}

/** Nobody at the inn scans what they use. They count, and they write down what they throw away. */
function inn(story: Story): void {
  const lotId = id('lot/late-stew-packs-1');
  const placeId = id('place/inn-chiller');
  story.happens(10, '20:00', () => addInn(story));
  const bring = (day: number, quantity: number) => {
    const name = `inn-${day}`;
    const path = `/v1/dispatches/${id(`dispatch/${name}`)}`;
    story.happens(day, '05:50', () =>
      story.door.post(kitchen, '/v1/dispatches', `dispatch/${name}`, {
        fromSiteId: ck(),
        toSiteId: id('site/inn'),
        vehicle: 'Van 1',
        driverName: 'Teo Larkin',
        lines: [{ lotId, placeId: id('place/ck-chiller'), quantity, unit: 'piece' }],
      }),
    );
    story.happens(day, '06:20', (departedAt) =>
      story.door.post({ name: 'person/driver-2', role: 'driver' }, `${path}/departure`, `departure/${name}`, {
        departedAt,
      }),
    );
    story.happens(day, '07:40', (occurredAt) =>
      story.door.post(innkeeper, `${path}/receipts`, `receipt/${name}`, {
        occurredAt,
        closes: true,
        lines: [{ lotId, quantity, unit: 'piece', condition: 'accepted', placeId, temperatureC: 3.2 }],
      }),
    );
  };
  const count = (day: number, time: string, quantity: number) =>
    story.happens(day, time, (occurredAt) =>
      story.door.post(innkeeper, '/v1/stock-counts', `stock-count/inn-${day}`, {
        placeId,
        occurredAt,
        complete: true,
        lines: [{ lotId, quantity, unit: 'piece' }],
      }),
    );
  bring(11, 24);
  count(11, '21:30', 15);
  story.happens(12, '20:10', (at) =>
    story.door.post(innkeeper, '/v1/discards', 'discard/inn', {
      lotId,
      placeId,
      quantity: 2,
      unit: 'piece',
      occurredAt: later(at, -7 * 3_600),
      reason: 'damaged',
      destination: 'anaerobic-digestion',
      note: 'Fell out of the tray; written down in the evening',
    }),
  );
  count(12, '21:30', 6);
  bring(13, 12);
  // One more than there can be: somebody overlooked a pack the evening before.
  count(13, '11:00', 19);
}

/** The network went down at eight in the evening of day 12; rice was cooked, packed and written down, and entered at half past eight. */
function paperNight(story: Story): void {
  const evening = (time: string) => story.calendar.at(12, time);
  const night = (time: string) => story.calendar.at(13, time);
  const batchId = id('batch/paper');
  const chiller = id('place/ck-chiller');
  const input = (item: string, fields: object, at: string) => ({
    operation: 'createRecordedBatchInput',
    params: { batchId },
    body: { id: id(`batch-input/paper-${item}`), ...fields, occurredAt: evening(at) },
  });
  story.happens(13, '08:30', () =>
    story.door.paper(as('operations'), [
      {
        operation: 'createBatch',
        body: {
          id: batchId,
          code: 'RICE-PAPER',
          siteId: ck(),
          recipeId: id('recipe/rice'),
          startedAt: evening('20:30'),
        },
      },
      input(
        'long-grain',
        { lotId: id('lot/long-grain-night'), placeId: id('place/ck-dry'), quantity: 6_000, unit: 'g' },
        '20:35',
      ),
      input('salt', { itemId: id('item/salt'), quantity: 60, unit: 'g' }, '20:40'),
      input('water', { itemId: id('item/water'), quantity: 12_000, unit: 'ml' }, '20:40'),
      {
        operation: 'createBatchOutputs',
        params: { batchId },
        body: {
          id: id('batch-outputs/paper'),
          occurredAt: evening('22:10'),
          loads: [
            {
              lotId: id('lot/paper-load-1'),
              placeId: chiller,
              quantity: 17_100,
              unit: 'g',
              cookEndedAt: evening('21:25'),
            },
          ],
        },
      },
      {
        operation: 'createRecordedPackingRun',
        params: { batchId },
        body: {
          id: id('packing-run/paper'),
          equipmentId: id('equipment/packer-2'),
          programmeId: programmeId('Grains, full vacuum'),
          packerId: id('person/cook-2'),
          startedAt: evening('23:50'),
          finishedAt: night('00:35'),
          fills: [
            {
              fromLotId: id('lot/paper-load-1'),
              fromPlaceId: chiller,
              usedQuantity: 17_100,
              usedUnit: 'g',
              packItemId: id('item/rice-pack'),
              packs: 95,
              packLotId: id('lot/paper-packs-1'),
              toPlaceId: chiller,
            },
          ],
        },
      },
      {
        operation: 'createBatchCompletion',
        params: { batchId },
        body: {
          id: id('batch-completion/paper'),
          completedAt: night('00:40'),
          losses: [{ kind: 'cooking-loss', massG: 900 }],
        },
      },
      {
        operation: 'createRecordedMove',
        body: {
          id: id('move/paper'),
          lotId: id('lot/paper-packs-1'),
          fromPlaceId: chiller,
          toPlaceId: id('place/ck-freezer'),
          quantity: 20,
          unit: 'piece',
          occurredAt: night('00:50'),
        },
      },
    ]),
  );
}

/** What ward 3 finds on its list on the last morning: two packs that end today, and a stew that was opened for a late supper. */
function wardThree(story: Story): void {
  story.happens(10, '10:30', async () => {
    for (const packs of story.shelves.w3.filter((one) => one.batch === 'chicken-c')) packs.keep = 2;
  });
  story.happens(12, '19:00', async (occurredAt) => {
    const { code, taken } = offShelf(story, 'w3', 'beef-stew', 1);
    await story.door.post(receiverOf('w3'), '/v1/conversions', 'conversion/w3-supper', {
      kind: 'open',
      siteId: id('site/w3'),
      code: `${code}/${taken[0] ?? ''}`,
      occurredAt,
    });
  });
}
