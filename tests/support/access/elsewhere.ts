/**
 * One of everything at a site that has nothing to do with those of the examples, or in another group: what somebody else's things are,
 * for asking about them. Made over the API, but for the date of a part.
 */
import { randomUUID } from 'node:crypto';
import { derivedId } from '../../../src/platform/ids.ts';
import { recomputeTemperature } from '../../../src/features/temperature/index.ts';
import { createLog } from '../../../src/platform/log.ts';
import { tightenPart } from '../../../src/features/ledger/index.ts';
import type { Json } from '../kitchen.ts';
import type { TestService } from '../service.ts';

/** By the name of the field that such an id stands in. */
export type Things = Readonly<Record<string, string>>;

/** In GS1's range for examples; the last digit follows from the others by 1 and 3 in turn. */
const GLN_ELSEWHERE = '9524999000007';

/** What a supplier would announce: one lot of a quantity on its way to a site. */
function shipmentTo(gln: string): object {
  const event = {
    type: 'ObjectEvent',
    eventTime: '2026-11-25T09:00:00+00:00',
    eventTimeZoneOffset: '+00:00',
    action: 'OBSERVE',
    bizStep: 'shipping',
    quantityList: [{ epcClass: 'https://id.gs1.org/01/09524000059109/10/ELSEWHERE', quantity: 5, uom: 'KGM' }],
    destinationList: [{ type: 'location', destination: `https://id.gs1.org/414/${gln}` }],
  };
  return {
    type: 'EPCISDocument',
    '@context': ['https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld'],
    schemaVersion: '2.0',
    creationDate: '2026-11-25T09:01:00+00:00',
    epcisBody: { eventList: [event] },
  };
}

export async function buildElsewhere(service: TestService, groupId: string): Promise<Things> {
  async function post(role: string, path: string, body: object): Promise<Json> {
    const answer = await service.as(role, null, groupId).post(path, { id: randomUUID(), ...body });
    if (answer.status !== 201) throw new Error(`${path} answered ${answer.status}: ${answer.text}`);
    return answer.body;
  }
  const code = (what: string) => `${what}-ELSEWHERE`;
  const named = (what: string) => ({ code: code(what), name: `${what} elsewhere` });
  const site = (what: string) => ({
    ...named(what),
    kind: 'central-kitchen',
    timeZone: 'Europe/London',
    jurisdiction: 'GB-ENG',
  });
  const { siteId } = await post('admin', '/v1/sites', { ...site('A'), gln: GLN_ELSEWHERE });
  const { siteId: secondSiteId } = await post('admin', '/v1/sites', site('B'));
  const { placeId } = await post('admin', '/v1/places', { ...named('CHILL'), siteId, kind: 'chiller' });
  const { equipmentId } = await post('admin', '/v1/equipment', { ...named('PACK'), siteId, kind: 'vacuum-packer' });
  const { deviceId } = await post('admin', '/v1/devices', { name: 'Scanner elsewhere', siteId });
  const { supplierId } = await post('admin', '/v1/suppliers', named('SUPPLIER'));
  const kept = { allergens: [], storageInstruction: 'Keep at 3 °C or below' };
  const raw = { ...named('RAW'), kind: 'ingredient', unit: 'g', handling: 'raw', ...kept };
  const { itemId } = await post('admin', '/v1/items', raw);
  const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
  const cooked = { handling: 'ready-to-eat', life, ...kept };
  const { itemId: madeItemId } = await post('admin', '/v1/items', {
    ...named('MADE'),
    kind: 'prepared',
    unit: 'g',
    ...cooked,
  });
  const packs = { ...named('PACKS'), kind: 'packed', unit: 'piece', unitMassMg: 300_000, ...cooked };
  const { itemId: packItemId } = await post('admin', '/v1/items', packs);
  const recipe = { ...named('RECIPE'), itemId: madeItemId, expectedYieldPpm: 900_000, steps: ['cook'], killStep: true };
  const { recipeId } = await post('admin', '/v1/recipes', {
    ...recipe,
    inputs: [{ itemId, quantity: 1_000, unit: 'g' }],
  });
  const person = { name: 'Kit Moss', signInName: 'kit.moss', password: 'somewhere-else-entirely', grants: [] };
  const { personId } = await post('admin', '/v1/people', person);
  const round = {
    siteId,
    stage: 'storage',
    kind: 'temperature',
    about: { kind: 'place', id: placeId },
    temperatureC: 12,
  };
  const { checkId } = await post('operations', '/v1/process-checks', round);
  const period = { from: new Date(service.clock.nowMs()).toISOString(), to: '2026-11-30T06:00:00.000Z' };
  const stand = { personId, role: 'quality', siteId, ...period, reason: 'Away' };
  const { deputyId } = await post('admin', '/v1/deputies', stand);
  const occurredAt = new Date(service.clock.nowMs() - 3_600_000).toISOString();
  const line = { itemId, placeId, quantity: 5_000, unit: 'g' };
  const receipt = await post('operations', '/v1/goods-receipts', { siteId, supplierId, occurredAt, lines: [line] });
  const { lotId } = receipt.lines[0];
  const batch = await post('operations', '/v1/batches', { siteId, recipeId, startedAt: occurredAt });
  const point = {
    code: 'cook',
    label: 'Core',
    stage: 'cook',
    kind: 'core-temperature',
    per: 'load',
    requiredFor: null,
  };
  const points = [{ ...point, critical: false, repeatable: true }];
  const plan = { release: 'by-hand', twoPeople: false, points };
  const { planId } = await post('quality', `/v1/recipes/${recipeId}/process-plans`, plan);
  const taken = { lotId, placeId, unit: 'g' };
  await post('operations', `/v1/batches/${batch.batchId}/inputs`, { ...taken, quantity: 1_000 });
  const packed = await packedElsewhere(post, { siteId, placeId, equipmentId, recipeId, packItemId, lotId });
  const used = await post('operations', '/v1/uses', { ...taken, quantity: 6_000, occurredAt });
  const findings = await service.as('operations', null, groupId).get(`/v1/findings?siteId=${siteId}`);
  const hold = await post('quality', '/v1/holds', { kind: 'quality', lotId, siteId, note: 'Smells odd' });
  const lines = [{ ...taken, quantity: 10 }];
  const dispatch = await post('operations', '/v1/dispatches', { fromSiteId: siteId, toSiteId: secondSiteId, lines });
  const { dispatchId } = dispatch;
  const van = { siteId, vehicle: 'Van elsewhere', plannedFor: occurredAt, dispatchIds: [dispatchId] };
  const { vanRunId } = await post('operations', '/v1/van-runs', van);
  const crates = await post('operations', '/v1/crates', { siteId, codes: ['CRATE-A', 'CRATE-B'] });
  const { boxTypeId } = await post('admin', '/v1/box-types', named('BOX'));
  const asked = { serviceDate: '2026-11-25', meal: 'lunch', itemId: packItemId, portions: 8 };
  const needs = await post('operations', '/v1/requirements', { siteId, lines: [asked] });
  const scan = { id: randomUUID(), kind: 'put-away', code: 'NOT-KNOWN-YET', occurredAt, placeId };
  const scans = await service.as('operations', null, groupId).post('/v1/scans', { siteId, scans: [scan] });
  if (scans.status !== 207 || scans.body.recorded !== 1) throw new Error(`scans answered ${scans.text}`);
  const pack = { siteId, placeId, description: 'No label', quantity: 1, foundAt: occurredAt };
  const { unidentifiedPackId } = await post('operations', '/v1/unidentified-packs', pack);
  // A drill: a real case would hold what the others of these need free.
  const drill = { title: 'Drill elsewhere', drill: true, starts: [{ kind: 'lot', lotId }] };
  const { recallId } = await post('quality', '/v1/recalls', drill);
  const sensor = { ...named('SENSOR'), siteId, kind: 'air' };
  const { sensorId } = await post('operations', '/v1/sensors', sensor);
  const file = await service.as('quality', siteId, groupId).post('/v1/reading-imports', { readings: [] });
  const hook = { id: randomUUID(), url: 'https://hooks.elsewhere.example/in', description: 'Elsewhere' };
  const { body: webhook } = await service.as('operations', siteId, groupId).post('/v1/webhooks', hook);
  const { captureID, announcedDeliveryIds } = (
    await service.as('operations', siteId, groupId).post('/v1/epcis/capture', shipmentTo(GLN_ELSEWHERE))
  ).body;
  const excursionId = await warmPlace(service, groupId, { siteId, sensorId, placeId });
  // what computes dates asks the ledger, not the API
  const warm = { lotId, accountId: placeId, ruling: 'cook-chill-10-c', reason: 'Warm for a night', resultId: null };
  const nowMs = service.clock.nowMs();
  const relabelId = await service.db.inGroup(groupId, 'write', (tx) =>
    tightenPart(tx, { ...warm, useByAtMs: nowMs + 3_600_000 }, personId, nowMs),
  );
  if (relabelId === null) throw new Error('no date became earlier');
  const lineFile = { report: 'lines', month: '2026-11', site: code('A'), format: 'csv' };
  const { equipmentId: probeId } = await post('admin', '/v1/equipment', { ...named('PROBE'), siteId, kind: 'probe' });
  const ice = { occurredAt, method: 'ice-point', measuredC: 3 };
  const { calibrationId } = await post('operations', `/v1/equipment/${probeId}/calibrations`, ice);
  const { exportId } = await post('finance', '/v1/report-exports', lineFile);
  const aboutLot = { about: { kind: 'lot', id: lotId }, reason: 'quarantine' };
  const { printId } = await post('operations', '/v1/label-prints', aboutLot);
  return {
    ...(await closedMonth(service, groupId)),
    ...packed,
    crateId: crates.items[0].crateId,
    intoCrateId: crates.items[1].crateId,
    boxTypeId,
    packedAtSiteId: siteId,
    instrumentId: equipmentId,
    exportId,
    webhookId: webhook.webhookId,
    captureID,
    announcedDeliveryId: announcedDeliveryIds[0],
    calibrationId,
    relabelId,
    witnessId: personId,
    secondPersonId: personId,
    printId,
    siteId,
    recallId,
    noticeId: derivedId(`recall-notice-1-${siteId}`, recallId),
    sensorId,
    excursionId,
    importId: file.body.readingImportId,
    fromSiteId: siteId,
    toSiteId: secondSiteId,
    placeId,
    fromPlaceId: placeId,
    toPlaceId: placeId,
    equipmentId,
    deviceId,
    supplierId,
    itemId,
    packItemId,
    recipeId,
    planId,
    personId,
    deputyId,
    checkId,
    factId: receipt.goodsReceiptId,
    goodsReceiptId: receipt.goodsReceiptId,
    lotId,
    fromLotId: lotId,
    batchId: batch.batchId,
    entryId: used.entryId,
    findingId: findings.body.items[0].findingId,
    holdId: hold.holdId,
    liftHoldId: hold.holdId,
    dispatchId,
    dispatchIds: dispatchId,
    vanRunId,
    requirementId: needs.requirements[0].requirementId,
    scanId: scan.id,
    unidentifiedPackId,
  };
}

/** A packing run with its programme, and a leaker of it. */
async function packedElsewhere(
  post: (role: string, path: string, body: object) => Promise<Json>,
  ids: Things,
): Promise<{ programmeId: string; packingRunId: string; faultId: string }> {
  const { siteId, placeId, equipmentId, recipeId, packItemId, lotId } = ids;
  const settings = {
    foodType: 'other',
    vacuumMbar: 20,
    pulses: 1,
    sealS: 2,
    mostCoreTemperatureC: 3,
    basis: 'from-memory',
  };
  const without = { earlyStop: false, tiltedInsert: false, gentleAirReturn: false, doubleSeam: false };
  const said = { code: 'ELSEWHERE', name: 'Elsewhere', reasons: ['It always was'], ...settings, ...without };
  const { programmeId } = await post('operations', '/v1/packing-programmes', said);
  const { batchId } = await post('operations', '/v1/batches', { siteId, recipeId });
  await post('operations', `/v1/batches/${batchId}/inputs`, { lotId, placeId, quantity: 500, unit: 'g' });
  const loads = [{ placeId, quantity: 450, unit: 'g', cookEndedAt: '2026-11-25T08:00:00Z' }];
  const made = await post('operations', `/v1/batches/${batchId}/outputs`, { loads });
  const packingRunId = randomUUID();
  const fill = {
    fromLotId: made.lots[0].lotId,
    fromPlaceId: placeId,
    toPlaceId: placeId,
    usedQuantity: 300,
    usedUnit: 'g',
  };
  const at = '2026-11-25T09:00:00Z';
  const run = { id: packingRunId, equipmentId, programmeId, startedAt: at, finishedAt: at };
  const fills = [{ ...fill, packItemId, packs: 1 }];
  const sealed = await post('operations', `/v1/batches/${batchId}/packing-runs`, { ...run, fills });
  const packs = sealed.lots.find((lot: Json) => lot.packingRunId === packingRunId);
  const { faultId } = await post('operations', '/v1/pack-faults', { siteId, kind: 'leaker', lotId: packs.lotId });
  return { programmeId, packingRunId, faultId };
}

/** The newest close and a reopening of it; the month before records begin is closed where there is none. */
async function closedMonth(service: TestService, groupId: string): Promise<{ closeId: string; reopeningId: string }> {
  const finance = service.as('finance', null, groupId);
  const { items } = (await finance.get('/v1/month-closes')).body;
  const made = items[0] ?? (await finance.post('/v1/month-closes', { id: randomUUID(), month: '2026-10' })).body;
  if (made.reopening) return { closeId: made.closeId, reopeningId: made.reopening.reopeningId };
  const asked = { id: randomUUID(), reason: 'A late invoice' };
  const answer = await finance.post(`/v1/month-closes/${made.closeId}/reopenings`, asked);
  return { closeId: made.closeId, reopeningId: answer.body.reopeningId };
}

/** An hour at 15 °C in the chiller; answers the excursion that it is. */
async function warmPlace(
  service: TestService,
  groupId: string,
  { siteId, sensorId, placeId }: { siteId: string; sensorId: string; placeId: string },
): Promise<string> {
  const at = (minutes: number) => new Date(service.clock.nowMs() - minutes * 60_000).toISOString();
  const there = { id: randomUUID(), from: at(300), placeId };
  const located = await service.as('operations', null, groupId).post(`/v1/sensors/${sensorId}/locations`, there);
  const readings = [90, 60, 30].map((minutes) => ({ sensor: sensorId, at: at(minutes), temperatureC: 15 }));
  const sent = await service.as('quality', siteId, groupId).post('/v1/readings', { readings });
  if (located.status !== 201 || sent.body.stored !== 3) throw new Error(`readings answered ${sent.text}`);
  await recomputeTemperature({ db: service.db, clock: service.clock, log: createLog('error') }).run({ groupId });
  const { body } = await service.as('quality', siteId, groupId).get(`/v1/excursions?placeId=${placeId}`);
  return body.items[0].excursionId;
}
