/** Conversions at a site over HTTP: one beep opens a pack; what it became is a lot of its own, with its own clock, holds and history. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const at = (time: string) => `2026-11-25T${time}:00Z`;

let service: TestService;
let world: World;
let kitchen: Kitchen;
/** packs of 300 g, two portions each, released, in the kitchen's chiller; use by the end of 29 November */
let packs: string;
let code: string;
let portionId: string;
let next = 0;
const serial = () => String((next += 1));

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const plate = {
    code: 'STEW-PLATE',
    name: 'Beef stew, portion',
    kind: 'prepared',
    unit: 'piece',
    unitMassMg: 150_000,
    allergens: ['mustard'],
    handling: 'ready-to-eat',
    storageInstruction: 'Keep at 3 °C or below',
  };
  portionId = (await kitchen.post('operations', '/v1/items', plate)).itemId;
  await change(`/v1/items/${world.beefStewPackId}`, {
    openedItemId: world.beefStewId,
    portionsPerUnit: 2,
    regeneratedLifeH: 2,
    frozenLifeDays: 90,
    thawedLifeH: 240,
  });
  const putAway = { chilled: world.ckChillerId, frozen: world.ckFreezerId, ambient: null };
  await change(`/v1/sites/${world.ckId}`, { putAway });
  packs = await somePacks(100);
  code = (await kitchen.get('kitchen', `/v1/lots/${packs}`)).code;
});
afterAll(() => service.stop());

async function change(path: string, fields: object): Promise<void> {
  const answer = await service.as('operations').patch(path, fields, { 'if-match': '*' });
  if (answer.status !== 200) throw new Error(answer.text);
}

async function somePacks(count: number): Promise<string> {
  const shin = await kitchen.shin(count * 400);
  const { batchId, lotId } = await kitchen.stew(shin, count * 400, count * 340);
  const lot = await kitchen.pack(batchId, lotId, count * 300, count);
  await kitchen.release(batchId);
  return lot;
}

const convert = (kind: string, fields: object, status = 201): Promise<Json> =>
  kitchen.post('kitchen', '/v1/conversions', { kind, occurredAt: at('11:00'), ...fields }, status);
/** one beep at the kitchen's chiller */
const beep = (kind: string, no: string, fields: object = {}, status = 201) =>
  convert(kind, { siteId: world.ckId, code: `${code}/${no}`, placeId: world.ckChillerId, ...fields }, status);
const bulk = (kind: string, lotId: string, quantity: number, fields: object = {}, status = 201) =>
  convert(kind, { lotId, placeId: world.ckChillerId, quantity, ...fields }, status);
const lotOf = (lotId: string): Promise<Json> => kitchen.get('quality', `/v1/lots/${lotId}`);
const kindsOf = (answer: Json): string[] => answer.findings.map((one: Json) => one.kind);

async function scan(kind: string, no: string, time: string, fields: object = {}): Promise<Json> {
  const one = {
    id: randomUUID(),
    kind,
    code: `${code}/${no}`,
    occurredAt: at(time),
    placeId: world.ckChillerId,
    ...fields,
  };
  const answer = await service.as('kitchen').post('/v1/scans', { siteId: world.ckId, scans: [one] });
  if (answer.status !== 207 || answer.body.refused > 0) throw new Error(answer.text);
  return { ...answer.body.results[0], scanId: one.id };
}

/** Quantities of a lot by where they are: CHILL-1, consumed, served ... */
async function where(lotId: string): Promise<Record<string, number>> {
  const trace = await kitchen.get('operations', `/v1/lots/${lotId}/trace?direction=forward`);
  const lot = trace.lots.find((one: Json) => one.lotId === lotId);
  expect(lot.balanced).toBe(true);
  const sums: Record<string, number> = {};
  for (const stop of lot.whereNow) {
    const key = stop.placeName ?? stop.kind;
    sums[key] = (sums[key] ?? 0) + Number(stop.quantity);
  }
  return sums;
}

describe('opening', () => {
  test('a beep says it all: the pack is gone, grams of stew are there, with hours on the label', async () => {
    const opened = await convert('open', { siteId: world.ckId, code: `${code}/${serial()}` });
    expect(opened).toMatchObject({
      source: { lotId: packs, lotCode: code, quantity: 1, unit: 'piece' },
      lot: { itemId: world.beefStewId, quantity: 300, unit: 'g', useByAt: '2026-11-26T11:00:00.000Z', useByDate: null },
      limits: [
        { why: 'opened-life', endsAt: '2026-11-26T11:00:00.000Z' },
        { why: 'source-use-by', date: '2026-11-29' },
      ],
      label: { printTime: true, text: 'Use by 2026-11-26 11:00' },
      consumedG: { numerator: '300', denominator: '1' },
      unexplainedG: { numerator: '0', denominator: '1' },
      mayUse: true,
    });
    const lot = await lotOf(opened.lot.lotId);
    expect(lot).toMatchObject({ origin: 'converted', massMg: 300_000, allergens: ['gluten-cereals:wheat', 'celery'] });
    expect(lot.useByBasis).toMatchObject({ conversion: 'open', why: 'opened-life' });
    // nobody said where it was: where such food is put, and that is presumed
    expect(opened.lot).toMatchObject({ placeId: world.ckChillerId, placePresumed: true });
    expect(opened.findings).toEqual([]);
    const entry = await kitchen.get('quality', `/v1/entries/${opened.entryId}`);
    expect(entry).toMatchObject({
      kind: 'conversion',
      lines: [{ quantity: 300, to: { placeId: world.ckChillerId } }],
    });
    const label = await service.as('kitchen').get(opened.label.path);
    expect([label.status, label.headers['content-type']]).toEqual([200, 'application/pdf']);
  });

  test('where the pack was, the food is; a pack opened and used later has ended twice, in whatever order that is told', async () => {
    const tell = async (no: string, order: readonly number[]) => {
      const facts = [
        () => scan('put-away', no, '10:00', { placeId: world.ckPrepId }),
        () => convert('open', { siteId: world.ckId, code: `${code}/${no}` }),
        () => scan('use', no, '12:00', { placeId: undefined }),
      ];
      const told: Json[] = [];
      for (const one of order) told[one] = await facts[one]?.();
      const findings = await kitchen.get('quality', '/v1/findings?kind=ended-twice&limit=500');
      const ended = findings.items.filter((one: Json) => one.detail.code === `${code}/${no}`);
      const [, opened, used] = told;
      return {
        ended: ended.map((one: Json) => [one.detail.scan, one.detail.factId === used.scanId]),
        opened: await where(opened.lot.lotId),
        servings: (await kitchen.get('quality', `/v1/lots/${opened.lot.lotId}/servings`)).servings,
      };
    };
    const before = await where(packs);
    const orders = [
      [0, 1, 2],
      [0, 2, 1],
      [1, 0, 2],
      [1, 2, 0],
      [2, 0, 1],
      [2, 1, 0],
    ];
    for (const order of orders) {
      expect(await tell(serial(), order), order.join()).toEqual({
        ended: [['use', true]],
        opened: { PREP: 300 },
        servings: [],
      });
    }
    const after = await where(packs);
    expect(after.consumed).toBe((before.consumed ?? 0) + orders.length);
    expect(after.served ?? 0).toBe(before.served ?? 0);
    expect(after.PREP ?? 0).toBe(before.PREP ?? 0);
  });

  test('used first and opened later: the opening is the finding, and the food is there all the same', async () => {
    const no = serial();
    await scan('use', no, '10:00');
    const opened = await beep('open', no);
    expect(kindsOf(opened)).toEqual(['ended-twice']);
    expect(await where(opened.lot.lotId)).toEqual({ 'CHILL-1': 300 });
    const second = await beep('open', no, { occurredAt: at('11:30') });
    expect(kindsOf(second)).toEqual(['ended-twice']);
  });

  test('two tablets open one pack at once: one of them ended it, the other is a finding', async () => {
    const no = serial();
    const before = await where(packs);
    await Promise.all([beep('open', no), beep('open', no)]);
    const findings = await kitchen.get('quality', '/v1/findings?kind=ended-twice&limit=500');
    expect(findings.items.filter((one: Json) => one.detail.code === `${code}/${no}`)).toHaveLength(1);
    expect((await where(packs)).consumed).toBe((before.consumed ?? 0) + 1);
  });

  test('more than is there posts, with a shortfall; the same request again answers the same', async () => {
    const shin = await kitchen.shin(500);
    const request = { id: randomUUID(), lotId: shin, placeId: world.ckChillerId, quantity: 800, unit: 'g' };
    const opened = await convert('decant', request);
    expect(opened.findings).toMatchObject([{ kind: 'shortfall', lotId: shin, quantity: 300 }]);
    expect(await where(shin)).toEqual({ 'CHILL-1': -300, consumed: 800 });
    expect(opened.assumed).toContain('No life once opened is set for this item.');
    expect(await convert('decant', request)).toEqual(opened);
    expect(await where(shin)).toEqual({ 'CHILL-1': -300, consumed: 800 });
  });

  test('what was opened stays opened: no second clock by pouring it over', async () => {
    const opened = await beep('open', serial(), { occurredAt: at('06:00') });
    const poured = await bulk('decant', opened.lot.lotId, 200, { occurredAt: at('11:30') });
    expect(poured.lot).toMatchObject({ quantity: 200, unit: 'g', useByAt: '2026-11-26T06:00:00.000Z' });
  });
});

describe('holds', () => {
  test('a hold on what it was made from reaches the opened food, placed before or after; lifting it frees both', async () => {
    const mine = await somePacks(4);
    const mineCode = (await lotOf(mine)).code;
    const open = (no: number) =>
      convert('open', { siteId: world.ckId, code: `${mineCode}/${no}`, placeId: world.ckChillerId });
    const early = await open(1);
    expect(early.mayUse).toBe(true);
    const hold = await kitchen.post('quality', '/v1/holds', { kind: 'safety', lotId: mine, note: 'Glass' });
    expect((await lotOf(early.lot.lotId)).holds).toMatchObject([{ kind: 'safety', rootLotId: mine }]);
    const late = await convert('open', { lotId: mine, placeId: world.ckChillerId, occurredAt: at('12:00') });
    expect(late.mayUse).toBe(false);
    expect(late.whyNot).toMatch(/^Do not use, serve or taste it/);
    expect(kindsOf(late)).toEqual(['used-while-held']);
    expect((await lotOf(late.lot.lotId)).holds).toMatchObject([{ kind: 'safety' }]);
    await kitchen.post('quality', `/v1/holds/${hold.holdId}/lift`, { note: 'A button' });
    expect((await lotOf(late.lot.lotId)).holds).toEqual([]);
  });

  test('awaiting release: opening is no finding, serving is blocked', async () => {
    const shin = await kitchen.shin(1_000);
    const { lotId } = await kitchen.stew(shin, 1_000, 900);
    const poured = await bulk('decant', lotId, 400);
    expect(poured).toMatchObject({ findings: [], mayUse: false });
    expect((await lotOf(poured.lot.lotId)).holds).toMatchObject([{ kind: 'awaiting-release', rootLotId: lotId }]);
  });

  test('no way out of quarantine or a hold for one place through a tin opener', async () => {
    const shin = await kitchen.shin(1_000, { placeId: world.ckQuarantineId });
    const aside = await convert('open', {
      lotId: shin,
      placeId: world.ckQuarantineId,
      quantity: 100,
      toPlaceId: world.ckChillerId,
    });
    expect(kindsOf(aside)).toEqual(['used-from-quarantine']);
    expect(aside.mayUse).toBe(false);
    expect((await lotOf(aside.lot.lotId)).holds).toMatchObject([{ kind: 'quality' }]);
    const other = await kitchen.shin(1_000);
    await kitchen.post('quality', '/v1/holds', {
      kind: 'quality',
      lotId: other,
      siteId: world.ckId,
      note: 'Odd smell',
    });
    const held = await bulk('open', other, 100, { occurredAt: at('12:00') });
    expect(kindsOf(held)).toEqual(['used-while-held']);
    expect((await lotOf(held.lot.lotId)).holds).toMatchObject([{ kind: 'quality', rootLotId: held.lot.lotId }]);
  });
});

describe('portions', () => {
  test('a pack is as many portions as its item says, with the allergens of both', async () => {
    const cut = await beep('portion', serial(), { toItemId: portionId });
    expect(cut.lot).toMatchObject({ itemId: portionId, quantity: 2, unit: 'piece', serialised: false });
    expect((await lotOf(cut.lot.lotId)).allergens).toEqual(['gluten-cereals:wheat', 'celery', 'mustard']);
  });

  test('bulk has to divide, or somebody counts', async () => {
    const opened = await beep('open', serial());
    const portion = (fields: object, status = 201) =>
      bulk('portion', opened.lot.lotId, 200, { toItemId: portionId, ...fields }, status);
    expect(await portion({}, 422)).toMatchObject({ code: 'portions-do-not-divide' });
    const counted = await portion({ toQuantity: 1, toUnit: 'piece' });
    expect([counted.consumedG, counted.outputG, counted.unexplainedG].map((g: Json) => g.numerator)).toEqual([
      '200',
      '150',
      '50',
    ]);
    expect(await bulk('portion', opened.lot.lotId, 100, {}, 422)).toMatchObject({ code: 'rule-broken' });
    expect(await portion({ toUnit: 'g', toQuantity: 1 }, 422)).toMatchObject({ code: 'unit-mismatch' });
  });
});

describe('heating', () => {
  test('regenerated: two hours, served or discarded, nothing else', async () => {
    const hot = await beep('regenerate', serial(), { coreTemperatureC: 78.5 });
    expect(hot.lot).toMatchObject({ quantity: 300, unit: 'g', useByAt: '2026-11-25T13:00:00.000Z' });
    const entry = await kitchen.get('quality', `/v1/entries/${hot.entryId}`);
    expect(entry.note).toMatchObject({ conversion: 'regenerate', coreTemperatureC: 78.5 });
    const { lotId } = hot.lot;
    const line = { lotId, placeId: world.ckChillerId, quantity: 100, unit: 'g' };
    const plan = await kitchen.post('kitchen', '/v1/dispatches', {
      fromSiteId: world.ckId,
      toSiteId: world.w3Id,
      lines: [line],
    });
    const departure = `/v1/dispatches/${plan.dispatchId}/departure`;
    expect(await kitchen.post('kitchen', departure, {}, 409)).toMatchObject({ code: 'regenerated-stays' });
    const back = { direction: 'from-service', ...line, occurredAt: at('11:50'), reason: 'Too many plates' };
    expect(kindsOf(await kitchen.post('kitchen', '/v1/returns', back))).toEqual([
      'regenerated-returned',
      'returned-not-served',
    ]);
    const frozen = await bulk('freeze', lotId, 100, { occurredAt: at('11:55') });
    expect(kindsOf(frozen)).toEqual(['regenerated-frozen']);
  });

  test('raw food cooked through at the site is ready to eat', async () => {
    const shin = await kitchen.shin(1_000, { useByDate: '2026-11-25' });
    await change(`/v1/items/${world.beefShinId}`, { regeneratedLifeH: 4 });
    const cooked = await bulk('cook', shin, 1_000, { coreTemperatureC: 76, toQuantity: 850 });
    expect(cooked.lot).toMatchObject({ handling: 'ready-to-eat', useByAt: '2026-11-25T15:00:00.000Z' });
    expect([cooked.outputG.numerator, cooked.unexplainedG.numerator]).toEqual(['850', '150']);
    const raw = await bulk('cook', shin, 1_000, { toQuantity: 850 });
    expect(raw.lot).toMatchObject({ handling: 'raw' });
    expect(kindsOf(raw)).toEqual(['shortfall']);
  });
});

describe('freezing and thawing', () => {
  afterAll(() => service.clock.set(NOON_MS));

  test('frozen three days before its date, thawed twenty days later: three days, the label says so', async () => {
    service.clock.set(Date.parse('2026-11-26T16:00:00Z'));
    const no = serial();
    const frozen = await beep('freeze', no, { occurredAt: '2026-11-26T15:00:00Z' });
    expect(frozen.lot).toMatchObject({
      itemId: world.beefStewPackId,
      quantity: 1,
      serialised: true,
      placeId: world.ckFreezerId,
      placePresumed: true,
      useByDate: '2027-02-24',
    });
    expect(frozen.findings).toEqual([]);
    expect((await kitchen.get('quality', `/v1/entries/${frozen.entryId}`)).note.presumed).toEqual([
      { lotId: frozen.lot.lotId, placeId: world.ckFreezerId },
    ]);
    service.clock.set(Date.parse('2026-12-16T08:00:00Z'));
    const thawed = await convert('thaw', {
      siteId: world.ckId,
      code: `${frozen.lot.code}/1`,
      placeId: world.ckFreezerId,
      occurredAt: '2026-12-16T07:00:00Z',
    });
    expect(thawed.lot).toMatchObject({ placeId: world.ckChillerId, serialised: true, useByDate: '2026-12-19' });
    expect(thawed.limits.map((one: Json) => one.why)).toEqual(['days-left', 'thawed-life', 'source-use-by']);
    const again = await convert('freeze', {
      siteId: world.ckId,
      code: `${thawed.lot.code}/1`,
      placeId: world.ckChillerId,
      occurredAt: '2026-12-16T07:30:00Z',
    });
    expect(kindsOf(again)).toEqual(['refrozen']);
    expect(again.mayUse).toBe(false);
    const holds = await kitchen.get('quality', `/v1/holds?lotId=${again.lot.lotId}`);
    expect(holds.items).toMatchObject([{ kind: 'quality', propagates: true }]);
    expect(holds.items[0].note).toMatch(/had been thawed and was frozen again without cooking/);
  });

  test('a date that came forward while it was frozen counts when it is thawed', async () => {
    service.clock.set(Date.parse('2026-11-26T16:00:00Z'));
    const mine = await somePacks(2);
    const frozen = await bulk('freeze', mine, 1, { occurredAt: '2026-11-26T15:00:00Z' });
    const useBy = { useByDate: '2026-11-27', reason: 'The chiller was warm in the night' };
    await kitchen.post('quality', `/v1/lots/${mine}/use-by-changes`, useBy);
    const thawed = await convert('thaw', {
      lotId: frozen.lot.lotId,
      placeId: world.ckFreezerId,
      occurredAt: '2026-11-26T15:30:00Z',
    });
    expect(thawed.lot.useByDate).toBe('2026-11-27');
  });

  test('frozen past its date: a finding, and held', async () => {
    service.clock.set(Date.parse('2026-11-30T10:00:00Z'));
    const frozen = await beep('freeze', serial(), { occurredAt: '2026-11-30T09:00:00Z' });
    expect(kindsOf(frozen)).toEqual(['past-use-by']);
    expect(frozen.mayUse).toBe(false);
    expect((await lotOf(frozen.lot.lotId)).holds).toMatchObject([{ kind: 'quality' }]);
  });
});

describe('undoing', () => {
  test.each(['what came of it', 'the end of the pack'])('by %s, all of it goes', async (which) => {
    const no = serial();
    const opened = await beep('open', no);
    const late = await scan('use', no, '12:00');
    expect(late.findings).toMatchObject([{ kind: 'ended-twice' }]);
    const history = await kitchen.get('quality', `/v1/lots/${packs}/history?limit=500`);
    const end = history.items.filter((one: Json) => one.kind === 'conversion').pop().entryId;
    const entryId = which === 'what came of it' ? opened.entryId : end;
    const before = await where(packs);
    await kitchen.post('quality', '/v1/reversals', { entryId, reason: 'Wrong pack' });
    expect(await where(opened.lot.lotId)).toEqual({});
    const after = await where(packs);
    expect([after.consumed, after.served]).toEqual([(before.consumed ?? 0) - 1, (before.served ?? 0) + 1]);
    const trace = await kitchen.get('quality', `/v1/lots/${packs}/trace`);
    expect(trace.lots.map((one: Json) => one.lotId)).not.toContain(opened.lot.lotId);
    const open = await kitchen.get('quality', '/v1/findings?kind=ended-twice&limit=500');
    expect(open.items.filter((one: Json) => one.detail.code === `${code}/${no}`)).toEqual([]);
    for (const id of [opened.entryId, end]) {
      expect(await kitchen.post('quality', '/v1/reversals', { entryId: id, reason: 'Again' }, 409)).toMatchObject({
        code: 'already-reversed',
      });
    }
  });

  test('of counted food: one entry, both sides; and its findings', async () => {
    const shin = await kitchen.shin(500, { useByDate: '2026-11-24' });
    const opened = await bulk('open', shin, 500);
    expect(kindsOf(opened)).toEqual(['past-use-by']);
    await kitchen.post('quality', '/v1/reversals', { entryId: opened.entryId, reason: 'Wrong tray' });
    expect(await where(shin)).toEqual({ 'CHILL-1': 500 });
    const open = await kitchen.get('quality', '/v1/findings?kind=past-use-by&limit=500');
    expect(open.items.map((one: Json) => one.detail.factId)).not.toContain(opened.conversionId);
  });
});

describe('samples and servings', () => {
  test('a retained sample is never served; one for the laboratory waits for it; both are traced and have a day to go', async () => {
    const shin = await kitchen.shin(1_000);
    const kept = await bulk('sample', shin, 100, { disposeAfter: '2026-12-02' });
    expect(kept.lot).toMatchObject({ useByDate: '2026-12-02' });
    expect(kept).toMatchObject({ findings: [], mayUse: false });
    expect(kept.label.text).toBe('Sample, not for serving. Dispose of after 2026-12-02');
    const sent = await bulk('sample', shin, 100, { disposeAfter: '2026-12-02', sampleFor: 'laboratory' });
    const kinds = async (lotId: string) => (await lotOf(lotId)).holds.map((hold: Json) => hold.kind);
    expect(await kinds(kept.lot.lotId)).toEqual(['quality']);
    expect(await kinds(sent.lot.lotId)).toEqual(['awaiting-laboratory']);
    expect(await kinds(shin)).toEqual([]);
    const use = {
      lotId: sent.lot.lotId,
      placeId: world.ckChillerId,
      quantity: 100,
      unit: 'g',
      occurredAt: at('12:00'),
    };
    const tested = await kitchen.post('kitchen', '/v1/uses', { ...use, purpose: 'laboratory' });
    expect(tested.findings).toEqual([]);
    // 25 November and seven days: common practice, and said to be assumed
    const usual = await bulk('sample', shin, 100);
    expect(usual.lot.useByDate).toBe('2026-12-02');
    expect(usual.assumed[0]).toContain('7 days (common-practice)');
    await bulk('open', shin, 100, { disposeAfter: '2026-12-02' }, 422);
  });

  test('who could have eaten it: every use of what was made from it, with what was said of it', async () => {
    const shin = await kitchen.shin(40_000);
    const { batchId, lotId } = await kitchen.stew(shin, 40_000, 3_400);
    const mine = await kitchen.pack(batchId, lotId, 3_000, 10);
    await kitchen.release(batchId);
    const mineCode = (await lotOf(mine)).code;
    const opened = await convert('open', { siteId: world.ckId, code: `${mineCode}/1`, placeId: world.ckChillerId });
    const use = (id: string, quantity: number, unit: string, fields: object = {}) =>
      kitchen.post('kitchen', '/v1/uses', {
        lotId: id,
        placeId: world.ckChillerId,
        quantity,
        unit,
        occurredAt: at('11:45'),
        ...fields,
      });
    const lunch = await use(opened.lot.lotId, 250, 'g', {
      servicePoint: 'Bay A',
      meal: 'lunch',
      coreTemperatureC: 71.2,
      portions: 2,
    });
    const given = await use(mine, 2, 'piece', { purpose: 'donation', recipient: 'The shelter' });
    const wrong = await use(mine, 1, 'piece');
    await kitchen.post('quality', '/v1/reversals', { entryId: wrong.entryId, reason: 'Wrong pack' });
    const back = { direction: 'from-service', lotId: mine, placeId: world.ckChillerId, quantity: 1, unit: 'piece' };
    await kitchen.post('kitchen', '/v1/returns', { ...back, occurredAt: at('11:50'), reason: 'Unopened' });
    const scanned = { id: randomUUID(), kind: 'use', code: `${mineCode}/2`, occurredAt: at('12:00'), meal: 'lunch' };
    const staff = { ...scanned, placeId: world.ckChillerId, purpose: 'staff-meal', coreTemperatureC: 70 };
    await service.as('kitchen').post('/v1/scans', { siteId: world.ckId, scans: [staff] });
    const answer = await kitchen.get('quality', `/v1/lots/${shin}/servings`);
    expect(answer.lotCount).toBe(4);
    const byEntry = new Map(answer.servings.map((one: Json) => [one.entryId, one]));
    expect(byEntry.get(lunch.entryId)).toMatchObject({
      lotId: opened.lot.lotId,
      siteId: world.ckId,
      servicePoint: 'Bay A',
      meal: 'lunch',
      purpose: 'service',
      quantity: 250,
      unit: 'g',
      portions: 2,
      coreTemperatureC: 71.2,
    });
    expect(byEntry.get(given.entryId)).toMatchObject({ quantity: 2, purpose: 'donation', recipient: 'The shelter' });
    expect(byEntry.get(scanned.id)).toMatchObject({ quantity: 1, purpose: 'staff-meal', coreTemperatureC: 70 });
    expect(byEntry.size).toBe(3);
    const sums = new Map(answer.lots.map((one: Json) => [one.lotId, [one.served, one.returned]]));
    expect(Object.fromEntries(sums)).toEqual({ [opened.lot.lotId]: [250, 0], [mine]: [3, 1] });
    const trace = await kitchen.get('quality', `/v1/lots/${mine}/trace`);
    expect(trace.edges).toMatchObject([
      { kind: 'conversion', processCode: 'open', consumedQuantity: 1, apportioned: { rounded: 1 } },
    ]);
    expect((await service.as('quality').get(`/v1/lots/${shin}/trace?format=svg`)).status).toBe(200);
    const barren = await kitchen.get('quality', `/v1/lots/${await kitchen.shin(10)}/servings`);
    expect(barren).toMatchObject({ lotCount: 1, servings: [], lots: [] });
  });
});

describe('shape and identity', () => {
  test.each<[string, () => object, string]>([
    ['neither code nor lot', () => ({ siteId: world.ckId }), 'rule-broken'],
    ['both', () => ({ siteId: world.ckId, code, lotId: packs }), 'rule-broken'],
    ['no site and no place', () => ({ code }), 'rule-broken'],
    ['an unknown code', () => ({ siteId: world.ckId, code: 'NOBODY-KNOWS' }), 'not-found'],
    ['a serial that the lot cannot have', () => ({ siteId: world.ckId, code: `${code}/101` }), 'serials-do-not-fit'],
    ['two packs of one serial', () => ({ siteId: world.ckId, code: `${code}/9`, quantity: 2 }), 'rule-broken'],
    ['another unit', () => ({ siteId: world.ckId, code, unit: 'g' }), 'unit-mismatch'],
    ['a place of another site', () => ({ siteId: world.ckId, code, toPlaceId: world.w3ChillerId }), 'not-found'],
    ['a code that is taken', () => ({ siteId: world.ckId, code, toLotCode: code }), 'code-taken'],
    ['serials of grams', () => ({ siteId: world.ckId, code, serialised: true }), 'rule-broken'],
  ])('%s is refused', async (_what, fields, refusal) => {
    const answer = await service.as('kitchen').post('/v1/conversions', {
      id: randomUUID(),
      kind: 'open',
      occurredAt: at('11:00'),
      ...fields(),
    });
    expect(answer.body.code).toBe(refusal);
  });

  test('bulk says how much', async () => {
    const lotId = await kitchen.shin(100);
    expect(await convert('open', { lotId, placeId: world.ckChillerId }, 422)).toMatchObject({ code: 'rule-broken' });
  });
});
