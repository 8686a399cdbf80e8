/**
 * A day of a site: what its kitchen packed the day before leaves at half past six, arrives at nine, and is served at noon and in the
 * evening, pack by pack. Some packs come damaged, some are never seen, some are left over; once a week stock is counted.
 */
import { chanceOf, type Chance } from './random.ts';
import type { Api } from './api.ts';
import { packLotsOf, type PackLot } from './kitchen-day.ts';
import type { Plan, ScenarioKitchen, ScenarioSite } from './plan.ts';

const DAMAGED_SHARE = 0.01;
const NEVER_SEEN_SHARE = 0.002;
const LEFT_OVER_SHARE = 0.06;
const COUNT_EVERY_DAYS = 7;

interface Portion extends PackLot {
  readonly firstSerial: number;
}

/** Each site gets an equal run of serials of each lot. */
function portionsOf(plan: Plan, kitchen: ScenarioKitchen, site: ScenarioSite, day: number): Portion[] {
  const place = kitchen.serves.indexOf(site);
  return packLotsOf(plan, kitchen, day - 1).map((lot) => {
    const packs = Math.floor(lot.packs / kitchen.serves.length);
    return { ...lot, packs, firstSerial: place * packs + 1 };
  });
}

const serialsOf = (portion: Portion): string[] =>
  Array.from({ length: portion.packs }, (_, no) => String(portion.firstSerial + no));

export async function siteDay(
  api: Api,
  plan: Plan,
  kitchen: ScenarioKitchen,
  site: ScenarioSite,
  day: number,
): Promise<void> {
  const leftAt = plan.at(day, 6.5);
  if (day === 0 || leftAt === null) return;
  const portions = portionsOf(plan, kitchen, site, day).filter((portion) => portion.packs > 0);
  const name = `${site.code}/${day}`;
  const dispatchId = plan.id(`dispatch/${name}`);
  await api.post('/v1/dispatches', {
    id: dispatchId,
    code: `D-${site.code}-${plan.stamp(day)}`,
    fromSiteId: kitchen.siteId,
    toSiteId: site.siteId,
    vehicle: `Van ${1 + (kitchen.serves.indexOf(site) % 4)}`,
    lines: portions.map((portion) => ({
      lotId: portion.lotId,
      placeId: kitchen.freezerId,
      quantity: portion.packs,
      unit: 'piece',
      serials: serialsOf(portion),
    })),
  });
  const path = `/v1/dispatches/${dispatchId}`;
  await api.post(`${path}/departure`, { id: plan.id(`departure/${name}`), departedAt: leftAt });
  const told = tell(plan, site, day, dispatchId, portions);
  if (told.morning.length > 0) await api.scans(site.siteId, told.morning);
  const closedAt = plan.at(day, 9.75);
  if (closedAt === null) return;
  const closing = { occurredAt: closedAt, closes: true, lines: [] };
  await api.post(`${path}/receipts`, { id: plan.id(`receipt/${name}`), ...closing });
  if (told.later.length > 0) await api.scans(site.siteId, told.later);
  const countedAt = plan.at(day, 20);
  if (countedAt === null || day % COUNT_EVERY_DAYS !== 1) return;
  await api.post('/v1/stock-counts', {
    id: plan.id(`count/${name}`),
    placeId: site.freezerId,
    occurredAt: countedAt,
    lines: portions.map((portion) => ({ lotId: portion.lotId, quantity: 0, unit: 'piece' })),
  });
}

interface Told {
  /** arrival and putting away */
  readonly morning: object[];
  /** what is thrown away and what is served */
  readonly later: object[];
}

function tell(plan: Plan, site: ScenarioSite, day: number, dispatchId: string, portions: readonly Portion[]): Told {
  const chance = chanceOf(`${plan.seed}/day/${site.code}/${day}`);
  const told: Told = { morning: [], later: [] };
  let no = 0;
  for (const portion of portions) {
    for (const serial of serialsOf(portion)) {
      no += 1;
      // Drawn whether it is needed or not, so that a later end changes nothing that came before.
      tellPack(plan, told, { portion, serial, no, day, dispatchId, site, fate: fateOf(chance) });
    }
  }
  return told;
}

type Fate = 'damaged' | 'never-seen' | 'left-over' | 'lunch' | 'dinner';

function fateOf(chance: Chance): Fate {
  const drawn = chance.next();
  if (drawn < DAMAGED_SHARE) return 'damaged';
  if (drawn < DAMAGED_SHARE + NEVER_SEEN_SHARE) return 'never-seen';
  if (drawn < DAMAGED_SHARE + NEVER_SEEN_SHARE + LEFT_OVER_SHARE) return 'left-over';
  return chance.happens(0.6) ? 'lunch' : 'dinner';
}

interface OnePack {
  readonly portion: Portion;
  readonly serial: string;
  readonly no: number;
  readonly day: number;
  readonly dispatchId: string;
  readonly site: ScenarioSite;
  readonly fate: Fate;
}

function tellPack(plan: Plan, told: Told, pack: OnePack): void {
  const { portion, serial, day, dispatchId, site, fate } = pack;
  if (fate === 'never-seen') return;
  const code = `${portion.code}/${serial}`;
  const say = (to: object[], kind: string, hour: number, more: object): void => {
    const occurredAt = plan.at(day, hour + (pack.no % 30) / 60);
    if (occurredAt !== null) to.push({ id: plan.id(`scan/${kind}/${code}`), kind, code, occurredAt, ...more });
  };
  const thrown = { destination: 'anaerobic-digestion' };
  if (fate === 'damaged') {
    say(told.morning, 'arrival', 9, { dispatchId, condition: 'damaged' });
    say(told.later, 'discard', 10, { ...thrown, reason: 'damaged' });
    return;
  }
  say(told.morning, 'arrival', 9, { dispatchId, condition: 'accepted' });
  say(told.morning, 'put-away', 9.2, { placeId: site.freezerId });
  if (fate === 'lunch') say(told.later, 'use', 12, { meal: 'lunch' });
  if (fate === 'dinner') say(told.later, 'use', 17.5, { meal: 'dinner' });
  if (fate === 'left-over') say(told.later, 'discard', 19, { ...thrown, reason: 'over-production' });
}
