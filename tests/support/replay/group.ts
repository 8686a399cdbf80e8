/**
 * A group of its own in a running service, with the places of a random story. Sites of the service come with a receiving and a
 * quarantine place, and name holds by their fact: the story is put into those names first.
 */
import { createGroup } from '../../../src/features/identity/index.ts';
import { derivedId, exampleId } from '../../../src/platform/ids.ts';
import type { OracleScenario } from '../oracle/arbitraries.ts';
import type { OracleFact, World } from '../oracle/types.ts';
import { ADMIN_PASSWORD, type TestService } from '../service.ts';

export const ITEMS = {
  supplied: exampleId('replay/leeks'),
  produced: exampleId('replay/leek-soup'),
  packed: exampleId('replay/leek-soup-pack'),
};
const SUPPLIER_ID = exampleId('replay/supplier');
const RECIPE_ID = exampleId('replay/recipe');
const PACKER_ID = exampleId('replay/packer');
/** Open for ever: every packing run is recorded in it. */
const PACKING_BATCH_ID = exampleId('replay/packing-batch');
export const IDS = {
  supplierId: SUPPLIER_ID,
  recipeId: RECIPE_ID,
  packerId: PACKER_ID,
  packingBatchId: PACKING_BATCH_ID,
};

// the service's own kinds that block the same as the oracle's
const HOLD_KINDS: Readonly<Record<string, string>> = { 'awaiting-release': 'awaiting-laboratory', recall: 'quality' };

/** The same story in the service's names. A hold everywhere always spreads there. */
export function inServiceNames({ world, facts, lots }: OracleScenario): OracleScenario {
  const names = new Map<string, string>();
  for (const site of world.sites) {
    names.set(site.receivingPlaceId, derivedId('receiving-place', site.id));
    names.set(site.quarantinePlaceId, derivedId('quarantine-place', site.id));
  }
  for (const fact of facts) if (fact.kind === 'hold') names.set(fact.holdId, fact.id);
  const renamed = JSON.parse(
    JSON.stringify({ world, facts, lots }, (_key, value: unknown) =>
      typeof value === 'string' ? (names.get(value) ?? value) : value,
    ),
  ) as OracleScenario;
  return {
    ...renamed,
    facts: renamed.facts.map((fact): OracleFact => {
      if (fact.kind !== 'hold') return fact;
      const propagates = fact.scope === 'everywhere';
      return { ...fact, holdKind: HOLD_KINDS[fact.holdKind] ?? fact.holdKind, propagates };
    }),
  };
}

let groups = 0;

/** Makes the group and, over the API, its sites, places, items, supplier, recipe, packer and the batch for packing. */
export async function groupFor(service: TestService, world: World, startMs: number): Promise<string> {
  groups += 1;
  service.clock.set(startMs);
  const admin = {
    personId: exampleId('person/admin'),
    name: 'Alex Reed',
    signInName: 'admin',
    password: ADMIN_PASSWORD,
  };
  const code = `story-${process.pid}-${groups}`;
  const { groupId } = await createGroup(service.db, { code, name: code, currency: 'GBP', admin, nowMs: startMs });
  const operations = service.as('operations', null, groupId);
  const add = async (path: string, id: string, fields: object): Promise<void> => {
    const answer = await operations.post(path, { id, ...fields });
    if (answer.status !== 201) throw new Error(`${path} answered ${answer.status}: ${answer.text}`);
  };
  const here = { timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };
  for (const [at, site] of world.sites.entries()) {
    const kind = at === 0 ? 'central-kitchen' : 'satellite';
    await add('/v1/sites', site.id, { code: `S${at}`, name: `Site ${at}`, kind, ...here });
  }
  for (const place of world.places) {
    const own = world.sites.find((site) => site.id === place.siteId);
    const usedByCount = place.usedByCount === true;
    if (place.id === own?.receivingPlaceId || place.id === own?.quarantinePlaceId) {
      if (usedByCount) await operations.patch(`/v1/places/${place.id}`, { usedByCount }, { 'if-match': '*' });
      continue;
    }
    const chiller = { code: 'CHILL', name: 'Chiller', kind: 'chiller', usedByCount };
    await add('/v1/places', place.id, { siteId: place.siteId, ...chiller });
  }
  const item = { allergens: [], handling: 'ready-to-eat', storageInstruction: 'Keep at 3 °C or below' };
  await add('/v1/items', ITEMS.supplied, { code: 'LEEK', name: 'Leeks', kind: 'ingredient', unit: 'g', ...item });
  await add('/v1/items', ITEMS.produced, { code: 'SOUP', name: 'Leek soup', kind: 'prepared', unit: 'g', ...item });
  const pack = { code: 'SOUP-300', name: 'Leek soup, pack', kind: 'packed', unit: 'piece', unitMassMg: 300_000 };
  await add('/v1/items', ITEMS.packed, { ...pack, ...item });
  await add('/v1/suppliers', SUPPLIER_ID, { code: 'FARM', name: 'Low Meadow Farm' });
  await add('/v1/recipes', RECIPE_ID, {
    itemId: ITEMS.produced,
    code: 'SOUP',
    name: 'Leek soup',
    expectedYieldPpm: 900_000,
    steps: ['prepare', 'pack'],
    killStep: false,
    inputs: [{ itemId: ITEMS.supplied, quantity: 1000, unit: 'g' }],
  });
  const kitchenId = world.sites[0]?.id;
  await add('/v1/equipment', PACKER_ID, { siteId: kitchenId, code: 'PACK', name: 'Packer', kind: 'vacuum-packer' });
  await add('/v1/batches', PACKING_BATCH_ID, { siteId: kitchenId, recipeId: RECIPE_ID });
  return groupId;
}
