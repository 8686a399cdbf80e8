/** Packs and crates that arrive where they were not sent. What each must come to is said by hand: a pack is in one place. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { identifyScans } from '../../../src/features/scanning/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let w4Id: string;
let packs: string;
let code: string;
const GS = '\u001d';
const GTIN = '09521234543213';

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  w4Id = randomUUID();
  const w4 = { id: w4Id, code: 'W4', name: 'Ward 4 pantry', kind: 'satellite' };
  await kitchen.post('admin', '/v1/sites', { ...w4, timeZone: 'Europe/London', jurisdiction: 'GB-ENG' });
  const item = { gtin: GTIN };
  await service.as('operations').patch(`/v1/items/${world.beefStewPackId}`, item, { 'If-Match': '*' });
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000);
  packs = await kitchen.pack(batchId, lotId, 30_000, 100);
  code = (await kitchen.get('kitchen', `/v1/lots/${packs}`)).code as string;
  await kitchen.release(batchId);
});
afterAll(() => service.stop());

async function send(toSiteId: string, serials: string[], crateCode?: string): Promise<Json> {
  const line = { lotId: packs, placeId: world.ckChillerId, quantity: serials.length, unit: 'piece', serials };
  const lines = [crateCode === undefined ? line : { ...line, crateCode }];
  const plan = await kitchen.post('kitchen', '/v1/dispatches', { fromSiteId: world.ckId, toSiteId, lines });
  await kitchen.post('driver', `/v1/dispatches/${plan.dispatchId as string}/departure`, {});
  return plan;
}
async function arrive(siteId: string, read: string, time: string, more: object = {}): Promise<Json> {
  const scan = { id: randomUUID(), kind: 'arrival', code: read, occurredAt: `2026-11-25T${time}:00Z`, ...more };
  const answer = await service.as('receiver', siteId).post('/v1/scans', { siteId, scans: [scan] });
  if (answer.status !== 207) throw new Error(answer.text);
  return (answer.body.results as Json[])[0];
}
const open = async () =>
  (await kitchen.get('quality', '/v1/findings?kind=wrong-site&status=open&limit=500')).items as Json[];

test('a pack that no dispatch carries waits for one, with a finding that goes when it comes', async () => {
  const first = await arrive(world.w3Id, `${code}/20`, '11:00');
  expect(first).toMatchObject({ status: 'awaiting-identity', arrivedAs: 'not-sent' });
  expect(first.arrivalNote).toContain('No dispatch');
  expect((await open()).filter((one) => one.detail.serial === '20')).toHaveLength(1);
  const job = identifyScans({ db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') });
  await job.run({ groupId: service.groupId });
  await send(world.w3Id, ['20']);
  await job.run({ groupId: service.groupId });
  expect((await open()).filter((one) => one.detail.serial === '20')).toEqual([]);
  expect(await kitchen.get('kitchen', `/v1/scans/${first.id as string}`)).toMatchObject({ outcome: 'recorded' });
});

test('a pack for another ward is recorded where it is, set aside, and the answer says where it should be', async () => {
  await send(world.w3Id, ['1', '2']);
  const other = await send(w4Id, ['3', '4', '5']);
  expect(await arrive(world.w3Id, `${code}/1`, '10:00')).toMatchObject({
    arrivedAs: 'expected',
    arrivalNote: null,
    held: false,
  });
  const wrong = await arrive(world.w3Id, `${code}/3`, '10:01');
  expect(wrong).toMatchObject({ status: 'recorded', arrivedAs: 'wrong-site', mayUse: false });
  expect(wrong.arrivalNote).toContain('Ward 4 pantry');
  expect(wrong.findings).toMatchObject([
    { kind: 'wrong-site', lotId: packs, quantity: 1, detail: { expectedAtSiteId: w4Id, dispatchId: other.dispatchId } },
  ]);
  expect(await arrive(world.w3Id, `${code}/3`, '10:02')).toMatchObject({ status: 'already-recorded', findings: [] });
  const named = await arrive(world.w3Id, `${code}/4`, '10:03', { dispatchId: other.dispatchId });
  expect(named).toMatchObject({ arrivedAs: 'wrong-site' });
  const unknown = await arrive(world.w3Id, `${code}/4`, '10:04', { dispatchId: randomUUID() });
  expect([unknown.status, unknown.problem.code]).toEqual(['refused', 'not-found']);
  expect(await open()).toHaveLength(2);
  // taken on to where it belongs: from the ward, not out of the van again
  expect(await arrive(w4Id, `${code}/3`, '10:30')).toMatchObject({ status: 'recorded', arrivedAs: 'expected' });
  const at = async (siteId: string) => {
    const { items } = await kitchen.get('quality', `/v1/stock?siteId=${siteId}&limit=500`);
    return (items as Json[])
      .filter((one) => one.lotId === packs)
      .reduce((sum, one) => sum + (one.quantity as number), 0);
  };
  // packs 20, 1 and 4 stand at ward 3, pack 3 at ward 4
  expect([await at(world.w3Id), await at(w4Id)]).toEqual([3, 1]);
});

test('a crate for another ward brings its packs with it; one finding; a hold inside is told', async () => {
  await send(w4Id, ['10', '11'], 'CRATE-W4');
  const hold = await kitchen.post('quality', '/v1/holds', { lotId: packs, kind: 'safety', note: 'Seal leaks' });
  const wrong = await arrive(world.w3Id, 'CRATE-W4', '10:10');
  expect(wrong).toMatchObject({ status: 'recorded', arrivedAs: 'wrong-site', held: true, mayUse: false });
  const kinds = (wrong.findings as Json[]).map((one) => one.kind as string);
  expect(kinds.filter((kind) => kind === 'wrong-site')).toHaveLength(1);
  expect(kinds).toContain('held-on-arrival');
  await kitchen.post('quality', `/v1/holds/${hold.holdId as string}/lift`, { note: 'Seals were tested' });
  expect(await arrive(w4Id, `${code}/11`, '10:40')).toMatchObject({ status: 'recorded', arrivedAs: 'expected' });
});

test('what the label alone rules out may not be used', async () => {
  const ask = async (scan: string, siteId = world.w3Id) =>
    (
      await service
        .as('receiver', siteId)
        .post('/v1/scan-interpretations', { scan, readAt: '2026-11-25T11:00:00Z', siteId })
    ).body;
  expect(await ask(`01${GTIN}1726110110${code}`)).toMatchObject({ mayUse: false });
  expect((await ask(`01${GTIN}1726110110${code}`)).whyNot).toContain('2026-11-01');
  expect(await ask(`01${GTIN}21101${GS}10${code}`)).toMatchObject({ mayUse: false });
  const used = await arrive(w4Id, `01${GTIN}17261101215${GS}10${code}`, '11:10');
  expect(used).toMatchObject({ status: 'recorded', serial: '5', mayUse: false });
  expect(used.whyNot).toContain('2026-11-01');
  expect(await ask('CRATE-W4', w4Id)).toMatchObject({ mayUse: true });
});
