/** What is left of a lot, as an answer. Refusal: `not-found`. */
import { notFound } from '../../../domain/errors.ts';
import type { Limit } from '../../../domain/limits/shapes.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { findPlaces } from '../../catalogue/index.ts';
import { findHoldsReaching, getVisibleLot, type ReachingHold } from '../../ledger/index.ts';
import { decisionAnswer } from '../decisions/commands.ts';
import { listDecisions } from '../decisions/store.ts';
import { computeLots, type ComputedLot, type Stay } from '../limits/compute.ts';
import { listAccounts, listPartDates } from '../limits/load-store.ts';
import { listResults, type ResultRow } from '../limits/results-store.ts';
import { cautionsOf } from './cautions.ts';
import type { getLotShelfLife } from './contract.ts';
import type { PartInForce, Where } from './parts.ts';
import { drawPart } from './picture.ts';

type Part = ComputedLot['parts'][number];

const HOUR_MS = 3_600_000;
const MOST_WAYS_SHOWN = 10;

const at = (atMs: number | null | undefined): string | null => (atMs === null || atMs === undefined ? null : utc(atMs));
const hours = (ms: number): number => Math.round(ms / 36_000) / 100;

/** In words where food is or was: the place's name, the van's. */
async function namesOf(tx: Tx, parts: readonly Part[]): Promise<(accountId: string | null) => Where> {
  const ids = new Set<string>();
  for (const part of parts) {
    ids.add(part.partId);
    for (const way of part.ways) for (const { accountId } of way) if (accountId !== null) ids.add(accountId);
  }
  const places = await findPlaces(tx, [...ids]);
  const accounts = new Map((await listAccounts(tx, [...ids])).map((row) => [row.accountId, row]));
  return (accountId) => {
    const place = accountId === null ? undefined : places.get(accountId);
    if (accountId === null) return { placeId: null, dispatchId: null, where: 'not known' };
    if (place) return { placeId: accountId, dispatchId: null, where: place.name };
    return { placeId: null, dispatchId: accountId, where: accounts.get(accountId)?.vehicle ?? 'on the road' };
  };
}

function limitAnswer(limit: Limit) {
  const { endsAtMs, sinceMs, unmonitoredMs, usedFraction, presumed: _presumed, ...rest } = limit;
  return {
    ...rest,
    endsAt: at(endsAtMs),
    since: at(sinceMs),
    unmonitoredH: hours(unmonitoredMs),
    // a share that is used is rounded up
    usedFraction: usedFraction === null ? null : Math.ceil(usedFraction * 1e6 - 1e-6) / 1e6,
  };
}

/** Food that moved on through a door was in two places under one account. */
function staysAnswer(way: readonly Stay[], nameOf: (accountId: string | null) => Where) {
  return way
    .filter(({ fromMs, toMs }) => toMs > fromMs)
    .map(({ accountId, fromMs, toMs }) => ({ ...nameOf(accountId), from: utc(fromMs), to: utc(toMs) }));
}

function partAnswer(
  { part, useByAtMs, where }: PartInForce,
  holds: readonly ReachingHold[],
  nameOf: (accountId: string | null) => Where,
  nowMs: number,
) {
  const ends = [useByAtMs, part.effectiveAtMs].flatMap((one) => one ?? []);
  const model = part.limits.find(({ code }) => code === 'item-model');
  const covering = holds.filter(
    ({ siteId, accountId, liftedAt }) =>
      liftedAt === null &&
      (accountId === null || accountId === part.partId) &&
      (siteId === null || siteId === part.siteId),
  );
  return {
    partId: part.partId,
    ...where,
    siteId: part.siteId,
    quantity: part.quantity,
    useByAt: at(useByAtMs),
    computedAt: at(part.effectiveAtMs),
    ruling: part.ruling?.code ?? null,
    forbiddenBy: part.forbiddenBy?.code ?? null,
    remainingH: ends.length === 0 ? null : Math.max(0, Math.floor(((Math.min(...ends) - nowMs) / HOUR_MS) * 100) / 100),
    usedFraction: model ? limitAnswer(model).usedFraction : null,
    unmonitoredH: hours(Math.max(0, ...part.exposures.map(({ unmonitoredMs }) => unmonitoredMs))),
    presumed: part.presumed,
    policySets: [...new Set(part.policies.map(({ set }) => set.code))],
    limits: part.limits.map(limitAnswer),
    ways: part.ways.slice(0, MOST_WAYS_SHOWN).map((way) => staysAnswer(way, nameOf)),
    holds: covering.filter(({ kind }) => kind !== 'use-by').map(({ holdId, kind }) => ({ holdId, kind })),
  };
}

function resultAnswer(row: ResultRow) {
  return {
    resultId: row.resultId,
    partId: row.partId,
    computedAt: utc(row.computedAtMs),
    ruleVersion: row.ruleVersion,
    effectiveAt: at(row.effectiveAtMs),
    ruling: row.rulingCode,
    forbiddenBy: row.forbiddenCode,
    holdId: row.holdId,
    inputsHash: row.inputsHash,
  };
}

interface Found {
  readonly computed: ComputedLot;
  readonly parts: readonly PartInForce[];
  readonly nameOf: (accountId: string | null) => Where;
}

async function find(tx: Tx, scope: SiteScope, lotId: string, partId: string | null, nowMs: number): Promise<Found> {
  const lot = await getVisibleLot(tx, scope, lotId);
  const [computed] = await computeLots(tx, [lot.lotId], nowMs);
  if (!computed) throw notFound('lot');
  const seen = computed.parts.filter(
    ({ kind, sites, partId: one }) =>
      kind === 'part' && sites.some((site) => scope.includes(site)) && (partId === null || one === partId),
  );
  if (partId !== null && seen.length === 0) throw notFound('part of that lot');
  const nameOf = await namesOf(tx, seen);
  const dates = new Map((await listPartDates(tx, lot.lotId)).map((row) => [row.accountId, row.useByAtMs]));
  const parts = seen.map((part) => {
    const ends = [dates.get(part.partId), lot.useByAtMs].flatMap((one) => one ?? []);
    return { part, useByAtMs: ends.length === 0 ? null : Math.min(...ends), where: nameOf(part.partId) };
  });
  return { computed, parts, nameOf };
}

export async function readShelfLife(context: Context<typeof getLotShelfLife>): Promise<Reply> {
  const { tx, scope, params, query, nowMs, accept } = context;
  const partId = query.placeId ?? query.dispatchId ?? null;
  const found = await find(tx, scope, params.lotId, partId, nowMs);
  const { computed, parts, nameOf } = found;
  const wanted = accept(['application/json', 'image/svg+xml']) === 'image/svg+xml' ? 'svg' : 'json';
  if ((query.format ?? wanted) === 'svg') {
    const data = await drawPart(tx, computed, parts, nameOf, nowMs);
    return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data } };
  }
  const { lot } = computed;
  const holds = await findHoldsReaching(tx, [lot.lotId], nowMs);
  const shown = new Set(parts.map(({ part }) => part.partId));
  const history = await listResults(tx, lot.lotId);
  const decisions = await listDecisions(tx, lot.lotId);
  const body = {
    lotId: lot.lotId,
    lotCode: lot.code,
    itemName: lot.itemName,
    unit: lot.unit,
    printedUseByAt: lot.printedUseByAt?.toISOString() ?? null,
    useByAt: at(lot.useByAtMs),
    asOf: utc(nowMs),
    parts: parts.map((one) => partAnswer(one, holds, nameOf, nowMs)),
    history: history.filter((row) => scope.all || shown.has(row.partId)).map(resultAnswer),
    decisions: decisions.filter((row) => scope.all || shown.has(row.accountId)).map(decisionAnswer),
    cautions: cautionsOf(computed, parts),
  };
  return { status: 200, body };
}
