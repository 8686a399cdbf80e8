import { createHash } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { allergenCodes } from '../../../src/domain/allergens.ts';
import { LAYOUTS, renderLabelsPdf, type LabelContent } from '../../../src/features/labels/drawing/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { tightenPart } from '../../../src/features/ledger/index.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const pagesOf = (pdf: Buffer): number => pdf.toString('latin1').match(/\/Type \/Page\b/g)?.length ?? 0;
const sha = (pdf: Buffer): string => createHash('sha256').update(pdf).digest('hex');

describe('labels of a lot', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let batchId: string;
  let load: string;
  let packs: string;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    const shin = await kitchen.shin(40_000, { supplierLotCode: 'BRK-1' });
    ({ batchId, lotId: load } = await kitchen.stew(shin, 40_000, 34_000));
    packs = await kitchen.pack(batchId, load, 9_000, 30, { packLotCode: 'STEW-261125-A' });
  });
  afterAll(() => service.stop());

  const print = (lotId: string, query = '', role = 'kitchen'): Promise<Answer> =>
    service.as(role).get(`/v1/lots/${lotId}/label${query}`);
  /** The same words give the same bytes, so a label is compared with one whose words are written here. */
  const expectLabels = async (answer: Answer, labels: LabelContent[]): Promise<void> => {
    expect(answer.status).toBe(200);
    expect(sha(answer.raw)).toBe(sha(await renderLabelsPdf(labels, LAYOUTS['roll-100x60'])));
  };
  const words = {
    dish: 'Beef stew, pack of 300 g',
    packer: 'Sam Dale',
    packedOn: '2026-11-25',
    // five days from the end of cooking on the 25th, that day included
    useBy: '2026-11-29',
    storageInstruction: 'Keep at 3 °C or below',
    allergens: ['Wheat', 'Celery'],
    mayContain: [],
    lotCode: 'STEW-261125-A',
    netWeightG: 300,
    siteName: 'Central kitchen',
    handling: 'ready-to-eat' as const,
    heldNote: 'Awaiting release: do not send out',
  };

  test('a serialised lot: one for each serial, with who packed it and that it waits', async () => {
    const all = await print(packs);
    expect(all.headers['content-type']).toBe('application/pdf');
    expect(all.headers['content-disposition']).toBe('inline; filename="label-STEW-261125-A.pdf"');
    expect(pagesOf(all.raw)).toBe(30);
    const some = await print(packs, '?serials=30,7-8');
    await expectLabels(
      some,
      ['30', '7', '8'].map((serial) => ({ ...words, serial })),
    );
  });

  test('serials that do not fit are refused, and what is no list of serials', async () => {
    for (const serials of ['31', '29-31', '9-7', '3,1-4', '5,5']) {
      expect((await print(packs, `?serials=${serials}`)).body).toMatchObject({ code: 'serials-do-not-fit' });
    }
    for (const serials of ['0', '1-', 'all', '1,,2', '']) {
      expect((await print(packs, `?serials=${serials}`)).body).toMatchObject({ code: 'invalid-request' });
    }
    expect((await print(load, '?serials=1')).body).toMatchObject({ code: 'serials-do-not-fit' });
  });

  test('at most 500 at once', async () => {
    const many = exampleId('lot/many');
    await kitchen.pack(batchId, load, 501, 501, { massG: 501, packLotId: many });
    const refused = await print(many);
    expect(refused.body).toMatchObject({ code: 'rule-broken' });
    expect(refused.body.detail).toContain('500');
    expect((await print(many, '?serials=1-250,252-502')).body.code).toBe('serials-do-not-fit');
    expect(pagesOf((await print(many, '?serials=2-501')).raw)).toBe(500);
  });

  test('a weight that is not whole grams for each pack is left out; a counted lot has one label', async () => {
    const uneven = exampleId('lot/uneven');
    await kitchen.pack(batchId, load, 1_001, 3, {
      massG: 1_001,
      packLotId: uneven,
      packLotCode: 'UNEVEN',
      serialised: false,
    });
    const label = { ...words, lotCode: 'UNEVEN', netWeightG: null, serial: null };
    await expectLabels(await print(uneven), [label]);
  });

  test('food that was made or bought says so; food without a use-by gets no label', async () => {
    const stew = await kitchen.get('kitchen', `/v1/lots/${load}`);
    const made = {
      ...words,
      dish: 'Beef stew',
      lotCode: stew.code as string,
      deed: 'Made' as const,
      packer: null,
      netWeightG: null,
      serial: null,
    };
    await expectLabels(await print(load), [made]);
    const dated = await kitchen.shin(500, { useByDate: '2026-11-27', lotCode: 'SHIN"2"', allergens: ['milk'] });
    const answer = await print(dated);
    expect(answer.headers['content-disposition']).toBe('inline; filename="label-SHIN_2_.pdf"');
    const bought = {
      ...made,
      dish: 'Beef shin, diced',
      lotCode: 'SHIN"2"',
      deed: 'Received' as const,
      useBy: '2026-11-27',
      storageInstruction: 'Keep at 5 °C or below',
      allergens: ['Milk'],
      handling: 'raw' as const,
      heldNote: null,
    };
    await expectLabels(answer, [bought]);
    expect((await print(await kitchen.shin(500))).body).toMatchObject({ code: 'rule-broken' });
  });

  test('the use-by in force is printed when it has become earlier, with its time when it ends within a day', async () => {
    const { batchId: other, lotId } = await kitchen.stew(await kitchen.shin(9_000), 9_000, 8_000);
    const late = await kitchen.pack(other, lotId, 300, 1, { packLotCode: 'LATE' });
    await service.db.inGroup(service.groupId, 'write', (tx) =>
      tx.query(
        `update lot_state s set use_by_at = '2026-11-26T14:30:00Z', use_by_date = null, allergens = '{celery,milk}'
          where s.group_id = $1::uuid and s.lot_id = $2::uuid`,
        [tx.groupId, late],
      ),
    );
    const label = { ...words, lotCode: 'LATE', useBy: '2026-11-26 14:30', allergens: ['Milk', 'Celery'], serial: '1' };
    await expectLabels(await print(late), [label]);
  });

  test('the date of the place that is named; of no place, the earliest of any, for too late is the worse mistake', async () => {
    const { batchId: other, lotId } = await kitchen.stew(await kitchen.shin(9_000), 9_000, 8_000);
    const apart = await kitchen.pack(other, lotId, 600, 2, { packLotCode: 'APART' });
    const accountId = world.ckChillerId;
    const change = { lotId: apart, accountId, ruling: 'cook-chill-10-c', reason: 'Warm', resultId: null };
    const useByAtMs = Date.parse('2026-11-26T14:30:00Z');
    await service.db.inGroup(service.groupId, 'write', (tx) =>
      tightenPart(tx, { ...change, useByAtMs }, exampleId('person/quality'), service.clock.nowMs()),
    );
    const label = { ...words, lotCode: 'APART', serial: '1' };
    const early = { ...label, useBy: '2026-11-26 14:30' };
    await expectLabels(await print(apart, `?serials=1&placeId=${world.ckChillerId}`), [early]);
    await expectLabels(await print(apart, `?serials=1&placeId=${world.ckFreezerId}`), [label]);
    await expectLabels(await print(apart, '?serials=1'), [early]);
  });

  test('held or rejected food gets a quarantine label or none; released food has no note', async () => {
    await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId: packs, note: 'Pouch blown' });
    expect((await print(packs, '?serials=1')).body).toMatchObject({
      code: 'on-hold',
      holds: [{ kind: 'safety' }],
    });
    const held = { ...words, heldNote: 'ON HOLD: Safety hold, Awaiting release', serial: '1', quarantine: true };
    await expectLabels(await print(packs, '?serials=1&quarantine=true'), [held]);
    const good = await kitchen.stew(await kitchen.shin(900), 900, 800);
    const free = await kitchen.pack(good.batchId, good.lotId, 300, 1, { packLotCode: 'FREE' });
    await kitchen.release(good.batchId);
    await expectLabels(await print(free), [{ ...words, lotCode: 'FREE', heldNote: null, serial: '1' }]);
    await kitchen.post('quality', `/v1/batches/${batchId}/rejection`, { reason: 'Core temperature was not reached' });
    expect((await print(packs)).body).toMatchObject({
      code: 'on-hold',
      // in no order: both were placed at the same moment
      holds: expect.arrayContaining([
        expect.objectContaining({ kind: 'safety' }),
        expect.objectContaining({ kind: 'rejected' }),
      ]) as unknown,
    });
  });

  test('an item that is not kept by lot has no label, nor has one whose words have no room', async () => {
    const itemId = exampleId('item/salt');
    const salt = { id: itemId, code: 'SALT', name: 'Salt', kind: 'ingredient', unit: 'g', lotTracked: false };
    const kept = { allergens: [], handling: 'ready-to-eat', storageInstruction: 'Dry' };
    expect((await service.as('admin').post('/v1/items', { ...salt, ...kept })).status).toBe(201);
    const { batchId: other } = await kitchen.stew(await kitchen.shin(900), 900, 800);
    await kitchen.post('kitchen', `/v1/batches/${other}/inputs`, { itemId, quantity: 5, unit: 'g' });
    const { inputs } = await kitchen.get('kitchen', `/v1/batches/${other}`);
    const saltLot = inputs.find((input: Json) => input.itemName === 'Salt').lotId as string;
    expect((await print(saltLot)).body).toMatchObject({ code: 'item-unsuitable' });

    // every allergen twice and the longest storage instruction: more than 60 x 40 mm can say at a readable size
    const storageInstruction = Array.from({ length: 25 }, () => 'WWWWWWW').join(' ');
    const longId = exampleId('item/long');
    const long = { ...salt, ...kept, id: longId, code: 'LONG', name: 'Long', lotTracked: true, storageInstruction };
    expect((await service.as('admin').post('/v1/items', long)).status).toBe(201);
    const every = { allergens: [...allergenCodes], mayContain: [...allergenCodes] };
    const wordy = await kitchen.shin(500, { itemId: longId, useByDate: '2026-11-27', ...every });
    expect((await print(wordy, '?layout=roll-60x40')).body).toMatchObject({ code: 'rule-broken' });
  });

  test('who has nothing to do with the lot, or with labels, gets none', async () => {
    const ward = service.as('receiver', world.w3Id);
    expect((await ward.get(`/v1/lots/${packs}/label`)).status).toBe(404);
    expect((await ward.get(`/v1/lots/${exampleId('lot/nowhere')}/label`)).status).toBe(404);
    expect((await print(packs, '', 'finance')).status).toBe(403);
  });
});
