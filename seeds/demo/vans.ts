/** The vans' and the sites' part of the demo: dispatches, arrivals, put-away, meals. */
import { SATELLITES, satellites, type Satellite } from './catalogue.ts';
import { as, type Door, type Who } from './door.ts';
import { ck, clock, id, later, loadFor, type Packs, type Story } from './story.ts';

/** What goes wrong on the way. */
interface Mishap {
  readonly missing?: number;
  readonly damaged?: number;
}

export interface Trip {
  readonly name: string;
  readonly day: number;
  readonly site: Satellite;
  readonly loadedAt: string;
  readonly mishap?: Mishap;
  readonly crateCode?: string;
  /** codes of crates that its lots go into in turn, read when it is planned */
  readonly crateCodes?: (door: Door) => Promise<readonly string[]>;
  /** nothing happens after that */
  readonly until?: 'planned' | 'departed';
}

export const receiverOf = (site: Satellite): Who => ({
  name: site === 'w3' ? 'person/receiver' : `person/receiver-${site}`,
  role: 'receiver',
  site: `site/${site}`,
});

const SCANNERS: Partial<Record<Satellite, string>> = { w3: 'device/w3-scanner', hot: 'device/hot-scanner' };
export function scannerOf(site: Satellite): Who {
  const device = SCANNERS[site];
  return device === undefined ? receiverOf(site) : { name: device, role: 'device', site: `site/${site}` };
}

const vanOf = (site: Satellite) =>
  site.startsWith('w')
    ? { vehicle: 'Van 2', driverName: 'Ines Marrow', driver: { name: 'person/driver', role: 'driver' } }
    : { vehicle: 'Van 1', driverName: 'Teo Larkin', driver: { name: 'person/driver-2', role: 'driver' } };

const MEALS_OF_A_LOT = { withDinner: 4, lunchOnly: 3 };

export function trip(story: Story, plan: Trip): void {
  const { day, site, name } = plan;
  const path = `/v1/dispatches/${id(`dispatch/${name}`)}`;
  const { vehicle, driverName, driver } = vanOf(site);
  const load = () => loadFor(story, day, site);
  story.happens(day, plan.loadedAt, async () => {
    if (load().length === 0) return;
    const codes = (await plan.crateCodes?.(story.door)) ?? [plan.crateCode];
    await story.door.post(as('kitchen', 'site/ck'), '/v1/dispatches', `dispatch/${name}`, {
      fromSiteId: ck(),
      toSiteId: id(`site/${site}`),
      plannedFor: story.calendar.at(day, clock(plan.loadedAt, 40)),
      vehicle,
      driverName,
      lines: load().map(({ lotId, serials }, at) => ({
        lotId,
        placeId: id('place/ck-chiller'),
        quantity: serials.length,
        unit: 'piece',
        serials,
        crateCode: codes[at % codes.length],
      })),
    });
  });
  if (plan.until === 'planned') return;
  story.happens(day, clock(plan.loadedAt, 40), async (departedAt) => {
    if (load().length > 0) await story.door.post(driver, `${path}/departure`, `departure/${name}`, { departedAt });
  });
  if (plan.until === 'departed') return;
  story.happens(day, clock(plan.loadedAt, 130), async (at) => {
    if (load().length === 0) return;
    const found = SATELLITES[site].scans ? await arriveByScan(story, plan, load(), at) : load();
    const put = SATELLITES[site].scans ? [] : found;
    await story.door.post(receiverOf(site), `${path}/receipts`, `receipt/${name}`, {
      occurredAt: later(at, SATELLITES[site].scans ? 1_500 : 0),
      closes: true,
      lines: put.map((packs, no) => ({
        lotId: packs.lotId,
        quantity: packs.serials.length,
        unit: 'piece',
        condition: 'accepted',
        placeId: id(`place/${site}-chiller`),
        temperatureC: 2.6 + ((day + no) % 4) * 0.3,
      })),
    });
    const meals = SATELLITES[site].dinner ? MEALS_OF_A_LOT.withDinner : MEALS_OF_A_LOT.lunchOnly;
    story.shelves[site].push(...found.map((packs) => ({ ...packs, mealsLeft: meals })));
  });
}

/** Every pack is scanned at the door and again at the chiller. Answers what was put away. */
async function arriveByScan(story: Story, plan: Trip, load: readonly Packs[], at: string): Promise<Packs[]> {
  const { site, name } = plan;
  const all = load.flatMap(({ lotId, code, serials }) => serials.map((serial) => ({ lotId, code, serial })));
  const damaged = all.slice(0, plan.mishap?.damaged ?? 0);
  const lost = all.slice(all.length - (plan.mishap?.missing ?? 0));
  const there = all.filter((pack) => !lost.includes(pack));
  const scanId = (kind: string, pack: { code: string; serial: string }) =>
    id(`scan/${name}-${kind}-${pack.code}/${pack.serial}`);
  const each = there.map((pack, no) => ({
    id: no === 0 && name === 'w3-12' ? id('scan/w3-arrival-1') : scanId('arrival', pack),
    kind: 'arrival',
    code: `${pack.code}/${pack.serial}`,
    occurredAt: later(at, 4 * no),
    condition: damaged.includes(pack) ? 'damaged' : 'accepted',
    temperatureC: damaged.includes(pack) ? 4.1 : 2.9,
  }));
  const crate = { id: id(`scan/${name}-crate`), kind: 'arrival', code: plan.crateCode, occurredAt: at };
  await story.door.scan(scannerOf(site), id(`site/${site}`), plan.crateCode === undefined ? each : [crate]);
  const good = there.filter((pack) => !damaged.includes(pack));
  const away = good.map((pack, no) => ({
    id: scanId('put-away', pack),
    kind: 'put-away',
    code: `${pack.code}/${pack.serial}`,
    placeId: id(`place/${site}-chiller`),
    occurredAt: later(at, 600 + 4 * no),
  }));
  story.door.setTime(later(at, 1_400));
  await story.door.scan(scannerOf(site), id(`site/${site}`), away);
  story.door.setTime(later(at, 1_600));
  const goodSerials = new Set(good.map((pack) => `${pack.code}/${pack.serial}`));
  return load.map((packs) => ({
    ...packs,
    serials: packs.serials.filter((serial) => goodSerials.has(`${packs.code}/${serial}`)),
  }));
}

const POINTS: Readonly<Record<Satellite, string>> = {
  w3: 'Bay A',
  w7: 'Bay C',
  w9: 'Day room',
  sch: 'Dining hall',
  care: 'Garden lounge',
  hot: 'Restaurant',
};

/** A share of every lot on the shelf is served. */
function meal(story: Story, day: number, site: Satellite, which: 'lunch' | 'dinner'): void {
  story.happens(day, which === 'lunch' ? '12:15' : '18:10', async (at) => {
    const served = story.shelves[site].flatMap((packs) => {
      const free = Math.max(0, packs.serials.length - packs.keep);
      const count = Math.min(free, Math.ceil(free / Math.max(1, packs.mealsLeft)));
      packs.mealsLeft -= 1;
      return count === 0 ? [] : [{ ...packs, serials: packs.serials.splice(0, count) }];
    });
    const servicePoint = POINTS[site];
    if (SATELLITES[site].scans && !(site === 'w3' && day === 12 && which === 'lunch')) {
      const scans = served.flatMap(({ code, serials }) =>
        serials.map((serial, no) => ({
          id: id(`scan/${site}-${day}-${which}-${code}/${serial}`),
          kind: 'use',
          code: `${code}/${serial}`,
          occurredAt: later(at, 3 * no),
          servicePoint,
          meal: which,
        })),
      );
      if (scans.length > 0) await story.door.scan(scannerOf(site), id(`site/${site}`), scans);
      return;
    }
    // Wards 7 and 9 scan one label and key in how many; the care home writes it down, lot by lot.
    if (site === 'w7' || site === 'w9') {
      const scans = served.map(({ lotId, code, serials }) => ({
        id: id(`scan/${site}-${day}-${which}-${lotId}`),
        kind: 'use',
        code,
        quantity: serials.length,
        placeId: id(`place/${site}-chiller`),
        occurredAt: at,
        servicePoint,
        meal: which,
      }));
      if (scans.length > 0) await story.door.scan(receiverOf(site), id(`site/${site}`), scans);
      return;
    }
    for (const { lotId, batch, serials } of served) {
      const name =
        site === 'w3' && batch === 'beef-stew' ? 'use/w3-lunch' : `use/${site}-${day}-${which}-${batch}-${lotId}`;
      await story.door.post(receiverOf(site), '/v1/uses', name, {
        lotId,
        placeId: id(`place/${site}-chiller`),
        quantity: serials.length,
        unit: 'piece',
        occurredAt: at,
        servicePoint,
        meal: which,
      });
    }
  });
}

export function everyMeal(story: Story, lastDay: number): void {
  for (let day = 1; day <= lastDay; day += 1) {
    for (const site of satellites) {
      meal(story, day, site, 'lunch');
      if (SATELLITES[site].dinner) meal(story, day, site, 'dinner');
    }
  }
}
