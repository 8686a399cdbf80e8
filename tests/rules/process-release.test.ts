/**
 * What may leave the kitchen, reckoned a second time. Small random stories of one batch are told to the service over HTTP and to a plain
 * walk that knows only the rules in words: a lot waits from birth; it goes when every check that is required has passed and nothing about
 * it is open; whatever failed and cannot be repeated stops it and its packs; a correction stands in the place of what it corrects; a
 * decision is made once. The walk keeps lists of facts and looks through all of them each time.
 */
import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { kitchenOf, type Json, type Kitchen } from '../support/kitchen.ts';
import { NOON_MS, startService, type Answer, type TestService } from '../support/service.ts';
import { buildWorld, type World } from '../support/world.ts';
import {
  arbitraryStory,
  beginWalk,
  POINTS,
  type Code,
  type Fact,
  type Lot,
  type Story,
  type Walk,
} from '../support/oracle/process-release.ts';

let service: TestService;
let world: World;
let kitchen: Kitchen;
beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  kitchen = kitchenOf(service, world);
});
afterAll(() => service.stop());

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
let stories = 0;
const recipes = new Map<string, string>();

async function recipeOf({ codes, release, cookFor }: Story): Promise<string> {
  const key = JSON.stringify([codes, release, cookFor]);
  const known = recipes.get(key);
  if (known !== undefined) return known;
  const code = randomUUID().slice(0, 12);
  const { recipeId } = await kitchen.post('admin', '/v1/recipes', {
    ...{ itemId: world.beefStewId, code, name: code, expectedYieldPpm: 850_000, killStep: true },
    ...{ steps: ['cook', 'chill', 'pack'], inputs: [{ itemId: world.beefShinId, quantity: 40_000, unit: 'g' }] },
  });
  const points = codes.map((one) => ({
    ...POINTS[one].plan,
    ...(one === 'cook' && { requiredFor: cookFor }),
    source: 'This test',
  }));
  await kitchen.post('quality', `/v1/recipes/${recipeId}/process-plans`, { release, twoPeople: false, points });
  recipes.set(key, recipeId);
  return recipeId;
}

interface Told {
  readonly batchId: string;
  readonly lotIds: Map<string, string>;
  readonly runIds: Map<string, string>;
  readonly checkIds: Map<string, string>;
  readonly beginMs: number;
}

async function begin(story: Story): Promise<Told> {
  stories += 1;
  const beginMs = NOON_MS + stories * 4 * HOUR_MS;
  service.clock.set(beginMs);
  const recipeId = await recipeOf(story);
  const shin = await kitchen.shin(40_000);
  const { batchId } = await kitchen.post('kitchen', '/v1/batches', { siteId: world.ckId, recipeId });
  const input = { lotId: shin, placeId: world.ckChillerId, quantity: 39_000, unit: 'g' };
  await kitchen.post('kitchen', `/v1/batches/${batchId}/inputs`, input);
  const load = {
    placeId: world.ckChillerId,
    quantity: 11_000,
    unit: 'g',
    cookEndedAt: new Date(beginMs).toISOString(),
  };
  const out = await kitchen.post('kitchen', `/v1/batches/${batchId}/outputs`, { loads: Array(story.loads).fill(load) });
  service.clock.set(beginMs + 3 * HOUR_MS);
  const lotIds = new Map<string, string>((out.lots as Json[]).map((lot, n) => [`load-${n}`, lot.lotId as string]));
  return { batchId, lotIds, runIds: new Map(), checkIds: new Map(), beginMs };
}

const at = (told: Told, minute: number) => new Date(told.beginMs + minute * MINUTE_MS).toISOString();

function checkBody(told: Told, fact: Extract<Fact, { kind: 'check' }>): object {
  const { plan, passing, failing } = POINTS[fact.code];
  const run = fact.about.startsWith('packs') && fact.byRun;
  const kind = fact.about === 'batch' ? 'batch' : run ? 'packing-run' : 'lot';
  const id = fact.about === 'batch' ? told.batchId : run ? told.runIds.get(fact.about) : told.lotIds.get(fact.about);
  return {
    ...{ siteId: world.ckId, stage: plan.stage, kind: plan.kind, controlPoint: fact.code, about: { kind, id } },
    ...{ occurredAt: at(told, fact.minute), ...(fact.passes ? passing : failing) },
  };
}

/** tells one fact; the answer's status */
async function tell(told: Told, story: Story, fact: Fact): Promise<Answer> {
  const send = (role: string, path: string, body: object) => service.as(role).post(path, { id: randomUUID(), ...body });
  const batch = `/v1/batches/${told.batchId}`;
  switch (fact.kind) {
    case 'check': {
      const id = randomUUID();
      told.checkIds.set(fact.name, id);
      return send('kitchen', '/v1/process-checks', { ...checkBody(told, fact), id });
    }
    case 'correction': {
      const id = randomUUID();
      const before = told.checkIds.get(fact.of) as string;
      told.checkIds.set(fact.name, id);
      const first = story.facts.find((one) => one.name === fact.first) as Extract<Fact, { kind: 'check' }>;
      const body = checkBody(told, { ...first, passes: fact.passes });
      return send('kitchen', `/v1/process-checks/${before}/corrections`, { ...body, id, reason: 'Read wrongly' });
    }
    case 'closing': {
      const path = `/v1/process-checks/${told.checkIds.get(fact.of) as string}/corrective-actions`;
      return send('quality', path, { action: 'Put right', closes: true });
    }
    case 'packing': {
      const id = randomUUID();
      const when = at(told, 150);
      const fill = {
        ...{ fromLotId: told.lotIds.get(fact.load), fromPlaceId: world.ckChillerId, usedQuantity: 600, usedUnit: 'g' },
        ...{ packItemId: world.beefStewPackId, packs: 2, toPlaceId: world.ckChillerId, serialised: false },
      };
      const run = { equipmentId: world.packerId, programme: 'Moist', startedAt: when, finishedAt: when, fills: [fill] };
      const answer = await send('kitchen', `${batch}/packing-runs`, { ...run, id });
      const lot = (answer.body.lots as Json[] | undefined)?.find((one) => one.packingRunId === id);
      if (lot) {
        told.lotIds.set(fact.name, lot.lotId);
        told.runIds.set(fact.name, id);
      }
      return answer;
    }
    case 'release': {
      const accept = fact.accept.map((controlPoint) => ({ controlPoint, reason: 'Looked at again' }));
      return send('quality', `${batch}/release`, accept.length > 0 ? { accept } : {});
    }
    case 'rejection': {
      const lotIds = [told.lotIds.get(fact.load)];
      return send('quality', `${batch}/rejection`, { lotIds, disposition: fact.disposition, reason: 'Not good' });
    }
  }
}

async function holdsOf(told: Told, lot: string): Promise<string[]> {
  const answer = await kitchen.get('quality', `/v1/lots/${told.lotIds.get(lot) as string}`);
  return [...new Set((answer.holds as Json[]).map((hold) => hold.kind as string))].sort();
}

async function leaves(told: Told, lot: string): Promise<boolean> {
  const packs = lot.startsWith('packs');
  const line = { lotId: told.lotIds.get(lot), placeId: world.ckChillerId, quantity: 1, unit: packs ? 'piece' : 'g' };
  const plan = { fromSiteId: world.ckId, toSiteId: world.w3Id, lines: [line] };
  const { dispatchId } = await kitchen.post('kitchen', '/v1/dispatches', plan);
  const gone = await service.as('driver').post(`/v1/dispatches/${dispatchId}/departure`, { id: randomUUID() });
  expect([200, 201, 409]).toContain(gone.status);
  if (gone.status === 409) expect(gone.body.code).toBe('on-hold');
  return gone.status !== 409;
}

const wordsOf = (fact: Fact) => JSON.stringify(fact);

/** tells the whole story and holds what the service says against the walk, fact by fact and at the end */
async function live(story: Story): Promise<{ told: Told; walk: Walk }> {
  const told = await begin(story);
  const walk = beginWalk(story);
  const seen: string[] = [];
  for (const fact of story.facts) {
    const expected = walk.tell(fact);
    if (expected === 'not-told') continue;
    const answer = await tell(told, story, fact);
    seen.push(`${wordsOf(fact)} => ${answer.status} ${answer.body.code as string}`);
    expect(answer.status < 300 ? 'taken' : (answer.body.code as string), seen.join('\n')).toBe(expected);
  }
  for (const lot of walk.lots()) {
    expect([lot.name, await holdsOf(told, lot.name)], seen.join('\n')).toEqual([lot.name, walk.holds(lot)]);
    expect([lot.name, await leaves(told, lot.name)], seen.join('\n')).toEqual([lot.name, walk.mayLeave(lot)]);
  }
  const since = `fromDate=${at(told, 0).slice(0, 'yyyy-mm-dd'.length)}`;
  const open = await kitchen.get('quality', `/v1/deviations?siteId=${world.ckId}&state=open&${since}&limit=500`);
  const ours = new Map([...told.checkIds].map(([name, id]) => [id, name]));
  const deviations = (open.items as Json[]).flatMap((one) => ours.get(one.checkId as string) ?? []).sort();
  expect(deviations, seen.join('\n')).toEqual(walk.openDeviations());
  return { told, walk };
}

test('of a batch told in any way, what leaves is what the checks and the decisions let go', { timeout: 300_000 }, () =>
  fc.assert(
    fc.asyncProperty(arbitraryStory, async (story) => void (await live(story))),
    {
      numRuns: Number(process.env['RUNS'] ?? 25),
      interruptAfterTimeLimit: process.env['RUNS'] ? 280_000 : 12_000,
      endOnFailure: process.env['RUNS'] !== undefined,
    },
  ),
);

const summary = async (told: Told, lots: readonly Lot[]) => {
  const ready = await kitchen.get('quality', `/v1/batches/${told.batchId}/release-readiness`);
  const byId = new Map((ready.lots as Json[]).map((lot) => [lot.lotId as string, lot]));
  return lots
    .map((lot) => {
      const one = byId.get(told.lotIds.get(lot.name) as string);
      const points = (one?.points as Json[]).map((point) => [point.code as Code, point.state as string]);
      return [
        lot.name,
        one?.state,
        one?.checks,
        points,
        (one?.holds as Json[]).map((hold) => hold.kind as string).sort(),
      ];
    })
    .sort();
};

test('checks told in another order end the same, where nobody decides', { timeout: 60_000 }, () =>
  fc.assert(
    fc.asyncProperty(
      arbitraryStory,
      fc.array(fc.nat(1_000_000), { minLength: 30, maxLength: 30 }),
      async (drawn, ranks) => {
        const undecided = drawn.facts.filter((fact) => fact.kind === 'check' || fact.kind === 'packing');
        const packing = undecided.filter((fact) => fact.kind === 'packing');
        const checks = undecided.filter((fact) => fact.kind === 'check');
        const story: Story = { ...drawn, release: 'by-hand', cookFor: 'release', facts: [...packing, ...checks] };
        const shuffled = checks
          .map((fact, n) => ({ fact, rank: ranks[n] ?? n }))
          .sort((a, b) => a.rank - b.rank)
          .map(({ fact }) => fact);
        const one = await live(story);
        const other = await live({ ...story, facts: [...packing, ...shuffled] });
        expect(await summary(other.told, other.walk.lots())).toEqual(await summary(one.told, one.walk.lots()));
      },
    ),
    { numRuns: Number(process.env['RUNS'] ?? 8) },
  ),
);
