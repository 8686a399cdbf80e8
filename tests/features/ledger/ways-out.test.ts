/**
 * Every way that food leaves a kitchen besides the plate can be told from every other by its postings alone (rules: what really happens in
 * kitchens, where food goes besides the plate; half the sites never scan use). Expected lines are written by hand from those rules.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let packs: string;
let code: string;
let pot: string;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const { batchId, lotId } = await kitchen.stew(await kitchen.shin(20_000), 20_000, 17_000);
  packs = await kitchen.pack(batchId, lotId, 12_000, 40);
  await kitchen.release(batchId);
  code = (await kitchen.get('kitchen', `/v1/lots/${packs}`)).code;
  pot = lotId;
});
afterAll(() => service.stop());

const at = (time: string) => `2026-11-25T${time}:00Z`;
const pieces = (quantity: number, more: object = {}) => ({
  lotId: packs,
  placeId: world.ckChillerId,
  quantity,
  unit: 'piece',
  occurredAt: at('11:30'),
  ...more,
});
/** entry kind, from, to, quantity, reason, destination, material */
const linesOf = async (entryId: string): Promise<unknown[][]> => {
  const entry = await kitchen.get('kitchen', `/v1/entries/${entryId}`);
  return entry.lines.map((line: Json) => [
    entry.kind,
    line.from.kind,
    line.to.kind,
    line.quantity,
    line.reason,
    line.destination,
    line.material,
  ]);
};
const post = async (path: string, body: object): Promise<unknown[][]> =>
  linesOf((await kitchen.post('kitchen', path, body)).entryId);
const scan = async (scans: object[]): Promise<Json[]> => {
  const named = scans.map((one) => ({ id: randomUUID(), placeId: world.ckChillerId, occurredAt: at('11:45'), ...one }));
  const answer = await service.as('kitchen').post('/v1/scans', { siteId: world.ckId, scans: named });
  expect(answer.body).toMatchObject({ refused: 0 });
  return named;
};
const entriesOf = async (scanId: string): Promise<string[]> =>
  (await kitchen.get('kitchen', `/v1/scans/${scanId}`)).entryIds;

describe('food that was used says what for', () => {
  test.each([
    [{}, null],
    [{ purpose: 'service' }, null],
    [{ purpose: 'staff-meal' }, 'staff-meal'],
    [{ purpose: 'tasting' }, 'tasting'],
    [{ purpose: 'donation', recipient: 'The night shelter' }, 'donation'],
    [{ purpose: 'laboratory' }, 'laboratory'],
  ])('%j', async (said, reason) => {
    expect(await post('/v1/uses', pieces(1, said))).toEqual([['use', 'place', 'served', 1, reason, null, null]]);
  });

  test('scanned with a serial; and a late scan of the same pack carries it back and forth', async () => {
    const [used] = await scan([
      {
        kind: 'use',
        code: `${code}/1`,
        purpose: 'donation',
        condition: 'damaged',
        reason: 'kind',
        recipient: 'Shelter',
      },
    ]);
    const first = (await entriesOf(used?.id))[0] as string;
    expect(await linesOf(first)).toEqual([['use', 'place', 'served', 1, 'donation', null, null]]);
    // It had been moved before: the use is taken back and posted anew from where the pack was.
    await scan([{ kind: 'put-away', code: `${code}/1`, placeId: world.ckPrepId, occurredAt: at('11:40') }]);
    const undone = (await kitchen.get('kitchen', `/v1/entries/${first}`)).reversedByEntryId;
    expect(await linesOf(undone)).toEqual([['reversal', 'served', 'place', 1, 'donation', null, null]]);
    const [now] = await entriesOf(used?.id);
    expect(await linesOf(now as string)).toEqual([['use', 'place', 'served', 1, 'donation', null, null]]);
  });

  test('counted without serials: another purpose is another total', async () => {
    const plain = { kind: 'use', code, meal: 'lunch' };
    const [served, eaten, more] = await scan([
      { ...plain, quantity: 4 },
      { ...plain, quantity: 2, purpose: 'staff-meal' },
      { ...plain, quantity: 3, purpose: 'staff-meal', occurredAt: at('11:50') },
    ]);
    const lines = async (one: Json) => (await Promise.all((await entriesOf(one.id)).map(linesOf))).flat();
    expect(await lines(served)).toEqual([['use', 'place', 'served', 4, null, null, null]]);
    expect(await lines(eaten)).toEqual([]);
    expect(await lines(more)).toEqual([['use', 'place', 'served', 3, 'staff-meal', null, null]]);
  });

  test('on a paper night, and undone: the reversal says it too', async () => {
    const body = { id: randomUUID(), ...pieces(2, { purpose: 'tasting' }) };
    const lines = [{ operation: 'createUse', body }];
    const night = await service.as('kitchen').post('/v1/paper-entries', { lines });
    const { entryId } = night.body.results[0].answer;
    const back = await kitchen.post('quality', '/v1/reversals', { entryId, reason: 'It was the other dish' });
    expect(await linesOf(entryId)).toEqual([['use', 'place', 'served', 2, 'tasting', null, null]]);
    expect(await linesOf(back.entryId)).toEqual([['reversal', 'served', 'place', 2, 'tasting', null, null]]);
  });
});

describe('food that nobody saw used, that came back, that is kept', () => {
  test('used by count: derived, under its own kind of entry', async () => {
    const chiller = { siteId: world.w3Id, code: 'COUNT', name: 'Counted chiller', kind: 'chiller', usedByCount: true };
    const { placeId } = await kitchen.post('admin', '/v1/places', chiller);
    const line = { itemId: world.beefStewPackId, placeId, quantity: 10, unit: 'piece' };
    const receipt = { siteId: world.w3Id, supplierId: world.supplierId, occurredAt: at('07:00'), lines: [line] };
    const { lotId } = (await kitchen.post('kitchen', '/v1/goods-receipts', receipt)).lines[0];
    const lines = [{ lotId, quantity: 7, unit: 'piece' }];
    const count = await kitchen.post('kitchen', '/v1/stock-counts', { placeId, occurredAt: at('11:00'), lines });
    expect(await linesOf(count.entryId)).toEqual([['stock-count', 'place', 'served', 3, null, null, null]]);
  });

  test('returns: from service into quarantine, to the supplier out of the place', async () => {
    const back = { direction: 'from-service', reason: 'Unopened' };
    expect(await post('/v1/returns', pieces(1, back))).toEqual([
      ['return', 'served', 'place', 1, 'Unopened', null, null],
    ]);
    const shin = await kitchen.shin(1_000);
    const sent = { direction: 'to-supplier', reason: 'Too fat', lotId: shin, quantity: 400, unit: 'g' };
    expect((await post('/v1/returns', pieces(1, sent))).map((line) => line.slice(0, 4))).toEqual([
      ['return', 'place', 'supplier', 400],
    ]);
  });

  test('a retained sample is a lot of its own with a day to go, and its disposal is waste of reason sample', async () => {
    const conversion = await kitchen.post('kitchen', '/v1/conversions', {
      kind: 'sample',
      lotId: pot,
      placeId: world.ckChillerId,
      quantity: 150,
      unit: 'g',
      occurredAt: at('11:00'),
      disposeAfter: '2026-12-02',
    });
    const taken = await linesOf(conversion.entryId);
    expect(taken.map((line) => line.slice(0, 4))).toEqual([
      ['conversion', 'place', 'consumed', 150],
      ['conversion', 'produced', 'place', 150],
    ]);
    const kept = conversion.lot.lotId;
    const trace = await kitchen.get('quality', `/v1/lots/${pot}/trace?direction=forward`);
    expect(trace.lots.map((lot: Json) => lot.lotId)).toContain(kept);
    const gone = { lotId: kept, quantity: 150, unit: 'g', occurredAt: at('11:55'), reason: 'sample' };
    expect(await post('/v1/discards', pieces(1, { ...gone, destination: 'refuse' }))).toEqual([
      ['discard', 'place', 'waste', 150, 'sample', 'refuse', null],
    ]);
  });
});

describe('what was thrown away', () => {
  const thrown = { reason: 'trim', destination: 'composting' };

  test('is food unless it is said to be what nobody eats, and undone it nets on the same', async () => {
    expect(await post('/v1/discards', pieces(1, { ...thrown, material: 'food' }))).toEqual([
      ['discard', 'place', 'waste', 1, 'trim', 'composting', null],
    ]);
    const bones = await kitchen.post('kitchen', '/v1/discards', pieces(1, { ...thrown, material: 'inedible-parts' }));
    const back = await kitchen.post('quality', '/v1/reversals', { entryId: bones.entryId, reason: 'Twice' });
    expect(await linesOf(back.entryId)).toEqual([
      ['reversal', 'waste', 'place', 1, 'trim', 'composting', 'inedible-parts'],
    ]);
  });

  test('scanned: each material its own total; a reason that the site has of its own', async () => {
    const own = { code: 'bones', label: 'Bones and skin', standardReason: 'trim' };
    await kitchen.post('operations', `/v1/sites/${world.ckId}/waste-reasons`, own);
    const kind = { kind: 'discard', code, reason: 'bones', destination: 'animal-feed' };
    const scans = await scan([
      { ...kind, quantity: 2 },
      { ...kind, quantity: 1, material: 'inedible-parts' },
      { ...kind, code: `${code}/9`, material: 'inedible-parts' },
    ]);
    const lines = await Promise.all(scans.map(async ({ id }) => linesOf((await entriesOf(id))[0] as string)));
    expect(lines.flat().map((line) => line.slice(2))).toEqual([
      ['waste', 2, 'bones', 'animal-feed', null],
      ['waste', 1, 'bones', 'animal-feed', 'inedible-parts'],
      ['waste', 1, 'bones', 'animal-feed', 'inedible-parts'],
    ]);
  });

  test('for a reason of another site is refused with what this site has; one not offered any more is taken', async () => {
    const reasons = `/v1/sites/${world.w3Id}/waste-reasons`;
    const own = { code: 'fasting', label: 'Patient fasting', standardReason: 'over-production' };
    await kitchen.post('operations', reasons, own);
    const wrong = await kitchen.post('kitchen', '/v1/discards', pieces(1, { ...thrown, reason: 'fasting' }), 422);
    expect(wrong).toMatchObject({ code: 'discard-reason-unknown', destinations: expect.arrayContaining(['sewer']) });
    const codes = wrong.reasons.map((one: Json) => one.code);
    expect([codes.length, codes.includes('trim'), codes.includes('bones'), codes.includes('fasting')]).toEqual([
      14,
      true,
      true,
      false,
    ]);
    const pack = { siteId: world.w3Id, description: 'No label', quantity: 1, foundAt: at('11:00') };
    const { unidentifiedPackId } = await kitchen.post('kitchen', '/v1/unidentified-packs', pack);
    const retired = await service
      .as('operations')
      .patch(`${reasons}/fasting`, { active: false }, { 'if-match': '"v1"' });
    expect(retired.body).toMatchObject({ active: false, standardReason: 'over-production', version: 2 });
    const disposal = `/v1/unidentified-packs/${unidentifiedPackId}/disposal`;
    const body = { reason: 'fasting', destination: 'refuse' };
    expect(await kitchen.post('kitchen', disposal, body)).toMatchObject({ reason: 'fasting', state: 'discarded' });
  });

  test('in a batch: where each loss went and how much of it nobody eats', async () => {
    const { batchId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 800);
    const complete = (losses: object[], status = 201) =>
      kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, { losses }, status);
    const trim = { kind: 'trim', massG: 120, destination: 'anaerobic-digestion', inedibleMassG: 90 };
    const wrong = await complete([{ ...trim, inedibleMassG: 121 }], 422);
    expect([wrong.code, wrong.errors[0].pointer]).toEqual(['rule-broken', '#/losses/0/inedibleMassG']);
    await complete([{ ...trim, destination: 'moonlight' }], 400);
    const done = await complete([{ kind: 'cooking-loss', massG: 60 }, trim]);
    expect(done.losses).toEqual([
      { kind: 'cooking-loss', massG: 60, destination: null, inedibleMassG: null },
      { kind: 'trim', massG: 120, destination: 'anaerobic-digestion', inedibleMassG: 90 },
    ]);
  });
});
