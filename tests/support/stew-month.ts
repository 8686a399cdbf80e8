/**
 * November 2026 of a central kitchen and a ward, small enough to add up by hand. Two deliveries of shin (10 kg in October, 30 kg) go
 * into one batch of two loads; 50 packs are sealed, 30 leave for the ward, 28 arrive. Something is wasted, undone, returned, missing,
 * served without ever having arrived, and used after the month.
 */
import { randomUUID } from 'node:crypto';
import { post as postEntry, type Move } from '../../src/domain/ledger/book.ts';
import { localDate } from '../../src/domain/time.ts';
import {
  findEntry,
  listEntryLines,
  loadBook,
  partsOfLines,
  placeAccount,
  postReversal,
  transitAccount,
  writeBook,
  type PartRef,
} from '../../src/features/ledger/index.ts';
import { exampleId, randomIds } from '../../src/platform/ids.ts';
import { kitchenOf, type Json } from './kitchen.ts';
import type { TestService } from './service.ts';
import { buildWorld, type World } from './world.ts';

export interface StewMonth {
  readonly world: World;
  readonly shinA: string;
  readonly shinB: string;
  readonly load1: string;
  readonly load2: string;
  /** 40 packs of 302.5 g, weighed together */
  readonly packs1: string;
  /** 10 packs of 300 g */
  readonly packs2: string;
  readonly batchId: string;
  readonly dispatchId: string;
}

const actorId = exampleId('person/kitchen');
const contentHash = Buffer.alloc(32);

/** A posting that no operation of the kitchen makes: food on the road, and a reversal. */
async function moveBetween(
  service: TestService,
  from: PartRef,
  to: PartRef,
  quantity: number,
  kind: string,
): Promise<void> {
  const nowMs = service.clock.nowMs();
  const { lotId } = from;
  const move: Move = {
    lotId,
    fromAccountId: from.account.accountId,
    toAccountId: to.account.accountId,
    quantity,
    basis: 'counted',
  };
  await service.db.inGroup(service.groupId, 'write', async (tx) => {
    const book = await loadBook(tx, [from, to]);
    postEntry(book, {
      entryId: randomUUID(),
      kind,
      factId: randomUUID(),
      siteId: to.account.kind === 'transit' ? from.account.siteId : to.account.siteId,
      occurredAtMs: nowMs,
      occurredOn: localDate(nowMs, 'Europe/London'),
      contentHash,
      moves: [move],
    });
    await writeBook({ tx, ids: randomIds, actorId, nowMs }, book);
  });
}

async function undo(service: TestService, entryId: string): Promise<void> {
  const nowMs = service.clock.nowMs();
  await service.db.inGroup(service.groupId, 'write', async (tx) => {
    const entry = await findEntry(tx, entryId);
    if (!entry) throw new Error(`no entry ${entryId}`);
    const lines = await listEntryLines(tx, entry.seq, null);
    const book = await loadBook(tx, partsOfLines(lines, null));
    postReversal(book, entry, lines, { entryId: randomUUID(), factId: randomUUID(), contentHash, reason: 'wrong lot' });
    await writeBook({ tx, ids: randomIds, actorId, nowMs }, book);
  });
}

export async function tellStewMonth(service: TestService): Promise<StewMonth> {
  service.clock.set(Date.parse('2026-10-30T08:00:00Z'));
  const world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  const post = (role: string, path: string, body: object): Promise<Json> => kitchen.post(role, path, body);
  const shinA = await kitchen.shin(10_000, { lotId: exampleId('lot/shin-a'), supplierLotCode: 'BRK-1' });

  service.clock.set(Date.parse('2026-11-02T08:00:00Z'));
  const shinB = await kitchen.shin(30_000, { lotId: exampleId('lot/shin-b'), supplierLotCode: 'BRK-2' });

  service.clock.set(Date.parse('2026-11-03T09:00:00Z'));
  const { ckId, w3Id, ckChillerId, w3ChillerId } = world;
  const { batchId } = await post('kitchen', '/v1/batches', { siteId: ckId, recipeId: world.recipeId });
  const path = `/v1/batches/${batchId}`;
  await post('kitchen', `${path}/inputs`, { lotId: shinA, placeId: ckChillerId, quantity: 8_000, unit: 'g' });
  await post('kitchen', `${path}/inputs`, { lotId: shinB, placeId: ckChillerId, quantity: 24_000, unit: 'g' });
  const load1 = exampleId('lot/load-1');
  const load2 = exampleId('lot/load-2');
  const load = { placeId: ckChillerId, unit: 'g', cookEndedAt: '2026-11-03T08:30:00Z' };
  await post('kitchen', `${path}/outputs`, {
    loads: [
      { ...load, lotId: load1, quantity: 15_000 },
      { ...load, lotId: load2, quantity: 12_600 },
    ],
  });
  const packs1 = await kitchen.pack(batchId, load1, 12_100, 40, { massG: 12_100, packLotId: exampleId('lot/packs-1') });
  const packs2 = exampleId('lot/packs-2');
  await kitchen.pack(batchId, load2, 3_000, 10, { packLotId: packs2, packLotCode: 'STEW-2' });
  await post('kitchen', `${path}/completion`, { losses: [{ kind: 'cooking-loss', massG: 4_000 }] });
  await kitchen.release(batchId);

  service.clock.set(Date.parse('2026-11-04T06:00:00Z'));
  const dispatchId = randomUUID();
  const road = { lotId: packs1, account: transitAccount(dispatchId, ckId, w3Id) };
  await moveBetween(service, { lotId: packs1, account: placeAccount(ckChillerId, ckId) }, road, 30, 'dispatch');
  await moveBetween(service, road, { lotId: packs1, account: placeAccount(w3ChillerId, w3Id) }, 28, 'receipt');

  service.clock.set(Date.parse('2026-11-05T18:00:00Z'));
  const occurredAt = '2026-11-05T12:00:00Z';
  const ward = { lotId: packs1, placeId: w3ChillerId, unit: 'piece', occurredAt };
  const bin = { destination: 'anaerobic-digestion' };
  await post('receiver', '/v1/uses', { ...ward, quantity: 20 });
  await post('receiver', '/v1/discards', { ...ward, quantity: 3, reason: 'past-use-by', ...bin });
  await post('receiver', '/v1/returns', { ...ward, quantity: 1, direction: 'from-service', reason: 'Not touched' });
  const lines = [{ lotId: packs1, quantity: 4, unit: 'piece' }];
  await post('receiver', '/v1/stock-counts', { placeId: w3ChillerId, occurredAt: '2026-11-05T17:00:00Z', lines });
  // sent without a word: the ward has a pack of the other lot in hand
  await post('receiver', '/v1/uses', { ...ward, lotId: packs2, quantity: 2 });
  const chiller = { lotId: shinB, placeId: ckChillerId, unit: 'g', occurredAt };
  await post('kitchen', '/v1/discards', { ...chiller, quantity: 1_000, reason: 'trim', ...bin });
  const wrong = await post('kitchen', '/v1/discards', { ...chiller, quantity: 500, reason: 'damaged', ...bin });
  await undo(service, wrong.entryId as string);
  await post('kitchen', '/v1/returns', { ...chiller, quantity: 700, direction: 'to-supplier', reason: 'Torn bag' });

  service.clock.set(Date.parse('2026-12-02T12:00:00Z'));
  await post('receiver', '/v1/uses', { ...ward, occurredAt: '2026-12-01T12:00:00Z', quantity: 1 });
  return { world, shinA, shinB, load1, load2, packs1, packs2, batchId: batchId as string, dispatchId };
}
