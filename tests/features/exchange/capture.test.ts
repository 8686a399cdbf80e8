/** A supplier's document becomes an announced delivery; a goods receipt answers to it. Numbers of the demonstration range 952 are invented. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

// Check digits by hand (General Specifications 7.9), e.g. 952132100001: 3·1+1·1+3·2+1·3+3·1+1·2+3·5+1·9 = 42, so 8.
const CK_GLN = '9521321000018';
const BROOK_GLN = '9521141000014';
const GTIN = '09521234543213';
const PALLET = 'https://id.gs1.org/00/195212345678900013';
const BOX = 'urn:epc:id:sscc:9521234.1567890002';
const LOT = `https://id.gs1.org/01/${GTIN}/10/BRK-7802`;

let service: TestService;
let world: World;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  const admin = service.as('admin');
  const change = async (path: string, fields: object) => {
    expect((await admin.patch(path, fields, { 'if-match': '*' })).status).toBe(200);
  };
  await change(`/v1/sites/${world.ckId}`, { gln: CK_GLN });
  await change(`/v1/suppliers/${world.supplierId}`, { gln: BROOK_GLN });
  await change(`/v1/items/${world.beefShinId}`, { gtin: GTIN });
}, 60_000);
afterAll(() => service.stop());

const common = { eventTime: '2026-11-25T10:30:00+01:00', eventTimeZoneOffset: '+01:00' };
const shipping = (fields: object = {}) => ({
  ...common,
  type: 'ObjectEvent',
  eventID: `urn:uuid:${randomUUID()}`,
  action: 'OBSERVE',
  bizStep: 'shipping',
  bizTransactionList: [{ type: 'desadv', bizTransaction: 'https://example.org/despatch-advices/DN-20931' }],
  sourceList: [{ type: 'possessing_party', source: `https://id.gs1.org/417/${BROOK_GLN}` }],
  destinationList: [{ type: 'location', destination: `https://id.gs1.org/414/${CK_GLN}` }],
  ...fields,
});
const document = (...eventList: object[]) => ({
  '@context': ['https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld'],
  type: 'EPCISDocument',
  schemaVersion: '2.0',
  creationDate: '2026-11-25T11:00:00+00:00',
  epcisBody: { eventList },
});
const kilos = (quantity: number) => ({ quantityList: [{ epcClass: LOT, quantity, uom: 'KGM' }] });
const capture = (body: object, headers: Record<string, string> = {}) =>
  service.as('operations').post('/v1/epcis/capture', body, headers);
const announced = async (id: string) => (await service.as('operations').get(`/v1/announced-deliveries/${id}`)).body;

describe('a shipping document', () => {
  test('crates in crates, dates from the making, a receipt to begin with, and what differs when it came', async () => {
    const making = {
      ...common,
      type: 'ObjectEvent',
      action: 'ADD',
      bizStep: 'commissioning',
      quantityList: [{ epcClass: LOT, quantity: 40, uom: 'KGM' }],
      ilmd: { 'cbvmda:itemExpirationDate': '2026-11-30' },
    };
    const packing = (parentID: string, content: object) => ({
      ...common,
      type: 'AggregationEvent',
      action: 'ADD',
      bizStep: 'packing',
      parentID,
      ...content,
    });
    const inside = {
      childQuantityList: [{ epcClass: 'urn:epc:class:lgtin:9521234.054321.BRK-7802', quantity: 12.5, uom: 'KGM' }],
    };
    const answer = await capture(
      document(
        making,
        packing(BOX, inside),
        packing(PALLET, { childEPCs: [BOX], childQuantityList: [{ epcClass: LOT, quantity: 11.5, uom: 'KGM' }] }),
        shipping({ epcList: [PALLET] }),
      ),
    );
    expect(answer.status).toBe(202);
    expect(answer.headers['gs1-epcis-version']).toBe('2.0.0');
    expect(answer.body).toMatchObject({
      running: false,
      success: true,
      captureErrorBehaviour: 'rollback',
      eventCount: 4,
    });
    expect(answer.body.unused.map((one: { at: number }) => one.at)).toEqual([0, 1, 2]);
    const job = await service.as('operations').get(answer.headers['location'] ?? '');
    expect(job.body).toEqual(answer.body);

    const [id] = answer.body.announcedDeliveryIds;
    const delivery = await announced(id);
    expect(delivery).toMatchObject({
      state: 'announced',
      shippedAt: '2026-11-25T09:30:00.000Z',
      from: { supplierId: world.supplierId },
      to: { siteId: world.ckId },
      ssccs: ['195212345678900013', '195212345678900020'],
      notes: [],
      // 12.5 kg and 11.5 kg of one lot with one date: 24 kg, one line
      goodsReceipt: {
        siteId: world.ckId,
        supplierId: world.supplierId,
        documentNumber: 'DN-20931',
        lines: [
          {
            itemId: world.beefShinId,
            quantity: 24_000,
            unit: 'g',
            supplierLotCode: 'BRK-7802',
            useByDate: '2026-11-30',
          },
        ],
      },
    });
    const [line] = delivery.goodsReceipt.lines;
    const receipt = await service.as('kitchen').post('/v1/goods-receipts', {
      id: randomUUID(),
      ...delivery.goodsReceipt,
      occurredAt: '2026-11-25T11:30:00Z',
      lines: [{ ...line, quantity: 23_000, placeId: world.ckChillerId, temperatureC: 2.4 }],
    });
    expect(receipt.status).toBe(201);
    const link = { id: randomUUID(), goodsReceiptId: receipt.body.goodsReceiptId };
    const received = await service.as('kitchen').post(`/v1/announced-deliveries/${id}/receipts`, link);
    expect(received.status).toBe(201);
    expect(received.body).toMatchObject({ state: 'received', goodsReceipt: null });
    expect(received.body.differences).toMatchObject([
      { kind: 'short', supplierLotCode: 'BRK-7802', announcedQuantity: 24_000, receivedQuantity: 23_000 },
    ]);
    const again = await service
      .as('kitchen')
      .post(`/v1/announced-deliveries/${id}/receipts`, { ...link, id: randomUUID() });
    expect(again.body.code).toBe('rule-broken');
  });

  test('what is not understood is kept with a note; nothing is guessed', async () => {
    const strange = [
      { epcClass: LOT, quantity: 3 },
      { epcClass: LOT, quantity: 2, uom: 'LTR' },
      { epcClass: 'https://id.gs1.org/01/09524000059109/10/X', quantity: 2, uom: 'KGM' },
      { epcClass: 'https://example.org/lots/7', quantity: 2, uom: 'KGM' },
    ];
    const { body } = await capture(
      document(shipping({ quantityList: strange, epcList: [BOX], sourceList: undefined })),
    );
    const delivery = await announced(body.announcedDeliveryIds[0]);
    expect(delivery.lines.map((one: { itemQuantity: number | null }) => one.itemQuantity)).toEqual([
      null,
      null,
      null,
      null,
    ]);
    expect(delivery.lines.map((one: { notes: string[] }) => one.notes.length)).toEqual([1, 1, 1, 1]);
    expect(delivery.notes).toEqual(['It does not say who sends it.', 'It does not say what is in 195212345678900020.']);
    expect(delivery.goodsReceipt).toBeNull();
  });

  test('said twice it is announced once; an error declaration takes it back', async () => {
    const event = shipping(kilos(5));
    const key = { 'idempotency-key': randomUUID() };
    const first = await capture(document(event), key);
    expect((await capture(document(event), key)).body).toEqual(first.body);
    expect((await capture(document(shipping(kilos(6))), key)).body.code).toBe('id-used-with-other-content');
    const again = await capture(document(event));
    expect(again.body).toMatchObject({
      success: true,
      announcedDeliveryIds: [],
      unused: [{ why: 'it was announced before' }],
    });
    const errorDeclaration = { declarationTime: '2026-11-25T11:00:00Z', reason: 'did_not_occur' };
    await capture(document({ ...event, errorDeclaration }));
    expect(await announced(first.body.announcedDeliveryIds[0])).toMatchObject({
      state: 'withdrawn',
      withdrawal: { reason: 'did_not_occur' },
      goodsReceipt: null,
    });
    const list = await service.as('operations').get(`/v1/announced-deliveries?siteId=${world.ckId}&state=withdrawn`);
    expect(list.body.items).toHaveLength(1);

    // in whatever order they arrive: the declaration in a document before, or in the same list
    const late = shipping(kilos(7));
    const early = await capture(document({ ...late, errorDeclaration }));
    expect(early.body).toMatchObject({
      announcedDeliveryIds: [],
      unused: [{ why: 'it takes back an event that announced nothing here' }],
    });
    const other = shipping(kilos(8));
    const both = await capture(document({ ...other, errorDeclaration }, other, late, shipping(kilos(9))));
    const ids: string[] = both.body.announcedDeliveryIds;
    const states = await Promise.all(ids.map(async (id) => (await announced(id)).state as string));
    expect(states.sort()).toEqual(['announced', 'withdrawn', 'withdrawn']);
  });

  test('one bad event: nothing is used, or with proceed the others are', async () => {
    const good = shipping(kilos(5));
    const bad = shipping({ ...kilos(5), eventTime: undefined });
    const wrongDigit = shipping({
      quantityList: [{ epcClass: 'https://id.gs1.org/01/09521234543214/10/A', quantity: 1 }],
    });
    const rolledBack = await capture(document(good, bad, wrongDigit));
    expect(rolledBack.status).toBe(202);
    expect(rolledBack.body).toMatchObject({ running: false, success: false, announcedDeliveryIds: [] });
    expect(rolledBack.body.errors.map((one: { pointer: string }) => one.pointer)).toEqual([
      '#/epcisBody/eventList/1/eventTime',
      '#/epcisBody/eventList/2/quantityList/0/epcClass',
    ]);
    const proceeded = await capture(document(good, bad), { 'gs1-capture-error-behaviour': 'proceed' });
    expect(proceeded.body).toMatchObject({ success: false, captureErrorBehaviour: 'proceed' });
    expect(proceeded.body.announcedDeliveryIds).toHaveLength(1);
  });

  test('of another site, or of none: only for those who act there', async () => {
    const event = shipping({
      ...kilos(5),
      destinationList: [{ type: 'location', destination: `https://id.gs1.org/414/9521321000025` }],
    });
    const there = await service.as('kitchen', world.ckId).post('/v1/epcis/capture', document(event));
    expect(there.body.unused).toMatchObject([{ why: 'it is not shipped to a site at which you may act' }]);
    const { body } = await capture(document(event));
    const [id] = body.announcedDeliveryIds;
    expect((await announced(id)).notes).toEqual(['No one site has the GLN 9521321000025.']);
    expect((await service.as('kitchen', world.ckId).get(`/v1/announced-deliveries/${id}`)).status).toBe(404);
  });

  test('what is no EPCIS document is refused in the words of the standard', async () => {
    const refused = async (body: unknown, headers: Record<string, string> = {}) => {
      const answer = await service.as('operations').post('/v1/epcis/capture', body, headers);
      return [answer.status, answer.body.type];
    };
    const validation = 'epcisException:ValidationException';
    expect(await refused({ type: 'EPCISDoc' })).toEqual([400, validation]);
    expect(await refused(document())).toEqual([400, validation]);
    expect(await refused('{')).toEqual([400, validation]);
    expect(await refused(document(shipping({ note: 'a\u0000b' })))).toEqual([400, validation]);
    expect(await refused('x', { 'content-type': 'text/plain' })).toEqual([
      415,
      'epcisException:UnsupportedMediaTypeException',
    ]);
    const many = Array.from({ length: 2001 }, () => ({ type: 'ObjectEvent' }));
    expect(await refused(document(...many))).toEqual([413, 'epcisException:CaptureLimitExceededException']);
    expect(await refused(`"${'x'.repeat(10 * 1024 * 1024)}"`)).toEqual([
      413,
      'epcisException:CaptureLimitExceededException',
    ]);
    const nobody = await service.anonymous.post('/v1/epcis/capture', document(shipping(kilos(1))));
    expect([nobody.status, nobody.body.type]).toEqual([401, 'epcisException:SecurityException']);
  });
});
