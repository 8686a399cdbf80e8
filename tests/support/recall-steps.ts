/** What people do with food at the moment at which a case is opened: each step as a request, and what is then to be expected of it. */
import { randomUUID } from 'node:crypto';
import type { Kitchen } from './kitchen.ts';
import type { Answer } from './service.ts';

const now = ({ service }: Kitchen) => new Date(service.clock.nowMs()).toISOString();
const fromChiller = ({ world }: Kitchen, lotId: string, quantity: number, unit = 'g') => ({
  lotId,
  placeId: world.ckChillerId,
  quantity,
  unit,
});
const post = (kitchen: Kitchen, role: string, path: string, body: object) =>
  kitchen.service.as(role).post(path, { id: randomUUID(), ...body });

/** Shin that is warned of; stew cooked from it; ten packs of it that may leave, and half of the stew still to be packed. */
export async function foodFor(kitchen: Kitchen) {
  const { world } = kitchen;
  const supplierLotCode = `SH-${randomUUID().slice(0, 8)}`;
  const shin = await kitchen.shin(12_000, { supplierLotCode });
  const { batchId, lotId: load } = await kitchen.stew(shin, 10_000, 9_000);
  const packs = await kitchen.pack(batchId, load, 3_000, 10);
  const late = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
  await kitchen.release(batchId);
  const line = fromChiller(kitchen, packs, 4, 'piece');
  const sites = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
  const dispatchId = (await kitchen.post('kitchen', '/v1/dispatches', sites)).dispatchId as string;
  const sent = (await kitchen.post('kitchen', '/v1/dispatches', sites)).dispatchId as string;
  await kitchen.post('driver', `/v1/dispatches/${sent}/departure`, {});
  return { supplierLotCode, shin, batchId, load, packs, late, dispatchId, sent, packLotId: randomUUID() };
}
export type Food = Awaited<ReturnType<typeof foodFor>>;

export interface Step {
  send(kitchen: Kitchen, of: Food): Promise<Answer>;
  /** status after the case */
  readonly after: 'refused' | 'recorded';
  /** what it made, which has to be in the scope if it was done */
  made(of: Food, answer: Answer): string[];
  /** the lot it took, where doing so stands against the hold; null: it does not */
  against(of: Food): string | null;
  /** then also found; used-while-held if left out */
  readonly finding?: string;
}
const run = (kitchen: Kitchen) => ({
  equipmentId: kitchen.world.packerId,
  programme: 'Moist dishes',
  startedAt: now(kitchen),
  finishedAt: now(kitchen),
});
const fill = ({ world }: Kitchen, of: Food) => ({
  fromLotId: of.load,
  fromPlaceId: world.ckChillerId,
  usedQuantity: 3_000,
  usedUnit: 'g',
  packItemId: world.beefStewPackId,
  packs: 10,
  packLotId: of.packLotId,
  toPlaceId: world.ckChillerId,
});
const nothing = () => [];
const nobody = () => null;
export const STEPS: Record<string, Step> = {
  departure: {
    send: (kitchen, of) => post(kitchen, 'driver', `/v1/dispatches/${of.dispatchId}/departure`, {}),
    after: 'refused',
    made: nothing,
    against: nobody,
  },
  'batch input': {
    send: (kitchen, of) =>
      post(kitchen, 'kitchen', `/v1/batches/${of.late.batchId}/inputs`, fromChiller(kitchen, of.shin, 1_000)),
    after: 'refused',
    made: (of) => [of.late.lotId],
    against: nobody,
  },
  packing: {
    send: (kitchen, of) =>
      post(kitchen, 'kitchen', `/v1/batches/${of.batchId}/packing-runs`, {
        ...run(kitchen),
        fills: [fill(kitchen, of)],
      }),
    after: 'refused',
    made: (of) => [of.packLotId],
    against: nobody,
  },
  'batch input recorded afterwards': {
    send: (kitchen, of) =>
      post(kitchen, 'kitchen', `/v1/batches/${of.late.batchId}/recorded-inputs`, {
        ...fromChiller(kitchen, of.shin, 1_000),
        occurredAt: now(kitchen),
      }),
    after: 'recorded',
    made: (of) => [of.late.lotId],
    against: (of) => of.shin,
  },
  'packing recorded afterwards': {
    send: (kitchen, of) =>
      post(kitchen, 'kitchen', `/v1/batches/${of.batchId}/recorded-packing-runs`, {
        ...run(kitchen),
        fills: [fill(kitchen, of)],
      }),
    after: 'recorded',
    made: (of) => [of.packLotId],
    against: (of) => of.load,
  },
  'departure recorded afterwards': {
    send: (kitchen, of) =>
      post(kitchen, 'driver', `/v1/dispatches/${of.dispatchId}/recorded-departure`, { departedAt: now(kitchen) }),
    after: 'recorded',
    made: nothing,
    against: (of) => of.packs,
    finding: 'left-while-held',
  },
  use: {
    send: (kitchen, of) =>
      post(kitchen, 'kitchen', '/v1/uses', { ...fromChiller(kitchen, of.packs, 2, 'piece'), occurredAt: now(kitchen) }),
    after: 'recorded',
    made: nothing,
    against: (of) => of.packs,
  },
  receipt: {
    send: (kitchen, of) =>
      post(kitchen, 'receiver', `/v1/dispatches/${of.sent}/receipts`, {
        occurredAt: now(kitchen),
        closes: false,
        lines: [
          { lotId: of.packs, quantity: 4, unit: 'piece', condition: 'accepted', placeId: kitchen.world.w3ChillerId },
        ],
      }),
    after: 'recorded',
    made: nothing,
    against: nobody,
  },
  conversion: {
    send: (kitchen, of) =>
      post(kitchen, 'kitchen', '/v1/conversions', {
        kind: 'freeze',
        ...fromChiller(kitchen, of.packs, 2, 'piece'),
        occurredAt: now(kitchen),
      }),
    after: 'recorded',
    made: (_of, answer) => [answer.body.lot.lotId as string],
    against: (of) => of.packs,
  },
  'delivery of the same supplier lot': {
    send: (kitchen, of) => {
      const line = { itemId: kitchen.world.beefShinId, placeId: kitchen.world.ckChillerId, quantity: 500, unit: 'g' };
      const lines = [{ ...line, supplierLotCode: of.supplierLotCode.toLowerCase() }];
      return post(kitchen, 'kitchen', '/v1/goods-receipts', {
        siteId: kitchen.world.ckId,
        supplierId: kitchen.world.supplierId,
        occurredAt: now(kitchen),
        lines,
      });
    },
    after: 'recorded',
    made: (_of, answer) => [answer.body.lines[0].lotId as string],
    against: nobody,
  },
};
