/** Shin by Brook Farm Meats, the stew cooked from it, ten packs of that, of which four are at the ward; and a code that two suppliers use. */
import type { Kitchen } from './kitchen.ts';

export interface Warned {
  readonly otherSupplierId: string;
  /** delivered by Brook Farm Meats as BRK-7741, and by nobody else; 1 kg of 10 is left */
  readonly shin: string;
  /** made of it */
  readonly packs: string;
}

export async function warnedFood(kitchen: Kitchen): Promise<Warned> {
  const { world, service } = kitchen;
  const now = () => new Date(service.clock.nowMs()).toISOString();
  const marl = { code: 'MARL', name: 'Marl Hill Growers' };
  const otherSupplierId = (await kitchen.post('operations', '/v1/suppliers', marl)).supplierId as string;
  const shin = await kitchen.shin(10_000, { supplierLotCode: 'BRK-7741' });
  await kitchen.shin(1_000, { supplierLotCode: 'BOTH-1' });
  const line = { itemId: world.beefShinId, placeId: world.ckChillerId, quantity: 900, unit: 'g' };
  await kitchen.post('kitchen', '/v1/goods-receipts', {
    siteId: world.ckId,
    supplierId: otherSupplierId,
    occurredAt: now(),
    lines: [{ ...line, supplierLotCode: 'BOTH-1' }],
  });
  const { batchId, lotId } = await kitchen.stew(shin, 9_000, 8_000);
  const packs = await kitchen.pack(batchId, lotId, 3_000, 10);
  await kitchen.release(batchId);
  const sent = { lotId: packs, placeId: world.ckChillerId, quantity: 4, unit: 'piece' };
  const sites = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [sent] };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', sites);
  await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, {});
  await kitchen.post('receiver', `/v1/dispatches/${dispatchId}/receipts`, {
    occurredAt: now(),
    closes: true,
    lines: [{ lotId: packs, quantity: 4, unit: 'piece', condition: 'accepted', placeId: world.w3ChillerId }],
  });
  return { otherSupplierId, shin, packs };
}
