/** A van run as its answers show it. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import { findSites } from '../catalogue/index.ts';
import { lotOf } from './commands.ts';
import { listFound, type FoundRow } from './store-found.ts';
import { listRefusals, type RefusalRow } from './store-refusals.ts';
import { listDropTimes, type DropRow, type DropTimeRow, type VanRunRow } from './store-van-runs.ts';
import { listLines, type LineRow } from './store.ts';
import { likelyWrongDrops } from './wrong-drops.ts';

export const vanRunHead = (row: VanRunRow) => ({ ...row, plannedFor: row.plannedFor.toISOString() });

/** All drops for the site that the run starts from; for another site those that call there. */
export function visibleDrops(scope: SiteScope, run: VanRunRow, drops: readonly DropRow[]): DropRow[] {
  return scope.includes(run.siteId) ? [...drops] : drops.filter((drop) => scope.includes(drop.siteId));
}

/** Of each time what was recorded last. */
export function timesThatStand(rows: readonly Pick<DropTimeRow, 'arrivedAt' | 'doorAt' | 'putAwayAt'>[]) {
  const last = (of: (row: (typeof rows)[number]) => Date | null) =>
    rows.reduce<Date | null>((before, row) => of(row) ?? before, null)?.toISOString() ?? null;
  return {
    arrivedAt: last((row) => row.arrivedAt),
    doorAt: last((row) => row.doorAt),
    putAwayAt: last((row) => row.putAwayAt),
  };
}

const ROAD_NOTE = 'The rules of both places count on the road: the stricter of two limits is the limit.';

interface Details {
  readonly lines: readonly LineRow[];
  readonly found: readonly FoundRow[];
  readonly refusals: readonly RefusalRow[];
  readonly linesBack: readonly LineRow[];
  readonly times: readonly DropTimeRow[];
}

export async function vanRunAnswer(tx: Tx, run: VanRunRow, drops: readonly DropRow[]) {
  const dispatchIds = drops.map((drop) => drop.dispatchId);
  const home = (await findSites(tx, [run.siteId])).get(run.siteId);
  const lines = await listLines(tx, dispatchIds);
  const found = await listFound(tx, dispatchIds);
  const refusals = await listRefusals(tx, dispatchIds);
  const linesBack = await listLines(
    tx,
    refusals.map((one) => one.returnDispatchId),
  );
  const times = await listDropTimes(tx, run.vanRunId);
  const details = { lines, found, refusals, linesBack, times };
  const balances = drops.flatMap((drop) =>
    found
      .filter((lot) => lot.dispatchId === drop.dispatchId)
      .map((lot) => ({ ...lot, closed: drop.state === 'closed', departed: drop.departedAt !== null })),
  );
  return {
    ...vanRunHead(run),
    drops: drops.map((drop) => dropAnswer(drop, home?.jurisdiction ?? drop.siteJurisdiction, details)),
    likelyWrongDrops: likelyWrongDrops(balances),
  };
}

function dropAnswer(drop: DropRow, homeJurisdiction: string, details: Details) {
  const { vanRunId: _run, siteJurisdiction, ...shown } = drop;
  const ofDrop = (row: { readonly dispatchId: string }) => row.dispatchId === drop.dispatchId;
  const jurisdictions = [...new Set([homeJurisdiction, siteJurisdiction])];
  const times = details.times.filter(ofDrop);
  return {
    ...shown,
    plannedFor: drop.plannedFor?.toISOString() ?? null,
    departedAt: drop.departedAt?.toISOString() ?? null,
    jurisdictions,
    jurisdictionNote: jurisdictions.length > 1 ? ROAD_NOTE : null,
    crates: cratesOf(details.lines.filter(ofDrop)),
    found: details.found.filter(ofDrop).map((lot) => lotOf(drop.state, lot)),
    times: timesThatStand(times),
    timesRecorded: times.map(({ dispatchId: _of, ...row }) => ({
      ...row,
      ...timesThatStand([row]),
      recordedAt: row.recordedAt.toISOString(),
    })),
    refusals: details.refusals.filter(ofDrop).map(({ dispatchId: _of, ...refusal }) => ({
      ...refusal,
      occurredAt: refusal.occurredAt.toISOString(),
      lots: details.linesBack
        .filter((line) => line.dispatchId === refusal.returnDispatchId)
        .map(({ lotId, lotCode, quantity, unit }) => ({ lotId, lotCode, quantity, unit })),
    })),
  };
}

/** What is handed over, crate by crate in the order of loading; loose packs where the first of them comes. */
function cratesOf(lines: readonly LineRow[]) {
  const crates = new Map<string | null, object[]>();
  for (const { crateCode, lotId, lotCode, itemName, quantity, unit, serials } of lines) {
    const lots = crates.get(crateCode) ?? [];
    lots.push({ lotId, lotCode, itemName, quantity, unit, serials });
    crates.set(crateCode, lots);
  }
  return Array.from(crates, ([crateCode, lots]) => ({ crateCode, lots }));
}
