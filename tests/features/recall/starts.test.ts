/** Each kind of starting point over one morning told by hand: which lots it names, and what a recall would reach. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import type { Json } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { at, beginRecallStory, type RecallStory } from './story.ts';

describe('starting points', () => {
  let service: TestService;
  let story: RecallStory;
  const lots: Record<string, string> = {};
  const batches: Record<string, string> = {};
  let dispatchId: string;
  let otherSupplierId: string;

  // 07:00 BF-100 came, 07:10 the same code written BF 100, 07:20 BF-200; BF-200 of another supplier at 07:30
  // 08:00 stew of BF-100 packed; 08:30 the packer was cleaned; 09:00 stew of BF-200 packed; 09:30 ten packs of the first went out
  beforeAll(async () => {
    service = await startService({ nowMs: Date.parse(at('06:00')) });
    story = await beginRecallStory(service);
    const { kitchen } = story;
    const { world } = kitchen;
    lots.a = await story.deliver('07:00', 'BF-100');
    lots.a2 = await story.deliver('07:10', 'bf 100', 5_000);
    lots.b = await story.deliver('07:20', 'BF-200');
    otherSupplierId = (await kitchen.post('operations', '/v1/suppliers', { code: 'HILL', name: 'Hill Meats' }))
      .supplierId;
    story.setTime('07:30');
    const line = {
      itemId: world.beefShinId,
      placeId: world.ckFreezerId,
      quantity: 3_000,
      unit: 'g',
      supplierLotCode: 'BF-200',
    };
    const receipt = { siteId: world.ckId, supplierId: otherSupplierId, occurredAt: at('07:30'), lines: [line] };
    lots.hill = (await kitchen.post('kitchen', '/v1/goods-receipts', receipt)).lines[0].lotId;
    const first = await story.cook('08:00', lots.a, 20);
    story.setTime('08:30');
    const cleaned = `/v1/equipment/${world.packerId}/clean-downs`;
    await kitchen.post('kitchen', cleaned, { occurredAt: at('08:30'), kind: 'full' });
    const second = await story.cook('09:00', lots.b, 10);
    Object.assign(lots, { load1: first.loadId, packs1: first.packsId, load2: second.loadId, packs2: second.packsId });
    Object.assign(batches, { one: first.batchId, two: second.batchId });
    dispatchId = await story.send('09:30', first.packsId, 10);
    story.setTime('12:00');
  });
  afterAll(() => service.stop());

  const named = (ids: readonly string[]): string[] =>
    ids.map((id) => Object.entries(lots).find(([, lotId]) => lotId === id)?.[0] ?? id).sort();
  const read = async (start: object): Promise<Json> => {
    const answer = await story.preview([start]);
    expect(answer.status, answer.text).toBe(200);
    return answer.body;
  };
  const own = async (start: object): Promise<string[]> =>
    named((await read(start)).starts[0].lots.map((lot: Json) => lot.lotId));
  const morning = { from: at('07:00'), to: at('12:00') };

  test('a code on an invoice: as written, in other words, with a slip, of several suppliers, of nobody', async () => {
    const brook = { kind: 'supplier-lot', supplier: 'brook farm meats' };
    // all spellings of one code of one supplier, since later deliveries are told by letters and digits as well
    expect(await own({ ...brook, supplierLotCode: 'BF-100' })).toEqual(['a', 'a2']);
    expect(await own({ ...brook, supplierLotCode: 'BF.100' })).toEqual(['a', 'a2']);
    expect(await own({ kind: 'supplier-lot', supplierId: otherSupplierId, supplierLotCode: 'BF-200' })).toEqual([
      'hill',
    ]);
    const either = await story.preview([{ kind: 'supplier-lot', supplierLotCode: 'BF-200' }]);
    expect(either.body).toMatchObject({ code: 'start-ambiguous', errors: [{ pointer: '#/starts/0' }] });
    expect(either.body.matches).toEqual([
      {
        supplierId: story.kitchen.world.supplierId,
        supplierName: 'Brook Farm Meats',
        supplierLotCode: 'BF-200',
        lots: 1,
      },
      { supplierId: otherSupplierId, supplierName: 'Hill Meats', supplierLotCode: 'BF-200', lots: 1 },
    ]);
    // one slip: BF-300 is one character away from BF-100 and from BF-200
    const slip = await story.preview([{ ...brook, supplierLotCode: 'BF-300' }]);
    expect(slip.body.code).toBe('starts-match-nothing');
    expect(slip.body.matches.map((match: Json) => match.supplierLotCode).sort()).toEqual([
      'BF-100',
      'BF-200',
      'bf 100',
    ]);
    const unknown = await story.preview([{ kind: 'supplier-lot', supplier: 'Nobody', supplierLotCode: 'QQQQQQQQ' }]);
    expect(unknown.body).toMatchObject({ code: 'starts-match-nothing', matches: [] });
  });

  test('lots, complaints and swaps; batches, runs, a dispatch', async () => {
    const code = (await story.kitchen.get('quality', `/v1/lots/${lots.packs1}`)).code;
    expect(await own({ kind: 'lot', lotId: lots.b })).toEqual(['b']);
    expect(await own({ kind: 'lot', lotCode: `${code}/7` })).toEqual(['packs1']);
    expect(await own({ kind: 'complaint', lotCode: code, whatIsWrong: 'leaker' })).toEqual(['packs1']);
    expect(await own({ kind: 'likely-swap', lotId: lots.packs2 })).toEqual(['packs2']);
    const batch = await story.kitchen.get('quality', `/v1/batches/${batches.one}`);
    expect(await own({ kind: 'batch', batchId: batches.one })).toEqual(['load1']);
    expect(await own({ kind: 'batch', batchCode: batch.code })).toEqual(['load1']);
    const { packingRunId } = batch.lots.find((lot: Json) => lot.lotId === lots.packs1);
    expect(await own({ kind: 'packing-run', packingRunId })).toEqual(['packs1']);
    expect(await own({ kind: 'dispatch', dispatchId })).toEqual(['packs1']);
  });

  test('periods: supplier, item, machine and its clean-downs, person, place', async () => {
    const { world } = story.kitchen;
    const supplier = { kind: 'supplier-period', supplierId: world.supplierId };
    expect(await own({ ...supplier, ...morning })).toEqual(['a', 'a2', 'b']);
    // from is in the period, to is not
    expect(await own({ ...supplier, from: at('07:10'), to: at('07:20') })).toEqual(['a2']);
    expect(await own({ kind: 'item-period', itemId: world.beefStewId, from: at('08:30'), to: at('09:30') })).toEqual([
      'load2',
    ]);
    const machine = { kind: 'machine-period', equipmentId: world.packerId };
    expect(await own({ ...machine, from: at('07:00'), to: at('08:30') })).toEqual(['packs1']);
    expect(await own({ ...machine, sinceCleanDown: at('08:10') })).toEqual(['packs1']);
    expect(await own({ ...machine, sinceCleanDown: at('08:45') })).toEqual(['packs2']);
    // the kitchen's person received, cooked and packed all of it
    const person = { kind: 'person-period', personId: world.kitchenPersonId };
    expect(await own({ ...person, from: at('08:00'), to: at('08:30') })).toEqual(['load1', 'packs1']);
    expect(await own({ ...person, from: at('07:00'), to: at('07:15') })).toEqual(['a', 'a2']);
    // in the freezer was only what Hill Meats brought; in the chiller at 08:45 what had come and what was left of the first stew
    expect(await own({ kind: 'place-period', placeId: world.ckFreezerId, ...morning })).toEqual(['hill']);
    const chiller = { kind: 'place-period', placeId: world.ckChillerId };
    expect(await own({ ...chiller, from: at('08:45'), to: at('08:50') })).toEqual(['a', 'a2', 'b', 'load1', 'packs1']);
    expect(await own({ ...chiller, from: at('07:00'), to: at('07:05') })).toEqual(['a']);
  });

  test('an allergen that the label did not say', async () => {
    const correction = `/v1/lots/${lots.b}/allergen-corrections`;
    await story.kitchen.post('quality', correction, { allergens: ['mustard'], reason: 'The marinade holds mustard' });
    // it spread to what was made of it before
    const start = { kind: 'undeclared-allergen', allergen: 'mustard', ...morning };
    expect(await own(start)).toEqual(['b', 'load2', 'packs2']);
    const stew = { ...start, itemId: story.kitchen.world.beefStewId };
    expect(await own(stew)).toEqual(['load1', 'load2']);
  });

  test('what it would reach: forward through the batch to the van, with sums; or the lots alone', async () => {
    const shown = await read({ kind: 'lot', lotId: lots.a });
    expect(shown).toMatchObject({ lotCount: 3, bound: 100_000, packs: 20, served: 0 });
    const packs = shown.totals.find((total: Json) => total.unit === 'piece');
    expect(packs).toMatchObject({ produced: 20, onHand: 10, inTransit: 10, served: 0, balanced: true, lotCount: 1 });
    const shin = shown.totals.find((total: Json) => total.itemId === story.kitchen.world.beefShinId);
    expect(shin).toMatchObject({ produced: 20_000, onHand: 10_000, consumed: 10_000, balanced: true });
    expect(shown.onTheRoad).toMatchObject([
      { dispatchId, quantity: 10, unit: 'piece', toSiteId: story.kitchen.world.w3Id },
    ]);
    const sites = Object.fromEntries(shown.sites.map((site: Json) => [site.siteName, site.lotCount]));
    expect(sites).toEqual({ 'Central kitchen': 3, 'Ward 3 pantry': 1 });
    expect(await read({ kind: 'lot', lotId: lots.a, walk: 'none' })).toMatchObject({ lotCount: 1, packs: 0 });
    const both = await story.preview([
      { kind: 'lot', lotId: lots.a },
      { kind: 'lot', lotId: lots.load1 },
    ]);
    expect(both.body.lotCount).toBe(3);
  });

  test('what cannot be: a period the wrong way round, both an id and a code, things that do not exist', async () => {
    const { world } = story.kitchen;
    const refused = async (start: object) => (await story.preview([{ kind: 'lot', lotId: lots.a }, start])).body;
    const wrongWay = { kind: 'place-period', placeId: world.ckChillerId, from: at('09:00'), to: at('09:00') };
    expect(await refused(wrongWay)).toMatchObject({ code: 'rule-broken', errors: [{ pointer: '#/starts/1/to' }] });
    expect(await refused({ kind: 'lot' })).toMatchObject({ code: 'rule-broken', errors: [{ pointer: '#/starts/1' }] });
    expect(await refused({ kind: 'machine-period', equipmentId: world.packerId })).toMatchObject({
      code: 'rule-broken',
    });
    const nowhere = exampleId('lot/nowhere');
    const nothing = { code: 'starts-match-nothing', errors: [{ pointer: '#/starts/1' }] };
    expect(await refused({ kind: 'lot', lotId: nowhere })).toMatchObject(nothing);
    expect(await refused({ kind: 'batch', batchCode: 'NO-SUCH-BATCH' })).toMatchObject(nothing);
    expect(await refused({ kind: 'dispatch', dispatchId: nowhere })).toMatchObject(nothing);
    const before = { from: at('05:00'), to: at('05:30') };
    expect(await refused({ kind: 'item-period', itemId: world.beefShinId, ...before })).toMatchObject(nothing);
  });
});
