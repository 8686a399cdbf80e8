/** What the rule tests share: one service, and short words for items, stock, findings and holds. */
import { randomUUID } from 'node:crypto';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../support/service.ts';
import { buildWorld, type World } from '../support/world.ts';

export interface Kit extends Kitchen {
  readonly service: TestService;
  readonly world: World;
  now(): string;
  /** moves the clock on and says the time */
  after(minutes: number): string;
  /** an item of the name; ready-to-eat, chilled, packed pieces of 300 g unless said otherwise */
  item(code: string, more?: object): Promise<string>;
  /** lots of deliveries, in the order of the lines */
  deliver(lines: object[], siteId?: string): Promise<string[]>;
  /** one lot of pieces or grams in a place */
  stocked(itemId: string, placeId: string, quantity: number, unit: string, more?: object): Promise<string>;
  have(lotId: string, placeId: string): Promise<number>;
  findings(lotId: string): Promise<string[]>;
  lot(lotId: string): Promise<Json>;
  holdsOf(lotId: string): Promise<string[]>;
  try(role: string, path: string, body: object): Promise<Answer>;
  /** stew, packed and released: batch, load, packs */
  packs(count: number, more?: object): Promise<{ batchId: string; loadId: string; packsId: string }>;
  /** sends and lets leave */
  send(lotId: string, quantity: number, toSiteId?: string): Promise<string>;
  arrive(dispatchId: string, lotId: string, quantity: number, more?: object): Promise<Json>;
  stop(): Promise<void>;
}

export const kindsOf = (answer: Json): string[] => answer.findings.map((one: Json) => one.kind as string).sort();

export async function startKit(nowMs?: number): Promise<Kit> {
  const service = await startService(nowMs === undefined ? {} : { nowMs });
  const world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  const now = () => new Date(service.clock.nowMs()).toISOString();
  const at = (ms: number) => {
    service.clock.set(ms);
    return now();
  };
  const lot = (lotId: string) => kitchen.get('operations', `/v1/lots/${lotId}`);
  async function deliver(lines: object[], siteId = world.ckId): Promise<string[]> {
    const body = { siteId, supplierId: world.supplierId, occurredAt: now(), lines };
    const answer = await kitchen.post('operations', '/v1/goods-receipts', body);
    return answer.lines.map((line: Json) => line.lotId as string);
  }
  const kit: Kit = {
    ...kitchen,
    now,
    after: (minutes) => at(service.clock.nowMs() + minutes * 60_000),
    async item(code, more = {}) {
      const fields = {
        code,
        name: code,
        kind: 'packed',
        unit: 'piece',
        allergens: [],
        handling: 'ready-to-eat',
        storageInstruction: 'Keep cold',
        ...more,
      };
      const wanted = fields as { unit: string };
      const mass = wanted.unit === 'piece' && !('unitMassMg' in more) ? { unitMassMg: 300_000 } : {};
      return (await kitchen.post('admin', '/v1/items', { ...fields, ...mass })).itemId as string;
    },
    deliver,
    async stocked(itemId, placeId, quantity, unit, more = {}) {
      const siteId = [world.w3ChillerId, world.w3ReceivingId].includes(placeId) ? world.w3Id : world.ckId;
      const [lotId] = await deliver([{ itemId, placeId, quantity, unit, ...more }], siteId);
      return lotId ?? '';
    },
    async have(lotId, placeId) {
      const stock = await kitchen.get('operations', `/v1/stock?placeId=${placeId}&limit=500`);
      return (stock.items.find((one: Json) => one.lotId === lotId)?.quantity as number | undefined) ?? 0;
    },
    async findings(lotId) {
      const list = await kitchen.get('operations', `/v1/findings?lotId=${lotId}&limit=500`);
      return list.items.map((one: Json) => one.kind as string).sort();
    },
    lot,
    holdsOf: async (lotId) => (await lot(lotId)).holds.map((one: Json) => one.kind as string).sort(),
    try: (role, path, body) => service.as(role).post(path, { id: randomUUID(), ...body }),
    async packs(count, more = {}) {
      const massG = count * 300;
      const { batchId, lotId } = await kitchen.stew(await kitchen.shin(massG), massG, massG);
      const packsId = await kitchen.pack(batchId, lotId, massG, count, more);
      await kitchen.release(batchId);
      return { batchId, loadId: lotId, packsId };
    },
    async send(lotId, quantity, toSiteId = world.w3Id) {
      const lines = [{ lotId, placeId: world.ckChillerId, quantity, unit: 'piece' }];
      const plan = await kitchen.post('kitchen', '/v1/dispatches', { fromSiteId: world.ckId, toSiteId, lines });
      await kitchen.post('kitchen', `/v1/dispatches/${plan.dispatchId}/departure`, {});
      return plan.dispatchId as string;
    },
    arrive(dispatchId, lotId, quantity, more = {}) {
      const line = { lotId, quantity, unit: 'piece', condition: 'accepted', placeId: world.w3ChillerId, ...more };
      const receipt = { occurredAt: now(), closes: false, lines: [line] };
      return kitchen.post('operations', `/v1/dispatches/${dispatchId}/receipts`, receipt);
    },
    stop: () => service.stop(),
  };
  return kit;
}
