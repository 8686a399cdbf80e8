/** Eight writers at once, each doing what comes to hand with the same few lots: nobody is locked out, and the books still add up. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Kitchen } from '../support/kitchen.ts';
import { faultsOf } from '../support/replay/books.ts';
import { startService, type Answer, type TestService } from '../support/service.ts';
import { slippedThrough } from '../support/sessions.ts';
import { buildWorld, type World } from '../support/world.ts';

const WRITERS = 8;
const REQUESTS = 320;

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

/** Which of the writer's deeds comes next follows from the turn alone; how they interleave does not. */
test('320 mixed requests of eight writers: none fails, every lot is conserved, nothing held is used by request', async () => {
  const shins = [await kitchen.shin(50_000), await kitchen.shin(50_000)];
  const cooked = await kitchen.stew(shins[0] ?? '', 20_000, 18_000);
  const packs = await kitchen.pack(cooked.batchId, cooked.lotId, 9_000, 60);
  await kitchen.release(cooked.batchId);
  const { code } = await kitchen.get('quality', `/v1/lots/${packs}`);
  const at = new Date(service.clock.nowMs()).toISOString();
  const entries: string[] = [];
  const holds: string[] = [];
  const post = (role: string, path: string, body: object): Promise<Answer> =>
    service.as(role).post(path, { id: randomUUID(), ...body });
  const shinAt = (turn: number, placeId: string, quantity: number) => ({
    lotId: shins[turn % 2] ?? '',
    placeId,
    quantity,
    unit: 'g',
  });

  const deeds: readonly ((turn: number) => Promise<Answer>)[] = [
    (turn) => {
      const places = [world.ckChillerId, world.ckFreezerId];
      const [fromPlaceId, toPlaceId] = turn % 3 === 0 ? [...places].reverse() : places;
      const { placeId: _, ...lot } = shinAt(turn, '', 700);
      return post('kitchen', '/v1/moves', { ...lot, fromPlaceId, toPlaceId });
    },
    (turn) => post('kitchen', '/v1/uses', { ...shinAt(turn, world.ckFreezerId, 900), occurredAt: at }),
    (turn) => {
      // the second shin never went into this batch, whose load is a descendant of the first
      return post('kitchen', `/v1/batches/${cooked.batchId}/inputs`, shinAt(turn, world.ckChillerId, 300));
    },
    (turn) => {
      const { placeId, ...line } = shinAt(turn, world.ckFreezerId, 4_000 + turn);
      return post('receiver', '/v1/stock-counts', { placeId, occurredAt: at, lines: [line] });
    },
    async (turn) => {
      const line = {
        lotId: packs,
        placeId: world.ckChillerId,
        quantity: 1,
        unit: 'piece',
        serials: [`${1 + (turn % 60)}`],
      };
      const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
      const planned = await post('kitchen', '/v1/dispatches', plan);
      return post('driver', `/v1/dispatches/${planned.body.dispatchId}/departure`, {});
    },
    (turn) => {
      const kinds = ['arrival', 'put-away', 'use'] as const;
      const scans = [0, 1, 2, 3].map((n) => ({
        id: randomUUID(),
        kind: kinds[(turn + n) % 3],
        code: `${code}/${1 + ((turn * 7 + n) % 60)}`,
        occurredAt: new Date(service.clock.nowMs() - ((turn * 13 + n) % 50) * 60_000).toISOString(),
        ...((turn + n) % 3 === 1 && { placeId: world.w3ChillerId }),
      }));
      return service.as('receiver', world.w3Id).post('/v1/scans', { siteId: world.w3Id, scans });
    },
    (turn) => {
      const held = { kind: 'quality', lotId: turn % 4 === 0 ? shins[1] : packs, note: 'A doubt' };
      return post('quality', '/v1/holds', turn % 2 === 0 ? held : { ...held, siteId: world.w3Id });
    },
    () => {
      const holdId = holds.shift();
      if (holdId !== undefined) return post('quality', `/v1/holds/${holdId}/lift`, { note: 'No doubt any more' });
      return post('quality', '/v1/reversals', { entryId: entries.shift() ?? randomUUID(), reason: 'Slip of the hand' });
    },
  ];

  const seen = new Map<number, number>();
  let next = 0;
  async function write(): Promise<void> {
    while (next < REQUESTS) {
      const turn = next;
      next += 1;
      const answer = await (deeds[turn % deeds.length] as (turn: number) => Promise<Answer>)(turn);
      seen.set(answer.status, (seen.get(answer.status) ?? 0) + 1);
      if (answer.status === 201 && typeof answer.body.entryId === 'string' && answer.body.kind !== 'reversal')
        entries.push(answer.body.entryId as string);
      if (answer.status === 201 && answer.body.liftedAt === null) holds.push(answer.body.holdId as string);
    }
  }
  await Promise.all(Array.from({ length: WRITERS }, write));

  expect([...seen.keys()].filter((status) => status >= 500)).toEqual([]);
  // most of it was done, not turned away
  expect((seen.get(201) ?? 0) + (seen.get(207) ?? 0)).toBeGreaterThan(REQUESTS / 2);
  expect(await faultsOf(service, service.groupId)).toEqual([]);
  expect(await slippedThrough(service)).toEqual([]);
  const ended = await service.db.inGroup(service.groupId, 'read', (tx) =>
    tx.query(
      `select s.serial from entry e join scan s on s.group_id = e.group_id and s.scan_id = e.scan_id
        where e.kind in ('use', 'discard') and s.serial is not null
          and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
        group by s.lot_id, s.serial having count(*) > 1`,
    ),
  );
  expect(ended, 'packs that ended twice').toEqual([]);
});
