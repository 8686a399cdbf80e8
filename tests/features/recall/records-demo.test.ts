/**
 * Over the whole demo (scans, late scans, reversals, counts, conversions, returns) the tracking events of each lot sum to
 * its balances, which the ledger keeps by itself: nothing that was undone is in the file, and nothing that stands is missing.
 */
import pg from 'pg';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { demoTemplate } from '../../support/demo.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startService({ template: await demoTemplate() });
}, 180_000);
afterAll(() => service.stop());

const INTO: Readonly<Record<string, readonly [account: string, sign: number]>> = {
  'goods-in': ['supplier', -1],
  'opening-stock': ['supplier', -1],
  'return-to-supplier': ['supplier', 1],
  'batch-input': ['consumed', 1],
  'packing-input': ['consumed', 1],
  'conversion-input': ['consumed', 1],
  'batch-output': ['produced', -1],
  'packing-output': ['produced', -1],
  'conversion-output': ['produced', -1],
  use: ['served', 1],
  'use-by-count': ['served', 1],
  'return-from-service': ['served', -1],
  discard: ['waste', 1],
  'count-missing': ['variance', 1],
  'count-found': ['variance', -1],
  departure: ['transit', 1],
  receipt: ['transit', -1],
};

/** Of items that are kept by lot: what is not stands for all there ever was, and enters by being used. */
async function balances(): Promise<Map<string, number>> {
  const client = new pg.Client(service.databaseUrl);
  await client.connect();
  try {
    const { rows } = await client.query<{ key: string; quantity: string }>(
      `select b.lot_id || ' ' || replace(a.kind, '-shortfall', '') as key, sum(b.quantity) as quantity
         from balance b
         join account a using (group_id, account_id)
         join lot l using (group_id, lot_id)
        where a.kind not like 'place%' and l.origin <> 'pseudo'
        group by 1 having sum(b.quantity) <> 0`,
    );
    return new Map(rows.map((row) => [row.key, Number(row.quantity)]));
  } finally {
    await client.end();
  }
}

test('the events of each lot sum to its balances', async () => {
  const body = (await service.as('quality').get('/v1/tracking-events?from=2026-09-30&to=2026-11-25')).body;
  const sums = new Map<string, number>();
  const kinds = new Set<string>();
  for (const row of body.events as Json[]) {
    kinds.add(row.event);
    const into = INTO[row.event];
    if (!into) continue;
    const key = `${row.lotId} ${into[0]}`;
    sums.set(key, (sums.get(key) ?? 0) + into[1] * row.quantity);
  }
  const wanted = await balances();
  const known = new Set([...wanted.keys()].map((key) => key.split(' ')[0]));
  const got = [...sums].filter(([key, quantity]) => quantity !== 0 && known.has(key.split(' ')[0]));
  expect(new Map(got.sort())).toEqual(new Map([...wanted].sort()));
  expect(wanted.size).toBeGreaterThan(200);
  expect([...kinds]).toEqual(expect.arrayContaining(['use-by-count', 'conversion-output', 'return-from-service']));
  expect(body.eventCount).toBe(body.events.length);
  // sites and suppliers of the demo say where they are
  expect(body.missing.filter((one: Json) => one.part === 'phone')).toEqual([]);
});
