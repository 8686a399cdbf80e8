/** A day that the tests of recall begin with: what came, what was cooked of it, what went out. Times are UTC, which is the site's own time. */
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import type { Answer, TestService } from '../../support/service.ts';
import { buildWorld } from '../../support/world.ts';
import { plan } from '../distribution/sites.ts';

const DAY = '2026-11-25';
export const at = (time: string): string => `${DAY}T${time}:00.000Z`;

export interface RecallStory {
  readonly kitchen: Kitchen;
  setTime(time: string): void;
  /** a delivery of shin by Brook Farm Meats */
  deliver(time: string, supplierLotCode: string, quantity?: number, more?: object): Promise<string>;
  /** 10 kg of a lot to 8 kg of stew to packs of 300 g; released */
  cook(
    time: string,
    fromLotId: string,
    packs: number,
    more?: object,
  ): Promise<{ batchId: string; loadId: string; packsId: string }>;
  /** planned and departed */
  send(time: string, lotId: string, quantity: number): Promise<string>;
  preview(starts: object[]): Promise<Answer>;
  open(starts: object[], more?: object): Promise<Json>;
  recall(recallId: string, part?: string): Promise<Json>;
}

export async function beginRecallStory(service: TestService): Promise<RecallStory> {
  const setTime = (time: string) => service.clock.set(Date.parse(at(time)));
  setTime('06:00');
  const world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  return {
    kitchen,
    setTime,
    async deliver(time, supplierLotCode, quantity = 20_000, more = {}) {
      setTime(time);
      return kitchen.shin(quantity, { supplierLotCode, ...more });
    },
    async cook(time, fromLotId, packs, more = {}) {
      setTime(time);
      const { batchId, lotId: loadId } = await kitchen.stew(fromLotId, 10_000, 8_000);
      const packsId = await kitchen.pack(batchId, loadId, packs * 300, packs, { serialised: false, ...more });
      await kitchen.release(batchId);
      return { batchId, loadId, packsId };
    },
    async send(time, lotId, quantity) {
      setTime(time);
      const dispatchId = await plan(kitchen, world.w3Id, lotId, quantity);
      await kitchen.post('driver', `/v1/dispatches/${dispatchId}/departure`, { departedAt: at(time) });
      return dispatchId;
    },
    preview: (starts) => service.as('quality').post('/v1/recall-previews', { starts }),
    open: (starts, more = {}) => kitchen.post('quality', '/v1/recalls', { title: 'A call', starts, ...more }),
    recall: (recallId, part = '') => kitchen.get('quality', `/v1/recalls/${recallId}${part}`),
  };
}
