/**
 * The calendar month before the fortnight, so that there is a month to close: one dish each working day, eaten at five sites the working
 * day after. What was left over is thrown away, given away or eaten by the staff, each kitchen after its own habit. Dry goods came on the
 * last day of the month before; a small accident with them gives that month a page too.
 */
import type { Calendar } from './calendar.ts';
import { as, type Door } from './door.ts';
import { DISHES, STANDING, unitOf } from './food.ts';
import { placeOf } from './kitchen.ts';
import { DRY, EATERS, FRESH, HABITS, WEEK, planOf, sentTo, type Cooked } from './month-plan.ts';
import { ck, clock, id, later } from './story.ts';
import { programmeId, rejectsOf } from './process-packing.ts';
import { receiverOf } from './vans.ts';

const kitchen = as('kitchen', 'site/ck');
const TRIM_G = 300;

/** Of the day before the month: when it is there, the month has begun. */
export const FIRST_DRY_GOODS = 'goods-receipt/month-quern--1';

/**
 * Facts that are there already answer what they answered then.
 * @param month its day 0 is the first of the month
 */
export async function tellMonthBefore(door: Door, month: Calendar, progress: (text: string) => void): Promise<void> {
  const first = month.date(0);
  const { days, cookings } = planOf(first);
  progress(`Demo: the month before, from ${first}`);
  await dryGoods(door, month, cookings);
  for (let day = 0; day < days; day += 1) {
    const eaten = cookings.filter((cooked) => cooked.eatenOn === day);
    const today = cookings.filter((cooked) => cooked.day === day);
    for (const cooked of eaten) await bringOut(door, month, cooked);
    if (today[0] !== undefined) await freshGoods(door, month, day, cookings);
    for (const cooked of today) await cook(door, month, cooked);
    for (const cooked of eaten) await eat(door, month, cooked);
  }
}

const dry = new Set(DRY.map(([, item]) => item));

const nameOf = (cooked: Cooked): string => `month-${cooked.dish}-${cooked.week}`;
const lotOf = (item: string, week: number): string =>
  dry.has(item) ? `lot/month-${item}` : `lot/month-${item}-${week}`;

function needed(cookings: readonly Cooked[], item: string): number {
  return cookings.reduce((sum, { dish }) => sum + (DISHES[dish].inputs[item] ?? 0), 0);
}

async function dryGoods(door: Door, month: Calendar, cookings: readonly Cooked[]): Promise<void> {
  const occurredAt = month.at(-1, '09:10');
  door.setTime(later(occurredAt, 95));
  const spilledG = 400;
  const lines = DRY.map(([supplier, item, pencePerKg]) => {
    const quantity = needed(cookings, item) + (item === 'flour' ? spilledG : 0);
    return { supplier, item, quantity, priceMinor: Math.round((quantity * pencePerKg) / 1000), useByDays: 300 };
  });
  await receive(door, month, -1, occurredAt, 0, lines);
  const spilledAt = month.at(-1, '15:40');
  door.setTime(later(spilledAt, 95));
  await door.post(kitchen, '/v1/discards', 'discard/month-flour', {
    lotId: id('lot/month-flour'),
    placeId: id('place/ck-dry'),
    quantity: spilledG,
    unit: 'g',
    reason: 'damaged',
    destination: 'refuse',
    note: 'A sack was torn on the trolley',
    occurredAt: spilledAt,
  });
}

async function freshGoods(door: Door, month: Calendar, day: number, cookings: readonly Cooked[]): Promise<void> {
  const week = cookings.find((cooked) => cooked.day === day)?.week ?? 0;
  const ofWeek = cookings.filter((cooked) => cooked.week === week);
  if (ofWeek[0]?.day !== day) return;
  const occurredAt = month.at(day, '06:30');
  door.setTime(later(occurredAt, 95));
  const lines = FRESH.flatMap(([supplier, item, pencePerKg, useByDays]) => {
    const quantity = needed(ofWeek, item);
    // meat and milk get dearer by a penny or two a week
    const price = pencePerKg + (pencePerKg > 300 ? week * 8 : 0);
    return quantity === 0
      ? []
      : [{ supplier, item, quantity, priceMinor: Math.round((quantity * price) / 1000), useByDays }];
  });
  await receive(door, month, day, occurredAt, week, lines);
}

interface Bought {
  readonly supplier: string;
  readonly item: string;
  readonly quantity: number;
  readonly priceMinor: number;
  readonly useByDays: number;
}

async function receive(
  door: Door,
  month: Calendar,
  day: number,
  occurredAt: string,
  week: number,
  bought: readonly Bought[],
): Promise<void> {
  for (const supplier of new Set(bought.map((one) => one.supplier))) {
    const short = `${month.short(day)}-${supplier.slice(0, 3).toUpperCase()}`;
    await door.post(kitchen, '/v1/goods-receipts', `goods-receipt/month-${supplier}-${day}`, {
      siteId: ck(),
      supplierId: id(`supplier/${supplier}`),
      documentNumber: `DN-${short}`,
      occurredAt,
      lines: bought
        .filter((one) => one.supplier === supplier)
        .map(({ item, quantity, priceMinor, useByDays }, at) => ({
          lotId: id(lotOf(item, week)),
          itemId: id(`item/${item}`),
          placeId: id(placeOf(item)),
          quantity,
          unit: unitOf(item),
          supplierLotCode: `${supplier.slice(0, 2).toUpperCase()}${month.short(day)}-${at + 1}`,
          useByDate: month.date(day + useByDays),
          ...(placeOf(item) === 'place/ck-chiller' && { temperatureC: 2.8 + at * 0.2 }),
          priceMinor,
        })),
    });
  }
}

async function cook(door: Door, month: Calendar, cooked: Cooked): Promise<void> {
  const { dish, day, week, packs } = cooked;
  const name = nameOf(cooked);
  const facts = DISHES[dish];
  const batch = `/v1/batches/${id(`batch/${name}`)}`;
  const at = (minutes: number): string => {
    const instant = month.at(day, clock('06:50', minutes));
    door.setTime(later(instant, 95));
    return instant;
  };
  const startedAt = at(0);
  await door.post(kitchen, '/v1/batches', `batch/${name}`, { siteId: ck(), recipeId: id(`recipe/${dish}`), startedAt });
  let inG = 0;
  for (const [no, [item, planned]] of Object.entries(facts.inputs).entries()) {
    // the cook's hand on the tap: a kettle gets a little less water than the recipe says, never the same twice
    const quantity =
      item === 'water' ? Math.round((planned * (98 - 2 * ((week * 3 + WEEK.indexOf(dish)) % 8))) / 100) : planned;
    inG += item === 'oil' ? quantity * 0.92 : quantity;
    const occurredAt = at(5 + 3 * no);
    const standing = STANDING.includes(item);
    await door.post(kitchen, `${batch}/inputs`, `batch-input/${name}-${item}`, {
      ...(standing ? { itemId: id(`item/${item}`) } : { lotId: id(lotOf(item, week)), placeId: id(placeOf(item)) }),
      quantity,
      unit: unitOf(item),
      occurredAt,
    });
  }
  const placeId = id('place/ck-chiller');
  const outG = packs * facts.packG;
  const lotId = id(`lot/${name}-load-1`);
  await door.post(kitchen, `${batch}/outputs`, `batch-outputs/${name}`, {
    occurredAt: at(180),
    loads: [{ lotId, placeId, quantity: outG, unit: 'g', cookEndedAt: month.at(day, clock('06:50', 140)) }],
  });
  await door.post(kitchen, `${batch}/packing-runs`, `packing-run/${name}`, {
    equipmentId: id('equipment/packer-1'),
    programmeId: programmeId(facts.programme),
    packerId: id('person/packer'),
    startedAt: month.at(day, clock('06:50', 210)),
    finishedAt: at(250),
    ...rejectsOf(name, (day * 5) % 3),
    fills: [
      {
        fromLotId: lotId,
        fromPlaceId: placeId,
        usedQuantity: outG,
        usedUnit: 'g',
        packItemId: id(`item/${dish}-pack`),
        packs,
        packLotId: id(`lot/${name}-packs-1`),
        toPlaceId: placeId,
      },
    ],
  });
  await door.post(kitchen, `/v1/equipment/${id('equipment/packer-1')}/clean-downs`, `clean-down/${name}`, {
    occurredAt: at(260),
    kind: 'full',
  });
  const steamG = Math.floor(inG - outG - TRIM_G - (40 + ((day * 37) % 110)));
  await door.post(kitchen, `${batch}/completion`, `batch-completion/${name}`, {
    completedAt: at(270),
    losses: [{ kind: 'trim', massG: TRIM_G }, ...(steamG > 0 ? [{ kind: 'cooking-loss', massG: steamG }] : [])],
  });
  at(300);
  await door.post(as('quality'), `${batch}/release`, `release/${name}`, { note: 'Probe and seals as they should be' });
}

async function bringOut(door: Door, month: Calendar, cooked: Cooked): Promise<void> {
  const name = nameOf(cooked);
  for (const [no, site] of EATERS.entries()) {
    const day = cooked.eatenOn;
    const at = (time: string): string => {
      const instant = month.at(day, clock(time, 2 * no));
      door.setTime(later(instant, 30));
      return instant;
    };
    const dispatch = `${name}-${site}`;
    const path = `/v1/dispatches/${id(`dispatch/${dispatch}`)}`;
    const packs = { lotId: id(`lot/${name}-packs-1`), quantity: sentTo(site, cooked), unit: 'piece' };
    at('05:05');
    await door.post(kitchen, '/v1/dispatches', `dispatch/${dispatch}`, {
      fromSiteId: ck(),
      toSiteId: id(`site/${site}`),
      plannedFor: month.at(day, '05:40'),
      vehicle: 'Van 1',
      driverName: 'Teo Larkin',
      lines: [{ ...packs, placeId: id('place/ck-chiller') }],
    });
    const driver = { name: 'person/driver-2', role: 'driver' };
    await door.post(driver, `${path}/departure`, `departure/${dispatch}`, { departedAt: at('05:30') });
    await door.post(receiverOf(site), `${path}/receipts`, `receipt/${dispatch}`, {
      occurredAt: at('06:10'),
      closes: true,
      lines: [{ ...packs, condition: 'accepted', placeId: id(`place/${site}-chiller`), temperatureC: 2.4 + no * 0.2 }],
    });
  }
}

async function eat(door: Door, month: Calendar, cooked: Cooked): Promise<void> {
  const name = nameOf(cooked);
  for (const [no, site] of EATERS.entries()) {
    const habit = HABITS[site];
    if (habit === undefined) continue;
    const sent = sentTo(site, cooked);
    // days differ by a few packs, always in the same way
    const mood = ((cooked.week * 5 + no * 3 + WEEK.indexOf(cooked.dish) * 2) % 7) - 3;
    const wanted = Math.max(0, Math.round((sent * habit.wantedPercent) / 100) + mood);
    const served = Math.min(sent, wanted);
    const packs = { lotId: id(`lot/${name}-packs-1`), placeId: id(`place/${site}-chiller`), unit: 'piece' };
    const tell = (path: string, fact: string, time: string, fields: object): Promise<unknown> => {
      const occurredAt = month.at(cooked.eatenOn, clock(time, no));
      door.setTime(later(occurredAt, 40));
      return door.post(receiverOf(site), path, `${fact}/${name}-${site}`, { ...packs, occurredAt, ...fields });
    };
    if (served > 0) await tell('/v1/uses', 'use', '12:15', { quantity: served, meal: 'lunch' });
    const left = sent - served;
    // The hotel's staff eat two, and on Fridays the rest goes to the night shelter.
    const staff = site === 'hot' ? Math.min(2, left) : 0;
    if (staff > 0) await tell('/v1/uses', 'use-staff', '14:10', { quantity: staff, purpose: 'staff-meal' });
    const rest = left - staff;
    const given = site === 'hot' && cooked.dish === 'tomato-soup' ? rest : 0;
    if (given > 0) {
      const recipient = 'St Brannoc night shelter';
      await tell('/v1/uses', 'use-given', '14:30', { quantity: given, purpose: 'donation', recipient });
    }
    if (rest - given === 0) continue;
    const { reason, destination } = habit;
    await tell('/v1/discards', 'discard', '14:40', { quantity: rest - given, reason, destination });
  }
}
