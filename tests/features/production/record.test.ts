/** The record of a batch: as data it says what was recorded, as page and print it says the same; what was corrected stays, struck. */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CHILL, COOK, SEAL, withPlan } from '../process-checks/kit.ts';
import { kitchenOf, type Json, type Kitchen } from '../../support/kitchen.ts';
import { pdfPages } from '../../support/pdf-text.ts';
import { startService, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
let batchId: string;
let path: string;

const minutesAt = (from: number, to: number, minutes: number) =>
  Array.from({ length: minutes + 1 }, (_, minute) => ({
    minute,
    temperatureC: from + ((to - from) * minute) / minutes,
  }));

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
  const planned = await withPlan(kitchen, [COOK, CHILL, SEAL]);
  const made = await planned.stew(await kitchen.shin(10_000, { supplierLotCode: 'B&R <7>' }), 10_000, 8_000);
  batchId = made.batchId;
  path = `/v1/batches/${batchId}/record`;
  const check = (about: object, fields: object): Promise<Json> =>
    kitchen.post('kitchen', '/v1/process-checks', { siteId: world.ckId, about, ...fields });
  await kitchen.pack(batchId, made.lotId, 6_000, 20);
  const load = { kind: 'lot', id: made.lotId };
  const cook = { stage: 'cook', kind: 'lethality', controlPoint: 'cook' };
  await check(load, { ...cook, series: minutesAt(70, 70, 2) });
  const chill = { siteId: world.ckId, about: load, stage: 'chill', kind: 'cooling', controlPoint: 'chill' };
  const wrong = await check(load, {
    ...chill,
    series: minutesAt(63, 12, 150),
    correctiveAction: 'Moved to blast chiller 2',
  });
  await kitchen.post('kitchen', `/v1/process-checks/${wrong.checkId}/corrections`, {
    ...chill,
    series: minutesAt(63, 3, 100),
    reason: 'That was the probe of another trolley',
  });
});
afterAll(() => service.stop());

const read = (role: string, format: string, siteId: string | null = null) =>
  service.as(role, siteId).get(`${path}?format=${format}`);

describe('the record as data', () => {
  it('has inputs with their supplier, loads and packs, each check with its limit, and what was corrected', async () => {
    const { body } = await read('quality', 'json');
    expect(body).toMatchObject({
      batchId,
      siteName: 'Central kitchen',
      standing: 'awaiting-release',
      openedBy: 'Sam Dale',
    });
    expect(body.inputs).toMatchObject([
      {
        itemName: 'Beef shin, diced',
        supplierName: 'Brook Farm Meats',
        supplierLotCode: 'B&R <7>',
        takenBy: 'Sam Dale',
      },
    ]);
    expect(body.lots.map((lot: Json) => [lot.kind, lot.quantity])).toEqual([
      ['load', 8_000],
      ['packs', 20],
    ]);
    // 70 °C for two minutes is the target itself; 63 to 3 °C in 100 minutes is within the plan's 150, 12 °C is not 3 °C.
    const check = (measured: string) => body.checks.find((one: Json) => one.measured === measured);
    const [right, wrong] = [check('3 °C after 1 h 40 min'), check('3 °C not reached')];
    expect(body.checks).toHaveLength(3);
    expect(check('2 min, highest 70 °C')).toMatchObject({
      label: 'Cooked through',
      result: 'passed',
      doneBy: 'Sam Dale',
    });
    expect(wrong).toMatchObject({ label: 'Chilled in time', result: 'failed', supersededByCheckId: right.checkId });
    expect(wrong.correctiveActions).toMatchObject([{ action: 'Moved to blast chiller 2', by: 'Sam Dale' }]);
    expect(right).toMatchObject({ result: 'passed', correctionReason: 'That was the probe of another trolley' });
    expect(body.plan.points.map((point: Json) => point.code)).toEqual(['cook', 'chill', 'seal']);
    // 10 kg in, 8 kg out, nothing said about the rest
    expect(body.yield).toMatchObject({ consumedG: 10_000, outputsG: 8_000, unexplainedG: 2_000, percent: 80 });
    expect(body.cautions.join(' ')).toContain('no clean-down');
  });

  it('is for those who may read production at the site', async () => {
    expect((await read('kitchen', 'json', world.w3Id)).status).toBe(404);
    expect((await read('driver', 'json')).status).toBe(403);
    expect((await service.as('quality').get(`/v1/batches/${randomUUID()}/record`)).status).toBe(404);
  });
});

describe('the record on paper', () => {
  it('as a page: nothing is fetched or run, all text is escaped, the corrected check is struck', async () => {
    const { headers, text } = await read('quality', 'html');
    expect(headers['content-security-policy']).toContain("default-src 'none'");
    expect(text).toContain('their lot B&amp;R &lt;7&gt;');
    expect(text).not.toMatch(/<script|<link|src=|B&R <7>/);
    expect(text).toContain('<del>3 °C not reached</del>');
    expect(text).toContain('3 °C after 1 h 40 min');
    // The hold of the check that was corrected is for a person to lift: until then it stands at the top.
    expect(text).toContain('Awaiting release, on hold');
    expect(text).toContain('On hold now, in whole or in part: failed check.');
    // a picture of the batch in time, and one of each series
    expect(text.match(/<figure>/g)).toHaveLength(4);
  });

  it('as a PDF by Accept: every page says which batch it is and how it stands', async () => {
    const { raw, headers } = await service.as('quality').get(path, { accept: 'application/pdf' });
    expect(headers['content-type']).toBe('application/pdf');
    const { code } = (await read('quality', 'json')).body;
    const pages = pdfPages(raw);
    for (const [at, page] of pages.entries()) {
      expect(page).toContain(`${code} · Awaiting release`);
      expect(page).toContain(`Page ${at + 1} of ${pages.length}`);
    }
    const words = pages.join('\n').replaceAll('\n', ' ');
    expect(words).toContain('Cooked through');
    expect(words).toContain('B&R <7>');
  });
});
