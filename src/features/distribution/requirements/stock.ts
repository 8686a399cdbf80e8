/**
 * What lies at a site for requirements: free to go, awaiting a decision that would let it go, or neither; and how far requirements are
 * covered. Refusals: `rule-broken` when one day has more requirements than one answer can hold.
 */
import { coverageOf, type Coverage } from '../../../domain/coverage.ts';
import { dietConflict } from '../../../domain/diets.ts';
import { Refused } from '../../../domain/errors.ts';
import { blockingHolds } from '../../../domain/ledger/may.ts';
import { mealAtMs, type Wanted } from '../../../domain/picking.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findHoldsReaching } from '../../ledger/index.ts';
import { listAccepted, listPromised, listSent, listStockParts, type SentRow, type StockPartRow } from './queries.ts';
import { listRequirementsOn, type RequirementRow } from './store.ts';

/** `awaiting`: nothing stands against it but that it may not leave yet. */
type Standing = 'free' | 'awaiting' | 'blocked';

export interface Part extends StockPartRow {
  readonly standing: Standing;
}

/**
 * Parts of these items at a site, less what dispatches that have not left are to take.
 * @param keptFor requirements whose planned packs are not taken off, because the caller counts them as still to be picked
 */
export async function partsAt(
  tx: Tx,
  siteId: string,
  itemIds: readonly string[],
  keptFor: ReadonlySet<string>,
  nowMs: number,
): Promise<Part[]> {
  const rows = await listStockParts(tx, siteId, itemIds);
  const lotIds = [...new Set(rows.map((row) => row.lotId))];
  const holds = (await findHoldsReaching(tx, lotIds, nowMs)).filter((hold) => hold.liftedAt === null);
  const promised = new Map<string, number>();
  for (const { lotId, placeId, requirementId, packs } of await listPromised(tx, siteId, lotIds)) {
    if (requirementId !== null && keptFor.has(requirementId)) continue;
    const key = `${lotId}|${placeId}`;
    promised.set(key, (promised.get(key) ?? 0) + packs);
  }
  return rows.map((row) => {
    const facts = {
      lotId: row.lotId,
      lotCode: row.lotCode,
      siteId,
      accountId: row.placeId,
      quarantine: row.quarantine,
      useByMs: row.useByMs,
      holds: holds.filter((hold) => hold.lotId === row.lotId),
    };
    const mayLeave = blockingHolds(facts, 'leave-site').length === 0;
    const mayCook = blockingHolds(facts, 'use-in-batch').length === 0;
    const standing = row.quarantine || !mayCook ? 'blocked' : mayLeave ? 'free' : 'awaiting';
    return { ...row, packs: Math.max(0, row.packs - (promised.get(`${row.lotId}|${row.placeId}`) ?? 0)), standing };
  });
}

export async function requirementsOn(
  tx: Tx,
  wanted: { siteId: string | null; from: string; to: string; meal: string | null },
  most: number,
): Promise<RequirementRow[]> {
  const rows = await listRequirementsOn(tx, wanted, most + 1);
  if (rows.length > most) throw new Refused('rule-broken', `There are more than ${most} requirements: name one meal.`);
  return rows;
}

export interface Sent {
  readonly coverage: ReadonlyMap<string, Coverage>;
  readonly lines: readonly SentRow[];
}

export async function sentFor(tx: Tx, rows: readonly RequirementRow[]): Promise<Sent> {
  const lines = await listSent(
    tx,
    rows.map((row) => row.requirementId),
  );
  const accepted = await listAccepted(tx, [...new Set(lines.map((line) => line.dispatchId))]);
  const required = new Map(rows.map((row) => [row.requirementId, row.portions]));
  const byLot = new Map(accepted.map(({ dispatchId, lotId, packs }) => [`${dispatchId}|${lotId}`, packs]));
  return { coverage: coverageOf(required, lines, byLot), lines };
}

export const conflictOf = (row: RequirementRow) =>
  dietConflict({ textureLevel: row.itemTextureLevel, dietCodes: row.itemDietCodes }, row);

/** When the meal of a requirement is; a sheet of thousands of rows has a handful of meals. */
export function mealTimes(): (row: RequirementRow) => number {
  const known = new Map<string, number>();
  return ({ serviceDate, meal, timeZone }) => {
    const key = `${serviceDate}|${meal}|${timeZone}`;
    const atMs = known.get(key) ?? mealAtMs(serviceDate, meal, timeZone);
    known.set(key, atMs);
    return atMs;
  };
}

export function wantedOf(row: RequirementRow, portions: number, atMs: number): Wanted {
  return {
    requirementId: row.requirementId,
    itemId: row.itemId,
    portions,
    portionsPerPack: row.portionsPerPack,
    mealAtMs: atMs,
    suits: conflictOf(row) === null,
  };
}
