/**
 * Two cases that are open on the demo's last day: parsley of which the grower warned, on two wards and in the kitchen; and a drill on the
 * milk of the first week. The phone call that a newcomer answers is about other food: carrots BRK-7741 of Brook Farm.
 */
import { as } from './door.ts';
import { receiveGoods } from './kitchen.ts';
import { ck, id, type Story } from './story.ts';
import { receiverOf } from './vans.ts';

const DAY = 12;
const LAST = 13;
const kitchen = as('kitchen', 'site/ck');
const parsley = (): string => id('lot/parsley-1');

export function recalls(story: Story): void {
  receiveGoods(story, DAY, 'marl', 'goods-receipt/parsley', [['parsley-1', 'parsley', 1_000, 'MH 2290', 5, 1_400]]);
  bring(story, 'w3', 300);
  bring(story, 'w9', 200);
  story.happens(DAY, '18:10', (occurredAt) =>
    story.door.post(receiverOf('w3'), '/v1/uses', 'use/parsley-w3', {
      lotId: parsley(),
      placeId: id('place/w3-chiller'),
      quantity: 80,
      unit: 'g',
      occurredAt,
      meal: 'dinner',
    }),
  );
  story.happens(LAST, '11:30', () =>
    story.door.post(as('quality'), '/v1/recalls', 'recall/parsley', {
      title: 'Marl Hill Growers called: salmonella in parsley MH 2290',
      starts: [{ kind: 'supplier-lot', supplierId: id('supplier/marl'), supplierLotCode: 'MH 2290' }],
      statement: {
        class: 'I',
        depth: 'consumer',
        action: 'recall',
        reason: 'supplier-warning',
        text: 'The grower found salmonella in a sample of the field it came from. It is used raw.',
        checkLevel: 'A',
        leadName: 'Nora Pell',
        contact: 'Extension 204, day and night',
      },
    }),
  );
  story.happens(LAST, '11:32', () =>
    story.door.post(as('quality'), '/v1/recalls', 'recall/drill-milk', {
      title: 'Quarterly drill: the milk of the first week',
      drill: true,
      starts: [{ kind: 'lot', lotId: id('lot/milk-0') }],
    }),
  );
}

/** Parsley in its bag, on a van of its own. */
function bring(story: Story, site: 'w3' | 'w9', quantity: number): void {
  const path = `/v1/dispatches/${id(`dispatch/parsley-${site}`)}`;
  story.happens(DAY, '06:40', () =>
    story.door.post(kitchen, '/v1/dispatches', `dispatch/parsley-${site}`, {
      fromSiteId: ck(),
      toSiteId: id(`site/${site}`),
      vehicle: 'Van 3',
      driverName: 'Teo Larkin',
      lines: [{ lotId: parsley(), placeId: id('place/ck-chiller'), quantity, unit: 'g' }],
    }),
  );
  story.happens(DAY, '06:50', (departedAt) =>
    story.door.post({ name: 'person/driver-2', role: 'driver' }, `${path}/departure`, `departure/parsley-${site}`, {
      departedAt,
    }),
  );
  story.happens(DAY, '08:20', (occurredAt) =>
    story.door.post(receiverOf(site), `${path}/receipts`, `receipt/parsley-${site}`, {
      occurredAt,
      closes: true,
      lines: [
        {
          lotId: parsley(),
          quantity,
          unit: 'g',
          condition: 'accepted',
          placeId: id(`place/${site}-chiller`),
          temperatureC: 3.8,
        },
      ],
    }),
  );
}
