/**
 * A set of scans at one site: load once, decide each purely against the running state, write the accepted set with one
 * statement per table. Refusals (per scan): `not-found`, `rule-broken`, `serials-do-not-fit`, `discard-reason-unknown`,
 * `unit-mismatch`, `scan-unreadable`.
 */
import { Refused } from '../../domain/errors.ts';
import { findPlaces, listWasteReasons } from '../catalogue/index.ts';
import { findAstray, findCarried, lockDispatches, type AstrayRow, type CarriedRow } from '../distribution/index.ts';
import {
  findHoldsReaching,
  findLots,
  findLotsByCode,
  verdict,
  type FindingDraft,
  type LotRow,
  type ReachingHold,
} from '../ledger/index.ts';
import { heldFinding, isSure, lineOf, wordsOf, type ArrivedAs } from './arrivals.ts';
import { writeScans, type WrittenScans } from './post.ts';
import { againstSymbol } from './interpretation/warnings.ts';
import { readScans } from './read-scans.ts';
import { resolveOne, type Resolution } from './resolution.ts';
import { lotCodeOf } from './resolve.ts';
import { listSeenCrates, listSerialScans, lockPaths, type ScanRow, type SerialKey } from './store.ts';
import { placeOf, type IncomingScan, type ResolvedScan, type ScanWork, type ScanWorld } from './work.ts';

export interface ScanOutcome {
  readonly scanId: string;
  readonly status: 'recorded' | 'already-recorded' | 'awaiting-identity' | 'refused';
  readonly lot: LotRow | null;
  readonly serial: string | null;
  /** what is recorded now for all that this scan speaks of; null for serials, counts and crates */
  readonly total: number | null;
  /** arrival without serial: what the dispatch says it carries of the lot */
  readonly expected: number | null;
  readonly mayUse: boolean | null;
  readonly whyNot: string | null;
  /** arrivals: what it came to, and what to know of it in words */
  readonly arrivedAs: ArrivedAs | null;
  readonly arrivalNote: string | null;
  /** arrivals: a hold that is open reaches it */
  readonly held: boolean | null;
  readonly findings: readonly FindingDraft[];
  readonly refused: Refused | null;
}

/** The packs that these scans may speak of: by their own code, or as what a crate holds. */
function packsOf(
  incoming: readonly IncomingScan[],
  lots: ReadonlyMap<string, LotRow>,
  carried: readonly CarriedRow[],
): SerialKey[] {
  const named = incoming.flatMap(({ code }) => {
    const lot = lots.get(lotCodeOf(code));
    const slash = code.indexOf('/');
    return lot && slash !== -1 ? [{ lotId: lot.lotId, serial: code.slice(slash + 1) }] : [];
  });
  const crated = carried
    .filter((row) => incoming.some((scan) => row.crateCodes.includes(scan.code)))
    .flatMap((row) => row.serials.map((serial) => ({ lotId: row.lotId, serial })));
  return [...new Map([...named, ...crated].map((key) => [`${key.lotId}/${key.serial}`, key])).values()];
}

/** Reads what goes to other sites, only for arrivals that no line to this site speaks of. */
async function strayOf(
  { tx, site }: ScanWork,
  arrivals: readonly IncomingScan[],
  lots: ReadonlyMap<string, LotRow>,
  carried: readonly CarriedRow[],
): Promise<AstrayRow[]> {
  const lotIds = new Set<string>();
  const serials = new Set<string>();
  const crateCodes = new Set<string>();
  for (const { code, dispatchId } of arrivals) {
    const lot = lots.get(lotCodeOf(code));
    const [, serial = null] = code.split('/', 2);
    if (!lot) {
      if (!carried.some((row) => row.crateCodes.includes(code))) crateCodes.add(code);
    } else if (
      !isSure(
        { lotId: lot.lotId, serial },
        lineOf(
          { lotId: lot.lotId, serial },
          dispatchId ? carried.filter((row) => row.dispatchId === dispatchId) : carried,
        ),
      )
    ) {
      lotIds.add(lot.lotId);
      if (serial !== null) serials.add(serial);
    }
  }
  if (lotIds.size + crateCodes.size === 0) return [];
  return findAstray(tx, site.siteId, { lotIds: [...lotIds], serials: [...serials], crateCodes: [...crateCodes] });
}

/**
 * A pack's path follows from all of its scans, and so does a total, so scans of one lot wait for each other; then dispatches are locked, before any
 * balance, so that closing a receipt and late scans see each other. What was seen before is read after that.
 */
async function loadWorld(work: ScanWork, incoming: readonly IncomingScan[]): Promise<ScanWorld> {
  const { tx, site } = work;
  const codes = [...new Set(incoming.map((scan) => lotCodeOf(scan.code)))];
  const lots = await findLotsByCode(tx, codes);
  const arrivals = incoming.filter((scan) => scan.kind === 'arrival');
  const lotIds = arrivals.flatMap((scan) => lots.get(lotCodeOf(scan.code))?.lotId ?? []);
  const crates = arrivals.filter((scan) => !lots.has(lotCodeOf(scan.code))).map((scan) => scan.code);
  const carried =
    arrivals.length > 0 ? await findCarried(tx, site.siteId, [...new Set(lotIds)], [...new Set(crates)]) : [];
  const astray = arrivals.length > 0 ? await strayOf(work, arrivals, lots, carried) : [];
  const lines = [...carried, ...astray];
  const placeIds = incoming.flatMap((scan) => scan.placeId ?? []).concat(site.receivingPlaceId, site.quarantinePlaceId);
  const places = await findPlaces(tx, [...new Set(placeIds)]);
  const crateCodes = new Set(crates);
  const crateLotIds = lines.flatMap((row) => (row.crateCodes.some((code) => crateCodes.has(code)) ? row.lotId : []));
  const crateLots = crateLotIds.length > 0 ? await findLots(tx, [...new Set(crateLotIds)]) : new Map<string, LotRow>();
  const packs = packsOf(incoming, lots, lines);
  const moving = incoming.flatMap((scan) =>
    scan.kind === 'count' ? [] : (lots.get(lotCodeOf(scan.code))?.lotId ?? []),
  );
  if (moving.length + crateLotIds.length > 0) await lockPaths(tx, [...new Set([...moving, ...crateLotIds])]);
  const history = await listSerialScans(tx, packs);
  const dispatches = await lockDispatches(tx, [
    ...new Set([
      ...arrivals.flatMap((scan) => scan.dispatchId ?? []),
      ...lines.map((row) => row.dispatchId),
      ...history.flatMap((scan) => scan.dispatchId ?? []),
    ]),
  ]);
  const seen = await listSeenCrates(
    tx,
    crates.length > 0 ? [...new Set([...crates, ...lines.flatMap((row) => row.crateCodes)])] : [],
  );
  const seenCrates = new Set(seen.map((row) => `${row.dispatchId}|${row.code}`));
  const discards = incoming.some((scan) => scan.kind === 'discard');
  const reasons = discards ? (await listWasteReasons(tx, [site.siteId])).get(site.siteId) : undefined;
  return { lots, carried, astray, places, dispatches, crateLots, seenCrates, history, reasons };
}

/**
 * Decides and writes. `stored`: the scans have their rows already (they waited for identity).
 * @param atomic when any is refused, nothing is written
 */
export async function processScans(
  work: ScanWork,
  scans: readonly IncomingScan[],
  options: { atomic: boolean; stored: boolean },
): Promise<ScanOutcome[]> {
  const incoming = await readScans(work, scans);
  const world = await loadWorld(work, incoming);
  const resolutions = incoming.map((scan): Resolution => {
    try {
      return { ...resolveOne(work, world, scan), refused: null };
    } catch (error) {
      if (error instanceof Refused)
        return { scanId: scan.scanId, status: 'refused', rows: [], arrival: null, refused: error };
      throw error;
    }
  });
  const stop = options.atomic && resolutions.some((one) => one.refused !== null);
  const resolved = stop ? [] : resolutions.flatMap((one) => one.rows);
  const lotIds = [...new Set(resolved.flatMap(({ row }) => row.lotId ?? []))];
  const earliestMs = resolved.reduce((least, { row }) => Math.min(least, row.occurredAtMs), work.nowMs);
  const holds = lotIds.length > 0 ? await findHoldsReaching(work.tx, lotIds, earliestMs) : [];
  const seen = resolved.map((one) => withHeld(one, holds));
  const written = await writeScans(work, seen, world, holds, options.stored);
  return resolutions.map((one, at) => {
    const outcome = outcomeOf(work, world, one, written.holds, written);
    const fault = incoming[at]?.fault ?? null;
    if (fault !== null && outcome.status === 'awaiting-identity') return { ...outcome, whyNot: cannotBeRead(fault) };
    const useBy = incoming[at]?.symbolUseBy ?? null;
    if (useBy === null || outcome.lot === null || outcome.mayUse === false) return outcome;
    // the label in the hand may say less than the books
    const against = againstSymbol({ useBy }, [], work.nowMs, work.site.timeZone);
    return against === null ? outcome : { ...outcome, mayUse: false, whyNot: against };
  });
}

/** It is kept, as any observation is, but whoever beeped should not think that all is well. */
const cannotBeRead = (fault: string): string =>
  `This code cannot be read, ${fault} No lot has such a code. It is recorded and waits; unless a crate has it, scan again or type the lot code.`;

function outcomeOf(
  work: ScanWork,
  world: ScanWorld,
  one: Resolution,
  holds: readonly ReachingHold[],
  written: WrittenScans,
): ScanOutcome {
  const first = one.rows[0];
  const lot = first?.lot ?? null;
  const told = toldOf(work, world, one, holds);
  const status = written.repeated.has(one.scanId) ? 'already-recorded' : one.status;
  const total = written.totals.get(first?.row.totalId ?? '') ?? null;
  const expected = first && one.arrival?.as !== 'wrong-site' ? expectedOf(first.row, world.carried) : null;
  return {
    scanId: one.scanId,
    status,
    lot,
    serial: first?.row.serial ?? null,
    total,
    expected,
    ...told,
    ...arrivedOf(one, total, expected, holds),
    findings: one.rows.flatMap(({ row }) => written.findings.get(row.scanId) ?? []),
    refused: one.refused,
  };
}

/** Of a crate: the first lot in it that may not be used speaks for all of it. */
function toldOf(work: ScanWork, world: ScanWorld, one: Resolution, holds: readonly ReachingHold[]) {
  const all = one.rows.flatMap(({ row, lot }) => (lot ? [verdictAt(work, world, row, lot, holds)] : []));
  return all.find(({ mayUse }) => !mayUse) ?? all[0] ?? { mayUse: null, whyNot: null };
}

/** A total that is more than the dispatch says it carries is over. */
function arrivedOf(one: Resolution, total: number | null, expected: number | null, holds: readonly ReachingHold[]) {
  if (!one.arrival) return { arrivedAs: null, arrivalNote: null, held: null };
  const tooMany = one.arrival.as === 'expected' && total !== null && expected !== null && total > expected;
  const arrival = tooMany ? { ...one.arrival, as: 'over' as const } : one.arrival;
  const seen = one.rows.flatMap(({ row, lot }) => (lot ? [{ row, lot }] : []));
  const held = seen.length === 0 ? null : seen.some(({ row, lot }) => isHeld(row, lot, holds));
  return {
    arrivedAs: arrival.as,
    arrivalNote: wordsOf(arrival, seen[0]?.row.note.crateScanId === undefined ? (seen[0]?.lot ?? null) : null),
    held,
  };
}

/** What arrives on a hold that stands against its use is shown, wherever it is put. */
function withHeld(one: ResolvedScan, holds: readonly ReachingHold[]): ResolvedScan {
  const { row, lot } = one;
  if (!lot || row.lotId === null || row.kind !== 'arrival' || !isHeld(row, lot, holds)) return one;
  const place = { placeId: row.placeId ?? row.presumedPlaceId ?? '', siteId: row.siteId, quarantine: false };
  const { whyNot } = verdict({ factId: row.scanId, lot, place, occurredAtMs: row.occurredAtMs, serving: true }, holds);
  return whyNot === null ? one : { ...one, shows: [...(one.shows ?? []), heldFinding(row, lot, whyNot)] };
}

function isHeld(row: ScanRow, lot: LotRow, holds: readonly ReachingHold[]): boolean {
  const placeId = row.placeId ?? row.presumedPlaceId;
  return holds.some(
    (hold) =>
      hold.lotId === lot.lotId &&
      hold.liftedAt === null &&
      hold.kind !== 'use-by' &&
      (hold.siteId === null || hold.siteId === row.siteId) &&
      (hold.accountId === null || hold.accountId === placeId),
  );
}

/** So that a device can ask: one of twelve, how many? 0 when the dispatch does not say that it carries the lot. */
function expectedOf(row: ScanRow, carried: readonly CarriedRow[]): number | null {
  if (row.kind !== 'arrival' || row.totalId === null) return null;
  const lines = carried.filter((line) => line.dispatchId === row.dispatchId && line.lotId === row.lotId);
  return lines.reduce((sum, line) => sum + line.quantity, 0);
}

function verdictAt(work: ScanWork, world: ScanWorld, row: ScanRow, lot: LotRow, holds: readonly ReachingHold[]) {
  const seen = { factId: row.scanId, lot, place: placeOf(work, world, row), occurredAtMs: work.nowMs, serving: true };
  return verdict(seen, holds);
}
