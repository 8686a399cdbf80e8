/** Steps of the main job as a test tells them: each does one call over HTTP and fails loudly when it is not as expected. */
import { randomUUID } from 'node:crypto';
import type { TestService } from './service.ts';
import type { World } from './world.ts';

/** A loose JSON body; its shape is held against the contract by the client. */
export type Json = ReturnType<typeof JSON.parse>;

export interface Kitchen {
  readonly service: TestService;
  readonly world: World;
  /** posts as a role and returns the body; throws when the status differs */
  post(role: string, path: string, body: object, status?: number): Promise<Json>;
  get(role: string, path: string, status?: number): Promise<Json>;
  shin(quantity: number, more?: object): Promise<string>;
  /** cooks stew from a lot and returns batch and load */
  stew(fromLotId: string, usedG: number, outG: number): Promise<{ batchId: string; lotId: string }>;
  pack(batchId: string, fromLotId: string, usedG: number, packs: number, more?: object): Promise<string>;
  release(batchId: string): Promise<void>;
}

export function kitchenOf(service: TestService, world: World): Kitchen {
  const at = () => new Date(service.clock.nowMs()).toISOString();
  async function call(
    method: 'get' | 'post',
    role: string,
    path: string,
    status: number,
    body?: object,
  ): Promise<Json> {
    const client = service.as(role);
    const answer = method === 'get' ? await client.get(path) : await client.post(path, body);
    if (answer.status !== status) throw new Error(`${method} ${path} answered ${answer.status}: ${answer.text}`);
    return answer.body;
  }
  const post = (role: string, path: string, body: object, status = 201) =>
    call('post', role, path, status, { id: randomUUID(), ...body });
  return {
    service,
    world,
    post,
    get: (role, path, status = 200) => call('get', role, path, status),
    async shin(quantity, more = {}) {
      const line = { itemId: world.beefShinId, placeId: world.ckChillerId, quantity, unit: 'g', ...more };
      const body = { siteId: world.ckId, supplierId: world.supplierId, occurredAt: at(), lines: [line] };
      return (await post('kitchen', '/v1/goods-receipts', body)).lines[0].lotId as string;
    },
    async stew(fromLotId, usedG, outG) {
      const batch = await post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId });
      const path = `/v1/batches/${batch.batchId}`;
      await post('kitchen', `${path}/inputs`, {
        lotId: fromLotId,
        placeId: world.ckChillerId,
        quantity: usedG,
        unit: 'g',
      });
      const load = { placeId: world.ckChillerId, quantity: outG, unit: 'g', cookEndedAt: at() };
      const out = await post('kitchen', `${path}/outputs`, { loads: [load] });
      return { batchId: batch.batchId as string, lotId: out.lots[0].lotId as string };
    },
    async pack(batchId, fromLotId, usedG, packs, more = {}) {
      const fill = {
        fromLotId,
        fromPlaceId: world.ckChillerId,
        usedQuantity: usedG,
        usedUnit: 'g',
        packItemId: world.beefStewPackId,
        packs,
        toPlaceId: world.ckChillerId,
        ...more,
      };
      const run = {
        id: randomUUID(),
        equipmentId: world.packerId,
        programme: 'Moist dishes',
        startedAt: at(),
        finishedAt: at(),
        fills: [fill],
      };
      const answer = await post('kitchen', `/v1/batches/${batchId}/packing-runs`, run);
      return answer.lots.find((lot: Json) => lot.packingRunId === run.id).lotId as string;
    },
    async release(batchId) {
      await post('quality', `/v1/batches/${batchId}/release`, {});
    },
  };
}
