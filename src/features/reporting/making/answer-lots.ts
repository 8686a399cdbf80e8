/** Both plans as they are answered, in figures and in words. Refusals: none. */
import Fraction from 'fraction.js';
import { roundHalfAwayFromZero } from '../../../domain/exact.ts';
import type { LotPlan, LotPlans, SiteDemand, StockLot } from '../../../domain/making/lots-to-use.ts';
import { utc } from '../../../domain/time.ts';
import type { ItemRow } from '../../catalogue/index.ts';
import { nameOfUnit } from './answer.ts';
import type { LotsAnswer } from './contract-lots.ts';

export interface Needs {
  readonly demands: readonly (SiteDemand & { readonly siteName: string })[];
  readonly unsuitable: readonly LotsAnswer['unsuitable'][number][];
}

export interface OnShelf extends StockLot {
  readonly places: readonly string[];
  /** null: it is offered */
  readonly whyNot: string | null;
}

interface Found {
  readonly siteId: string;
  readonly item: ItemRow;
  readonly date: string;
  readonly needs: Needs;
  readonly shelf: readonly OnShelf[];
  readonly plans: LotPlans;
  /** lots and sites that plan B looks at, at most */
  readonly most: number;
}

const RULES = [
  'Offered: what may leave, is not in quarantine, not regenerated, and not planned for a dispatch that has not left. A lot in several ' +
    'places counts as one, at the earliest of their dates.',
  'No lot goes to a site where it would be past its date in force when it is needed: the last required meal of the day there (meal times ' +
    'are common practice), or the end of the day for amounts that you give.',
  'Plan A: sites by the time of their need, each from the oldest date on.',
  'Plan B: of each lot that would be past its date at the latest of these needs a day later, exactly what plan A takes; so no such lot is ' +
    'left behind while a later one goes where it would still have been in date. The rest from any lots, with the fewest pairs of a lot and ' +
    'a site; among equals, a smaller worst recall of the blocks as they are filled. Exact, by trying every way to split lots and sites into ' +
    'blocks.',
  'Worst recall: if one lot is recalled, every site that has some of it keeps back all that it was sent until it has looked.',
  'An offer, never an order. Nothing is reserved; use the oldest date first at the site whichever plan is taken.',
];

export function lotsAnswer({ siteId, item, date, needs, shelf, plans, most }: Found): LotsAnswer {
  const codes = new Map([
    ...shelf.map((lot): [string, string] => [lot.lotId, lot.lotCode]),
    ...needs.demands.map((site): [string, string] => [site.siteId, site.siteCode]),
  ]);
  const short = new Map(plans.short.map((one) => [one.siteId, one.quantity]));
  const planAnswer = (plan: LotPlan): LotsAnswer['oldestFirst'] => ({
    sends: plan.arcs.map((arc) => ({
      ...arc,
      lotCode: codes.get(arc.lotId) ?? '',
      siteCode: codes.get(arc.siteId) ?? '',
    })),
    links: plan.links,
    mostSites: plan.mostSites,
    worstRecall: plan.recall.worst,
    worstRecallG: gramsOf(new Fraction(BigInt(plan.recall.worst)), item),
    averageRecall: hundredths(plan.recall.average),
    averageRecallG: gramsOf(plan.recall.average, item),
    leftBehindUseByAt: plan.leftBehindUseByMs === null ? null : utc(plan.leftBehindUseByMs),
  });
  const oldestFirst = planAnswer(plans.oldestFirst);
  const fewestLinks = plans.fewestLinks && planAnswer(plans.fewestLinks);
  const whyNoFewest = whyNot(plans, most);
  return {
    siteId,
    itemId: item.itemId,
    itemName: item.name,
    unit: item.unit,
    date,
    demands: needs.demands.map(({ neededAtMs, ...site }) => ({
      ...site,
      neededAt: utc(neededAtMs),
      shortQuantity: short.get(site.siteId) ?? 0,
    })),
    unsuitable: [...needs.unsuitable],
    lots: shelf.map(({ useByMs, places, ...lot }) => ({
      ...lot,
      useByAt: useByMs === null ? null : utc(useByMs),
      places: [...places],
      offered: lot.whyNot === null,
    })),
    oldestFirst,
    fewestLinks,
    whyNoFewest,
    bound: { lotsAndSites: plans.lotsAndSites, atMost: most },
    offer: inWords(item, oldestFirst, fewestLinks, whyNoFewest, plans.short.length),
    rules: RULES,
  };
}

const hundredths = (value: Fraction): number => Number(roundHalfAwayFromZero(value.mul(100n))) / 100;

/** By the nominal mass of a unit, to the milligram. */
const gramsOf = (quantity: Fraction, item: ItemRow): number =>
  Number(roundHalfAwayFromZero(quantity.mul(BigInt(item.unitMassMg)))) / 1000;

function whyNot({ whyNoFewest, lotsAndSites }: LotPlans, most: number): string | null {
  if (whyNoFewest === null) return null;
  if (whyNoFewest === 'nothing-to-send') return 'There is nothing to send: nothing is needed, or nothing here may go.';
  return `${lotsAndSites} lots and sites are more than the ${most} for which the fewest links are worked out exactly.`;
}

function inWords(
  item: ItemRow,
  a: LotsAnswer['oldestFirst'],
  b: LotsAnswer['fewestLinks'],
  why: string | null,
  shortSites: number,
): string {
  const unit = nameOfUnit(item.unit);
  const short =
    shortSites === 0 ? '' : ` There is too little for ${shortSites === 1 ? '1 site' : `${shortSites} sites`}.`;
  if (a.sends.length === 0) return `No lot of ${item.name} is offered. ${why ?? ''}${short}`.trim();
  const byDate = `by the oldest date ${a.links} links, worst recall ${a.worstRecall} ${unit}`;
  if (!b) return `Offer, not an order: ${byDate}. ${why ?? ''}${short}`;
  if (b.links === a.links && b.worstRecall >= a.worstRecall) {
    return `Offer, not an order: ${byDate}; no plan has fewer links, so take the oldest date first.${short}`;
  }
  return `Offer, not an order: ${byDate}; with the fewest links ${b.links}, worst recall ${b.worstRecall} ${unit}.${short}`;
}
