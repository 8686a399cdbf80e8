/** A group for a story of some months: a central kitchen and a ward in London, a care home over the sea whose clock changes on another day. */
import { createGroup } from '../../../src/features/identity/index.ts';
import { derivedId, exampleId } from '../../../src/platform/ids.ts';
import type { MonthItem, MonthPlace, MonthRecipe, MonthSite, MonthWorld } from '../oracle/month-facts.ts';
import { ADMIN_PASSWORD, type TestService } from '../service.ts';

const id = (name: string): string => exampleId(`month-story/${name}`);

const site = (name: string, timeZone: string): MonthSite => ({ id: id(name), timeZone });
export const KITCHEN = site('kitchen', 'Europe/London');
const WARD = site('ward', 'Europe/London');
export const HOME = site('home', 'America/New_York');
export const SITES = [KITCHEN, WARD, HOME];

const place = (name: string, siteId: string, usedByCount = false): MonthPlace => ({
  id: id(name),
  siteId,
  usedByCount,
});
export const CHILLERS = [place('chiller', KITCHEN.id), place('ward-chiller', WARD.id), place('home-chiller', HOME.id)];
const CUPBOARD = place('ward-cupboard', WARD.id, true);
const STORE = place('store', KITCHEN.id);
const own = (kind: 'receiving-place' | 'quarantine-place', siteId: string): MonthPlace => ({
  id: derivedId(kind, siteId),
  siteId,
  usedByCount: false,
});
export const quarantineOf = (siteId: string): string => derivedId('quarantine-place', siteId);

const item = (name: string, unit: MonthItem['unit'], unitMassMg: number, more: Partial<MonthItem> = {}): MonthItem => ({
  id: id(name),
  unit,
  unitMassMg,
  ...more,
});
export const ITEMS = {
  roots: item('roots', 'g', 1000),
  oil: item('oil', 'ml', 917),
  tins: item('tins', 'piece', 403_300),
  trays: item('trays', 'piece', 21_700, { packaging: true, untracked: true }),
  water: item('water', 'ml', 1000, { untracked: true }),
  soup: item('soup', 'g', 1000),
  stew: item('stew', 'g', 1000),
  pasta: item('pasta', 'g', 1000),
  pack: item('pack', 'piece', 300_000),
};
const MADE = [ITEMS.soup, ITEMS.stew, ITEMS.pasta];
export const BOUGHT = [ITEMS.roots, ITEMS.oil, ITEMS.tins];

const recipe = (of: MonthItem, expectedYieldPpm: number): MonthRecipe => ({
  id: derivedId('month-story-recipe', of.id),
  itemId: of.id,
  expectedYieldPpm,
});
export const RECIPES = [recipe(ITEMS.soup, 912_345), recipe(ITEMS.stew, 700_000), recipe(ITEMS.pasta, 1_350_000)];

export const WORLD: MonthWorld = {
  sites: SITES,
  places: [
    ...CHILLERS,
    CUPBOARD,
    STORE,
    ...SITES.flatMap((one) => [own('receiving-place', one.id), own('quarantine-place', one.id)]),
  ],
  items: Object.values(ITEMS),
  recipes: RECIPES,
};
export const SUPPLIER_ID = id('supplier');
export const packerOf = (siteId: string): string => derivedId('month-story-packer', siteId);

let groups = 0;

/** Makes the group and everything that food needs, over the API. Answers its id. */
export async function monthGroup(service: TestService, startMs: number): Promise<string> {
  groups += 1;
  service.clock.set(startMs);
  const admin = {
    personId: exampleId('person/admin'),
    name: 'Alex Reed',
    signInName: 'admin',
    password: ADMIN_PASSWORD,
  };
  const code = `months-${process.pid}-${groups}`;
  const { groupId } = await createGroup(service.db, { code, name: code, currency: 'GBP', admin, nowMs: startMs });
  const operations = service.as('operations', null, groupId);
  const add = async (path: string, ownId: string, fields: object): Promise<void> => {
    const answer = await operations.post(path, { id: ownId, ...fields });
    if (answer.status !== 201) throw new Error(`${path} answered ${answer.status}: ${answer.text}`);
  };
  for (const [at, one] of SITES.entries()) {
    const kind = at === 1 ? 'satellite' : 'central-kitchen';
    const fields = { code: `S${at}`, name: `Site ${at}`, kind, timeZone: one.timeZone, jurisdiction: 'GB-ENG' };
    await add('/v1/sites', one.id, fields);
    const packer = { siteId: one.id, code: 'PACK', name: 'Packer', kind: 'vacuum-packer' };
    await add('/v1/equipment', packerOf(one.id), packer);
  }
  for (const [at, one] of [...CHILLERS, CUPBOARD, STORE].entries()) {
    const { siteId, usedByCount } = one;
    await add('/v1/places', one.id, { siteId, code: `C${at}`, name: `Chiller ${at}`, kind: 'chiller', usedByCount });
  }
  const care = { allergens: [], handling: 'ready-to-eat', storageInstruction: 'Keep at 3 °C or below' };
  for (const [name, one] of Object.entries(ITEMS)) {
    const made = MADE.includes(one) ? 'prepared' : 'ingredient';
    const kind = one === ITEMS.pack ? 'packed' : one.packaging === true ? 'packaging' : made;
    await add('/v1/items', one.id, {
      code: name.toUpperCase(),
      name: `Some ${name}`,
      kind,
      unit: one.unit,
      ...(one.unit !== 'g' && { unitMassMg: one.unitMassMg }),
      ...(one === ITEMS.pack && { openedItemId: ITEMS.soup.id, openedLifeH: 24 }),
      ...(made === 'prepared' && { openedLifeH: 24 }),
      lotTracked: one.untracked !== true,
      ...care,
    });
  }
  await add('/v1/suppliers', SUPPLIER_ID, { code: 'FARM', name: 'Low Meadow Farm' });
  for (const [at, one] of RECIPES.entries()) {
    const { itemId, expectedYieldPpm } = one;
    const inputs = [{ itemId: ITEMS.roots.id, quantity: 1000, unit: 'g' }];
    const steps = ['prepare', 'pack'];
    await add('/v1/recipes', one.id, {
      itemId,
      code: `R${at}`,
      name: `Recipe ${at}`,
      expectedYieldPpm,
      steps,
      killStep: false,
      inputs,
    });
  }
  return groupId;
}
