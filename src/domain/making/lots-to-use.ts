/**
 * Which lots to send to which sites, told two ways. Plan A: the oldest effective use-by first, by the rule of the pick list. Plan B: the
 * fewest links between lots and sites, because each link is a site to phone when the lot is recalled (../dispersion.ts). Both cover the
 * same amounts and use only food that is in date when it is needed.
 *
 * Plan B may not let food spoil for the sake of short lists: of every lot that would be past its date at the latest of these meals a day
 * later (pressing lots), it takes exactly what plan A takes. Plan A leaves none of those behind while taking a later one for a site where it
 * would still have been in date, so plan B does not either. What is not pressing keeps for all of these meals, and may be taken freely.
 *
 * Exact for at most MOST_LOTS_FOR_LEAST lots and sites together. Lots and sites that are linked, directly or through others, make up
 * blocks; a block of k of them needs at least k - 1 links. A block can be supplied when its lots hold what its sites want and its
 * pressing lots fit among the sites that they keep for (Gale 1957; those sites are nested, so the sums by date are enough), and then k - 1
 * links do, because every step of the filling uses up a lot or a site. So the least is all lots and sites less the largest number of such
 * blocks. Refusals: none.
 */
import { linksOf, mostBlocks, MOST_LOTS_FOR_LEAST, recallOf, type Arc, type ArcRecall } from '../dispersion.ts';
import { keepsUntil, pickFrom } from '../picking.ts';

const DAY_MS = 86_400_000;

export interface StockLot {
  readonly lotId: string;
  readonly lotCode: string;
  /** free to leave, in the item's unit */
  readonly quantity: number;
  /** exclusive; null: no limit */
  readonly useByMs: number | null;
}

export interface SiteDemand {
  readonly siteId: string;
  readonly siteCode: string;
  readonly quantity: number;
  /** it must be in date until then */
  readonly neededAtMs: number;
}

interface SentArc {
  readonly lotId: string;
  readonly siteId: string;
  readonly quantity: number;
}

export interface LotPlan {
  /** by lot in the order of dates, then by site */
  readonly arcs: readonly SentArc[];
  readonly links: number;
  readonly recall: ArcRecall;
  /** sites that one lot goes to, at most */
  readonly mostSites: number;
  /** the earliest date of what is left of the lots, exclusive; null: nothing with a date is left */
  readonly leftBehindUseByMs: number | null;
}

export interface LotPlans {
  readonly oldestFirst: LotPlan;
  readonly fewestLinks: LotPlan | null;
  readonly whyNoFewest: 'too-many-lots' | 'nothing-to-send' | null;
  /** lots and sites that plan B would have to look at */
  readonly lotsAndSites: number;
  /** what cannot be covered, by site */
  readonly short: readonly { readonly siteId: string; readonly quantity: number }[];
}

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
const byDate = (a: StockLot, b: StockLot): number =>
  (a.useByMs ?? Infinity) - (b.useByMs ?? Infinity) || compare(a.lotCode, b.lotCode);
const byNeed = (a: SiteDemand, b: SiteDemand): number => a.neededAtMs - b.neededAtMs || compare(a.siteCode, b.siteCode);

/**
 * @param stock each lot once, above zero
 * @param demands each site once, above zero
 */
export function planLots(stock: readonly StockLot[], demands: readonly SiteDemand[], nowMs: number): LotPlans {
  const lots = [...stock].sort((a, b) => (a.useByMs === b.useByMs ? compare(a.lotCode, b.lotCode) : byDate(a, b)));
  const sites = [...demands].sort(byNeed);
  const taken = oldestFirst(lots, sites, nowMs);
  const short = sites.flatMap(({ siteId, quantity }, finished) => {
    const missing = quantity - total(taken.filter((arc) => arc.finished === finished));
    return missing > 0 ? [{ siteId, quantity: missing }] : [];
  });
  const least = fewestLinks(lots, sites, taken, nowMs);
  return {
    oldestFirst: planOf(lots, sites, taken, nowMs),
    fewestLinks: least.arcs && planOf(lots, sites, least.arcs, nowMs),
    whyNoFewest: least.whyNot,
    lotsAndSites: least.lotsAndSites,
    short,
  };
}

const total = (arcs: readonly Arc[]): number => arcs.reduce((sum, arc) => sum + arc.quantity, 0);

function oldestFirst(lots: readonly StockLot[], sites: readonly SiteDemand[], nowMs: number): Arc[] {
  const parts = lots.map(({ quantity, ...lot }) => ({ ...lot, placeId: '', itemId: '', packs: quantity }));
  const wanted = sites.map(({ siteId, quantity, neededAtMs }) => ({
    requirementId: siteId,
    itemId: '',
    portions: quantity,
    portionsPerPack: 1,
    mealAtMs: neededAtMs,
    suits: true,
  }));
  return pickFrom(wanted, parts, 0, nowMs).flatMap(({ requirementId, picks }) =>
    picks.map(({ lotId, packs }) => ({
      raw: lots.findIndex((lot) => lot.lotId === lotId),
      finished: sites.findIndex((site) => site.siteId === requirementId),
      quantity: packs,
    })),
  );
}

function planOf(lots: readonly StockLot[], sites: readonly SiteDemand[], arcs: readonly Arc[], nowMs: number): LotPlan {
  const wanted = sites.map((_, finished) => total(arcs.filter((arc) => arc.finished === finished)));
  const left = lots.filter(
    ({ quantity, useByMs }, raw) =>
      useByMs !== null && useByMs > nowMs && quantity > total(arcs.filter((arc) => arc.raw === raw)),
  );
  const sitesOf = lots.map((_, raw) => new Set(arcs.filter((arc) => arc.raw === raw).map((arc) => arc.finished)).size);
  return {
    arcs: [...arcs]
      .sort((a, b) => a.raw - b.raw || a.finished - b.finished)
      .map(({ raw, finished, quantity }) => ({
        lotId: lots[raw]?.lotId ?? '',
        siteId: sites[finished]?.siteId ?? '',
        quantity,
      })),
    links: linksOf(arcs),
    recall: recallOf(arcs, wanted),
    mostSites: Math.max(0, ...sitesOf),
    leftBehindUseByMs: left[0]?.useByMs ?? null,
  };
}

/** A lot or a site with what is to be shared out of it; `at` is its position among all lots or all sites. */
interface Node {
  readonly at: number;
  readonly quantity: number;
  /** pressing lots: until when they keep; null: keeps for all, or a site */
  readonly keepsMs: number | null;
  /** sites: when it is needed; null: a lot */
  readonly neededMs: number | null;
}

function fewestLinks(
  lots: readonly StockLot[],
  sites: readonly SiteDemand[],
  plan: readonly Arc[],
  nowMs: number,
): { arcs: Arc[] | null; whyNot: LotPlans['whyNoFewest']; lotsAndSites: number } {
  const wanted: Node[] = sites.flatMap((site, at) => {
    const quantity = total(plan.filter((arc) => arc.finished === at));
    return quantity > 0 ? [{ at, quantity, keepsMs: null, neededMs: site.neededAtMs }] : [];
  });
  if (wanted.length === 0) return { arcs: null, whyNot: 'nothing-to-send', lotsAndSites: 0 };
  const lastMs = Math.max(...wanted.map((site) => site.neededMs ?? 0));
  const offered: Node[] = lots.flatMap((lot, at): Node[] => {
    const pressing = lot.useByMs !== null && !keepsUntil(lot.useByMs, lastMs + DAY_MS, 0, nowMs);
    const quantity = pressing ? total(plan.filter((arc) => arc.raw === at)) : lot.quantity;
    return quantity > 0 ? [{ at, quantity, keepsMs: pressing ? lot.useByMs : null, neededMs: null }] : [];
  });
  const nodes = [...offered, ...wanted];
  if (nodes.length > MOST_LOTS_FOR_LEAST) {
    return { arcs: null, whyNot: 'too-many-lots', lotsAndSites: nodes.length };
  }
  const blockOf = (set: number): Node[] => nodes.filter((_, at) => (set & (1 << at)) !== 0);
  const blocks = mostBlocks(
    nodes.length,
    (set) => canBeSupplied(blockOf(set)),
    (set) => recallOf(fill(blockOf(set)), wantedAt(sites.length, wanted)).worst,
  );
  const arcs = blocks.flatMap((block) => fill(block.flatMap((at) => nodes[at] ?? [])));
  return { arcs, whyNot: null, lotsAndSites: nodes.length };
}

const wantedAt = (count: number, wanted: readonly Node[]): number[] =>
  Array.from({ length: count }, (_, at) => wanted.find((site) => site.at === at)?.quantity ?? 0);

const sumOf = (nodes: readonly Node[]): number => nodes.reduce((sum, node) => sum + node.quantity, 0);

function canBeSupplied(block: readonly Node[]): boolean {
  const sites = block.filter((node) => node.neededMs !== null);
  const lots = block.filter((node) => node.neededMs === null);
  if (sumOf(lots) < sumOf(sites)) return false;
  return lots.every(({ keepsMs }) => {
    if (keepsMs === null) return true;
    const soon = lots.filter((lot) => lot.keepsMs !== null && lot.keepsMs <= keepsMs);
    return sumOf(soon) <= sumOf(sites.filter((site) => (site.neededMs ?? 0) < keepsMs));
  });
}

/** Pressing lots first, the earliest first, all of each; then the others. Each step uses up a lot or a site. */
function fill(block: readonly Node[]): Arc[] {
  const sites = block.filter((node) => node.neededMs !== null).map((site) => ({ site, left: site.quantity }));
  const lots = block.filter((node) => node.neededMs === null);
  const inOrder = [...lots].sort((a, b) =>
    a.keepsMs === b.keepsMs ? a.at - b.at : (a.keepsMs ?? Infinity) - (b.keepsMs ?? Infinity),
  );
  const arcs: Arc[] = [];
  for (const lot of inOrder) {
    let there = lot.quantity;
    for (const one of sites) {
      if (there === 0) break;
      if (one.left === 0 || (lot.keepsMs !== null && (one.site.neededMs ?? 0) >= lot.keepsMs)) continue;
      const quantity = Math.min(there, one.left);
      arcs.push({ raw: lot.at, finished: one.site.at, quantity });
      there -= quantity;
      one.left -= quantity;
    }
  }
  return arcs;
}
