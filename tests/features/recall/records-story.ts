/**
 * A story small enough to write its tracking events down by hand: 10 kg of shin come from Brook Farm in the morning, 8 kg go into a batch,
 * 6 kg of stew come out, 10 packs of 300 g are sealed, 6 leave for ward 3, 5 arrive, 2 are served, 1 is thrown away. A use of one pack is
 * told by mistake and undone.
 */
import { randomUUID } from 'node:crypto';
import { exampleId } from '../../../src/platform/ids.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import type { TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

export interface RecordsStory {
  readonly world: World;
  readonly kitchen: Kitchen;
  readonly shin: string;
  readonly load: string;
  readonly packs: string;
  readonly batchCode: string;
  readonly dispatchCode: string;
  readonly lotCodes: Readonly<Record<'shin' | 'load' | 'packs', string>>;
}

const SUPPLIER_ADDRESS = {
  phone: '01632 960101',
  street: 'Weir Road 2',
  city: 'Selwick',
  postalCode: 'ZZ8 3JK',
  country: 'GB',
};
/** no telephone: the law asks for it */
const WARD_ADDRESS = { street: '2 Larch Rise', city: 'Ostermere', postalCode: 'ZZ9 2AB', country: 'GB' };
const KITCHEN_ADDRESS = {
  phone: '01632 960001',
  street: '1 Kiln Lane',
  city: 'Ostermere',
  postalCode: 'ZZ9 1AA',
  country: 'GB',
};

export async function tellRecordsStory(service: TestService): Promise<RecordsStory> {
  const at = (time: string) => service.clock.set(Date.parse(`2026-11-${time}:00Z`));
  at('23T06:00');
  const world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  const post: Kitchen['post'] = (...args) => kitchen.post(...args);
  const change = async (path: string, address: object) => {
    const answer = await service.as('admin').patch(path, { address }, { 'if-match': '*' });
    if (answer.status !== 200) throw new Error(answer.text);
  };
  await change(`/v1/sites/${world.ckId}`, KITCHEN_ADDRESS);
  await change(`/v1/sites/${world.w3Id}`, WARD_ADDRESS);
  await change(`/v1/suppliers/${world.supplierId}`, SUPPLIER_ADDRESS);
  at('23T07:30');
  await post('kitchen', '/v1/goods-receipts', {
    siteId: world.ckId,
    supplierId: world.supplierId,
    documentNumber: 'DN-77',
    occurredAt: '2026-11-23T07:00:00Z',
    lines: [
      {
        lotId: exampleId('lot/story-shin'),
        itemId: world.beefShinId,
        placeId: world.ckChillerId,
        quantity: 10_000,
        unit: 'g',
        supplierLotCode: 'BRK-1',
      },
    ],
  });
  const shin = exampleId('lot/story-shin');
  at('23T10:00');
  const { batchId, lotId: load } = await kitchen.stew(shin, 8_000, 6_000);
  at('23T12:00');
  const packs = await kitchen.pack(batchId, load, 3_000, 10, { packLotCode: 'STEW-1' });
  await kitchen.release(batchId);
  at('24T06:00');
  const dispatchId = randomUUID();
  const line = {
    lotId: packs,
    placeId: world.ckChillerId,
    quantity: 6,
    unit: 'piece',
    serials: ['1', '2', '3', '4', '5', '6'],
  };
  const dispatch = await post('kitchen', '/v1/dispatches', {
    id: dispatchId,
    fromSiteId: world.ckId,
    toSiteId: world.w3Id,
    lines: [line],
  });
  await post('kitchen', `/v1/dispatches/${dispatchId}/departure`, { departedAt: '2026-11-24T05:50:00Z' });
  at('24T08:00');
  await post('receiver', `/v1/dispatches/${dispatchId}/receipts`, {
    occurredAt: '2026-11-24T07:15:00Z',
    closes: true,
    lines: [{ lotId: packs, placeId: world.w3ChillerId, quantity: 5, unit: 'piece', condition: 'accepted' }],
  });
  const ward = { lotId: packs, placeId: world.w3ChillerId, unit: 'piece' };
  at('24T13:00');
  await post('receiver', '/v1/uses', { ...ward, quantity: 2, occurredAt: '2026-11-24T12:00:00Z' });
  const wrong = await post('receiver', '/v1/uses', { ...ward, quantity: 1, occurredAt: '2026-11-24T12:05:00Z' });
  await post('receiver', '/v1/reversals', { entryId: wrong.entryId, reason: 'Slip of the hand' });
  at('25T12:00');
  await post('receiver', '/v1/discards', {
    ...ward,
    quantity: 1,
    occurredAt: '2026-11-25T11:00:00Z',
    reason: 'damaged',
    destination: 'anaerobic-digestion',
  });
  const codeOf = async (lotId: string) => (await kitchen.get('quality', `/v1/lots/${lotId}`)).code as string;
  const batch: Json = await kitchen.get('kitchen', `/v1/batches/${batchId}`);
  return {
    world,
    kitchen,
    shin,
    load,
    packs,
    batchCode: batch.code as string,
    dispatchCode: dispatch.code as string,
    lotCodes: { shin: await codeOf(shin), load: await codeOf(load), packs: await codeOf(packs) },
  };
}
