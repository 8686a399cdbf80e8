/**
 * Every refusal that the service knows, provoked over HTTP. The table is typed by the codes themselves: a new code does not compile
 * until something here provokes it.
 */
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { randomUUID } from 'node:crypto';
import path from 'node:path';
import express from 'express';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { z } from 'zod';
import errorTable from '../../shared/error-codes.json' with { type: 'json' };
import type { ErrorCode } from '../../src/domain/errors.ts';
import { bind, defineOperation } from '../../src/platform/http/contract.ts';
import { buildRouter } from '../../src/platform/http/router.ts';
import { randomIds } from '../../src/platform/ids.ts';
import { createLog } from '../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../support/service.ts';
import { asAdmin } from '../support/test-server.ts';
import { buildWorld, type World } from '../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const TOMORROW = '2026-11-26T12:00:00Z';
const atNine = { occurredAt: '2026-11-25T09:00:00Z' };
const cook = () => service.as('kitchen');
const quality = () => service.as('quality');
const operations = () => service.as('operations');
const fresh = (fields: object) => ({ id: randomUUID(), ...fields });
const supplier = (fields: object = {}) => fresh({ code: randomUUID().slice(0, 18), name: 'Somebody', ...fields });
const inChiller = (lotId: string, quantity: number) => ({ lotId, placeId: world.ckChillerId, quantity, unit: 'g' });
const openBatch = async (): Promise<string> =>
  (await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: world.recipeId })).batchId;
async function putIn(lotId: string, quantity: number, more: object = {}): Promise<Answer> {
  const input = fresh({ ...inChiller(lotId, quantity), ...more });
  return cook().post(`/v1/batches/${await openBatch()}/inputs`, input);
}
async function takeOut(load: object): Promise<Answer> {
  const batchId = await openBatch();
  await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, inChiller(await kitchen.shin(1_000), 1_000));
  const loads = [{ placeId: world.ckChillerId, quantity: 800, unit: 'g', ...load }];
  return cook().post(`/v1/batches/${batchId}/outputs`, fresh({ loads }));
}
async function recipe(killStep: boolean): Promise<string> {
  const code = randomUUID().slice(0, 8);
  const inputs = [{ itemId: world.beefShinId, quantity: 1_000, unit: 'g' }];
  const fields = { itemId: world.beefStewId, code, name: code, expectedYieldPpm: 1_000_000, steps: ['cook'], killStep };
  return (await kitchen.post('operations', '/v1/recipes', { ...fields, inputs })).recipeId;
}
/** A batch with one load, of a recipe whose plan asks that somebody looks at it. */
async function plannedLoad(plan: object): Promise<string> {
  const recipeId = await recipe(true);
  const asked = { code: 'look', label: 'Looks done', stage: 'cook', kind: 'yes-no', per: 'batch' };
  const point = { ...asked, requiredFor: 'release', critical: false, repeatable: true };
  await kitchen.post('quality', `/v1/recipes/${recipeId}/process-plans`, { points: [point], ...plan });
  const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
  await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, inChiller(await kitchen.shin(1_000), 1_000));
  const load = { ...inChiller('', 800), lotId: undefined, cookEndedAt: '2026-11-25T11:00:00Z' };
  await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: [load] });
  return batchId;
}
const move = async (more: object) => {
  const toPlaceId = world.ckFreezerId;
  const lotId = await kitchen.shin(1_000);
  return cook().post(
    '/v1/moves',
    fresh({ lotId, fromPlaceId: world.ckChillerId, toPlaceId, quantity: 1, unit: 'g', ...more }),
  );
};
async function usedEntry(): Promise<string> {
  const use = { ...inChiller(await kitchen.shin(100), 10), occurredAt: '2026-11-25T11:00:00Z' };
  return (await kitchen.post('kitchen', '/v1/uses', use)).entryId;
}
const undo = (entryId: string) => cook().post('/v1/reversals', fresh({ entryId, reason: 'Wrong lot' }));
const item = (fields: object) =>
  operations().post(
    '/v1/items',
    fresh({
      code: randomUUID().slice(0, 18),
      name: 'Something',
      kind: 'ingredient',
      unit: 'g',
      allergens: [],
      handling: 'raw',
      storageInstruction: 'Keep cool',
      ...fields,
    }),
  );

/** More lots like one, written straight into the tables: only their number matters here. */
async function lotWithTwins(twins: number, children: boolean): Promise<string> {
  const lotId = await kitchen.shin(1_000);
  await service.db.inGroup(service.groupId, 'write', async (tx) => {
    await tx.query(
      `with made as (
         insert into lot (group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, born_at, handling,
                storage_instruction, use_by_basis, allergens, may_contain)
         select l.group_id, gen_random_uuid(), 'M' || substr(gen_random_uuid()::text, 1, 18), l.item_id, l.unit, 1, 1000, 'packed',
                l.site_id, l.born_at, l.handling, l.storage_instruction, 'null', '{}', '{}'
           from lot l, generate_series(1, $3::int)
          where l.group_id = $1::uuid and l.lot_id = $2::uuid
         returning lot_id, born_at)
       insert into lot_edge (group_id, parent_lot_id, child_lot_id, process_id, caps_use_by, recorded_at)
       select $1::uuid, $2::uuid, made.lot_id, $2::uuid, true, made.born_at from made where $4::boolean`,
      [tx.groupId, lotId, twins, children],
    );
  });
  return lotId;
}
const lotWithChildren = (children: number): Promise<string> => lotWithTwins(children, true);

const check = (fields: object) => fresh({ siteId: world.ckId, ...fields });

const openCase = (starts: object[], more: object = {}) =>
  quality().post('/v1/recalls', fresh({ title: 'The supplier called', starts, ...more }));

const finance = () => service.as('finance');
const ACCEPTED = ['open-batches', 'unreceived-dispatches', 'negative-balances', 'uncosted-lots'];
const close = (month: string, accepted: readonly string[] = ACCEPTED) =>
  finance().post('/v1/month-closes', fresh({ month, accept: accepted.map((check) => ({ check, reason: 'Known' })) }));

/** Records begin in September, with a lot that has no price; August is closed, if it is not yet. */
async function closeAugust(): Promise<string> {
  const closes = await kitchen.get('finance', '/v1/month-closes');
  if (closes.items.length > 0) return closes.items[0].closeId;
  const line = { itemId: world.beefShinId, placeId: world.ckFreezerId, quantity: 100, unit: 'g' };
  const receipt = {
    siteId: world.ckId,
    supplierId: world.supplierId,
    occurredAt: '2026-09-02T09:00:00Z',
    lines: [line],
  };
  await kitchen.post('kitchen', '/v1/goods-receipts', receipt);
  return (await close('2026-08')).body.closeId;
}

/** An operation that the service does not have, answered by the router that it does have. */
async function askBroken(): Promise<Answer> {
  const broken = defineOperation({
    id: 'getBroken',
    method: 'get',
    path: '/broken',
    tag: 'none',
    summary: 'Fails',
    permission: 'me.read',
    naming: 'none',
    mode: 'read',
    answers: { 200: { description: 'Never', schema: z.object({}) } },
    errors: [],
    example: { status: 200 },
  });
  const app = express();
  app.use((_req, res, next) => {
    res.locals.requestId = randomIds.newId();
    res.setHeader('X-Request-Id', String(res.locals.requestId));
    next();
  });
  const { db, clock, tokens } = service;
  const fail = () => Promise.reject(new Error(`secret of ${path.basename(import.meta.filename)}`));
  app.use(buildRouter({ db, clock, tokens, ids: randomIds, log: createLog('silent') }, [bind(broken, fail)]));
  const server: Server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const token = tokens.sign(
    { groupId: service.groupId, kind: 'person', actorId: randomUUID(), grants: [{ role: 'kitchen', siteId: null }] },
    clock.nowMs(),
  );
  try {
    const url = `http://127.0.0.1:${(server.address() as AddressInfo).port}/broken`;
    const response = await fetch(url, { headers: { authorization: `Bearer ${token}` } });
    const raw = Buffer.from(await response.arrayBuffer());
    const text = raw.toString('utf8');
    return {
      status: response.status,
      body: JSON.parse(text),
      headers: Object.fromEntries(response.headers),
      text,
      raw,
    };
  } finally {
    server.closeAllConnections();
    await new Promise((resolve) => server.close(resolve));
  }
}

/** A service of its own, whose database goes away under it. */
async function askWithoutDatabase(): Promise<Answer> {
  const lost = await startService();
  try {
    expect((await lost.as('admin').get('/v1/suppliers')).status).toBe(200);
    const name = new URL(lost.databaseUrl).pathname.slice(1);
    await asAdmin(inject('pg').url, (admin) => admin.query(`drop database ${name} with (force)`));
    expect((await lost.anonymous.get('/readyz')).status).toBe(503);
    expect((await lost.anonymous.get('/healthz')).status).toBe(200);
    return await lost.as('admin').get('/v1/suppliers');
  } finally {
    await lost.stop();
  }
}

const provoked: Readonly<Record<ErrorCode, () => Promise<Answer>>> = {
  'malformed-json': () => operations().post('/v1/suppliers', '{"code": "A",'),
  'body-unreadable': () => {
    const headers = { 'content-type': 'text/csv', 'content-encoding': 'gzip' };
    return service.as('device').post('/v1/readings', 'this is not gzip', headers);
  },
  'invalid-request': () => operations().post('/v1/suppliers', supplier({ colour: 'red' })),
  'fact-id-missing': () => operations().post('/v1/suppliers', { code: 'NOBODY', name: 'Nobody' }),
  'fact-id-conflict': () => operations().post('/v1/suppliers', supplier(), { 'idempotency-key': randomUUID() }),
  'epcis-document-invalid': () => operations().post('/v1/epcis/capture', { type: 'EPCISDocument' }),
  'epcis-query-invalid': () => operations().get('/v1/epcis/events?EQ_bizstep=shipping'),
  'epcis-query-too-large': async () => {
    await kitchen.shin(1_000);
    return operations().get('/v1/epcis/events?maxEventCount=0');
  },
  'bad-cursor': () => cook().get('/v1/suppliers?cursor=bm90LWEtY3Vyc29y'),
  unauthenticated: () => service.anonymous.get('/v1/me'),
  'sign-in-failed': () =>
    service.anonymous.post('/v1/sign-ins', { group: 'ostermere', signInName: 'nobody', password: 'nothing-at-all' }),
  forbidden: () => cook().post('/v1/suppliers', supplier()),
  'not-found': () => cook().get(`/v1/lots/${randomUUID()}`),
  'method-not-allowed': () => cook().request('PUT', '/v1/suppliers', {}),
  'not-acceptable': () => cook().get('/v1/suppliers', { accept: 'image/png' }),
  'id-used-with-other-content': async () => {
    const first = supplier();
    expect((await operations().post('/v1/suppliers', first)).status).toBe(201);
    return operations().post('/v1/suppliers', { ...first, name: 'Somebody else' });
  },
  'code-taken': () => operations().post('/v1/suppliers', supplier({ code: 'BROOK' })),
  'insufficient-stock': () => move({ quantity: 1_001 }),
  'period-too-long': () => operations().get('/v1/reports/yields?fromDate=2024-11-01&toDate=2026-11-01'),
  'history-too-short': () => operations().get('/v1/reports/savings?month=2026-11'),
  'on-hold': async () => {
    const lotId = await kitchen.shin(1_000);
    await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId, note: 'Glass in the tray' });
    return putIn(lotId, 1);
  },
  quarantined: async () => {
    const lotId = await kitchen.shin(1_000, { placeId: world.ckQuarantineId });
    return putIn(lotId, 1, { placeId: world.ckQuarantineId });
  },
  'past-use-by': async () => putIn(await kitchen.shin(1_000, { useByDate: '2026-11-24' }), 1),
  'wrong-state': async () => cook().post(`/v1/batches/${await openBatch()}/completion`, fresh({ losses: [] })),
  'already-reversed': async () => {
    const entryId = await usedEntry();
    expect((await undo(entryId)).status).toBe(201);
    return undo(entryId);
  },
  'not-reversible': async () => undo((await undo(await usedEntry())).body.entryId),
  'clean-down-needed': async () => {
    // raw meat on the packer, then stew: refused in the United Kingdom without a clean-down between
    const stew = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
    const meat = await item({ kind: 'packed', unit: 'piece', unitMassMg: 300_000 });
    const run = (fromLotId: string, packItemId: string, minute: string) =>
      fresh({
        equipmentId: world.packerId,
        programme: 'Moist',
        startedAt: `2026-11-25T11:5${minute}:00Z`,
        finishedAt: `2026-11-25T11:5${minute}:30Z`,
        fills: [
          {
            fromLotId,
            fromPlaceId: world.ckChillerId,
            usedQuantity: 300,
            usedUnit: 'g',
            packItemId,
            packs: 1,
          },
        ],
      });
    const path = `/v1/batches/${stew.batchId}/packing-runs`;
    expect((await cook().post(path, run(await kitchen.shin(300), meat.body.itemId, '8'))).status).toBe(201);
    const refused = await cook().post(path, run(stew.lotId, world.beefStewPackId, '9'));
    // others pack on it too
    const cleaned = { occurredAt: '2026-11-25T11:59:00Z', kind: 'full' };
    await kitchen.post('kitchen', `/v1/equipment/${world.packerId}/clean-downs`, cleaned);
    return refused;
  },
  'would-make-a-loop': async () => {
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 800);
    return cook().post(`/v1/batches/${batchId}/inputs`, fresh(inChiller(lotId, 1)));
  },
  'ancestors-not-released': async () => {
    const gravy = await kitchen.stew(await kitchen.shin(1_000), 1_000, 800);
    const stew = await kitchen.stew(gravy.lotId, 800, 700);
    return quality().post(`/v1/batches/${stew.batchId}/release`, fresh({}));
  },
  'checks-not-passed': async () => {
    const batchId = await plannedLoad({ release: 'by-hand', twoPeople: false });
    return quality().post(`/v1/batches/${batchId}/release`, fresh({}));
  },
  'releaser-made-it': async () => {
    const batchId = await plannedLoad({ release: 'by-hand', twoPeople: true });
    const about = { kind: 'batch', id: batchId };
    const check = { siteId: world.ckId, stage: 'cook', kind: 'yes-no', controlPoint: 'look', about, yes: true };
    await kitchen.post('quality', '/v1/process-checks', check);
    return quality().post(`/v1/batches/${batchId}/release`, fresh({}));
  },
  'not-for-rework': async () => {
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 800);
    const rejection = { disposition: 'rework', reason: 'Too slow to chill' };
    await kitchen.post('quality', `/v1/batches/${batchId}/rejection`, rejection);
    const into = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId: await recipe(false) });
    return cook().post(`/v1/batches/${into.batchId}/inputs`, fresh(inChiller(lotId, 1)));
  },
  'unit-mismatch': () => move({ unit: 'piece' }),
  'time-in-future': () => move({ occurredAt: TOMORROW }),
  'anchor-missing': () => takeOut({}),
  'use-by-later-than-computed': () => takeOut({ cookEndedAt: '2026-11-25T11:00:00Z', useByDate: '2026-12-24' }),
  'item-unsuitable': () => takeOut({ itemId: world.beefShinId }),
  'same-place': () => move({ toPlaceId: world.ckChillerId }),
  'serials-do-not-fit': async () => {
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
    return cook().get(`/v1/lots/${await kitchen.pack(batchId, lotId, 900, 3)}/label?serials=4`);
  },
  'discard-reason-unknown': async () => {
    const discard = { ...inChiller(await kitchen.shin(10), 1), occurredAt: '2026-11-25T11:00:00Z' };
    return cook().post('/v1/discards', fresh({ ...discard, reason: 'moonlight', destination: 'composting' }));
  },
  'allergen-unknown': () => item({ allergens: ['moonlight'] }),
  'price-unusable': async () => {
    const lotId = await kitchen.shin(1_000);
    return service.as('finance').post('/v1/prices', fresh({ lotId, priceMinor: 0 }));
  },
  'currency-differs': async () => {
    const lotId = await kitchen.shin(1_000);
    return service.as('finance').post('/v1/prices', fresh({ lotId, priceMinor: 100, currency: 'CHF' }));
  },
  'entry-unit-unknown': () => {
    const line = { itemId: world.beefShinId, entryUnit: 'barrel', entryQuantity: 1 };
    const receipt = {
      siteId: world.ckId,
      supplierId: world.supplierId,
      occurredAt: '2026-11-25T06:10:00Z',
      lines: [line],
    };
    return cook().post('/v1/goods-receipts', fresh(receipt));
  },
  'csv-unreadable': () => {
    const table = { siteId: world.ckId, occurredAt: '2026-11-25T06:10:00Z', csv: 'item,place,quantity\n' };
    return cook().post('/v1/opening-stock-checks', table);
  },
  'diet-unknown': () => item({ dietCodes: ['breakfast-only'] }),
  'diet-mismatch': async () => {
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 900);
    const packs = await kitchen.pack(batchId, lotId, 900, 3);
    const asked = {
      serviceDate: '2026-11-26',
      meal: 'lunch',
      itemId: world.beefStewPackId,
      portions: 2,
      textureLevel: 4,
    };
    const { requirements } = await kitchen.post('kitchen', '/v1/requirements', { siteId: world.w3Id, lines: [asked] });
    const line = { ...inChiller(packs, 2), unit: 'piece', requirementId: requirements[0].requirementId };
    return cook().post('/v1/dispatches', fresh({ fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] }));
  },
  'rule-broken': () => item({ kind: 'packed' }),
  'portions-do-not-divide': async () => {
    const portion = { kind: 'portion', toItemId: world.beefStewPackId, quantity: 800, ...atNine };
    return cook().post('/v1/conversions', fresh({ ...inChiller(await kitchen.shin(1_000), 800), ...portion }));
  },
  'regenerated-stays': async () => {
    const heated = { kind: 'regenerate', ...inChiller(await kitchen.shin(1_000), 800), ...atNine };
    return putIn((await kitchen.post('kitchen', '/v1/conversions', heated)).lot.lotId, 1);
  },
  'trace-too-large': async () => quality().get(`/v1/lots/${await lotWithChildren(20_000)}/trace`),
  'starts-match-nothing': () =>
    openCase([{ kind: 'supplier-lot', supplier: 'BROOK', supplierLotCode: 'NEVER-CAME-1' }]),
  'start-ambiguous': async () => {
    const other = (await kitchen.post('operations', '/v1/suppliers', { code: 'TWIN', name: 'Twin Farm' })).supplierId;
    const coded = {
      itemId: world.beefShinId,
      placeId: world.ckChillerId,
      quantity: 10,
      unit: 'g',
      supplierLotCode: 'A-1',
    };
    for (const supplierId of [world.supplierId, other]) {
      await kitchen.post('kitchen', '/v1/goods-receipts', {
        siteId: world.ckId,
        supplierId,
        ...atNine,
        lines: [coded],
      });
    }
    const answer = await openCase([{ kind: 'supplier-lot', supplierLotCode: 'A-1' }]);
    expect(answer.body.matches).toHaveLength(2);
    return answer;
  },
  'recall-open-already': async () => {
    const lotId = await kitchen.shin(100);
    const first = await openCase([{ kind: 'lot', lotId }]);
    const second = await openCase([{ kind: 'lot', lotId, note: 'Said in other words' }]);
    expect(second.body.recallId).toBe(first.body.recallId);
    return second;
  },
  'scope-too-large': async () => {
    await lotWithTwins(100_000, false);
    const day = { from: '2026-11-25T00:00:00Z', to: '2026-11-26T00:00:00Z' };
    return openCase([{ kind: 'item-period', itemId: world.beefShinId, ...day }]);
  },
  'quantities-open': async () => {
    const lotId = await kitchen.shin(1_000);
    const { recallId } = (await openCase([{ kind: 'lot', lotId }], { drill: true })).body;
    const answer = await quality().post(`/v1/recalls/${recallId}/closing`, fresh({ note: 'Too early' }));
    expect(answer.body.openLines).toMatchObject([{ siteId: world.ckId, lotId, open: 1_000, unit: 'g' }]);
    return answer;
  },
  'month-not-ended': () => close('2026-11'),
  'month-closed': async () => {
    await closeAugust();
    return close('2026-08');
  },
  'month-not-oldest': async () => {
    await closeAugust();
    return close('2026-10');
  },
  'checks-open': async () => {
    await closeAugust();
    const answer = await close('2026-09', []);
    expect(answer.body.checks.map((check: Json) => check.check)).toEqual(['uncosted-lots']);
    return answer;
  },
  'two-people-needed': async () => {
    const path = `/v1/month-closes/${await closeAugust()}/reopenings`;
    const asked = await finance().post(path, fresh({ reason: 'A late invoice' }));
    return finance().post(`/v1/month-reopenings/${asked.body.reopeningId}/confirmations`, fresh({}));
  },
  'too-large-to-draw': async () => quality().get(`/v1/lots/${await lotWithChildren(300)}/trace?format=svg`),
  'atomic-refused': () => {
    const scan = { id: randomUUID(), kind: 'put-away', code: 'X-1', occurredAt: '2026-11-25T11:00:00Z' };
    return cook().post('/v1/scans', { siteId: world.ckId, atomic: true, scans: [scan] });
  },
  'scan-unreadable': () =>
    // the check digit of this GTIN is 3
    cook().post('/v1/scan-interpretations', { scan: ']d20109521234543214', readAt: '2026-11-25T11:00:00Z' }),
  'version-mismatch': () =>
    operations().patch(`/v1/suppliers/${world.supplierId}`, { name: 'Other' }, { 'if-match': '"v99"' }),
  'body-too-large': () =>
    service.anonymous.post('/v1/sign-ins', { group: 'ostermere', signInName: 'x', password: 'p'.repeat(9_000) }),
  'unsupported-media-type': () => operations().post('/v1/suppliers', 'code=A', { 'content-type': 'text/plain' }),
  'precondition-required': () => operations().patch(`/v1/suppliers/${world.supplierId}`, { name: 'Other' }),
  'too-many-requests': async () => {
    const wrong = { group: 'ostermere', signInName: 'kitchen', password: 'not-the-kettle' };
    for (let tries = 0; tries < 5; tries += 1) {
      expect((await service.anonymous.post('/v1/sign-ins', wrong)).body).toMatchObject({ code: 'sign-in-failed' });
    }
    const answer = await service.anonymous.post('/v1/sign-ins', wrong);
    expect(Number(answer.headers['retry-after'])).toBeGreaterThan(0);
    return answer;
  },
  'internal-error': async () => {
    const answer = await askBroken();
    expect(answer.text).not.toContain('secret');
    return answer;
  },
  'batch-closed': async () => {
    const { batchId } = await kitchen.stew(await kitchen.shin(1_000), 1_000, 800);
    await kitchen.release(batchId);
    await kitchen.post('kitchen', `/v1/batches/${batchId}/completion`, { losses: [] });
    const about = { kind: 'batch', id: batchId };
    return cook().post('/v1/process-checks', check({ stage: 'other', kind: 'yes-no', about, yes: true }));
  },
  'already-corrected': async () => {
    const round = { stage: 'storage', kind: 'temperature', about: { kind: 'place', id: world.ckChillerId } };
    const { checkId } = (await cook().post('/v1/process-checks', check({ ...round, temperatureC: 41 }))).body;
    const correct = () => {
      const body = check({ ...round, temperatureC: 4.1, reason: 'The point was forgotten' });
      return cook().post(`/v1/process-checks/${checkId}/corrections`, body);
    };
    expect((await correct()).status).toBe(201);
    return correct();
  },
  unavailable: askWithoutDatabase,
  'series-unusable': () => {
    const series = [
      { minute: 5, temperatureC: 70 },
      { minute: 4, temperatureC: 71 },
    ];
    return cook().post('/v1/process-checks/lethality', { series, target: 'listeria-70' });
  },
  'no-company-prefix': () => cook().post('/v1/crates', fresh({ siteId: world.ckId, count: 1 })),
  'sscc-used-up': async () => {
    // beside twelve digits four are left, and the last number of those is 9999
    await kitchen.post('operations', '/v1/sscc-ranges', { companyPrefix: '952000000009', firstSerial: 9_999 });
    return cook().post('/v1/crates', fresh({ siteId: world.ckId, count: 2 }));
  },
  'label-reason-missing': async () => {
    const about = { kind: 'lot', id: await kitchen.shin(1_000, { useByDate: '2026-11-27' }) };
    await kitchen.post('kitchen', '/v1/label-prints', { about });
    return cook().post('/v1/label-prints', fresh({ about }));
  },
  'second-person-needed': async () => {
    const about = { kind: 'lot', id: await kitchen.shin(1_000, { useByDate: '2026-11-27' }) };
    return cook().post('/v1/label-prints', fresh({ about, reason: 'damaged', sister: { serial: '2' } }));
  },
  'crate-in-itself': async () => {
    const body = { siteId: world.ckId, codes: ['INNER', 'OUTER'] };
    const [inner, outer] = (await kitchen.post('kitchen', '/v1/crates', body)).items;
    await kitchen.post('kitchen', `/v1/crates/${inner.crateId}/placements`, { intoCrateId: outer.crateId });
    return cook().post(`/v1/crates/${outer.crateId}/placements`, fresh({ intoCrateId: inner.crateId }));
  },
  'webhook-address-refused': () =>
    operations().post('/v1/webhooks', fresh({ url: 'https://169.254.169.254/latest', description: 'Metadata' })),
  'events-gone': async () => {
    await kitchen.shin(1_000);
    expect((await operations().get('/v1/events')).status).toBe(200);
    // As after 400 days.
    await asAdmin(service.databaseUrl, (admin) => admin.query('update event_head set first_no = last_no + 1'));
    return operations().get('/v1/events?after=0');
  },
};

/** EPCIS 2.0 names its own problem types (gs1/EPCIS openapi.yaml). */
const NAMED_BY_STANDARD: Readonly<Partial<Record<ErrorCode, string>>> = {
  'epcis-document-invalid': 'epcisException:ValidationException',
  'epcis-query-invalid': 'epcisException:QueryParameterException',
  'epcis-query-too-large': 'epcisException:QueryTooLargeException',
};

describe('each refusal', () => {
  test.each(Object.keys(provoked) as ErrorCode[])('%s', async (code) => {
    const kind = errorTable[code];
    const answer = await provoked[code]();
    const said: Json = answer.body;
    expect(said).toMatchObject({ code, ...kind, type: NAMED_BY_STANDARD[code] ?? `/problems/${code}` });
    expect(answer.status).toBe(kind.status);
    expect(answer.headers['content-type']).toBe('application/problem+json; charset=utf-8');
    expect(answer.headers['cache-control']).toBe('no-store');
    expect(said.instance).toBe(`urn:request:${answer.headers['x-request-id']}`);
    expect(said.detail).toMatch(/^\S.*[.]$/s);
    expect(answer.text).not.toMatch(/\bat .+\.ts\b|node_modules|select |insert into/i);
    if (kind.status === 401) expect(answer.headers['www-authenticate']).toBe('Bearer realm="sealtrail"');
  });

  test('has a page of its own to read', async () => {
    const all = await service.anonymous.get('/problems');
    for (const [code, kind] of Object.entries(errorTable)) {
      expect(all.text).toContain(`id="${code}"`);
      const page = await service.anonymous.get(`/problems/${code}`);
      expect(page.status).toBe(200);
      expect(page.text).toContain(kind.advice);
    }
    expect((await service.anonymous.get('/problems/moonlight')).status).toBe(404);
    expect((await service.anonymous.get('/problems/constructor')).status).toBe(404);
  });
});
