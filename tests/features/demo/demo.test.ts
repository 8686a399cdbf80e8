/** What the demo must show, read back over the API; and that loading it again, or after an interruption, changes nothing. */
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { loadDemo } from '../../../seeds/demo/load.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { createLog } from '../../../src/platform/log.ts';
import discardReasons from '../../../shared/discard-reasons.json' with { type: 'json' };
import { demoTemplate } from '../../support/demo.ts';
import type { Json } from '../../support/kitchen.ts';
import { NOON_MS, startService, type TestService } from '../../support/service.ts';

const LOADING_LIMIT_MS = 600_000;
const DAY_MS = 86_400_000;

describe('the demo', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startService({ template: await demoTemplate() });
  }, LOADING_LIMIT_MS);
  afterAll(() => service.stop());

  const read = async (path: string): Promise<Json> => {
    const answer = await service.as('operations').get(path);
    expect(answer.status, answer.text).toBe(200);
    return answer.body;
  };
  const finding = async (kind: string): Promise<Json[]> => (await read(`/v1/findings?kind=${kind}`)).items;
  const site = (name: string) => exampleId(`site/${name}`);

  test('one delivery of carrots is at five satellites, in several dishes, and every gram of it is somewhere', async () => {
    const lot = await read(`/v1/lots/${exampleId('lot/carrots-1')}`);
    expect(lot).toMatchObject({
      supplierLotCode: 'BRK-7741',
      supplierId: exampleId('supplier/brook'),
      quantity: 12_500,
    });
    const trace = await read(`/v1/lots/${exampleId('lot/carrots-1')}/trace?direction=forward`);
    const reached = trace.sites.map((one: Json) => one.siteId).filter((id: string) => id !== site('ck'));
    expect(new Set(reached)).toEqual(new Set(['w3', 'w7', 'w9', 'sch', 'care'].map(site)));
    expect(trace.lots.length).toBeGreaterThan(8);
    for (const one of trace.lots) {
      const sum = one.whereNow.reduce((total: number, where: Json) => total + Number(where.quantity), 0);
      expect([one.code, sum, one.balanced]).toEqual([one.code, one.produced, true]);
    }
    for (const total of trace.totals) expect(total.balanced).toBe(true);
    // 4 + 2 + 4 + 1 kg went into two stews, a soup and a gravy, 300 g were trimmed off: what is left is on the shelf.
    const carrots = trace.totals.find((one: Json) => one.itemId === exampleId('item/carrots'));
    expect(carrots).toMatchObject({ produced: 12_500, consumed: 11_000, wasted: 300, onHand: 1_200 });
  });

  test('leftover stew went into the soup, and the soup carries its wheat', async () => {
    const soup = exampleId('lot/soup-c-packs-1');
    const trace = await read(`/v1/lots/${soup}/trace?direction=back`);
    const ids = trace.lots.map((one: Json) => one.lotId);
    for (const name of ['lot/soup-c-load-1', 'lot/stew-d-load-1', 'lot/beef-shin-2', 'lot/carrots-1']) {
      expect(ids).toContain(exampleId(name));
    }
    expect((await read(`/v1/lots/${soup}`)).allergens).toEqual(['gluten-cereals:wheat', 'celery']);
  });

  test('food was thrown away for every reason that there is', async () => {
    const report = await read('/v1/reports/waste-and-yield?month=2026-11');
    const reasons = report.waste.map((one: Json) => one.reason);
    const own = ['peel', 'asleep'];
    expect(new Set(reasons)).toEqual(new Set([...discardReasons.reasons.list.map((one) => one.code), ...own]));
  });

  test('findings: served a day late, more served than there was, one pack missing, one damaged, one unlabelled, one not clean, four labels too late, wheat that a soup does not declare, two fridge rounds, seams that opened, a probe', async () => {
    expect(await finding('past-use-by')).toMatchObject([
      { siteId: site('hot'), detail: { factId: exampleId('use/hot-late') } },
    ]);
    expect(await finding('shortfall')).toMatchObject([{ siteId: site('care'), quantity: 2 }]);
    expect(await finding('missing-in-transit')).toMatchObject([{ quantity: 1 }]);
    expect(await finding('damaged-on-arrival')).toMatchObject([{ siteId: site('hot'), quantity: 1 }]);
    expect(await finding('unidentified-pack')).toMatchObject([{ siteId: site('w3'), quantity: 1 }]);
    // a warm fridge, one whose reading was mistyped, three seams of five; the load of stew that did not cool is closed
    expect(await finding('check-failed')).toHaveLength(3);
    // on paper nobody wrote down a clean-down between Monday's gravy and the rice
    expect(await finding('allergen-carry-over')).toMatchObject([{ lotId: exampleId('lot/paper-packs-1') }]);
    // the ward's warm shelf, and the three sites that Van 1 brought chicken to without cooling
    const labels = (await finding('label-outlives-use-by')).map((one: Json) => one.siteId).sort();
    expect(labels).toEqual([site('w3'), site('sch'), site('care'), site('hot')].sort());
    // the core probe, three degrees out in boiling water
    expect(await finding('calibration-failed')).toMatchObject([{ siteId: site('ck') }]);
    // among what it puts in doubt, on the first page of fifty: the fridge rounds of twelve mornings since the laboratory's certificate
    const calibration = await read(`/v1/calibrations/${exampleId('calibration/probe-1')}`);
    const rounds = calibration.suspectChecks.filter((one: Json) => one.stage === 'storage');
    expect([calibration.suspectChecks.length, rounds.length]).toEqual([50, 12]);
    // leftover stew brought wheat into the soup, load and packs: by way of the stew from the flour
    const undeclared = await finding('allergen-undeclared');
    const soups = [exampleId('lot/soup-c-load-1'), exampleId('lot/soup-c-packs-1')];
    expect(undeclared.map((one: Json) => one.lotId).sort()).toEqual(soups.sort());
    for (const { detail } of undeclared) expect(detail.codes).toEqual(['gluten-cereals:wheat']);
    expect((await read('/v1/findings?limit=500')).items).toHaveLength(16);
    expect((await read(`/v1/dispatches/${exampleId('dispatch/sch-6')}`)).lots).toContainEqual(
      expect.objectContaining({ missing: 1 }),
    );
  });

  test('holds that are open besides what awaits release; one use was undone, one count did not agree', async () => {
    const holds = (await read('/v1/holds?open=true&limit=500')).items.filter(
      (hold: Json) => hold.kind !== 'awaiting-release',
    );
    const shown = holds.map((hold: Json) => [hold.kind, hold.note.split('. Source')[0]]).sort();
    expect(shown).toEqual([
      ['drill', 'DR-0002: Quarterly drill: the milk of the first week'],
      ['drill', 'DR-0003: Drill: the dressing without its certificate'],
      [
        'for-rework',
        'Over 12 °C after an hour and three quarters. Heat it through in tomorrow morning’s kettle, nothing else',
      ],
      ['quality', 'Came back from service: The trolley came back with two packs unopened'],
      ['quality', 'Came without its certificate; the supplier was asked for it'],
      ['recall', 'RC-0001: Marl Hill Growers called: salmonella in parsley MH 2290'],
      [
        'rejected',
        'Seals: three of five came open. The rest cannot be trusted, and the soup is not worth opening 32 pouches',
      ],
      [
        'rejected',
        'Seals: three of five came open. The rest cannot be trusted, and the soup is not worth opening 32 pouches',
      ],
      ['rejected', 'Trolley 3 stood in the corridor: 14 °C in the middle after four hours'],
      [
        'safety',
        'Cook-chill: warmer than 10 °C, discard. Above 10 °C from 25 November 2026, 06:25 for 90 min. Ends 25 November 2026, 06:25',
      ],
    ]);
    const undone = await read(`/v1/entries/${exampleId('use/w7-wrong')}`);
    expect(undone.reversedByEntryId).toBe(exampleId('reversal/w7-wrong'));
    const count = await read(`/v1/entries/${exampleId('stock-count/w9')}`);
    expect(count.lines).toMatchObject([{ quantity: 1, to: { kind: 'variance' } }]);
  });

  test('stew released by its checks, by hand with a point accepted, reworked after it cooled too slowly; soup rejected for its seals', async () => {
    const batch = (name: string): Promise<Json> => read(`/v1/batches/${exampleId(`batch/${name}`)}`);
    const decided = ({ decisions }: Json) =>
      decisions.map((one: Json) => [one.outcome, one.automatic, one.disposition, one.accepted.length]);
    const byItself = ['released', true, null, 0];
    expect(decided(await batch('beef-stew'))).toEqual([byItself, byItself]);
    expect(decided(await batch('stew-d'))).toEqual([byItself, byItself, ['released', false, null, 1]]);
    const slow = await batch('stew-e');
    expect(decided(slow)).toEqual([byItself, byItself, ['rejected', false, 'rework', 0]]);
    const again = await batch('stew-f');
    expect(again.reworkOf).toMatchObject([{ lotId: exampleId('lot/stew-e-load-2') }]);
    expect(again.lots.map((lot: Json) => lot.state)).toEqual(['released', 'released']);
    const soup = await batch('soup-d');
    expect(decided(soup)).toEqual([['rejected', false, 'discard', 0]]);
    // Its page says so too, and its print has a page for what was seen.
    const page = await service.as('quality').get(`/v1/batches/${soup.batchId}/record?format=html`);
    expect(page.text).toContain('5 tested, 3 failed');
  });

  test('two loads of one batch were packed in one run with a changeover; a crate came whole', async () => {
    const batch = await read(`/v1/batches/${exampleId('batch/stew-a')}`);
    const runs = batch.lots.map((lot: Json) => [lot.loadNo, lot.packingRunId]);
    const run = exampleId('packing-run/stew-a');
    expect(runs).toEqual(
      expect.arrayContaining([
        [1, null],
        [2, null],
        [null, run],
        [null, run],
      ]),
    );
    const crate = await read(`/v1/dispatches/${exampleId('dispatch/sch-5')}`);
    expect(crate.lines[0].crateCode).toBe('CRATE-14');
    expect(crate.lots.map((lot: Json) => lot.accepted)).toEqual(crate.lots.map((lot: Json) => lot.sent));
  });

  test('a stew that was done at 23:40 and packed after midnight keeps the days of the day it was cooked', async () => {
    const packs = await read(`/v1/lots/${exampleId('lot/late-stew-packs-1')}`);
    // cooked on day 10, 22 November; five days with that day: the 26th. Packed at half past one on the 23rd.
    expect([packs.code, packs.bornAt, packs.useByDate]).toEqual([
      'STEW-LATE',
      '2026-11-23T01:30:00.000Z',
      '2026-11-26',
    ]);
  });

  test('one of three trolleys failed, and it alone', async () => {
    const batch = await read(`/v1/batches/${exampleId('batch/trolleys')}`);
    const loads = batch.lots.filter((lot: Json) => lot.loadNo !== null);
    expect(loads.map((lot: Json) => [lot.loadNo, lot.state])).toEqual([
      [1, 'released'],
      [2, 'released'],
      [3, 'rejected'],
    ]);
    const packs = batch.lots.filter((lot: Json) => lot.packingRunId !== null);
    expect(packs.map((lot: Json) => lot.state).sort()).toEqual(['rejected', 'released', 'released']);
  });

  test('the inn only counts: its use, its waste, and one pack that nobody can explain', async () => {
    const { items } = await read(`/v1/derived-uses?siteId=${site('inn')}`);
    // 24 came and 15 were left; 2 of the 15 were thrown away and 6 were left
    expect(items.map((use: Json) => use.quantity).sort()).toEqual([7, 9]);
    const report = await read(`/v1/reports/waste-and-yield?month=2026-11&siteId=${site('inn')}`);
    const stew = report.items.find((item: Json) => item.itemId === exampleId('item/beef-stew-pack')).inUnits;
    // 36 came; 16 served, 2 wasted; 19 are there, one more than 36 - 16 - 2
    expect(stew).toMatchObject({ transferIn: 36, served: 0, servedDerived: 16, wasted: 2, adjusted: 1, closing: 19 });
  });

  test('the list of ward 3 says what to use today and by when, what is on its way, what to settle', async () => {
    const morning = await read(`/v1/sites/${site('w3')}/morning-list`);
    expect(morning.useToday.map((part: Json) => [part.itemName, part.quantity, part.due])).toEqual([
      // opened at seven in the evening: a day
      ['Beef stew', 300, 'by 19:00'],
      // cooked on the 21st: five days with that day
      ['Chicken and leek pie filling, pack of 350 g', 2, 'by the end of today'],
    ]);
    expect(morning.pastDate).toEqual([]);
    expect(morning.arriving).toHaveLength(1);
    expect(morning.findings.map((one: Json) => one.kind)).toEqual(['unidentified-pack', 'label-outlives-use-by']);
  });

  test('a night on paper was entered in the morning', async () => {
    const batch = await read(`/v1/batches/${exampleId('batch/paper')}`);
    expect(batch).toMatchObject({ code: 'RICE-PAPER', state: 'completed', startedAt: '2026-11-24T20:30:00.000Z' });
    // 6,000 + 60 + 12,000 in; 17,100 out, 900 lost as steam
    expect(batch.yield).toMatchObject({ consumedG: 18_060, outputsG: 17_100, lossesG: 900, unexplainedG: 60 });
    const entry = await read(`/v1/entries/${exampleId('move/paper')}`);
    expect([entry.occurredAt, entry.recordedAt]).toEqual(['2026-11-25T00:50:00.000Z', '2026-11-25T08:31:35.000Z']);
  });

  test('what is past its date is not on any shelf, but for what the hotel holds after the warm van', async () => {
    const stock = await read('/v1/stock?limit=500');
    const late = stock.items.filter((line: Json) => line.useByAt !== null && Date.parse(line.useByAt) <= NOON_MS);
    expect(late.map((line: Json) => [line.placeName, line.itemName, line.mayUse])).toEqual([
      ['HOT chiller', 'Chicken and leek pie filling, pack of 350 g', false],
    ]);
  });

  test('of every lot, what all accounts hold sums to nothing', async () => {
    const client = new pg.Client(service.databaseUrl);
    await client.connect();
    try {
      const { rows } = await client.query<{ lots: string; off: string }>(
        `select count(*) as lots, count(*) filter (where total <> 0) as off
           from (select lot_id, sum(quantity) as total from balance group by lot_id) as sums`,
      );
      expect(Number(rows[0]?.lots)).toBeGreaterThan(100);
      expect(rows[0]?.off).toBe('0');
    } finally {
      await client.end();
    }
  });

  test('people sign in with the names and passwords that the contract shows', async () => {
    const name = { group: 'ostermere', signInName: 'kitchen', password: 'kettle-by-the-window' };
    expect((await service.anonymous.post('/v1/sign-ins', name)).status).toBe(200);
  });

  test('is there already: nothing is loaded twice, whatever the day', async () => {
    const parts = { db: service.db, tokens: service.tokens, log: createLog('error') };
    expect(await loadDemo({ ...parts, endMs: NOON_MS })).toEqual({ loaded: false });
    expect(await loadDemo({ ...parts, endMs: NOON_MS + 9 * DAY_MS })).toEqual({ loaded: false });
  });
});

describe('an interrupted demo', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startService();
  });
  afterAll(() => service.stop());

  /** Stops at the first line of progress that begins so. */
  async function loadUntil(line: string, endMs: number): Promise<void> {
    const progress = (text: string): void => {
      if (text.startsWith(line)) throw new Error('interrupted');
    };
    const parts = { db: service.db, tokens: service.tokens, log: createLog('error'), endMs, progress };
    await expect(loadDemo(parts)).rejects.toThrow('interrupted');
  }

  test('goes on with the days that it began with', { timeout: LOADING_LIMIT_MS }, async () => {
    await loadUntil('Demo: day 2 ', NOON_MS);
    await loadUntil('Demo: day 3 ', NOON_MS + 3 * DAY_MS);
    const receipts = (await service.as('operations').get('/v1/goods-receipts?limit=500')).body;
    const times = receipts.items.map((one: Json) => one.occurredAt).sort();
    expect(new Set(times.map((time: string) => time.slice(0, 7)))).toEqual(new Set(['2026-09', '2026-10', '2026-11']));
    expect(times.filter((time: string) => time >= '2026-11')).toEqual([
      ...new Array<string>(3).fill('2026-11-12T06:30:00.000Z'),
      ...new Array<string>(3).fill('2026-11-13T06:30:00.000Z'),
    ]);
  });
});
