/**
 * A set of scans at one site: load once, decide each purely against the running state, write the accepted set with one
 * statement per table. Refusals (per scan): `not-found`, `rule-broken`, `serials-do-not-fit`, `discard-reason-unknown`,
 * `unit-mismatch`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { localDate } from '../../domain/time.ts';
import { derivedId } from '../../platform/ids.ts';
import { findPlaces, listWasteReasons } from '../catalogue/index.ts';
import { findCarried, lockDispatches, type CarriedRow } from '../distribution/index.ts';
import {
  checkDiscardReason,
  findHoldsReaching,
  findLots,
  findLotsByCode,
  verdict,
  type FindingDraft,
  type LotRow,
  type ReachingHold,
} from '../ledger/index.ts';
import { writeScans, type WrittenScans } from './post.ts';
import { dispatchOf, lotCodeOf, nameOf } from './resolve.ts';
import { listSeenCrates, listSerialScans, lockPaths, type ScanRow, type SerialKey } from './store.ts';
import { placed } from './totals.ts';
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
  readonly findings: readonly FindingDraft[];
  readonly refused: Refused | null;
}

interface Resolution {
  readonly scanId: string;
  readonly status: ScanOutcome['status'];
  readonly rows: readonly ResolvedScan[];
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
    .filter((row) => incoming.some((scan) => scan.code === row.crateCode))
    .flatMap((row) => row.serials.map((serial) => ({ lotId: row.lotId, serial })));
  return [...new Map([...named, ...crated].map((key) => [`${key.lotId}/${key.serial}`, key])).values()];
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
  const placeIds = incoming.flatMap((scan) => scan.placeId ?? []).concat(site.receivingPlaceId, site.quarantinePlaceId);
  const places = await findPlaces(tx, [...new Set(placeIds)]);
  const crateCodes = new Set(crates);
  const crateLotIds = carried.flatMap((row) => (crateCodes.has(row.crateCode ?? '') ? row.lotId : []));
  const crateLots = crateLotIds.length > 0 ? await findLots(tx, [...new Set(crateLotIds)]) : new Map<string, LotRow>();
  const packs = packsOf(incoming, lots, carried);
  const moving = incoming.flatMap((scan) =>
    scan.kind === 'count' ? [] : (lots.get(lotCodeOf(scan.code))?.lotId ?? []),
  );
  if (moving.length + crateLotIds.length > 0) await lockPaths(tx, [...new Set([...moving, ...crateLotIds])]);
  const history = await listSerialScans(tx, packs);
  const dispatches = await lockDispatches(tx, [
    ...new Set([
      ...arrivals.flatMap((scan) => scan.dispatchId ?? []),
      ...carried.map((row) => row.dispatchId),
      ...history.flatMap((scan) => scan.dispatchId ?? []),
    ]),
  ]);
  const seen = await listSeenCrates(tx, [...new Set(crates)]);
  const seenCrates = new Set(seen.map((row) => `${row.dispatchId}|${row.code}`));
  const discards = incoming.some((scan) => scan.kind === 'discard');
  const reasons = discards ? (await listWasteReasons(tx, [site.siteId])).get(site.siteId) : undefined;
  return { lots, carried, places, dispatches, crateLots, seenCrates, history, reasons };
}

/** Checks one scan and says which rows it makes. Throws Refused. */
function resolveOne(work: ScanWork, world: ScanWorld, scan: IncomingScan): Omit<Resolution, 'refused'> {
  const { site } = work;
  if (scan.placeId && world.places.get(scan.placeId)?.siteId !== site.siteId) throw notFound('place');
  if ((scan.kind === 'put-away' || scan.kind === 'count') && !scan.placeId) {
    throw new Refused('rule-broken', `A ${scan.kind} scan names its placeId.`);
  }
  if (scan.kind === 'count' && scan.quantity === undefined)
    throw new Refused('rule-broken', 'A count scan says how much is there.');
  if (scan.kind !== 'count' && scan.quantity === 0) throw new Refused('rule-broken', 'A quantity is above zero.');
  if (scan.kind === 'discard') {
    const note = scan.note.note as string | undefined;
    const { reason = 'none given', destination = 'none given' } = scan;
    checkDiscardReason(world.reasons, { reason, destination, note });
  }
  if (scan.dispatchId && world.dispatches.get(scan.dispatchId)?.toSiteId !== site.siteId)
    throw notFound('dispatch to this site');
  const named = nameOf(scan.code, world.lots, world.carried, scan.dispatchId);
  const base = rowOf(work, scan);
  if (named.as === 'unknown') {
    const row: ScanRow = { ...base, dispatchId: scan.dispatchId ?? null, outcome: 'awaiting-identity' };
    return { scanId: scan.scanId, status: 'awaiting-identity', rows: [{ row, lot: null }] };
  }
  if (named.as === 'crate') {
    const key = `${named.dispatchId}|${named.code}`;
    const again = world.seenCrates.has(key);
    world.seenCrates.add(key);
    const own: ScanRow = { ...base, dispatchId: named.dispatchId, outcome: again ? 'already-recorded' : 'recorded' };
    const rows = again ? [] : crateRows(work, base, named.lines, world);
    return { scanId: scan.scanId, status: own.outcome as 'recorded', rows: [{ row: own, lot: null }, ...rows] };
  }
  const { lot, serial } = named;
  if (serial !== null && (scan.quantity ?? 1) !== 1) throw new Refused('rule-broken', 'One serial is one pack.');
  if (serial !== null && scan.kind === 'count')
    throw new Refused('rule-broken', 'Count a lot by its code, without a serial.');
  let dispatchId = scan.dispatchId ?? null;
  if (scan.kind === 'arrival' && dispatchId === null) {
    dispatchId = dispatchOf(lot.lotId, serial, world.carried);
    if (dispatchId === null)
      throw new Refused('not-found', `No dispatch to this site carries lot ${lot.code}; name its dispatchId.`);
  }
  const row: ScanRow = { ...base, serial, dispatchId, quantity: scan.quantity ?? 1, outcome: 'recorded' };
  return { scanId: scan.scanId, status: 'recorded', rows: [{ row: placed(site, row, lot, purposeIn(world)), lot }] };
}

const purposeIn =
  ({ dispatches }: ScanWorld) =>
  (dispatchId: string | null) =>
    dispatches.get(dispatchId ?? '')?.purpose;

const QUARTER_MS = 15 * 60_000;
let known = { quarter: '', day: '' };

/** Scans come by the thousand within minutes. Offsets of zones are whole quarters of an hour, so a quarter has one date. */
function dayAt(atMs: number, timeZone: string): string {
  const quarter = `${timeZone} ${Math.floor(atMs / QUARTER_MS)}`;
  if (quarter !== known.quarter) known = { quarter, day: localDate(atMs, timeZone) };
  return known.day;
}

function rowOf({ site }: ScanWork, scan: IncomingScan): ScanRow {
  return {
    scanId: scan.scanId,
    siteId: site.siteId,
    kind: scan.kind,
    code: scan.code,
    lotId: null,
    serial: null,
    dispatchId: null,
    placeId: scan.placeId ?? null,
    presumedPlaceId: null,
    totalId: null,
    quantity: scan.quantity ?? null,
    condition: scan.condition ?? null,
    reason: scan.reason ?? null,
    destination: scan.destination ?? null,
    note: { ...scan.note, ...(scan.temperatureC !== undefined && { temperatureC: scan.temperatureC }) },
    occurredAtMs: scan.occurredAtMs,
    occurredOn: dayAt(scan.occurredAtMs, site.timeZone),
    clockOffsetMs: scan.clockOffsetMs,
    actorId: scan.actorId,
    contentHash: scan.contentHash,
    outcome: 'recorded',
  };
}

/** One beep of a crate stands for everything that the dispatch says is in it; lines without serials of one lot are one row. */
function crateRows(work: ScanWork, base: ScanRow, lines: readonly CarriedRow[], world: ScanWorld): ResolvedScan[] {
  const counted = new Map<string, number>();
  for (const line of lines)
    if (line.serials.length === 0) counted.set(line.lotId, (counted.get(line.lotId) ?? 0) + line.quantity);
  const one = (line: CarriedRow, tail: string, serial: string | null, quantity: number): ResolvedScan[] => {
    const lot = world.crateLots.get(line.lotId);
    if (!lot) return [];
    const scanId = derivedId(`crate-${tail}`, base.scanId);
    const note = { ...base.note, crateScanId: base.scanId };
    const row: ScanRow = { ...base, scanId, serial, dispatchId: line.dispatchId, quantity, note };
    return [{ row: placed(work.site, row, lot, purposeIn(world)), lot }];
  };
  return lines.flatMap((line, at) => {
    if (line.serials.length > 0) return line.serials.flatMap((serial) => one(line, `${at}-${serial}`, serial, 1));
    const quantity = counted.get(line.lotId);
    counted.delete(line.lotId);
    return quantity === undefined ? [] : one(line, `${at}-all`, null, quantity);
  });
}

/**
 * Decides and writes. `stored`: the scans have their rows already (they waited for identity).
 * @param atomic when any is refused, nothing is written
 */
export async function processScans(
  work: ScanWork,
  incoming: readonly IncomingScan[],
  options: { atomic: boolean; stored: boolean },
): Promise<ScanOutcome[]> {
  const world = await loadWorld(work, incoming);
  const resolutions = incoming.map((scan): Resolution => {
    try {
      return { ...resolveOne(work, world, scan), refused: null };
    } catch (error) {
      if (error instanceof Refused) return { scanId: scan.scanId, status: 'refused', rows: [], refused: error };
      throw error;
    }
  });
  const stop = options.atomic && resolutions.some((one) => one.refused !== null);
  const resolved = stop ? [] : resolutions.flatMap((one) => one.rows);
  const lotIds = [...new Set(resolved.flatMap(({ row }) => row.lotId ?? []))];
  const earliestMs = resolved.reduce((least, { row }) => Math.min(least, row.occurredAtMs), work.nowMs);
  const holds = lotIds.length > 0 ? await findHoldsReaching(work.tx, lotIds, earliestMs) : [];
  const written = await writeScans(work, resolved, world, holds, options.stored);
  return resolutions.map((one) => outcomeOf(work, world, one, written.holds, written));
}

function outcomeOf(
  work: ScanWork,
  world: ScanWorld,
  one: Resolution,
  holds: readonly ReachingHold[],
  written: WrittenScans,
): ScanOutcome {
  const first = one.rows[0];
  const lot = first?.lot ?? null;
  const told = first && lot ? verdictAt(work, world, first.row, lot, holds) : { mayUse: null, whyNot: null };
  const status = written.repeated.has(one.scanId) ? 'already-recorded' : one.status;
  return {
    scanId: one.scanId,
    status,
    lot,
    serial: first?.row.serial ?? null,
    total: written.totals.get(first?.row.totalId ?? '') ?? null,
    expected: first ? expectedOf(first.row, world.carried) : null,
    ...told,
    findings: one.rows.flatMap(({ row }) => written.findings.get(row.scanId) ?? []),
    refused: one.refused,
  };
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
