/**
 * The nights on which clocks change in the United Kingdom: back on 25 October 2026 at 01:00 UTC, forward on 28 March 2027 at 01:00 UTC (Summer Time
 * Order 2002, from memory; the IANA time zone database says the same). A day ends when the site's calendar says so; hours are hours. By hand.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { recomputeShelfLife } from '../../../src/features/shelf-life/index.ts';
import { recomputeTemperature } from '../../../src/features/temperature/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;

beforeAll(async () => {
  service = await startService({ nowMs: Date.parse('2026-10-19T06:00:00Z') });
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  await kitchen.post('quality', `/v1/sites/${world.ckId}/policy-choices`, {
    policySet: 'gb-eng',
    confirmed: ['cook-chill-5-days', 'cook-chill-5-c'],
    confirmedBy: 'Nora Pell',
  });
});
afterAll(() => service.stop());

async function packsOf(instant: string): Promise<string> {
  service.clock.set(Date.parse(instant));
  const shin = await kitchen.shin(1_000);
  const { batchId, lotId } = await kitchen.stew(shin, 1_000, 900);
  return kitchen.pack(batchId, lotId, 900, 3, { serialised: false });
}

async function endsOf(lotId: string): Promise<Record<string, string | null>> {
  const { parts } = await kitchen.get('quality', `/v1/lots/${lotId}/shelf-life`);
  const limits = parts[0].limits as Json[];
  return Object.fromEntries(limits.map((one) => [one.code as string, one.endsAt as string | null]));
}

// cooked and sealed at, the end of its fifth day, the end of its tenth
test.each([
  // the fifth day is the 24th, the last whole day of summer time: it ends at 23:00 UTC
  ['2026-10-20T05:00:00Z', '2026-10-24T23:00:00.000Z', '2026-10-30T00:00:00.000Z'],
  // 23:30 UTC is half past midnight of the 21st in London
  ['2026-10-20T23:30:00Z', '2026-10-26T00:00:00.000Z', '2026-10-31T00:00:00.000Z'],
  // the fifth day is the 25th itself, which has 25 hours
  ['2026-10-21T22:59:00Z', '2026-10-26T00:00:00.000Z', '2026-10-31T00:00:00.000Z'],
  // cooked in the hour that comes twice: 01:30 British Summer Time, and again
  ['2026-10-25T00:30:00Z', '2026-10-30T00:00:00.000Z', '2026-11-04T00:00:00.000Z'],
  ['2026-10-25T01:30:00Z', '2026-10-30T00:00:00.000Z', '2026-11-04T00:00:00.000Z'],
  // the fifth day is the 27th of March and ends as winter time does; the tenth ends in summer time
  ['2027-03-23T06:00:00Z', '2027-03-28T00:00:00.000Z', '2027-04-01T23:00:00.000Z'],
  // 23:30 UTC is still the 24th; the fifth day is the 28th, which has 23 hours
  ['2027-03-24T23:30:00Z', '2027-03-28T23:00:00.000Z', '2027-04-02T23:00:00.000Z'],
  // 23:30 UTC of the 28th is the 29th in London
  ['2027-03-28T23:30:00Z', '2027-04-02T23:00:00.000Z', '2027-04-07T23:00:00.000Z'],
])('packs of %s keep to %s, and by the ten days to %s', async (cooked, fifth, tenth) => {
  expect(await endsOf(await packsOf(cooked))).toMatchObject({
    'printed-use-by': fifth,
    'cook-chill-5-days': fifth,
    'vacuum-pack-10-days': tenth,
  });
});

test('twelve hours of the night when clocks go back are twelve hours, and the paper says so in the time of the site', async () => {
  const lotId = await packsOf('2026-10-24T20:00:00Z');
  const sensorId = randomUUID();
  const sensor = { id: sensorId, siteId: world.ckId, code: 'NIGHT', name: 'Cold room', kind: 'air' };
  await kitchen.post('operations', '/v1/sensors', sensor);
  const where = { from: '2026-10-24T19:00:00Z', placeId: world.ckChillerId };
  await kitchen.post('operations', `/v1/sensors/${sensorId}/locations`, where);
  service.clock.set(Date.parse('2026-10-25T03:00:00Z'));
  const lines = ['sensor,at,temperatureC'];
  for (let at = Date.parse('2026-10-24T19:30:00Z'); at <= service.clock.nowMs(); at += 15 * 60_000) {
    const instant = new Date(at).toISOString();
    // warm from 23:15 UTC (00:15 in London) for 45 minutes
    lines.push(`NIGHT,${instant},${instant >= '2026-10-24T23:15' && instant <= '2026-10-25T00:00' ? 6 : 3}`);
  }
  const sent = await service
    .as('device', world.ckId)
    .post('/v1/readings?deviceTime=2026-10-25T03:00:00Z', lines.join('\n'), { 'content-type': 'text/csv' });
  expect(sent.body, sent.text).toMatchObject({ refused: 0 });
  const parts = { db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') };
  await recomputeTemperature(parts).run({ groupId: service.groupId });
  await recomputeShelfLife(parts).run({ groupId: service.groupId });
  // The last cold reading is of 23:00 UTC; between two readings the warmer one holds.
  const answer = await kitchen.get('quality', `/v1/lots/${lotId}/shelf-life`);
  expect(answer.parts[0]).toMatchObject({ ruling: 'cook-chill-5-c', useByAt: '2026-10-25T11:00:00.000Z' });
  const { items } = await kitchen.get('quality', `/v1/relabels?siteId=${world.ckId}&open=true`);
  const mine = (items as Json[]).filter((one) => one.lotId === lotId);
  expect(mine).toMatchObject([
    { newUseByAt: '2026-10-25T11:00:00.000Z', printedUseByAt: '2026-10-29T00:00:00.000Z', quantity: 3 },
  ]);
  expect(mine[0].newUseByText).toContain('11:00');
});
