/**
 * Loads the demo: the group ostermere and a fortnight of its work that ends at `endMs`, entered through the service's own operations.
 *
 * It may be called again: when all is there it does nothing; when it was interrupted it goes on with the days that it began with, and
 * every fact that is there already answers what it answered then. Throws what the first refused fact was told.
 */
import { createGroup } from '../../src/features/identity/index.ts';
import type { Tokens } from '../../src/platform/auth/tokens.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { exampleId, groupIdOf } from '../../src/platform/ids.ts';
import type { Log } from '../../src/platform/log.ts';
import { DEMO_GROUP } from '../../src/start/try-out.ts';
import { calendarFrom, dayOf, firstDay } from './calendar.ts';
import { GROUP_ADDRESS } from './addresses.ts';
import { addCatalogue } from './catalogue.ts';
import { as, openDoor, type Door } from './door.ts';
import { addCrateKinds, crates } from './exchange-crates.ts';
import { addWebhook, tellEvents } from './exchange-events.ts';
import { announcements } from './exchange-announced.ts';
import { cooking, deliveries, goodsIn } from './fortnight.ts';
import { FIRST_DRY_GOODS, tellMonthBefore } from './month-before.ts';
import { firstOfMonthBefore } from './month-plan.ts';
import { LAST_FACT, mishaps } from './mishaps.ts';
import { addWasteReasons, waysOut } from './month-waste.ts';
import { chooseRates, correctBeef } from './month-money.ts';
import { chooseBaseline } from './month-yields.ts';
import { nights } from './nights.ts';
import { closeMonths } from './month-closes.ts';
import { addBins } from './practice-bins.ts';
import { cleanDowns } from './practice-production.ts';
import { addSensors, sendReadings } from './practice-sensors.ts';
import { addTemperaturePractice, sendTemperatures } from './practice-temperature.ts';
import { practiceVans } from './practice-vans.ts';
import { needs } from './practice-requirements.ts';
import { runOutCosts } from './month-making.ts';
import { practiceOfGoingIn } from './practice-goingin.ts';
import { processPlans } from './process-plans.ts';
import { processRounds } from './process-rounds.ts';
import { processStories } from './process-stories.ts';
import { hotelPolicy } from './process-policy.ts';
import { recallCare } from './recall-care.ts';
import { recalls } from './recall-start.ts';
import { warmShelf } from './practice-relabels.ts';
import { chooseRules, computeLives } from './practice-shelf-life.ts';
import { addTabletPractice } from './practice-tablets.ts';
import { processChecks } from './process-checks.ts';
import { addProgrammes, packFaults } from './process-packing.ts';
import { labels } from './exchange-labels.ts';
import { probeCare } from './process-probes.ts';
import { beginStory } from './story.ts';

export interface DemoParts {
  readonly db: Db;
  readonly tokens: Tokens;
  readonly log: Log;
  /** the demo's now: nothing happens after it */
  readonly endMs: number;
  /** told one line a day */
  readonly progress?: (text: string) => void;
}

export async function loadDemo({ db, tokens, log, endMs, progress }: DemoParts): Promise<{ loaded: boolean }> {
  const admin = {
    personId: exampleId('person/admin'),
    name: 'Alex Reed',
    signInName: 'admin',
    password: 'ladle-behind-the-door',
  };
  const began = calendarFrom(firstOfMonthBefore(firstDay(endMs))).at(-1, '05:00');
  const group = {
    code: DEMO_GROUP,
    name: 'Ostermere Catering',
    currency: 'GBP',
    address: GROUP_ADDRESS,
    admin,
    nowMs: Date.parse(began),
  };
  await createGroup(db, group);
  const door = await openDoor({ db, tokens, nowMs: endMs });
  try {
    if (await door.find(as('operations'), `/v1/entries/${exampleId(LAST_FACT)}`)) return { loaded: false };
    const calendar = calendarFrom((await dayBegunOn(door, FIRST_GOODS)) ?? firstDay(endMs));
    const dryGoodsOn = await dayBegunOn(door, FIRST_DRY_GOODS);
    const month = calendarFrom(firstOfMonthBefore(calendar.date(0)));
    const before = dryGoodsOn === null ? month : calendarFrom(calendarFrom(dryGoodsOn).date(1));
    progress?.('Demo: sites, people, food');
    door.setTime(before.at(-1, '05:00'));
    await addCatalogue(door);
    await addProgrammes(door);
    await chooseRates(door, before);
    await tellMonthBefore(door, before, progress ?? (() => undefined));
    door.setTime(calendar.at(0, '05:00'));
    await correctBeef(door);
    await closeMonths(door, db, before.date(-1), calendar.at(0, '05:00'));
    await addBins(door);
    await addCrateKinds(door);
    await addWasteReasons(door);
    await addTabletPractice(door, calendar);
    await addSensors(door, calendar);
    await addTemperaturePractice(door, calendar);
    await chooseRules(door);
    await chooseBaseline(door, before);
    const story = beginStory(door, calendar);
    processPlans(story);
    goodsIn(story);
    cooking(story);
    deliveries(story);
    mishaps(story);
    cleanDowns(story);
    packFaults(story);
    processChecks(story);
    processRounds(story);
    processStories(story);
    nights(story);
    practiceVans(story);
    crates(story);
    needs(story);
    runOutCosts(story);
    practiceOfGoingIn(story);
    hotelPolicy(story);
    waysOut(story);
    recalls(story);
    recallCare(story);
    probeCare(story);
    labels(story);
    announcements(story);
    await story.tell(progress ?? (() => undefined));
    await sendReadings(door, calendar, db);
    await sendTemperatures(door, calendar, db);
    await computeLives(db, endMs);
    await warmShelf(db, groupIdOf(DEMO_GROUP), endMs);
    door.setTime(new Date(endMs).toISOString());
    await addWebhook(door);
    await tellEvents(db, endMs);
  } finally {
    await door.close();
  }
  log.info('the demo scenario is loaded');
  return { loaded: true };
}

const FIRST_GOODS = 'goods-receipt/first';

/** The day of a delivery of a demo whose loading was interrupted; null when it had not come yet. */
async function dayBegunOn(door: Door, delivery: string): Promise<string | null> {
  const first = await door.find(as('operations'), `/v1/goods-receipts/${exampleId(delivery)}`);
  return first?.occurredAt === undefined ? null : dayOf(first.occurredAt);
}
