/**
 * One pack, many symbols. Symbols are written here by hand after the GS1 General Specifications (element strings, FNC1 as GS, Digital Link
 * paths); 952 is GS1's range for demonstrations. What a day of scans must come to is counted by hand below.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { identifyScans } from '../../../src/features/scanning/index.ts';
import { randomIds } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const GS = '\u001d';
/** check digits by hand: 77 → 3 and 25 → 5 */
const GTIN = '09521234543213';
const OTHER_GTIN = '09520000000011';
const at = (time: string) => `2026-11-25T${time}:00Z`;

/** Weights 3 and 1 from the right (General Specifications 7.9). */
function ssccOf(serial: number): string {
  const body = `09521234${String(serial).padStart(9, '0')}`;
  const sum = [...body].reverse().reduce((total, digit, place) => total + Number(digit) * (place % 2 === 0 ? 3 : 1), 0);
  return `${body}${(10 - (sum % 10)) % 10}`;
}

/** A small generator of its own, so that a failure can be had again. */
function randomOf(seed: number) {
  let state = seed;
  const next = (below: number): number => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
  const shuffled = <T>(list: readonly T[]): T[] => {
    const left = [...list];
    return list.map(() => left.splice(next(left.length), 1)[0] as T);
  };
  return { next, shuffled };
}

describe('scans in every form', () => {
  let service: TestService;
  let world: World;
  let kitchen: Kitchen;
  let packs: string;
  let code: string;
  let useBy: string;
  beforeAll(async () => {
    service = await startService();
    world = await buildWorld(service);
    kitchen = kitchenOf(service, world);
    const path = `/v1/items/${world.beefStewPackId}`;
    const item = await service.as('admin').get(path);
    const changed = await service.as('admin').patch(path, { gtin: GTIN }, { 'if-match': item.headers.etag ?? '' });
    expect(changed.status).toBe(200);
    const { batchId, lotId } = await kitchen.stew(await kitchen.shin(40_000), 40_000, 34_000);
    packs = await kitchen.pack(batchId, lotId, 30_000, 100);
    const lot = await kitchen.get('kitchen', `/v1/lots/${packs}`);
    code = lot.code as string;
    useBy = lot.printedUseByDate as string;
    await kitchen.release(batchId);
  });
  afterAll(() => service.stop());

  const yymmdd = () => useBy.slice(2).replaceAll('-', '');
  const forms = (serial: string): string[] => [
    `${code}/${serial}`,
    `]d1${code}/${serial}`,
    `]d201${GTIN}17${yymmdd()}21${serial}${GS}10${code}`,
    `01${GTIN}10${code}${GS}21${serial}`,
    `(01)${GTIN}(17)${yymmdd()}(10)${code}(21)${serial}`,
    `https://id.gs1.org/01/${GTIN}/10/${code}/21/${serial}?17=${yymmdd()}`,
    `]Q1https://labels.example/01/${GTIN}/10/${code}/21/${serial}`,
  ];
  const crateForms = (sscc: string) => [
    sscc,
    `00${sscc}`,
    `]C100${sscc}`,
    `(00)${sscc}`,
    `https://id.gs1.org/00/${sscc}`,
  ];
  const interpret = (scan: string, more: object = {}) =>
    service
      .as('receiver', world.w3Id)
      .post('/v1/scan-interpretations', { scan, readAt: at('11:00'), siteId: world.w3Id, ...more });
  async function scans(list: object[], role = 'receiver'): Promise<Json[]> {
    const answer = await service.as(role, world.w3Id).post('/v1/scans', { siteId: world.w3Id, scans: list });
    if (answer.status !== 207) throw new Error(answer.text);
    return answer.body.results as Json[];
  }
  const scan = (kind: string, read: string, time: string, more: object = {}) => ({
    id: randomUUID(),
    kind,
    code: read,
    occurredAt: at(time),
    ...more,
  });
  async function send(lines: { serials: string[]; crateCode?: string }[]): Promise<string> {
    const plan = await kitchen.post('kitchen', '/v1/dispatches', {
      fromSiteId: world.ckId,
      toSiteId: world.w3Id,
      lines: lines.map((line) => ({
        lotId: packs,
        placeId: world.ckChillerId,
        quantity: line.serials.length,
        unit: 'piece',
        ...line,
      })),
    });
    await kitchen.post('driver', `/v1/dispatches/${plan.dispatchId}/departure`, {});
    return plan.dispatchId as string;
  }

  test('each form is read as the same pack, and says whether it may be used', async () => {
    for (const form of forms('7')) {
      const { status, body } = await interpret(form);
      expect(status, form).toBe(200);
      expect(body, form).toMatchObject({ lotCode: code, serial: '7', warnings: [], mayUse: true, whyNot: null });
      expect(body.matches.lots, form).toMatchObject([{ lotId: packs, how: 'lot-code', useBy }]);
    }
    // what readers that act as a keyboard send behind a code is not the label's
    for (const end of ['\r', '\n', '\r\n', '\t']) {
      expect((await interpret(`${code}/7${end}`)).body, JSON.stringify(end)).toMatchObject({
        lotCode: code,
        serial: '7',
      });
      const [heard] = await scans([scan('use', `NOT-YET-1${end}`, '11:00')]);
      expect(heard, JSON.stringify(end)).toMatchObject({ status: 'awaiting-identity', whyNot: null });
      expect((await service.as('kitchen', world.w3Id).get(heard?.stateHref as string)).body.code).toBe('NOT-YET-1');
    }
    const { body } = await interpret(`]d201${GTIN}17${yymmdd()}310300030010${code}`);
    expect(body).toMatchObject({
      form: 'element-string',
      symbologyIdentifier: ']d2',
      gtin: GTIN,
      useBy,
      netWeightG: 300,
    });
    expect(body.matches.item).toMatchObject({ itemId: world.beefStewPackId });
  });

  test('a separator that is missing behind the lot is found by looking the lot up', async () => {
    const { body } = await interpret(`01${GTIN}10${code}217`);
    expect(body).toMatchObject({ lotCode: code, serial: '7', mayUse: true });
    expect(body.warnings.map((one: Json) => one.code)).toEqual(['separator-missing']);
  });

  test('what differs from the books is said in words; what cannot be read says where', async () => {
    const codes = async (text: string) =>
      ((await interpret(text)).body.warnings as Json[]).map((one) => one.code as string);
    expect(await codes(`01${GTIN}1726120110${code}`)).toContain('use-by-differs');
    expect(await codes(`01${GTIN}21101${GS}10${code}`)).toEqual(['serial-outside']);
    expect(await codes(`01${OTHER_GTIN}10${code}`)).toEqual(['article-differs', 'article-unknown']);
    expect(await codes('NOBODY-KNOWS')).toEqual(['lot-unknown']);
    expect((await interpret(`01${OTHER_GTIN}10${code}`)).body.mayUse).toBeNull();
    const refused = async (text: string) => {
      const answer = await interpret(text);
      expect(answer.status, JSON.stringify(text.slice(0, 40))).toBe(422);
      return answer.body;
    };
    // the value with the wrong check digit begins behind ]d201
    expect(await refused(']d20109521234543214')).toMatchObject({ code: 'scan-unreadable', position: 5 });
    expect((await refused('A'.repeat(10_240))).code).toBe('scan-unreadable');
    expect(await refused('LOT 7')).toMatchObject({ position: 3 });
    expect(await refused('LOT%7')).toMatchObject({ position: 3 });
    expect(await refused('AB\u0000C')).toMatchObject({ position: 2 });
    expect((await interpret('x', { siteId: world.ckId })).status).toBe(404);
  });

  test('one pack scanned in every form is one pack; a broken GS1 symbol is refused with its position', async () => {
    await send([{ serials: ['1'] }]);
    const results = await scans(forms('1').map((form, minute) => scan('arrival', form, `07:0${minute}`)));
    expect(results.map((one) => one.status)).toEqual(['recorded', ...new Array<string>(6).fill('already-recorded')]);
    expect(results.every((one) => one.lotId === packs && one.serial === '1')).toBe(true);
    const state = await kitchen.get('quality', results[2]?.stateHref as string);
    expect(state).toMatchObject({ code: forms('1')[2], lotId: packs, outcome: 'already-recorded' });
    const broken = await scans([scan('arrival', ']d20109521234543214', '07:30')]);
    expect(broken[0]).toMatchObject({
      status: 'refused',
      stateHref: null,
      problem: { code: 'scan-unreadable', position: 5 },
    });
  });

  test("a supplier's symbol names the lot that was bought, before or after it is received", async () => {
    const shin = `/v1/items/${world.beefShinId}`;
    const { headers } = await service.as('admin').get(shin);
    await service.as('admin').patch(shin, { gtin: OTHER_GTIN }, { 'if-match': headers.etag ?? '' });
    const symbol = `]C101${OTHER_GTIN}10${'KILL-77'}${GS}21ABC9`;
    const used = { ...scan('use', symbol, '11:30'), quantity: 500, placeId: world.ckChillerId };
    const early = await service.as('kitchen').post('/v1/scans', { siteId: world.ckId, scans: [used] });
    expect(early.body.results[0]).toMatchObject({ status: 'awaiting-identity' });
    const bought = await kitchen.shin(9_000, { supplierLotCode: 'KILL-77' });
    const parts = { db: service.db, clock: service.clock, ids: randomIds, log: createLog('error') };
    await identifyScans(parts).run({ groupId: service.groupId });
    const now = await kitchen.get('kitchen', `/v1/scans/${used.id}`);
    expect(now).toMatchObject({ code: symbol, lotId: bought, serial: null, quantity: 500, outcome: 'recorded' });
    const seen = await service
      .as('kitchen')
      .post('/v1/scan-interpretations', { scan: symbol, readAt: at('11:40'), siteId: world.ckId });
    expect(seen.body.matches.lots).toMatchObject([{ lotId: bought, how: 'supplier-lot-code' }]);
  });

  test('a pack is opened by its symbol too', async () => {
    await send([{ serials: ['60'] }]);
    await scans([scan('arrival', `${code}/60`, '08:00')]);
    const body = { kind: 'open', code: `]d201${GTIN}2160${GS}10${code}`, siteId: world.w3Id, occurredAt: at('11:45') };
    const opened = await service.as('receiver', world.w3Id).post('/v1/conversions', { id: randomUUID(), ...body });
    expect(opened.status, opened.text).toBe(201);
    const again = await scans([scan('use', `${code}/60`, '11:50')]);
    expect(again[0]?.findings).toMatchObject([{ kind: 'ended-twice' }]);
  });

  async function stock(): Promise<Record<string, number>> {
    const trace = await kitchen.get('operations', `/v1/lots/${packs}/trace?direction=forward`);
    const lot = trace.lots.find((one: Json) => one.lotId === packs);
    expect(lot.balanced).toBe(true);
    const sums: Record<string, number> = {};
    for (const stop of lot.whereNow) {
      const key = (stop.kind === 'place' ? stop.placeId : stop.kind) as string;
      sums[key] = (sums[key] ?? 0) + Number(stop.quantity);
    }
    return sums;
  }

  test.each([1, 2, 3, 4])(
    'shuffled, split, doubled, by two devices in mixed forms: one end (seed %i)',
    async (seed) => {
      const random = randomOf(seed);
      const first = 10 * seed;
      const serial = (n: number) => String(first + n);
      const sscc = ssccOf(seed);
      // ten packs leave: 0 to 6 loose, 7 to 9 in a crate
      const dispatchId = await send([
        { serials: [0, 1, 2, 3, 4, 5, 6].map(serial) },
        { serials: [7, 8, 9].map(serial), crateCode: sscc },
      ]);
      const before = await stock();
      const read = (n: number) => forms(serial(n))[random.next(7)] as string;
      const story = (): object[] => [
        ...[0, 1, 2, 3, 4].map((n) => scan('arrival', read(n), '07:00')),
        scan('arrival', read(5), '07:01', { condition: 'damaged' }),
        // 6 is never seen
        scan('arrival', crateForms(sscc)[random.next(5)] as string, '07:05'),
        ...[0, 1, 2, 7].map((n) => scan('put-away', read(n), '07:20', { placeId: world.w3ChillerId })),
        ...[0, 1, 8].map((n) => scan('use', read(n), '12:00')),
        scan('discard', read(2), '12:30', { reason: 'damaged', destination: 'composting' }),
      ];
      // both devices beep everything, each under names of its own; what one has sent it sends again
      const queue = random.shuffled(
        [...story(), ...story()].flatMap((one) => (random.next(3) === 0 ? [one, one] : [one])),
      );
      const sent = new Set<unknown>();
      while (queue.length > 0) {
        const call = [...new Set(queue.splice(0, 1 + random.next(9)))];
        const results = await scans(call, random.next(2) === 0 ? 'receiver' : 'device');
        for (const [index, one] of call.entries()) {
          expect(results[index]?.status).not.toBe('refused');
          expect(results[index]?.replayed).toBe(sent.has(one));
          sent.add(one);
        }
      }
      const after = await stock();
      const gain = (key: string) => (after[key] ?? 0) - (before[key] ?? 0);
      // by hand: 0, 1 and 8 served; 2 thrown away; 5 set aside; 6 on the road; 7 in the chiller; 3, 4 and 9 where the site receives
      expect({
        served: gain('served'),
        waste: gain('waste'),
        transit: gain('transit'),
        aside: gain(world.w3QuarantineId),
        chiller: gain(world.w3ChillerId),
        receiving: gain(world.w3ReceivingId),
      }).toEqual({ served: 3, waste: 1, transit: -9, aside: 1, chiller: 1, receiving: 3 });
      const dispatch = await kitchen.get('receiver', `/v1/dispatches/${dispatchId}`);
      expect(dispatch.lots).toMatchObject([{ sent: 10, accepted: 8, setAside: 1, inTransit: 1 }]);
    },
  );
});
