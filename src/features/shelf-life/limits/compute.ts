/**
 * What is left of the life of every part of some lots, from what is recorded now: the same for the worker, which keeps it, and for answers,
 * which do not.
 */
import type { Way } from '../../../domain/limits/history.ts';
import { computeLimits, needsSegments, type Computed, type Overruled } from '../../../domain/limits/limits.ts';
import type { SitePolicy } from '../../../domain/limits/policies.ts';
import type { LotFacts, WayExposure } from '../../../domain/limits/shapes.ts';
import { subjectOf } from '../../../domain/readings.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { LotRow } from '../../ledger/index.ts';
import { exposuresOf, segmentsOfEach, type Exposure, type SubjectInterval } from '../../temperature/index.ts';
import { load, type Loaded, type PolicyOverride } from './load.ts';

/** A stay of food, with the account that it was booked in; `subject` null: nobody knows where. */
export interface Stay extends SubjectInterval {
  readonly accountId: string | null;
}

interface ComputedPart extends Computed {
  /** the place or dispatch; of what was taken: the batch, packing run or conversion */
  readonly partId: string;
  readonly kind: 'part' | 'taken';
  readonly quantity: number;
  readonly siteId: string;
  /** on the road both ends */
  readonly sites: readonly string[];
  readonly ways: readonly (readonly Stay[])[];
  readonly exposures: readonly WayExposure[];
  readonly presumed: boolean;
  readonly policies: readonly SitePolicy[];
}

export interface ComputedLot {
  readonly lot: LotRow;
  readonly facts: LotFacts;
  readonly parts: readonly ComputedPart[];
  /** there were more ways than are looked at */
  readonly shortened: boolean;
}

/**
 * Where a stay was, as temperature knows it. On the road: the van, else the crate; once the door has closed behind it, the receiving place.
 */
function staysOf(lotId: string, way: Way, { accounts, crates }: Loaded, nowMs: number): Stay[] {
  return way.flatMap(({ accountId, fromMs, toMs: until }): Stay[] => {
    const toMs = Math.max(fromMs, Math.min(until ?? nowMs, nowMs));
    const ongoing = until === null;
    const account = accountId === null ? undefined : accounts.get(accountId);
    if (accountId === null || !account) return [{ accountId, subject: null, fromMs, toMs, ongoing: false }];
    if (account.kind === 'place') {
      const subject = subjectOf({ placeId: accountId, vehicle: null, crateCode: null });
      return [{ accountId, subject, fromMs, toMs, ongoing }];
    }
    const crateCode = crates.get(`${lotId}|${accountId}`) ?? null;
    const road = subjectOf({ placeId: null, vehicle: account.vehicle, crateCode });
    const doorMs = account.doorAtMs;
    if (doorMs === null || doorMs <= fromMs || doorMs >= toMs)
      return [{ accountId, subject: road, fromMs, toMs, ongoing }];
    const inside = subjectOf({ placeId: account.receivingPlaceId, vehicle: null, crateCode: null });
    return [
      { accountId, subject: road, fromMs, toMs: doorMs, ongoing: false },
      { accountId, subject: inside, fromMs: doorMs, toMs, ongoing },
    ];
  });
}

interface Draft {
  readonly lotId: string;
  readonly partId: string;
  readonly kind: 'part' | 'taken';
  readonly quantity: number;
  readonly siteId: string;
  readonly sites: readonly string[];
  readonly policies: readonly SitePolicy[];
  readonly presumedFromMs: number | null;
  readonly ways: readonly (readonly Stay[])[];
}

function draftsOf(lotId: string, loaded: Loaded, nowMs: number): Draft[] {
  const history = loaded.histories.get(lotId);
  if (!history) return [];
  const stays = (ways: readonly Way[]) => ways.map((way) => staysOf(lotId, way, loaded, nowMs));
  const policiesAt = (accountId: string | null): Pick<Draft, 'siteId' | 'sites' | 'policies'> => {
    const account = accountId === null ? undefined : loaded.accounts.get(accountId);
    const siteId = account?.siteId ?? (loaded.lots.get(lotId) as LotRow).siteId;
    const sites = [...new Set([siteId, account?.toSiteId ?? siteId])];
    const policies = sites.flatMap((one) => loaded.policies.get(one) ?? []);
    return { siteId, sites, policies: policies.filter((one, at) => policies.findIndex((x) => same(x, one)) === at) };
  };
  return [
    ...history.parts.map((part) => ({
      lotId,
      partId: part.accountId,
      kind: 'part' as const,
      quantity: part.quantity,
      presumedFromMs: loaded.presumed.get(`${lotId}|${part.accountId}`) ?? null,
      ways: stays(part.ways),
      ...policiesAt(part.accountId),
    })),
    ...history.taken.map(({ processId, ways }) => ({
      lotId,
      partId: processId,
      kind: 'taken' as const,
      quantity: 0,
      presumedFromMs: null,
      ways: stays(ways),
      ...policiesAt(ways[0]?.at(-1)?.accountId ?? null),
    })),
  ];
}

/** On the road the rules of both sites hold; the same rules are told once. */
function same(a: SitePolicy, b: SitePolicy): boolean {
  return a.set.code === b.set.code && [...a.confirmed].sort().join() === [...b.confirmed].sort().join();
}

interface WayOfDraft {
  readonly draft: Draft;
  readonly stays: readonly Stay[];
  readonly way: WayExposure;
}

/** Exposures come as the ways of the drafts do, one after the other. */
function waysOf(drafts: readonly Draft[], exposures: readonly Exposure[], nowMs: number): WayOfDraft[][] {
  let at = 0;
  return drafts.map((draft) =>
    draft.ways.map((stays) => {
      const { unmonitoredMs, ...sums } = exposures[at] as Exposure;
      at += 1;
      const way = { sums, unmonitoredMs, toMs: stays.at(-1)?.toMs ?? nowMs, presumedFromMs: draft.presumedFromMs };
      return { draft, stays, way: { ...way, segments: null } };
    }),
  );
}

/** A decision about food in a place holds for it and goes with it: not for what had left before. */
function overruledFor(lotId: string, ways: readonly (readonly Stay[])[], { overruled }: Loaded): Overruled[] {
  return overruled.filter(
    (one) =>
      one.lotId === lotId &&
      ways.every((way) => way.some((stay) => stay.accountId === one.accountId && stay.toMs >= one.decidedAtMs)),
  );
}

/** Parts in stock first, then what was taken. `override`: rules of sites as they would be. */
export async function computeLots(
  tx: Tx,
  lotIds: readonly string[],
  nowMs: number,
  override: PolicyOverride = new Map(),
): Promise<ComputedLot[]> {
  if (lotIds.length === 0) return [];
  const loaded = await load(tx, lotIds, override);
  const drafts = [...loaded.lots.keys()].flatMap((lotId) => draftsOf(lotId, loaded, nowMs));
  const exposures = await exposuresOf(
    tx,
    drafts.flatMap(({ ways }) => ways),
  );
  const ways = waysOf(drafts, exposures, nowMs);
  // Only where a rule must know when something happened.
  const needed = ways
    .flat()
    .filter(({ way, draft }) => needsSegments(loaded.facts.get(draft.lotId) as LotFacts, way, draft.policies));
  const segments =
    needed.length === 0
      ? []
      : await segmentsOfEach(
          tx,
          needed.map(({ stays }) => stays),
        );
  const inOrder = new Map(needed.map(({ stays }, at) => [stays, segments[at] ?? null]));
  const parts = new Map<string, ComputedPart[]>([...loaded.lots.keys()].map((lotId) => [lotId, []]));
  for (const [no, { lotId, presumedFromMs, ...draft }] of drafts.entries()) {
    const seen = (ways[no] ?? []).map(({ way, stays }) => ({ ...way, segments: inOrder.get(stays) ?? null }));
    const facts = loaded.facts.get(lotId) as LotFacts;
    const computed = computeLimits(facts, seen, draft.policies, overruledFor(lotId, draft.ways, loaded));
    parts.get(lotId)?.push({ ...draft, ...computed, exposures: seen, presumed: presumedFromMs !== null });
  }
  return [...loaded.lots.values()].map((lot) => ({
    lot,
    facts: loaded.facts.get(lot.lotId) as LotFacts,
    parts: parts.get(lot.lotId) ?? [],
    shortened: loaded.histories.get(lot.lotId)?.shortened ?? false,
  }));
}
