/**
 * What is left of the life of every part of some lots, from what is recorded now: the same for the worker, which keeps it, and for answers,
 * which do not. Loads everything for all of the lots at once.
 */
import { lotHistory, type LotHistory, type Way } from '../../../domain/limits/history.ts';
import { computeLimits, needsSegments, type Computed, type Overruled } from '../../../domain/limits/limits.ts';
import type { SitePolicy } from '../../../domain/limits/policies.ts';
import type { ItemModel, LotFacts, WayExposure } from '../../../domain/limits/shapes.ts';
import { subjectOf } from '../../../domain/readings.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findSites } from '../../catalogue/index.ts';
import { findLots, type LotRow } from '../../ledger/index.ts';
import { exposuresOf, segmentsOfEach, type Exposure, type SubjectInterval } from '../../temperature/index.ts';
import { findChoices, policyOf } from '../policies/store.ts';
import { findValidations, listControlFactors, type ValidationRow } from '../statements/store.ts';
import * as store from './load-store.ts';

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

interface Loaded {
  readonly lots: ReadonlyMap<string, LotRow>;
  readonly histories: ReadonlyMap<string, LotHistory>;
  readonly accounts: ReadonlyMap<string, store.AccountRow>;
  readonly crates: ReadonlyMap<string, string>;
  readonly presumed: ReadonlyMap<string, number>;
  readonly facts: ReadonlyMap<string, LotFacts>;
  readonly policies: ReadonlyMap<string, SitePolicy>;
  readonly overruled: readonly store.OverruledRow[];
}

const by = <Row, Key>(rows: readonly Row[], keyOf: (row: Row) => Key): Map<Key, Row> =>
  new Map(rows.map((row) => [keyOf(row), row]));

function bornLimits(lot: LotRow): LotFacts['born'] {
  const limits = (lot.useByBasis as { limits?: { why?: string; endsAt?: string }[] } | null)?.limits ?? [];
  return limits.flatMap(({ why, endsAt }) =>
    why === undefined || endsAt === undefined ? [] : [{ why, endsAtMs: Date.parse(endsAt) }],
  );
}

function modelOf(row: ValidationRow | undefined): ItemModel | null {
  if (!row?.model || row.referenceC === null || row.referenceLifeH === null) return null;
  const { validationId, model, validatedBy, basis, document } = row;
  const reference = { temperatureC: Number(row.referenceC), lifeH: row.referenceLifeH };
  return { validationId, model, reference, validatedBy, basis, document };
}

async function loadFacts(tx: Tx, lots: ReadonlyMap<string, LotRow>): Promise<Map<string, LotFacts>> {
  const lotIds = [...lots.keys()];
  const origins = by(await store.listOrigins(tx, lotIds), (row) => row.lotId);
  const batchIds = [...new Set([...origins.values()].map((row) => row.batchId))];
  const controls = await listControlFactors(tx, batchIds);
  const models = await findValidations(tx, [...new Set([...lots.values()].map((lot) => lot.itemId))]);
  const inputs = by(await store.listInputEnds(tx, lotIds), (row) => row.lotId);
  return new Map(
    [...lots.values()].map((lot) => {
      const origin = origins.get(lot.lotId);
      const input = inputs.get(lot.lotId);
      const facts: LotFacts = {
        bornAtMs: lot.bornAt.getTime(),
        timeZone: lot.siteTimeZone,
        printedUseByAtMs: lot.printedUseByAt?.getTime() ?? null,
        lotUseByAtMs: lot.useByAtMs,
        anchors: lot.anchors,
        origin: lot.origin,
        storage: lot.storage,
        handling: lot.handling,
        cookChill: origin !== undefined && origin.steps.includes('cook') && origin.steps.includes('chill'),
        controls: controls.filter((one) => one.batchId === origin?.batchId),
        born: bornLimits(lot),
        model: modelOf(models.get(lot.itemId)),
        input: input
          ? {
              endsAtMs: input.effectiveAtMs,
              lotCode: input.parentCode,
              code: input.rulingCode,
              forbids: input.forbidden,
            }
          : null,
      };
      return [lot.lotId, facts];
    }),
  );
}

export type PolicyOverride = ReadonlyMap<string, SitePolicy>;

async function loadPolicies(tx: Tx, accounts: Iterable<store.AccountRow>): Promise<Map<string, SitePolicy>> {
  const siteIds = [...new Set([...accounts].flatMap((one) => [one.siteId, one.toSiteId ?? one.siteId]))];
  const sites = await findSites(tx, siteIds);
  const choices = await findChoices(tx, siteIds);
  return new Map(
    [...sites.values()].map((site) => [site.siteId, policyOf(site.jurisdiction, choices.get(site.siteId))]),
  );
}

async function load(tx: Tx, lotIds: readonly string[], override: PolicyOverride): Promise<Loaded> {
  const lots = await findLots(tx, lotIds);
  const postings = await store.listStandingPostings(tx, lotIds);
  const named = [...new Set(postings.flatMap((one) => [one.fromAccountId, one.toAccountId]))];
  const rows = await store.listAccounts(tx, named);
  const twins = rows.flatMap((row) => row.twinOf ?? []).filter((one) => !named.includes(one));
  const accounts = by(
    [...rows, ...(twins.length > 0 ? await store.listAccounts(tx, twins) : [])],
    (row) => row.accountId,
  );
  const perLot = new Map<string, store.PostingRow[]>(lotIds.map((lotId) => [lotId, []]));
  for (const posting of postings) perLot.get(posting.lotId)?.push(posting);
  const histories = new Map(
    [...lots.values()].map((lot) => [
      lot.lotId,
      lotHistory(lot.bornAt.getTime(), perLot.get(lot.lotId) ?? [], accounts),
    ]),
  );
  const crates = await store.listSoleCrates(tx, lotIds);
  const presumed = await store.listPresumedParts(tx, lotIds);
  return {
    lots,
    histories,
    accounts,
    crates: new Map(crates.map((row) => [`${row.lotId}|${row.dispatchId}`, row.crateCode])),
    presumed: new Map(presumed.map((row) => [`${row.lotId}|${row.placeId}`, row.sinceMs])),
    facts: await loadFacts(tx, lots),
    policies: new Map([...(await loadPolicies(tx, accounts.values())), ...override]),
    overruled: await store.listOverruled(tx, lotIds),
  };
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
function waysOf(
  drafts: readonly Draft[],
  exposures: readonly Exposure[],
  { presumed }: Loaded,
  nowMs: number,
): WayOfDraft[] {
  let at = 0;
  return drafts.flatMap((draft) =>
    draft.ways.map((stays) => {
      const { unmonitoredMs, ...sums } = exposures[at] as Exposure;
      at += 1;
      const presumedFromMs = draft.kind === 'part' ? (presumed.get(`${draft.lotId}|${draft.partId}`) ?? null) : null;
      const toMs = stays.at(-1)?.toMs ?? nowMs;
      return { draft, stays, way: { sums, unmonitoredMs, toMs, presumedFromMs, segments: null } };
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
  const ways = waysOf(drafts, exposures, loaded, nowMs);
  // Only where a rule must know when something happened.
  const needed = ways.filter(({ way, draft }) =>
    needsSegments(loaded.facts.get(draft.lotId) as LotFacts, way, draft.policies),
  );
  const segments =
    needed.length === 0
      ? []
      : await segmentsOfEach(
          tx,
          needed.map(({ stays }) => stays),
        );
  const inOrder = new Map(needed.map(({ stays }, at) => [stays, segments[at] ?? null]));
  const parts = new Map<string, ComputedPart[]>([...loaded.lots.keys()].map((lotId) => [lotId, []]));
  for (const { lotId, presumedFromMs, ...draft } of drafts) {
    const own = ways.filter((one) => one.draft.lotId === lotId && one.draft.partId === draft.partId);
    const seen = own.map(({ way, stays }) => ({ ...way, segments: inOrder.get(stays) ?? null }));
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
