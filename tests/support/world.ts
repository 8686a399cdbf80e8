/**
 * A small world to work in, made over the API: a central kitchen and a ward, a supplier, beef stew from raw shin to pack. Ids are those
 * of the examples in the contract.
 */
import { derivedId, exampleId } from '../../src/platform/ids.ts';
import type { TestService } from './service.ts';

export interface World {
  readonly ckId: string;
  readonly w3Id: string;
  readonly ckReceivingId: string;
  readonly ckQuarantineId: string;
  readonly ckChillerId: string;
  readonly ckFreezerId: string;
  readonly ckDryId: string;
  readonly ckPrepId: string;
  readonly w3ReceivingId: string;
  readonly w3QuarantineId: string;
  readonly w3ChillerId: string;
  readonly packerId: string;
  readonly kettleId: string;
  readonly supplierId: string;
  /** ingredient, raw, g */
  readonly beefShinId: string;
  /** prepared, g, 5 days from the end of cooking */
  readonly beefStewId: string;
  /** packed, pieces of 300 g */
  readonly beefStewPackId: string;
  /** 40 kg of shin to 34 kg of stew */
  readonly recipeId: string;
  /** kitchen, every site; its client is service.as('kitchen') */
  readonly kitchenPersonId: string;
}

export async function buildWorld(service: TestService): Promise<World> {
  const admin = service.as('admin');
  async function add(path: string, name: string, fields: object): Promise<string> {
    const answer = await admin.post(path, { id: exampleId(name), ...fields });
    if (answer.status !== 201) throw new Error(`${path} ${name}: ${answer.text}`);
    return exampleId(name);
  }
  const here = { timeZone: 'Europe/London', jurisdiction: 'GB-ENG' };
  const ck = { code: 'CK', name: 'Central kitchen', kind: 'central-kitchen', ...here };
  const ckId = await add('/v1/sites', 'site/ck', ck);
  const w3Id = await add('/v1/sites', 'site/w3', { code: 'W3', name: 'Ward 3 pantry', kind: 'satellite', ...here });
  const place = (name: string, siteId: string, code: string, kind: string) =>
    add('/v1/places', name, { siteId, code, name: code, kind });
  const machine = (name: string, code: string, kind: string) =>
    add('/v1/equipment', name, { siteId: ckId, code, name: code, kind });
  const beefShinId = await add('/v1/items', 'item/beef-shin', {
    code: 'BEEF-SHIN',
    name: 'Beef shin, diced',
    kind: 'ingredient',
    unit: 'g',
    allergens: [],
    handling: 'raw',
    storageInstruction: 'Keep at 5 °C or below',
  });
  const life = { lifeDays: 5, anchor: 'end-of-cooking', dayOne: 'anchor-day-is-day-one' };
  const cooked = { handling: 'ready-to-eat', storageInstruction: 'Keep at 3 °C or below', life, openedLifeH: 24 };
  const allergens = ['gluten-cereals:wheat', 'celery'];
  const stew = { code: 'BEEF-STEW', name: 'Beef stew', kind: 'prepared', unit: 'g', allergens, ...cooked };
  const beefStewId = await add('/v1/items', 'item/beef-stew', stew);
  const beefStewPackId = await add('/v1/items', 'item/beef-stew-pack', {
    code: 'BEEF-STEW-300',
    name: 'Beef stew, pack of 300 g',
    kind: 'packed',
    unit: 'piece',
    unitMassMg: 300_000,
    allergens,
    ...cooked,
  });
  return {
    ckId,
    w3Id,
    ckReceivingId: derivedId('receiving-place', ckId),
    ckQuarantineId: derivedId('quarantine-place', ckId),
    ckChillerId: await place('place/ck-chiller', ckId, 'CHILL-1', 'chiller'),
    ckFreezerId: await place('place/ck-freezer', ckId, 'FREEZE-1', 'freezer'),
    ckDryId: await place('place/ck-dry', ckId, 'DRY', 'ambient-store'),
    ckPrepId: await place('place/ck-prep', ckId, 'PREP', 'prep-area'),
    w3ReceivingId: derivedId('receiving-place', w3Id),
    w3QuarantineId: derivedId('quarantine-place', w3Id),
    w3ChillerId: await place('place/w3-chiller', w3Id, 'CHILL-1', 'chiller'),
    packerId: await machine('equipment/packer-1', 'PACK-1', 'vacuum-packer'),
    kettleId: await machine('equipment/kettle-1', 'KETTLE-1', 'kettle'),
    supplierId: await add('/v1/suppliers', 'supplier/brook', { code: 'BROOK', name: 'Brook Farm Meats' }),
    beefShinId,
    beefStewId,
    beefStewPackId,
    recipeId: await add('/v1/recipes', 'recipe/beef-stew', {
      itemId: beefStewId,
      code: 'BEEF-STEW',
      name: 'Beef stew',
      expectedYieldPpm: 850_000,
      steps: ['prepare', 'cook', 'chill', 'pack'],
      killStep: true,
      inputs: [{ itemId: beefShinId, quantity: 40_000, unit: 'g' }],
    }),
    kitchenPersonId: await add('/v1/people', 'person/kitchen', {
      name: 'Sam Dale',
      signInName: 'kitchen',
      password: 'kettle-by-the-window',
      grants: [{ role: 'kitchen', siteId: null }],
    }),
  };
}
