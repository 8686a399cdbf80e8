/**
 * From one phone call to every pack accounted for, on the demo: "Brook Farm here, something is wrong with our BRK-7741." A newcomer knows
 * the supplier's name and the code on the invoice, and nothing else. Quantities were worked out from the demo's own records.
 */
import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { exampleId } from '../../../src/platform/ids.ts';
import { demoTemplate } from '../../support/demo.ts';
import type { Json } from '../../support/kitchen.ts';
import { bodyOf } from '../../support/replay/recall.ts';
import { startService, type TestService } from '../../support/service.ts';

const LOADING_LIMIT_MS = 600_000;
const SITES = ['w3', 'w7', 'w9', 'sch', 'care'].map((name) => exampleId(`site/${name}`));
const KITCHEN = exampleId('site/ck');

describe('a phone call about BRK-7741', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startService({ template: await demoTemplate() });
  }, LOADING_LIMIT_MS);
  afterAll(() => service.stop());

  const office = () => service.as('operations');
  const at = (siteId: string) => service.as(siteId === KITCHEN ? 'kitchen' : 'receiver', siteId);
  const call = { kind: 'supplier-lot', supplier: 'Brook Farm', supplierLotCode: 'brk 7741' };

  test('from the call to a closed drill and its file', async () => {
    // 1: what would it reach?
    const preview = bodyOf(await office().post('/v1/recall-previews', { starts: [call] }), 200);
    // 2: freeze it (as a drill)
    const opening = { id: randomUUID(), title: 'Brook Farm called about BRK-7741', drill: true, starts: [call] };
    const opened = await office().post('/v1/recalls', opening);
    const recall = bodyOf(opened, 201);
    expect(opened.headers['location']).toBe(`/v1/recalls/${recall.recallId}`);
    expect(recall).toMatchObject({ drill: true, state: 'open', revision: 1, lotCount: preview.lotCount });
    expect(recall.code).toMatch(/^DR-\d{4,}$/);
    // 3: who has been told, and who has not answered?
    const chasing = bodyOf(await office().get(`/v1/recalls/${recall.recallId}/chasing`), 200);
    const satellites = (chasing.sites as Json[]).map((one) => one.siteId as string).filter((id) => id !== KITCHEN);
    expect(new Set([...satellites, ...recall.sites.map((one: Json) => one.siteId)])).toEqual(
      new Set([...SITES, KITCHEN]),
    );
    for (const siteId of SITES) expect(recall.sites.map((one: Json) => one.siteId)).toContain(siteId);

    const path = `/v1/recalls/${recall.recallId}`;
    const refused = await service.as('quality').post(`${path}/closing`, { id: randomUUID(), note: 'Too early' });
    expect([refused.status, refused.body.code]).toEqual([409, 'quantities-open']);

    let minutes = 0;
    for (const siteId of [...SITES, KITCHEN]) {
      service.clock.set(service.clock.nowMs() + (minutes += 1) * 60_000);
      const mine = bodyOf(await at(siteId).get(`/v1/recall-notices?recallId=${recall.recallId}`), 200);
      expect((mine.items as Json[]).map((one) => one.siteId)).toEqual([siteId]);
      const notice = bodyOf(await at(siteId).get(`/v1/recall-notices/${mine.items[0].noticeId}`), 200);
      const seen = { id: randomUUID(), name: 'Whoever was there' };
      bodyOf(await at(siteId).post(`/v1/recall-notices/${notice.noticeId}/acknowledgement`, seen), 201);
      const printed = await at(siteId).get(`/v1/recall-notices/${notice.noticeId}?format=pdf`);
      expect([printed.status, printed.raw.subarray(0, 5).toString()]).toEqual([200, '%PDF-']);

      const account = bodyOf(await office().get(`${path}/account`), 200);
      const own = (account.sites as Json[]).find((one) => one.siteId === siteId);
      const open = ((own?.lines ?? []) as Json[]).filter((line) => line.open > 0);
      const told = { id: randomUUID(), siteId, signedBy: 'Whoever was there' };
      const lines = open.map(({ lotId, open: quantity, unit }) => ({ lotId, outcome: 'found', quantity, unit }));
      // A place that has had some of it and has none of it left says so.
      const none = (notice.lots as Json[])
        .slice(0, 1)
        .map(({ lotId, unit }) => ({ lotId, outcome: 'not-found', quantity: 0, unit }));
      const said = lines.length > 0 ? lines : none;
      if (siteId === KITCHEN) {
        // 12.5 kg came, 11 kg were cooked and 300 g trimmed off, so 1.2 kg should be there; nobody finds it.
        const carrots = lines.find((line) => line.lotId === exampleId('lot/carrots-1'));
        expect(carrots).toMatchObject({ quantity: 1_200, unit: 'g' });
        if (carrots) carrots.outcome = 'not-found';
      }
      bodyOf(await at(siteId).post(`${path}/responses`, { ...told, lines: said }), 201);
    }

    const account = bodyOf(await office().get(`${path}/account`), 200);
    expect(account.openLines).toBe(0);
    // All is answered for; 1.2 kg of it nobody found.
    const { figures } = account;
    expect([figures.answeredG, figures.notFoundG, figures.openG]).toEqual([figures.toAccountForG, '1200.000', '0.000']);
    expect(Number(figures.toAccountForG) - Number(figures.accountedG)).toBe(1_200);
    expect(figures.answeredShare).toEqual({ numerator: '1', denominator: '1', percent: 100 });
    const share = (Number(figures.accountedG) / Number(figures.toAccountForG)) * 1_000;
    expect(figures.accountedShare.percent).toBe(Math.floor(share) / 10);

    const closed = bodyOf(
      await service.as('quality').post(`${path}/closing`, { id: randomUUID(), note: 'Every pack is typed' }),
      201,
    );
    expect(closed.state).toBe('closed');
    const drills = bodyOf(await office().get('/v1/recall-drills'), 200);
    const own = (drills.drills ?? drills.items).find((one: Json) => one.recallId === recall.recallId);
    expect(own.acknowledgements.map((one: Json) => one.minutes)).not.toContain(null);
    // 1 + 2 + ... + 6 minutes on the clock
    expect(own.slowestAcknowledgementMinutes).toBe(21);

    const timeline = bodyOf(await office().get(`${path}/timeline`), 200);
    const kinds = (timeline.events as Json[]).map((one) => one.kind as string);
    expect(kinds[0]).toBe('opened');
    for (const kind of ['notice', 'acknowledgement', 'response']) {
      expect([kind, kinds.filter((one) => one === kind).length >= 6]).toEqual([kind, true]);
    }
    expect(kinds).toContain('closed');
  });

  test('a drill froze nothing real', async () => {
    const trace = bodyOf(await office().get(`/v1/lots/${exampleId('lot/carrots-1')}/trace`), 200);
    const stock = bodyOf(await office().get(`/v1/stock?placeId=${exampleId('place/ck-chiller')}&limit=500`), 200);
    const carrots = (stock.items as Json[]).find((one) => one.lotId === exampleId('lot/carrots-1'));
    expect(carrots?.mayUse).toBe(true);
    expect(trace.lots.length).toBeGreaterThan(8);
  });

  test('a file to hand over, with every lot of the scope in it', async () => {
    const list = bodyOf(await office().get('/v1/recalls?drill=true'), 200);
    const { recallId } = list.items.find((one: Json) => one.title.includes('BRK-7741'));
    const workbook = await office().get(`/v1/recalls/${recallId}/file?format=xlsx`);
    // a ZIP archive (APPNOTE 4.3.7), as every XLSX is
    expect([workbook.status, workbook.raw.subarray(0, 4).toString('hex')]).toEqual([200, '504b0304']);
    const paper = await office().get(`/v1/recalls/${recallId}/file?format=pdf`);
    expect([paper.status, paper.raw.subarray(0, 5).toString()]).toEqual([200, '%PDF-']);
    const csv = await office().get(`/v1/recalls/${recallId}/file?format=csv`);
    expect(csv.status).toBe(200);
    const lots = bodyOf(await office().get(`/v1/recalls/${recallId}/lots?limit=500`), 200);
    for (const lot of lots.items as Json[]) expect(csv.text).toContain(lot.lotCode);
  });
});
