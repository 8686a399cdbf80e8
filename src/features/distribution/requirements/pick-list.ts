/** The pick list, and what was sent against what was required. Refusals: `not-found`, `invalid-request`, `rule-broken`. */
import { conflictSentence } from '../../../domain/diets.ts';
import { notFound } from '../../../domain/errors.ts';
import { keepsUntil, pickFrom, type PickedLine, type Wanted } from '../../../domain/picking.ts';
import { utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findSites } from '../../catalogue/index.ts';
import { askedOf, requireDay } from './commands.ts';
import type { getRequirementCoverage } from './contract.ts';
import type { getPickList } from './contract-sheets.ts';
import { conflictOf, mealTimes, partsAt, requirementsOn, sentFor, wantedOf, type Part } from './stock.ts';
import { listShortPicks, type RequirementRow } from './store.ts';

const MOST_OF_A_DAY = 2_000;

export async function readCoverage(context: Context<typeof getRequirementCoverage>): Promise<Reply> {
  const { tx, scope, query } = context;
  const { siteId, serviceDate } = query;
  requireDay(serviceDate, '#/query/serviceDate');
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  const day = { siteId, from: serviceDate, to: serviceDate, meal: query.meal ?? null };
  const rows = await requirementsOn(tx, day, MOST_OF_A_DAY);
  const { coverage, lines } = await sentFor(tx, rows);
  const shortPicks = await listShortPicks(
    tx,
    rows.map((row) => row.requirementId),
  );
  const requirements = byMeal(rows).flatMap((row) => {
    const covered = coverage.get(row.requirementId);
    if (!covered || (row.portions === 0 && covered.overPortions === 0)) return [];
    const others = new Map<string, { itemId: string; itemName: string; portions: number }>();
    for (const line of lines) {
      if (line.requirementId !== row.requirementId || line.itemId === row.itemId) continue;
      const before = others.get(line.itemId)?.portions ?? 0;
      const portions = before + line.packs * line.portionsPerPack;
      others.set(line.itemId, { itemId: line.itemId, itemName: line.itemName, portions });
    }
    const short = shortPicks.filter((one) => one.requirementId === row.requirementId && one.shortPortions > 0);
    return {
      ...askedOf(row),
      requiredPortions: row.portions,
      ...covered,
      otherItems: [...others.values()],
      shortPicks: short.map(({ dispatchId, shortPortions, reason, recordedAt }) => ({
        dispatchId,
        shortPortions,
        reason,
        recordedAt: recordedAt.toISOString(),
      })),
    };
  });
  return { status: 200, body: { siteId, serviceDate, requirements } };
}

/** The earliest meal first; the rows come by item. */
function byMeal(rows: readonly RequirementRow[]): RequirementRow[] {
  const atMs = mealTimes();
  return [...rows].sort((a, b) => atMs(a) - atMs(b));
}

const useByAt = (part: Part): string | null => (part.useByMs === null ? null : utc(part.useByMs));
const keyOf = (part: { lotId: string; placeId: string }): string => `${part.lotId}|${part.placeId}`;

/** Why there is not enough, in words; null when there is. */
function whyShort(
  row: RequirementRow,
  line: PickedLine,
  wanted: Wanted,
  parts: readonly Part[],
  lifeLeftH: number,
  nowMs: number,
): string | null {
  const conflict = conflictOf(row);
  if (conflict) return conflictSentence(conflict, row.itemName);
  if (line.shortPacks === 0) return null;
  const mine = parts.filter((part) => part.itemId === row.itemId);
  const sum = (some: readonly Part[]) => some.reduce((packs, part) => packs + part.packs, 0);
  const held = sum(mine.filter((part) => part.standing !== 'free'));
  const old = sum(
    mine.filter((part) => part.standing === 'free' && !keepsUntil(part.useByMs, wanted.mealAtMs, lifeLeftH, nowMs)),
  );
  const reasons = [
    ...(held > 0 ? [`${held} packs are on hold, awaiting release or in quarantine`] : []),
    ...(old > 0 ? [`${old} packs do not keep long enough`] : []),
  ];
  return reasons.length === 0
    ? 'There are no more packs here.'
    : `There are no more packs here; ${reasons.join(', ')}.`;
}

export async function readPickList(context: Context<typeof getPickList>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const { fromSiteId, toSiteId, serviceDate } = query;
  requireDay(serviceDate, '#/query/serviceDate');
  const sites = await findSites(tx, [fromSiteId, toSiteId]);
  if (!sites.get(fromSiteId) || !scope.includes(fromSiteId) || !sites.get(toSiteId)) throw notFound('site');
  const lifeLeftH = Number(query.minimumLifeLeftH ?? '0');
  const day = { siteId: toSiteId, from: serviceDate, to: serviceDate, meal: query.meal ?? null };
  const all = await requirementsOn(tx, day, MOST_OF_A_DAY);
  const { coverage } = await sentFor(tx, all);
  const short = new Map(all.map((row) => [row.requirementId, coverage.get(row.requirementId)?.shortPortions ?? 0]));
  const rows = all.filter((row) => (short.get(row.requirementId) ?? 0) > 0);
  const itemIds = [...new Set(rows.map((row) => row.itemId))];
  const parts = await partsAt(tx, fromSiteId, itemIds, new Set(), nowMs);
  const atMs = mealTimes();
  const wanted = new Map(
    rows.map((row) => [row.requirementId, wantedOf(row, short.get(row.requirementId) ?? 0, atMs(row))]),
  );
  const free = parts.filter((part) => part.standing === 'free');
  const picked = pickFrom([...wanted.values()], free, lifeLeftH, nowMs);
  const rowOf = new Map(rows.map((row) => [row.requirementId, row]));
  const partOf = new Map(parts.map((part) => [keyOf(part), part]));
  const lines = picked.flatMap((line) => {
    const row = rowOf.get(line.requirementId);
    const want = wanted.get(line.requirementId);
    if (!row || !want) return [];
    const picks = line.picks.flatMap((pick) => {
      const part = partOf.get(keyOf(pick));
      if (!part) return [];
      const { lotId, lotCode, placeId, placeName } = part;
      return [{ lotId, lotCode, placeId, placeName, packs: pick.packs, useByAt: useByAt(part) }];
    });
    return [
      {
        ...askedOf(row),
        mealAt: utc(want.mealAtMs),
        requiredPortions: row.portions,
        coveredPortions: row.portions - want.portions,
        toPickPortions: want.portions,
        portionsPerPack: row.portionsPerPack,
        packs: line.packsWanted,
        picks,
        shortPortions: line.shortPortions,
        shortPacks: line.shortPacks,
        whyShort: whyShort(row, line, want, parts, lifeLeftH, nowMs),
      },
    ];
  });
  const places = walk(picked, parts);
  return { status: 200, body: { fromSiteId, toSiteId, serviceDate, minimumLifeLeftH: lifeLeftH, lines, places } };
}

/** The picks of all lines, place by place; in each the oldest first. */
function walk(picked: readonly PickedLine[], parts: readonly Part[]): object[] {
  const taken = new Map<string, number>();
  for (const pick of picked.flatMap((line) => line.picks)) {
    taken.set(keyOf(pick), (taken.get(keyOf(pick)) ?? 0) + pick.packs);
  }
  const places = new Map<string, { placeId: string; placeName: string; lots: object[] }>();
  for (const part of parts) {
    const packs = taken.get(keyOf(part)) ?? 0;
    if (packs === 0) continue;
    const { placeId, placeName, lotId, lotCode, itemName } = part;
    const place = places.get(placeId) ?? { placeId, placeName, lots: [] };
    place.lots.push({ lotId, lotCode, itemName, packs, useByAt: useByAt(part) });
    places.set(placeId, place);
  }
  return [...places.values()].sort((a, b) => (a.placeName < b.placeName ? -1 : 1));
}
