/** What the month tells apart: reasons that sites have of their own, what nobody eats, and where food went besides the plate. */
import { as, type Door } from './door.ts';
import { id, offShelf, pickFrom, type Story } from './story.ts';
import { receiverOf } from './vans.ts';

const kitchen = as('kitchen', 'site/ck');

/** site, code, what the site calls it, standard reason; a standard code is renamed */
const REASONS = [
  ['ck', 'peel', 'Peel, skins and roots', 'trim'],
  ['care', 'asleep', 'Resident asleep or away', 'over-production'],
  ['w7', 'plate-return', 'Back on the trolley', 'plate-return'],
] as const;

export async function addWasteReasons(door: Door): Promise<void> {
  for (const [site, code, label, standardReason] of REASONS) {
    const path = `/v1/sites/${id(`site/${site}`)}/waste-reasons`;
    await door.post(as('operations'), path, `waste-reason/${site}-${code}`, { code, label, standardReason });
  }
}

export function waysOut(story: Story): void {
  besidesThePlate(story);
  ownReasons(story);
}

/** Packs that stand in the kitchen's cold room and are nobody's order. */
function besidesThePlate(story: Story): void {
  const use = (day: number, time: string, lot: string, quantity: number, purpose: string, more: object = {}) =>
    story.happens(day, time, (occurredAt) =>
      story.door.post(kitchen, '/v1/uses', `use/${purpose}`, {
        lotId: id(lot),
        placeId: id('place/ck-chiller'),
        quantity,
        unit: 'piece',
        occurredAt,
        purpose,
        ...more,
      }),
    );
  use(11, '15:00', 'lot/trolleys-packs-1', 1, 'tasting');
  use(11, '15:10', 'lot/trolleys-packs-2', 1, 'laboratory');
  use(12, '12:40', 'lot/trolleys-packs-1', 6, 'staff-meal', { meal: 'lunch', portions: 6 });
  use(12, '16:20', 'lot/late-stew-packs-1', 20, 'donation', { recipient: 'Night shelter at the old ferry house' });
}

function ownReasons(story: Story): void {
  story.happens(4, '14:10', async (occurredAt) => {
    pickFrom(story, 'onions', 'lot/onions-0', 800);
    await story.door.post(kitchen, '/v1/discards', 'discard/peel', {
      lotId: id('lot/onions-0'),
      placeId: id('place/ck-dry'),
      quantity: 800,
      unit: 'g',
      occurredAt,
      reason: 'peel',
      destination: 'composting',
      material: 'inedible-parts',
      note: 'Outer skins of a sack',
    });
  });
  story.happens(9, '13:30', async (occurredAt) => {
    const { lotId } = offShelf(story, 'care', 'dahl-c', 1);
    await story.door.post(receiverOf('care'), '/v1/discards', 'discard/asleep', {
      lotId,
      placeId: id('place/care-chiller'),
      quantity: 1,
      unit: 'piece',
      occurredAt,
      reason: 'asleep',
      destination: 'anaerobic-digestion',
    });
  });
}
