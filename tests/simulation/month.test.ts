/**
 * Random stories of three months told over HTTP, with closes, reopenings, facts that come weeks late, reversals, prices corrected and rates;
 * what the service prints for every month and set of sites, now and as recorded at past moments, is held against an oracle in exact
 * fractions that shares no code with it. `npm run prove` tells many more; a failure names its seed.
 */
import { randomUUID } from 'node:crypto';
import Fraction from 'fraction.js';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { costsAt, conservation } from '../support/oracle/cost.ts';
import { balancesOf, toldMovements, type ToldMovement } from '../support/oracle/month-postings.ts';
import { cutOfClose } from '../support/oracle/month-lines.ts';
import type { MonthFact } from '../support/oracle/month-facts.ts';
import { monthOf, type Asked } from '../support/oracle/month.ts';
import { requirementOf } from '../support/oracle/requirement.ts';
import { costDifferences, FINE, reportDifferences } from '../support/replay/month-compare.ts';
import { STORY_MONTHS, tellMonthStory } from '../support/replay/month-story.ts';
import { monthTeller, tellMonthFact, type MonthTeller } from '../support/replay/month-tell.ts';
import { CHILLERS, ITEMS, monthGroup, RECIPES, SITES, WORLD } from '../support/replay/month-world.ts';
import type { Json } from '../support/kitchen.ts';
import { startService, type TestService } from '../support/service.ts';

const runs = Math.max(1, Math.ceil(Number(process.env['SEALTRAIL_PROVE_RUNS'] ?? 25) / 8));
const firstSeed = Number(process.env['SEALTRAIL_PROVE_SEED'] ?? 20_261);
const STEPS = 110;
const TIMEOUT_MS = 60_000 + runs * 60_000;

const [kitchen, ward, home] = SITES.map((site) => site.id);
const SCOPES: readonly (readonly string[] | null)[] = [
  null,
  [kitchen ?? ''],
  [home ?? ''],
  [kitchen ?? '', ward ?? ''],
];

interface Told {
  readonly on: MonthTeller;
  readonly movements: readonly ToldMovement[];
  readonly get: (path: string) => Promise<Json>;
}

const instant = (ms: number): string => encodeURIComponent(new Date(ms).toISOString());
const pathOf = ({ month, throughMonth, scope, restated }: Asked, atMs?: number): string =>
  `/v1/reports/waste-and-yield?month=${month}` +
  (throughMonth === undefined ? '' : `&throughMonth=${throughMonth}`) +
  (scope.siteIds === null ? '' : `&site=${scope.siteIds.join(',')}`) +
  (restated === true ? '&restated=true' : '') +
  (atMs === undefined ? '' : `&recordedAt=${instant(atMs)}`);

async function expectReport(told: Told, asked: Asked): Promise<void> {
  const { on, movements, get } = told;
  const atMs = asked.cut === undefined ? undefined : on.toldAtMs[asked.cut - 1];
  const path = pathOf(asked, atMs);
  const exact = monthOf(WORLD, on.facts, movements, asked);
  expect(reportDifferences(WORLD, await get(path), exact), path).toEqual([]);
}

/** Every month and set of sites as it is now; as recorded at some moments a few of them. */
async function expectReports(told: Told, pick: (count: number) => number): Promise<void> {
  const { on } = told;
  for (const month of STORY_MONTHS) {
    for (const siteIds of SCOPES) await expectReport(told, { month, scope: { siteIds } });
  }
  await expectReport(told, { month: '2026-09', throughMonth: '2026-11', scope: { siteIds: null } });
  for (const month of STORY_MONTHS) await expectReport(told, { month, scope: { siteIds: null }, restated: true });
  const closes = on.facts.flatMap((fact, at) => (fact.kind === 'close' ? [at] : []));
  for (const cut of [1 + pick(on.facts.length), 1 + pick(on.facts.length), ...closes].filter((one) => one > 0)) {
    for (const month of STORY_MONTHS) {
      // a month that was closed by then is as it was closed
      if (cutOfClose(on.facts.slice(0, cut), month) !== null) continue;
      const siteIds = SCOPES[pick(SCOPES.length)] ?? null;
      await expectReport(told, { month, scope: { siteIds }, cut });
    }
  }
}

async function expectCosts({ on, movements, get }: Told, cut: number): Promise<void> {
  const costs = costsAt(WORLD, on.facts.slice(0, cut), movements);
  const { paidAndAdded, standing, gone, rest } = conservation(costs, movements, cut);
  expect(standing.add(gone).add(rest).sub(paidAndAdded).abs().compare(FINE), 'the oracle loses money').toBe(-1);
  const at = cut === on.facts.length ? '' : `?recordedAt=${instant(on.toldAtMs[cut - 1] ?? 0)}`;
  for (const lotId of costs.lots.keys()) {
    expect(costDifferences(await get(`/v1/lots/${lotId}/cost${at}`), costs), lotId).toEqual([]);
  }
}

async function expectStock({ on, get }: Told, cut: number): Promise<void> {
  const at = cut === on.facts.length ? '' : `&recordedAt=${instant(on.toldAtMs[cut - 1] ?? 0)}`;
  const printed = new Map<string, number>();
  for (let next = ''; ;) {
    const page = await get(`/v1/stock?limit=200${at}${next}`);
    for (const line of page.items as Json[]) {
      const key = `${line.lotId}|${line.placeId}`;
      printed.set(key, (printed.get(key) ?? 0) + line.quantity);
    }
    if (page.nextCursor === null || page.nextCursor === undefined) break;
    next = `&cursor=${encodeURIComponent(page.nextCursor as string)}`;
  }
  const wanted = [...balancesOf(WORLD, on.facts.slice(0, cut))].flatMap(([key, quantity]) =>
    key.includes('|place:') && quantity > 0 ? [[key.replace('place:', ''), quantity] as const] : [],
  );
  const positive = [...printed].filter(([, quantity]) => quantity > 0);
  expect(Object.fromEntries(positive)).toEqual(Object.fromEntries(wanted));
}

/** The lines behind each row add up to it. */
async function expectLines({ get }: Told, report: Json): Promise<void> {
  for (const item of report.items as Json[]) {
    const sums = new Map<string, number>();
    for (let next = ''; ;) {
      const page = await get(`${item.linesHref as string}&limit=200${next}`);
      for (const line of page.items as Json[]) sums.set(line.line, (sums.get(line.line) ?? 0) + line.quantity);
      if (page.nextCursor === null || page.nextCursor === undefined) break;
      next = `&cursor=${encodeURIComponent(page.nextCursor as string)}`;
    }
    for (const [line, quantity] of Object.entries(item.inUnits as Record<string, number>)) {
      if (line === 'opening' || line === 'closing') continue;
      expect(sums.get(line) ?? 0, `${item.itemCode} ${line}: ${item.linesHref}`).toBe(quantity);
    }
  }
}

describe('random stories of three months', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startService();
  });
  afterAll(() => service.stop());

  test(
    'print the months, costs and stock that the oracle says, and closed months for ever the same',
    async () => {
      for (let run = 0; run < runs; run += 1) {
        const seed = firstSeed + run;
        const frozen = new Map<string, { readonly path: string; readonly text: string }[]>();
        const on = await tellMonthStory(service, {
          seed,
          steps: STEPS,
          async afterClose(teller, month) {
            const finance = service.as('finance', null, teller.groupId);
            const paths = SCOPES.map((siteIds) => pathOf({ month, scope: { siteIds } }));
            const texts = await Promise.all(
              paths.map(async (path) => ({ path, text: (await finance.get(path)).text })),
            );
            frozen.set(month, texts);
          },
        });
        const finance = service.as('finance', null, on.groupId);
        const get = async (path: string): Promise<Json> => {
          const answer = await finance.get(path);
          if (answer.status !== 200) throw new Error(`seed ${seed}: ${path} answered ${answer.status}: ${answer.text}`);
          return answer.body;
        };
        const told = { on, movements: toldMovements(WORLD, on.facts), get };
        const cut = Math.ceil(on.facts.length * 0.6);
        try {
          await expectCosts(told, on.facts.length);
          await expectCosts(told, cut);
          await expectReports(told, (count) => (seed * 7919 + count * 31) % count);
          await expectStock(told, on.facts.length);
          await expectStock(told, cut);
          await expectLines(told, await get(pathOf({ month: '2026-10', scope: { siteIds: null } })));
          for (const [month, texts] of frozen) {
            if (cutOfClose(on.facts, month) === null) continue;
            for (const { path, text } of texts) expect((await finance.get(path)).text, path).toBe(text);
          }
        } catch (error) {
          throw new Error(`seed ${seed}: ${(error as Error).message}`, { cause: error });
        }
      }
    },
    TIMEOUT_MS,
  );

  test('a portion costs what all its paths through the recipes need, and holds what they keep (Gozinto, by sums of paths)', async () => {
    const on = monthTeller(service, await monthGroup(service, Date.UTC(2026, 8, 1, 6)));
    let atMs = Date.UTC(2026, 8, 2, 6);
    const tell = async (fact: object): Promise<void> => {
      atMs += 60_000;
      expect(await tellMonthFact(on, { id: randomUUID(), occurredAt: atMs, ...fact } as MonthFact, atMs)).toBe(null);
    };
    const [cheap, dear, soup, stew, pasta, packs] = Array.from({ length: 6 }, () => randomUUID() as string) as [
      string,
      string,
      string,
      string,
      string,
      string,
    ];
    const placeId = CHILLERS[0]?.id ?? '';
    const make = async (at: number, inputs: Record<string, number>, lotId: string, quantity: number, gainsG = 0) => {
      const batchId = randomUUID();
      const { id: recipeId, itemId } = RECIPES[at] ?? { id: '', itemId: '' };
      await tell({ kind: 'batch', batchId, siteId: kitchen, recipeId });
      for (const [from, used] of Object.entries(inputs)) {
        await tell({ kind: 'input', batchId, lotId: from, placeId, quantity: used });
      }
      await tell({ kind: 'output', batchId, lotId, itemId, placeId, quantity });
      await tell({ kind: 'completion', batchId, gainsMg: gainsG * 1000 });
      return batchId;
    };
    const roots = { kind: 'bought', itemId: ITEMS.roots.id, placeId };
    await tell({ ...roots, lotId: cheap, quantity: 1_100_000, priceMinor: 123_457 });
    await tell({ ...roots, lotId: dear, quantity: 600_000, priceMinor: 199_991 });
    // each exactly as planned: 91.2345 %, 70 %, and 135 % of which 350 kg are water
    await make(0, { [dear]: 600_000, [cheap]: 400_000 }, soup, 912_345);
    await make(1, { [soup]: 300_000, [cheap]: 700_000 }, stew, 700_000);
    const batchId = await make(2, { [stew]: 400_000, [soup]: 600_000 }, pasta, 1_350_000, 350_000);
    const from = { lotId: pasta, placeId, quantity: 300_000 };
    const sealed = { lotId: packs, itemId: ITEMS.pack.id, placeId, quantity: 1000 };
    await tell({ kind: 'packing', batchId, fills: [{ from, packs: sealed }] });

    const g = (numerator: number, denominator: number): Fraction => new Fraction(numerator, denominator);
    const needs = requirementOf(
      {
        packs: { pasta: g(300, 1) },
        pasta: { stew: g(400, 1350), soup: g(600, 1350) },
        stew: { soup: g(300, 700), cheap: g(1, 1) },
        soup: { dear: g(600_000, 912_345), cheap: g(400_000, 912_345) },
      },
      'packs',
    );
    // a gram of soup or stew is a gram of roots, whatever was lost; 1.35 g of pasta hold one
    const holds = requirementOf(
      {
        packs: { pasta: g(300, 1) },
        pasta: { stew: g(400, 1350), soup: g(600, 1350) },
        stew: { soup: g(3, 10), cheap: g(7, 10) },
        soup: { dear: g(6, 10), cheap: g(4, 10) },
      },
      'packs',
    );
    const none = new Fraction(0);
    const paid = (needs.get('cheap') ?? none)
      .mul(123_457, 1_100_000)
      .add((needs.get('dear') ?? none).mul(199_991, 600_000));
    const answer = await service.as('finance', null, on.groupId).get(`/v1/lots/${packs}/cost`);
    expect(
      paid
        .sub(answer.body.unitCostMinor as string)
        .mul(1000)
        .abs()
        .compare(FINE),
    ).toBe(-1);
    const heldG = (holds.get('cheap') ?? none).add(holds.get('dear') ?? none).mul(1000);
    // 1000 packs of 300 / 1.35 g
    expect(heldG.toFraction()).toBe('2000000/9');
    expect(
      heldG
        .sub(answer.body.boughtMassG as number)
        .abs()
        .compare(1),
    ).toBe(-1);
  });
});
