/** Who and what there is in the demo's group before the first day: sites, places, machines, suppliers, people. All invented. */
import { exampleId } from '../../src/platform/ids.ts';
import { as, type Door } from './door.ts';
import { BROOK_GLN, KITCHEN_GLN } from './exchange-announced.ts';
import { addressOfSite, addressOfSupplier } from './addresses.ts';
import { addFood } from './food.ts';
import { ZONE } from './calendar.ts';

/** Satellites by the short name that their example ids use. `scans`: pack by pack; the others record by count. */
export const SATELLITES = {
  w3: { code: 'W3', name: 'Fernhollow Hospital, ward 3', scans: true, dinner: true },
  w7: { code: 'W7', name: 'Fernhollow Hospital, ward 7', scans: false, dinner: false },
  w9: { code: 'W9', name: 'Fernhollow Hospital, ward 9', scans: false, dinner: false },
  sch: { code: 'SCH', name: 'Tarn Lane School, boarding house', scans: true, dinner: false },
  care: { code: 'CARE', name: 'Brackenfold Care Home', scans: false, dinner: false },
  hot: { code: 'HOT', name: 'Hotel Selwick', scans: true, dinner: true },
} as const;

export type Satellite = keyof typeof SATELLITES;
export const satellites = Object.keys(SATELLITES) as Satellite[];

const CK_PLACES = [
  ['ck-chiller', 'CHILL-1', 'Cold room 1', 'chiller'],
  ['ck-freezer', 'FREEZE-1', 'Freezer 1', 'freezer'],
  ['ck-dry', 'DRY', 'Dry store', 'ambient-store'],
  ['ck-prep', 'PREP', 'Preparation area', 'prep-area'],
] as const;

const EQUIPMENT = [
  ['packer-1', 'PACK-1', 'Chamber packer 1', 'vacuum-packer'],
  ['packer-2', 'PACK-2', 'Chamber packer 2, small', 'vacuum-packer'],
  ['kettle-1', 'KETTLE-1', 'Kettle 1', 'kettle'],
  ['kettle-2', 'KETTLE-2', 'Kettle 2', 'kettle'],
  ['oven-1', 'OVEN-1', 'Combination oven 1', 'oven'],
  ['blast-chiller-1', 'BLAST-1', 'Blast chiller 1', 'blast-chiller'],
  ['probe-1', 'PROBE-1', 'Core probe 1', 'probe'],
  ['scale-1', 'SCALE-1', 'Floor scale', 'scale'],
] as const;

const SUPPLIERS = [
  ['brook', 'BROOK', 'Brook Farm'],
  ['linden', 'LINDEN', 'Linden Poultry'],
  ['marl', 'MARL', 'Marl Hill Growers'],
  ['dale', 'DALE', 'Dale Bottom Dairy'],
  ['quern', 'QUERN', 'Quern Mill and Dry Goods'],
  ['saffron', 'SAFFRON', 'Saffron Yard Spices'],
  ['pantry', 'PANTRY', 'Wold Pantry Wholesale'],
] as const;

/** example name, name, sign-in name, password, role, site */
const PEOPLE = [
  ['kitchen', 'Sam Dale', 'kitchen', 'kettle-by-the-window', 'kitchen', 'site/ck'],
  ['receiver', 'Wren Ashby', 'receiver', 'trolley-under-the-stairs', 'receiver', 'site/w3'],
  ['quality', 'Nora Pell', 'quality', 'probe-in-the-thickest-part', 'quality', null],
  ['operations', 'Idris Holt', 'operations', 'phones-left-on-the-desk', 'operations', null],
  ['finance', 'Maud Sterne', 'finance', 'pennies-in-the-flour-bin', 'finance', null],
  ['controller', 'Petra Voss', 'p.voss', 'stamps-in-the-top-drawer', 'finance', null],
  ['driver', 'Ines Marrow', 'driver', 'van-two-starts-at-five', 'driver', null],
  ['cook-2', 'Oskar Finch', 'o.finch', 'spoons-on-the-third-hook', 'kitchen', 'site/ck'],
  ['packer', 'Tilda Rowe', 't.rowe', 'pouches-to-the-left-side', 'kitchen', 'site/ck'],
  ['driver-2', 'Teo Larkin', 't.larkin', 'ramp-down-before-lunch', 'driver', null],
  ['receiver-w7', 'Bea Thorn', 'b.thorn', 'keys-behind-the-kettle', 'receiver', 'site/w7'],
  ['receiver-w9', 'Gil Harrow', 'g.harrow', 'lids-never-match-boxes', 'receiver', 'site/w9'],
  ['receiver-sch', 'Polly Vane', 'p.vane', 'bell-rings-at-ten-past', 'receiver', 'site/sch'],
  ['receiver-care', 'Hal Wick', 'h.wick', 'tea-before-the-trolley', 'receiver', 'site/care'],
  ['receiver-hot', 'Cato Lunn', 'c.lunn', 'napkins-folded-in-half', 'receiver', 'site/hot'],
] as const;

export async function addCatalogue(door: Door): Promise<void> {
  const admin = as('admin');
  const add = (path: string, name: string, fields: object) => door.post(admin, path, name, fields);
  const here = { timeZone: ZONE, jurisdiction: 'GB-ENG' };
  await add('/v1/sites', 'site/ck', {
    code: 'CK',
    name: 'Ostermere central kitchen',
    kind: 'central-kitchen',
    gln: KITCHEN_GLN,
    address: addressOfSite('ck'),
    ...here,
  });
  for (const key of satellites) {
    const { code, name } = SATELLITES[key];
    await add('/v1/sites', `site/${key}`, {
      code,
      name,
      kind: 'satellite',
      address: addressOfSite(key),
      ...here,
    });
    const chiller = { siteId: exampleId(`site/${key}`), code: 'CHILL-1', name: `${code} chiller`, kind: 'chiller' };
    await add('/v1/places', `place/${key}-chiller`, chiller);
  }
  // Beside each other, because hashing passwords is slow on purpose. Sites came first: a grant names one.
  await Promise.all([addPeople(door), addThings(door)]);
}

async function addThings(door: Door): Promise<void> {
  const add = (path: string, name: string, fields: object) => door.post(as('admin'), path, name, fields);
  const siteId = exampleId('site/ck');
  for (const [key, code, name, kind] of CK_PLACES) {
    await add('/v1/places', `place/${key}`, { siteId, code, name, kind });
  }
  for (const [key, code, name, kind] of EQUIPMENT) {
    await add('/v1/equipment', `equipment/${key}`, { siteId, code, name, kind });
  }
  for (const [key, code, name] of SUPPLIERS) {
    const gln = key === 'brook' ? { gln: BROOK_GLN } : {};
    await add('/v1/suppliers', `supplier/${key}`, { code, name, ...gln, address: addressOfSupplier(key) });
  }
  await addFood(door);
  await add('/v1/devices', 'device/w3-scanner', { name: 'Scanner of ward 3', siteId: exampleId('site/w3') });
  await add('/v1/devices', 'device/hot-scanner', {
    name: 'Scanner of the hotel kitchen',
    siteId: exampleId('site/hot'),
  });
}

async function addPeople(door: Door): Promise<void> {
  for (const [key, name, signInName, password, role, site] of PEOPLE) {
    const grants = [{ role, siteId: site === null ? null : exampleId(site) }];
    await door.post(as('admin'), '/v1/people', `person/${key}`, { name, signInName, password, grants });
  }
}
