/** What the limits of some lots are computed from, loaded for all of them at once. */
import { lotHistory, type LotHistory } from '../../../domain/limits/history.ts';
import type { SitePolicy } from '../../../domain/limits/policies.ts';
import type { ItemModel, LotFacts } from '../../../domain/limits/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findSites } from '../../catalogue/index.ts';
import { findLots, type LotRow } from '../../ledger/index.ts';
import { findChoices, policyOf } from '../policies/store.ts';
import { findValidations, listControlFactors, type ValidationRow } from '../statements/store.ts';
import * as store from './load-store.ts';

export interface Loaded {
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

export async function load(tx: Tx, lotIds: readonly string[], override: PolicyOverride): Promise<Loaded> {
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
