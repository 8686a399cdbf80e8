/**
 * What did not go as meant: every reason for throwing food away once, a late use, a short shelf, a wrong beep undone, a count that does not
 * agree, a supplier's warning, a hold that is still open.
 */
import type { Satellite } from './catalogue.ts';
import { as, type Who } from './door.ts';
import { id, loadFor, offShelf, pickFrom, type Story } from './story.ts';
import { receiverOf, scannerOf } from './vans.ts';
import { derivedId } from '../../src/platform/ids.ts';

const kitchen = as('kitchen', 'site/ck');
const quality = as('quality');
/** The last fact of the demo: when it is there, so is everything. */
export const LAST_FACT = 'move/last';

interface Waste {
  readonly lotId: string;
  readonly placeId: string;
  readonly quantity: number;
  readonly unit?: 'g' | 'piece';
  readonly reason: string;
  readonly destination: string;
  readonly note?: string;
}

function throwAway(story: Story, who: Who, name: string, occurredAt: string, waste: Waste): Promise<unknown> {
  return story.door.post(who, '/v1/discards', `discard/${name}`, { unit: 'g', ...waste, occurredAt });
}

export function mishaps(story: Story): void {
  wasteInTheKitchen(story);
  wasteAtSites(story);
  supplierMatters(story);
  mistakesAtSites(story);
  story.happens(13, '11:40', (occurredAt) =>
    story.door.post(kitchen, '/v1/moves', LAST_FACT, {
      lotId: id('lot/onions-1'),
      fromPlaceId: id('place/ck-dry'),
      toPlaceId: id('place/ck-prep'),
      quantity: 2_000,
      unit: 'g',
      occurredAt,
    }),
  );
}

function wasteInTheKitchen(story: Story): void {
  const chiller = id('place/ck-chiller');
  const bad = (name: string, day: number, time: string, lot: string, quantity: number, more: Partial<Waste> = {}) =>
    story.happens(day, time, async (at) => {
      const bin = /^(.+)-\d$/.exec(lot)?.[1] ?? lot;
      if (story.stores.has(bin)) pickFrom(story, bin, `lot/${lot}`, quantity);
      await throwAway(story, kitchen, name, at, {
        lotId: id(`lot/${lot}`),
        placeId: chiller,
        quantity,
        reason: name,
        destination: 'anaerobic-digestion',
        ...more,
      });
    });
  bad('over-production', 5, '10:05', 'rice-b-load-1', 1_200, { note: 'Left in the tray after packing' });
  bad('cooking-loss', 6, '11:50', 'gravy-b-load-1', 900, { note: 'Caught at the bottom of the kettle' });
  bad('sample', 9, '09:40', 'soup-a-load-1', 250, { note: 'Retained sample past its keeping time' });
  bad('trim', 8, '07:25', 'carrots-1', 300, { destination: 'composting' });
  bad('drip-loss', 11, '11:10', 'beef-shin-2', 400, { destination: 'sewer' });
  bad('contamination', 12, '09:20', 'lentils-1', 500, {
    placeId: id('place/ck-dry'),
    destination: 'refuse',
    note: 'A stone in the sack; the rest was sieved',
  });
  bad('seal-failure', 12, '09:05', 'beef-stew-packs-1', 2, { unit: 'piece' });
}

function wasteAtSites(story: Story): void {
  const shelfOf = (site: Satellite) => id(`place/${site}-chiller`);
  const quarantineOf = (site: Satellite) => derivedId('quarantine-place', id(`site/${site}`));
  story.happens(6, '09:30', async (occurredAt) => {
    const first = loadFor(story, 5, 'hot')[0];
    if (first === undefined) throw new Error('Nothing came to the hotel on day 5.');
    await story.door.scan(scannerOf('hot'), id('site/hot'), [
      {
        id: id('discard/damaged'),
        kind: 'discard',
        code: `${first.code}/${first.serials[0] ?? ''}`,
        occurredAt,
        reason: 'damaged',
        destination: 'anaerobic-digestion',
        note: 'Pouch was cut when it came',
      },
    ]);
  });
  story.happens(9, '13:20', async (occurredAt) => {
    const lotId = story.shelves.w7.find((packs) => packs.batch === 'stew-d')?.lotId;
    const back = { lotId, quantity: 2, unit: 'piece', occurredAt };
    await story.door.post(receiverOf('w7'), '/v1/returns', 'return/w7-trolley', {
      ...back,
      direction: 'from-service',
      placeId: shelfOf('w7'),
      reason: 'The trolley came back with two packs unopened',
    });
    const waste = { reason: 'plate-return', destination: 'anaerobic-digestion', placeId: quarantineOf('w7') };
    await story.door.post(receiverOf('w7'), '/v1/discards', 'discard/plate-return', { ...back, ...waste });
  });
  story.happens(10, '07:05', async (at) => {
    const { lotId } = offShelf(story, 'w9', 'stew-d', 4);
    await throwAway(story, receiverOf('w9'), 'temperature', at, {
      lotId,
      placeId: shelfOf('w9'),
      quantity: 4,
      unit: 'piece',
      reason: 'temperature',
      destination: 'anaerobic-digestion',
      note: 'Lower shelf at 11 °C, the door had stood open',
    });
  });
  story.happens(10, '13:00', async (occurredAt) => {
    const { code, taken } = offShelf(story, 'sch', 'soup-c', 1);
    await story.door.scan(scannerOf('sch'), id('site/sch'), [
      {
        id: id('discard/other'),
        kind: 'discard',
        code: `${code}/${taken[0] ?? ''}`,
        occurredAt,
        reason: 'other',
        destination: 'refuse',
        note: 'Dropped on the stairs',
      },
    ]);
  });
  story.happens(12, '09:15', async (at) => {
    const { lotId } = offShelf(story, 'hot', 'stew-c', 1);
    const waste = { reason: 'past-use-by', destination: 'anaerobic-digestion' };
    const where = { lotId, placeId: shelfOf('hot'), quantity: 1, unit: 'piece' as const };
    await throwAway(story, receiverOf('hot'), 'past-use-by', at, { ...where, ...waste });
  });
}

function supplierMatters(story: Story): void {
  story.happens(5, '13:00', async (occurredAt) => {
    pickFrom(story, 'leeks', 'lot/leeks-1', 1_000);
    await story.door.post(kitchen, '/v1/returns', 'return/leeks', {
      direction: 'to-supplier',
      lotId: id('lot/leeks-1'),
      placeId: id('place/ck-chiller'),
      quantity: 1_000,
      unit: 'g',
      occurredAt,
      reason: 'Yellow and wilted; the driver took the box back',
    });
  });
  story.happens(8, '10:00', () =>
    story.door.post(quality, '/v1/holds', 'hold/yoghurt', {
      kind: 'safety',
      lotId: id('lot/yoghurt-0'),
      note: 'The dairy recalls D-YG-118: pots may be underfilled with live culture',
    }),
  );
  story.happens(9, '09:00', (at) =>
    throwAway(story, kitchen, 'recall', at, {
      lotId: id('lot/yoghurt-0'),
      placeId: id('place/ck-chiller'),
      quantity: 5_000,
      reason: 'recall',
      destination: 'anaerobic-digestion',
    }),
  );
  story.happens(9, '10:00', () =>
    story.door.post(quality, `/v1/holds/${id('hold/yoghurt')}/lift`, 'hold-lift/yoghurt', {
      note: 'All of it is accounted for and gone',
    }),
  );
  story.happens(12, '10:20', () =>
    story.door.post(quality, '/v1/holds', 'hold/dressing', {
      kind: 'quality',
      lotId: id('lot/dressing-1'),
      note: 'Came without its certificate; the supplier was asked for it',
    }),
  );
}

function mistakesAtSites(story: Story): void {
  const use = (site: Satellite, name: string, lotId: string, quantity: number, occurredAt: string) =>
    story.door.post(receiverOf(site), '/v1/uses', name, {
      lotId,
      placeId: id(`place/${site}-chiller`),
      quantity,
      unit: 'piece',
      occurredAt,
      meal: 'dinner',
    });
  const lotOf = (site: Satellite, batch: string): string => {
    const lotId = story.shelves[site].find((packs) => packs.batch === batch)?.lotId;
    if (lotId === undefined) throw new Error(`The demo's ${site} never had ${batch}.`);
    return lotId;
  };
  // Two packs at the back of the hotel's chiller; one of them is served a day late.
  story.happens(7, '11:00', async () => {
    for (const packs of story.shelves.hot.filter((one) => one.batch === 'stew-c')) packs.keep = 2;
  });
  story.happens(11, '19:40', async (at) => {
    const { lotId } = offShelf(story, 'hot', 'stew-c', 1);
    await use('hot', 'use/hot-late', lotId, 1, at);
  });
  story.happens(8, '17:40', (at) => use('care', 'use/care-over', lotOf('care', 'dahl-b'), 2, at));
  story.happens(8, '17:50', (at) => use('w7', 'use/w7-wrong', lotOf('w7', 'stew-c'), 2, at));
  story.happens(8, '18:05', () =>
    story.door.post(receiverOf('w7'), '/v1/reversals', 'reversal/w7-wrong', {
      entryId: id('use/w7-wrong'),
      reason: 'Entered on the wrong ward',
    }),
  );
  story.happens(12, '17:30', async (occurredAt) => {
    const counted = story.shelves.w9.filter((packs) => packs.serials.length > 0);
    const one = counted.find((packs) => packs.serials.length > 2);
    if (one === undefined) throw new Error('There is nothing to count on ward 9.');
    one.serials.pop();
    await story.door.post(receiverOf('w9'), '/v1/stock-counts', 'stock-count/w9', {
      placeId: id('place/w9-chiller'),
      occurredAt,
      lines: counted.map(({ lotId, serials }) => ({ lotId, quantity: serials.length, unit: 'piece' })),
    });
  });
}
