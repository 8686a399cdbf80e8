/**
 * The demo's warm van, over HTTP: its cooling was off on the morning round of 25 November. By hand from what the logger said: 5.4 °C at 06:00, 11 °C
 * from 06:15 to 08:00, 6.1 °C at 08:15; between two readings the warmer one holds, so it was too warm from 06:00 to 08:15.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import type { Json } from '../../support/kitchen.ts';
import { demoTemplate } from '../../support/demo.ts';
import { livesOf, type Facts, type Reading } from '../../support/oracle/exposure.ts';
import { startService, type TestService } from '../../support/service.ts';

let service: TestService;
let van: Json;
let chicken: Json;

beforeAll(async () => {
  service = await startService({ template: await demoTemplate() });
  const { items } = await get('/v1/excursions?limit=500');
  expect(items).toHaveLength(1);
  van = await get(`/v1/excursions/${items[0].excursionId}`);
  chicken = await get(`/v1/lots/${exampleId('lot/chicken-d-packs-1')}/shelf-life`);
}, 240_000);
afterAll(() => service.stop());

async function get(path: string): Promise<Json> {
  const answer = await service.as('quality').get(path);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
const partAt = (place: string): Json => chicken.parts.find((part: Json) => part.placeId === exampleId(place));
const limitOf = (part: Json, code: string): Json => part.limits.find((one: Json) => one.code === code);

test('is one excursion of two hours and a quarter, three degrees above 8 °C, with what was on the road', () => {
  expect(van).toMatchObject({
    vehicle: 'Van 1',
    side: 'above',
    state: 'ended',
    certainty: 'proven',
    limitC: 8,
    startAt: '2026-11-25T06:00:00.000Z',
    endAt: '2026-11-25T08:15:00.000Z',
    peakC: 11,
    outsideMs: 135 * 60_000,
    areaCMin: 405,
    unmonitoredMs: 0,
  });
  expect(van.dispatches.map((one: Json) => one.toSiteId).sort()).toEqual(
    ['site/sch', 'site/inn', 'site/care', 'site/hot'].map((name) => exampleId(name)).sort(),
  );
  expect(van.lots.filter((one: Json) => one.lotId === chicken.lotId).map((one: Json) => one.quantity)).toEqual([
    8, 12, 6,
  ]);
});

describe('the chicken of that morning', () => {
  test('is held at the hotel, which works by the cook-chill guidelines: above 10 °C on the road from 06:25 to 07:55', async () => {
    const part = partAt('place/hot-chiller');
    expect(part).toMatchObject({ forbiddenBy: 'cook-chill-10-c', useByAt: '2026-11-25T06:25:00.000Z', remainingH: 0 });
    expect(part.holds.map((one: Json) => one.kind)).toEqual(['safety']);
    // DoH 1989: above 10 °C discard, above 5 °C eat within 12 hours
    expect(limitOf(part, 'cook-chill-10-c').endsAt).toBe('2026-11-25T06:25:00.000Z');
    expect(limitOf(part, 'cook-chill-5-c').endsAt).toBe('2026-11-25T18:25:00.000Z');
    const { items } = await get(`/v1/stock?placeId=${exampleId('place/hot-chiller')}&limit=500`);
    const line = items.find((one: Json) => one.lotId === chicken.lotId);
    expect([line.mayUse, line.useByAt]).toEqual([false, '2026-11-25T06:25:00.000Z']);
    expect(line.whyNot).toBeTruthy();
  });

  test("is shortened by the item's own validated model where nobody confirmed those guidelines, and not held", async () => {
    for (const [place, quantity] of [
      ['place/care-chiller', 8],
      ['place/sch-chiller', 12],
    ] as const) {
      const part = partAt(place);
      // printed: the end of the 28th; one day less
      expect(part, place).toMatchObject({
        quantity,
        ruling: 'item-model',
        useByAt: '2026-11-28T00:00:00.000Z',
        holds: [],
      });
      expect(limitOf(part, 'cook-chill-10-c')).toMatchObject({ drives: false, basis: 'from-memory' });
      expect(limitOf(part, 'cook-chill-10-c').whySilent).toBeTruthy();
    }
    const { items } = await get(`/v1/stock?placeId=${exampleId('place/care-chiller')}&limit=500`);
    const dates = items.map((one: Json) => one.useByAt ?? '9') as string[];
    expect(dates).toEqual([...dates].sort());
  });

  test('is left alone where it did not go by that van', () => {
    const alone = chicken.parts.filter((part: Json) => !JSON.stringify(part.ways).includes('Van 1')) as Json[];
    expect(alone.map((part) => part.where).sort()).toEqual(['Cold room 1', 'Van 2', 'W9 chiller']);
    for (const part of alone) {
      expect(part).toMatchObject({
        ruling: 'printed-use-by',
        useByAt: chicken.printedUseByAt,
        holds: [],
        forbiddenBy: null,
      });
    }
  });

  test('used what the readings say, minute by minute', async () => {
    const at = (instant: string) => Date.parse(instant) / 60_000;
    const readingsOf = async (sensor: string): Promise<Reading[]> => {
      const query = `sensorId=${exampleId(`sensor/${sensor}`)}&from=2026-11-24T00:00:00Z&to=2026-11-25T12:00:01Z&limit=500`;
      const { items } = await get(`/v1/readings?${query}`);
      return items.map((one: Json) => ({ sensor, minute: at(one.at), centiC: Math.round(one.temperatureC * 100) }));
    };
    const where = { 'ck-chiller-air': 'CK', 'van-1-air': 'V', 'care-chiller-sheet': 'CARE' };
    const readings = await Promise.all(Object.keys(where).map(readingsOf));
    const watch = { upper: 800, gapMin: 60, delayMin: 30 };
    const facts: Facts = {
      readings: readings.flat(),
      located: Object.entries(where).map(([sensor, subject]) => ({ sensor, from: 0, subject })),
      moved: [
        { minute: at('2026-11-24T11:00Z'), from: null, to: 'CK', quantity: 20 },
        { minute: at('2026-11-25T06:22Z'), from: 'CK', to: 'road', quantity: 8 },
        { minute: at('2026-11-25T07:52Z'), from: 'road', to: 'CARE', quantity: 8 },
      ],
      subjects: { CK: 'CK', road: 'V', CARE: 'CARE' },
      watch: { CK: watch, V: { ...watch, gapMin: 20 }, CARE: { ...watch, gapMin: 13 * 60 } },
      now: at('2026-11-25T12:00Z'),
    };
    const lives = livesOf(facts, { minC: -1.18, referenceC: 3.5, lifeH: 114 });
    // as validated for the item in the demo: square root from -1.18 °C, 114 h at 3.5 °C
    for (const [account, place] of [
      ['CK', 'place/ck-chiller'],
      ['CARE', 'place/care-chiller'],
    ] as const) {
      const used = limitOf(partAt(place), 'item-model').usedFraction;
      expect(used, place).toBeCloseTo(lives.get(account)?.usedFraction ?? 0, 4);
    }
  });
});

test('makes a relabel list, one hold, and nothing else', async () => {
  const { items: relabels } = await get('/v1/relabels?open=true&limit=500');
  const ofVan = relabels.filter((one: Json) => one.lotId === chicken.lotId) as Json[];
  // the fourth in the demo is of ward 3, whose chiller stood open
  expect(relabels).toHaveLength(ofVan.length + 1);
  const shortened = ofVan.filter((one) => one.siteId !== exampleId('site/hot'));
  expect(shortened.map((one) => [one.placeId, one.quantity, one.printedUseByDate, one.newUseByText]).sort()).toEqual(
    [
      [exampleId('place/care-chiller'), 8, '2026-11-28', '2026-11-27'],
      [exampleId('place/sch-chiller'), 12, '2026-11-28', '2026-11-27'],
    ].sort(),
  );
  for (const one of shortened) expect(one.reason).toContain('Validated by Nora Pell');
  const printed = await service.as('quality').get(`/v1/relabels?siteId=${exampleId('site/care')}&format=pdf`);
  expect([printed.status, printed.raw.subarray(0, 5).toString()]).toEqual([200, '%PDF-']);
  const { items: holds } = await get('/v1/holds?limit=500');
  const safety = holds.filter((one: Json) => one.kind === 'safety' && one.liftedAt === null) as Json[];
  expect(safety.map((one) => [one.lotId, one.accountId])).toEqual([[chicken.lotId, exampleId('place/hot-chiller')]]);
  expect(safety[0].note).toContain('Department of Health 1989');
});

test('every answer shows its source, what it assumes and who decides', async () => {
  for (const part of chicken.parts as Json[]) {
    for (const limit of part.limits as Json[]) {
      expect(limit.source, limit.code).toMatch(/\S{3}/);
      expect(limit.assumption, limit.code).toMatch(/\S{3}/);
      if (limit.basis === 'from-memory' && limit.drives) {
        expect([part.siteId, limit.code.startsWith('cook-chill')]).toEqual([exampleId('site/hot'), true]);
      }
      // domain.md §7: the toxin line is from memory and advisory only
      if (limit.code === 'toxin-advisory') expect([limit.drives, limit.basis]).toEqual([false, 'from-memory']);
    }
  }
  expect(chicken.cautions.length).toBeGreaterThan(0);
  const query = `format=svg&placeId=${exampleId('place/hot-chiller')}`;
  const chart = await service.as('quality').get(`/v1/lots/${chicken.lotId}/shelf-life?${query}`);
  expect(chart.headers['content-type']).toContain('image/svg+xml');
  expect(chart.text).toContain('Van 1');
  expect(chart.text).not.toMatch(/NaN|undefined|Infinity/);
});
