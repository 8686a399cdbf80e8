/** The receiving list: what is on the road to a site, and what may not be used there. */
import { groupBy } from '../../../domain/grouping.ts';
import { useByOfPart } from '../../../domain/ledger/may.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteRow } from '../../catalogue/index.ts';
import { findHoldsReaching, findLots, verdict, type LotRow, type ReachingHold } from '../../ledger/index.ts';
import { listDispatchLoads } from '../crates/loads.ts';
import { listLines } from '../store.ts';
import { listComing, listParts, type PartRow } from './store.ts';

const MOST_DISPATCHES = 200;
const MOST_PARTS = 5000;

const instantOrNull = (ms: number | null): string | null => (ms === null ? null : utc(ms));

function useByIn(lot: LotRow, accountId: string, holds: readonly ReachingHold[]): number | null {
  const open = holds.filter((hold) => hold.lotId === lot.lotId && hold.liftedAt === null);
  return useByOfPart({ lotId: lot.lotId, accountId }, lot.useByAtMs, open);
}

/** Null: nothing stands against this part, and its label says the date in force. */
function stopOf(part: PartRow, lot: LotRow, site: SiteRow, holds: readonly ReachingHold[], nowMs: number) {
  const { accountId, placeCode, quarantine } = part;
  const place = { placeId: accountId, siteId: site.siteId, quarantine };
  const told = verdict({ factId: '', lot, place, occurredAtMs: nowMs, serving: true }, holds);
  const inForceMs = useByIn(lot, accountId, holds);
  const printedMs = lot.printedUseByAt?.getTime() ?? null;
  const shortened = inForceMs !== null && printedMs !== null && inForceMs < printedMs;
  if (told.mayUse && !shortened) return null;
  const reaching = holds.filter(
    ({ lotId, kind, siteId, accountId: at }) =>
      lotId === lot.lotId &&
      kind !== 'use-by' &&
      (siteId === null || siteId === site.siteId) &&
      (at === null || at === accountId),
  );
  return {
    lotId: lot.lotId,
    lotCode: lot.code,
    itemName: lot.itemName,
    accountId,
    placeCode,
    holdKinds: [...new Set(reaching.map((hold) => hold.kind))].sort(),
    ...told,
    printedUseByDate: lot.printedUseByDate,
    newUseByAt: shortened ? utc(inForceMs) : null,
  };
}

export async function listOf(tx: Tx, site: SiteRow, nowMs: number, asOf: string) {
  const coming = await listComing(tx, site.siteId, MOST_DISPATCHES + 1);
  const dispatches = coming.slice(0, MOST_DISPATCHES);
  const ids = dispatches.map((row) => row.dispatchId);
  const lines = await listLines(tx, ids);
  const loads = await listDispatchLoads(tx, ids);
  const crates = new Map(loads.map((load) => [`${load.dispatchId}|${load.lineNo}`, load.crateCodes]));
  const found = await listParts(tx, site.siteId, MOST_PARTS + 1);
  const parts = found.slice(0, MOST_PARTS);
  const lotIds = [...new Set([...lines, ...parts].map((row) => row.lotId))];
  const lots = await findLots(tx, lotIds);
  const open = (await findHoldsReaching(tx, lotIds, nowMs)).filter((hold) => hold.liftedAt === null);
  const byLot = groupBy(open, (hold) => hold.lotId);
  const linesOf = (dispatchId: string) =>
    lines.flatMap((line) => {
      const lot = lots.get(line.lotId);
      if (line.dispatchId !== dispatchId || !lot) return [];
      return {
        lotId: lot.lotId,
        lotCode: lot.code,
        itemName: lot.itemName,
        quantity: line.quantity,
        unit: lot.unit,
        serials: line.serials,
        crateCodes: [...(crates.get(`${dispatchId}|${line.lineNo}`) ?? [])],
        storage: lot.storage,
        storageInstruction: lot.storageInstruction,
        printedUseByDate: lot.printedUseByDate,
        useByAt: instantOrNull(useByIn(lot, dispatchId, byLot.get(lot.lotId) ?? [])),
      };
    });
  return {
    site: { siteId: site.siteId, code: site.code, name: site.name, timeZone: site.timeZone },
    asOf,
    whole: coming.length <= MOST_DISPATCHES && found.length <= MOST_PARTS,
    expected: dispatches.map((row) => ({
      ...row,
      departedAt: row.departedAt?.toISOString() ?? null,
      lines: linesOf(row.dispatchId),
    })),
    stops: parts.flatMap((part) => {
      const lot = lots.get(part.lotId);
      return (lot && stopOf(part, lot, site, byLot.get(part.lotId) ?? [], nowMs)) ?? [];
    }),
  };
}
