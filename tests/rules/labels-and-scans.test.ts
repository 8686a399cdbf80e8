/**
 * Labels and scans from outside: the pixels of a printed label are read by zxing, and what it read is taken apart by the small reader below,
 * written from the GS1 General Specifications (predefined lengths, FNC1 as GS, check digit, YYMMDD, Digital Link path and query). What a day
 * of scans comes to is reckoned pack by pack from what was done, before any scan is sent.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { prepareReader, readCodes } from '../support/barcodes.ts';
import type { Json } from '../support/kitchen.ts';
import { startKit, type Kit } from './kit.ts';

const GS = '\u001d';
/** Weights 3 and 1 from the right of the body (General Specifications 7.9). */
function withCheckDigit(body: string): string {
  const sum = [...body].reverse().reduce((total, digit, place) => total + Number(digit) * (place % 2 === 0 ? 3 : 1), 0);
  return `${body}${(10 - (sum % 10)) % 10}`;
}
/** 952: GS1's range for demonstrations */
const GTIN = withCheckDigit('0952987650001');
/** Indicator 9: a trade item of variable measure, which has to tell its weight beside the number. */
const WEIGHED_GTIN = withCheckDigit('9952987650002');

/** Length of AI and value where FNC1 does not follow, by the first two digits of the AI (General Specifications, predefined lengths). */
function predefined(start: string): number | undefined {
  if (start === '00') return 20;
  if (['01', '02', '03'].includes(start)) return 16;
  if (/^1[1-9]$/.test(start)) return 8;
  if (start === '20') return 4;
  if (/^3[1-6]$/.test(start)) return 10;
  return start === '41' ? 16 : undefined;
}
const aiLength = (start: string): number =>
  /^(0[0-3]|1[0-7]|2[0-2]|30|37)$/.test(start) ? 2 : /^3|^7/.test(start) ? 4 : 3;

/** AI and value in the order of the symbol; throws on what a strict reader refuses. */
function readElements(text: string): [string, string][] {
  const found: [string, string][] = [];
  let left = text;
  while (left !== '') {
    const start = left.slice(0, 2);
    const length = predefined(start);
    const gs = left.indexOf(GS);
    const end = length ?? (gs === -1 ? left.length : gs);
    if (length !== undefined && (left.length < length || left.slice(0, length).includes(GS))) throw new Error(text);
    found.push([left.slice(0, aiLength(start)), left.slice(aiLength(start), end)]);
    left = left.slice(end);
    // A separator where none belongs, or at the end, is tolerated by readers; we do not print one.
    if (left.startsWith(GS)) {
      if (length !== undefined || left.length === 1) throw new Error(`superfluous separator in ${text}`);
      left = left.slice(1);
    }
  }
  for (const [ai, value] of found) {
    const keyed = ['00', '01', '02'].includes(ai);
    if (keyed && withCheckDigit(value.slice(0, -1)) !== value) throw new Error(`check digit of ${value}`);
  }
  return found;
}

function readLink(text: string): [string, string][] {
  const url = new URL(text);
  const parts = url.pathname.slice(1).split('/');
  const pairs: [string, string][] = [];
  for (let i = 0; i < parts.length; i += 2) pairs.push([parts[i] ?? '', decodeURIComponent(parts[i + 1] ?? '')]);
  // Qualifiers of a GTIN come as 22, 10, 21; all else stands in the query.
  const order = ['01', '22', '10', '21'];
  expect(pairs.map(([ai]) => ai)).toEqual(order.filter((ai) => pairs.some(([one]) => one === ai)));
  return [...pairs, ...url.searchParams.entries()];
}

/** A small generator of its own: a failure names its seed. */
function randomOf(seed: number) {
  let state = seed;
  const next = (below: number): number => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
  const pick = <T>(list: readonly T[]): T => list[next(list.length)] as T;
  const shuffled = <T>(list: readonly T[]): T[] => {
    const left = [...list];
    return list.map(() => left.splice(next(left.length), 1)[0] as T);
  };
  return { next, pick, shuffled };
}
const SEED = Number(process.env.LABELS_SEED ?? Math.floor(Math.random() * 2 ** 31));

const DAY_MS = 86_400_000;
const dateOf = (ms: number): string => new Date(ms).toISOString().slice(0, 10);
const yymmdd = (date: string): string => date.slice(2).replaceAll('-', '');

describe(`labels and scans, seed ${SEED}`, () => {
  const { next, pick, shuffled } = randomOf(SEED);
  let kit: Kit;
  let weighedItemId: string;
  beforeAll(async () => {
    prepareReader();
    kit = await startKit();
    const path = `/v1/items/${kit.world.beefStewPackId}`;
    const item = await kit.service.as('admin').get(path);
    const changed = await kit.service.as('admin').patch(path, { gtin: GTIN }, { 'if-match': item.headers.etag ?? '' });
    expect(changed.status).toBe(200);
    const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
    weighedItemId = await kit.item('STEW-WEIGHED', { gtin: WEIGHED_GTIN, life });
    await kit.post('operations', '/v1/sscc-ranges', { companyPrefix: '952987650', extensionDigit: 3 });
  });
  afterAll(() => kit.stop());
  /** What is no fact has no id. */
  async function tell(role: string, path: string, body: object, status: number): Promise<Json> {
    const answer = await kit.service.as(role).post(path, body);
    expect(answer.status, answer.text).toBe(status);
    return answer.body;
  }

  test('the pixels of a label mean its article, date, weight, pack and lot, the lot last', async () => {
    // Brackets stay out: the lots below are written in brackets too. The rest is character set 82 without the slash.
    const signs = [...'ABCXYZabcxyz0123456789!"&\'*+,-.:;<=>?_'];
    let read = 0;
    for (let day = 0; day < 4; day += 1) {
      const nowMs = kit.service.clock.nowMs() + (1 + next(500)) * DAY_MS;
      kit.service.clock.set(nowMs);
      const { batchId, lotId } = await kit.stew(await kit.shin(40_000), 40_000, 34_000);
      // Five days from the end of cooking, its day the first; a date may be set, only ever earlier.
      const useBy = dateOf(nowMs + pick([4, 3, 2]) * DAY_MS);
      // A letter first: a code of dots alone would be a dot segment in a web address.
      const packLotCode = `L${Array.from({ length: next(20) }, () => pick(signs)).join('')}`;
      const packsId = await kit.pack(batchId, lotId, 6000, 20, { packLotCode, useByDate: useBy });
      const weights = [1 + next(4000), 1 + next(4000)];
      const usedG = (weights[0] ?? 0) + (weights[1] ?? 0);
      const fill = { packItemId: weighedItemId, packMassesG: weights, useByDate: useBy };
      const weighedId = await kit.pack(batchId, lotId, usedG, 2, fill);
      const wanted = [
        { id: packsId, code: packLotCode, serial: String(1 + next(20)), weights: [] as number[] },
        { id: weighedId, code: (await kit.lot(weighedId)).code as string, serial: '1', weights },
      ];
      for (const { id, code, serial, weights: masses } of wanted) {
        for (const symbol of ['gs1datamatrix', 'gs1qrcode']) {
          const layout = pick(['roll-100x60', 'roll-100x50', 'roll-60x40']);
          const query = `layout=${layout}&symbol=${symbol}&dpi=${pick(['203', '300', '600'])}&format=png`;
          const serials = masses.length === 0 ? `&serials=${serial}` : '';
          const label = await kit.service.as('kitchen').get(`/v1/lots/${id}/label?${query}${serials}`);
          expect(label.status, label.text).toBe(200);
          const [found, ...more] = await readCodes(label.raw);
          expect(more).toEqual([]);
          const { text = '', symbology = '' } = found ?? {};
          const matrix = symbol === 'gs1datamatrix';
          const elements = matrix ? readElements(text) : readLink(text);
          if (matrix) expect([symbology, elements.at(-1)?.[0]]).toEqual([']d2', '10']);
          const gtin = masses.length === 0 ? GTIN : WEIGHED_GTIN;
          const said = new Map(elements);
          expect(said.size).toBe(elements.length);
          expect([said.get('01'), said.get('17'), said.get('10')], query).toEqual([gtin, yymmdd(useBy), code]);
          if (masses.length === 0) expect([said.get('21'), said.get('3103')]).toEqual([serial, undefined]);
          else
            expect(
              masses.map((grams) => String(grams).padStart(6, '0')),
              text,
            ).toContain(said.get('3103'));
          // And the service reads what was printed as that very lot.
          const scan = { scan: symbology + text, readAt: kit.now(), siteId: kit.world.ckId };
          const heard = await tell('kitchen', '/v1/scan-interpretations', scan, 200);
          expect(heard).toMatchObject({
            gtin,
            lotCode: code,
            useBy,
            matches: { lots: [{ lotId: id }] },
            warnings: [],
          });
          read += 1;
        }
      }
    }
    console.log(`labels read from their pixels: ${read}`);
  });

  test('scans of two devices, shuffled, split, twice and in any form, come to what was done', async () => {
    for (let round = 0; round < 2; round += 1) {
      const packs = 16;
      const { packsId } = await kit.packs(packs, { packLotCode: `DAY-${SEED % 1000}-${round}` });
      const lot = await kit.lot(packsId);
      const code = lot.code as string;
      const date = yymmdd(lot.printedUseByDate as string);
      const forms = (serial: string): string[] => [
        `${code}/${serial}`,
        `]d201${GTIN}17${date}21${serial}${GS}10${code}`,
        `01${GTIN}10${code}${GS}21${serial}`,
        `(01)${GTIN}(10)${code}(21)${serial}`,
        `]Q1https://id.gs1.org/01/${GTIN}/10/${code}/21/${serial}?17=${date}`,
      ];
      const made = await kit.post('operations', '/v1/crates', { siteId: kit.world.ckId, count: 1 });
      const sscc = made.items[0].sscc as string;
      expect(withCheckDigit(sscc.slice(0, 17))).toBe(sscc);
      const all = Array.from({ length: packs }, (_, i) => String(i + 1));
      const line = (serials: string[], more = {}) => ({
        ...{ lotId: packsId, placeId: kit.world.ckChillerId, unit: 'piece', quantity: serials.length, serials },
        ...more,
      });
      const lines = [line(all.slice(0, 6), { crateCode: sscc }), line(all.slice(6))];
      const way = { fromSiteId: kit.world.ckId, toSiteId: kit.world.w3Id, lines };
      const { dispatchId } = await kit.post('kitchen', '/v1/dispatches', way);
      await kit.post('kitchen', `/v1/dispatches/${dispatchId}/departure`, {});

      // What was done: the crate came whole; of loose packs some never came, some came damaged; some were put away, some eaten or thrown away.
      const startMs = kit.service.clock.nowMs() + 60_000;
      const facts: { kind: string; what: string; atMs: number; more: object }[] = [];
      const where = { receiving: 0, chiller: 0, quarantine: 0, gone: 0, road: 0 };
      facts.push({ kind: 'arrival', what: sscc, atMs: startMs, more: {} });
      all.forEach((serial, i) => {
        const fate =
          i < 6 ? pick(['came', 'put', 'used', 'thrown']) : pick(['road', 'damaged', 'came', 'put', 'used', 'thrown']);
        const add = (kind: string, minutes: number, more = {}) =>
          facts.push({ kind, what: serial, atMs: startMs + minutes * 60_000, more });
        if (fate === 'road') return void (where.road += 1);
        if (fate === 'damaged') add('arrival', 1, { condition: 'damaged' });
        else if (i >= 6) add('arrival', 1);
        if (['put', 'used', 'thrown'].includes(fate)) add('put-away', 10, { placeId: kit.world.w3ChillerId });
        if (fate === 'used') add('use', 30);
        if (fate === 'thrown') add('discard', 30, { reason: 'over-production', destination: 'anaerobic-digestion' });
        const at = { damaged: 'quarantine', came: 'receiving', put: 'chiller', used: 'gone', thrown: 'gone' } as const;
        where[at[fate as keyof typeof at]] += 1;
      });
      kit.after(120);
      const crateForms = [sscc, `]C100${sscc}`, `(00)${sscc}`, `https://id.gs1.org/00/${sscc}`];
      const beep = ({ kind, what, atMs, more }: (typeof facts)[number], device: number) => ({
        ...{ id: randomUUID(), kind, code: pick(what === sscc ? crateForms : forms(what)), ...more },
        occurredAt: new Date(atMs + device * 45_000).toISOString(),
      });
      // The first device saw all; the second saw half of it again, a little later by its clock. A third of the calls are sent twice.
      const first = facts.map((fact) => beep(fact, 0));
      const second = facts.filter(() => next(2) === 0).map((fact) => beep(fact, 1));
      const calls: object[][] = [];
      for (const scan of shuffled([...first, ...second])) {
        if (calls.length === 0 || next(6) === 0) calls.push([]);
        calls.at(-1)?.push(scan);
      }
      const send = (scans: object[]) => tell('receiver', '/v1/scans', { siteId: kit.world.w3Id, scans }, 207);
      for (const scans of calls) {
        const answer = await send(scans);
        expect(answer.refused, JSON.stringify(answer.results.map((one: Json) => one.problem?.detail))).toBe(0);
        if (next(3) > 0) continue;
        const again = await send(scans);
        const told = (one: Json) => [one.id, one.status, one.serial];
        expect(again.results.map(told)).toEqual(answer.results.map(told));
      }
      const { lots } = await kit.get('receiver', `/v1/dispatches/${dispatchId}`);
      const arrived = packs - where.road - where.quarantine;
      const figures = { sent: packs, accepted: arrived, setAside: where.quarantine, inTransit: where.road };
      expect(lots).toMatchObject([{ lotId: packsId, ...figures }]);
      const { w3ReceivingId, w3ChillerId, w3QuarantineId } = kit.world;
      const places = [w3ReceivingId, w3ChillerId, w3QuarantineId];
      const stands = await Promise.all(places.map((placeId) => kit.have(packsId, placeId)));
      expect(stands).toEqual([where.receiving, where.chiller, where.quarantine]);
    }
  });
});
