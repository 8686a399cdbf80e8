/**
 * A set of scans at one site: load once, decide each purely against the running state, write the accepted set with one
 * statement per table. Refusals (per scan): `not-found`, `rule-broken`, `serials-do-not-fit`, `discard-reason-unknown`,
 * `unit-mismatch`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { localDate } from '../../domain/time.ts';
import { derivedId } from '../../platform/ids.ts';
import { findPlaces } from '../catalogue/index.ts';
import { findCarried, lockDispatches, type CarriedRow } from '../distribution/index.ts';
import {
  checkDiscardReason,
  findHoldsReaching,
  findLotsByCode,
  verdict,
  type FindingDraft,
  type LotRow,
  type ReachingHold,
} from '../ledger/index.ts';
import { writeScans } from './post.ts';
import { dispatchOf, lotCodeOf, nameOf } from './resolve.ts';
import { listSeenCrates, listSerialScans, lockPaths, type ScanRow, type SerialKey } from './store.ts';
import { placeOf, type IncomingScan, type ResolvedScan, type ScanWork, type ScanWorld } from './work.ts';

export interface ScanOutcome {
  readonly scanId: string;
  readonly status: 'recorded' | 'already-recorded' | 'awaiting-identity' | 'refused';
  readonly lot: LotRow | null;
  readonly serial: string | null;
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
 * A pack's path follows from all of its scans, so scans of one lot wait for each other; then dispatches are locked, before any
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
  const packs = packsOf(incoming, lots, carried);
  if (packs.length > 0) await lockPaths(tx, [...new Set(packs.map((pack) => pack.lotId))]);
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
  return { lots, carried, places, dispatches, seenCrates, history };
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
    checkDiscardReason(scan.reason ?? 'none given', scan.destination ?? 'none given', note);
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
    const rows = again ? [] : named.lines.flatMap((line, at) => crateRows(base, line, at, world));
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
  const setAside = scan.kind === 'arrival' && (scan.condition ?? 'accepted') !== 'accepted';
  const placeId = setAside ? site.quarantinePlaceId : base.placeId;
  const row: ScanRow = {
    ...base,
    lotId: lot.lotId,
    serial,
    dispatchId,
    placeId,
    quantity: scan.quantity ?? 1,
    outcome: 'recorded',
  };
  return { scanId: scan.scanId, status: 'recorded', rows: [{ row, lot }] };
}

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

/** One beep of a crate stands for everything that the dispatch says is in it. */
function crateRows(base: ScanRow, line: CarriedRow, at: number, world: ScanWorld): ResolvedScan[] {
  const lot = [...world.lots.values()].find((one) => one.lotId === line.lotId) ?? null;
  const one = (tail: string, serial: string | null, quantity: number): ResolvedScan => ({
    lot,
    row: {
      ...base,
      scanId: derivedId(`crate-${at}-${tail}`, base.scanId),
      lotId: line.lotId,
      serial,
      dispatchId: line.dispatchId,
      quantity,
      note: { ...base.note, crateScanId: base.scanId },
    },
  });
  return line.serials.length > 0
    ? line.serials.map((serial) => one(serial, serial, 1))
    : [one('all', null, line.quantity)];
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
  return resolutions.map((one) => outcomeOf(work, world, one, holds, written));
}

function outcomeOf(
  work: ScanWork,
  world: ScanWorld,
  one: Resolution,
  holds: readonly ReachingHold[],
  written: { readonly repeated: ReadonlySet<string>; readonly findings: ReadonlyMap<string, FindingDraft[]> },
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
    ...told,
    findings: one.rows.flatMap(({ row }) => written.findings.get(row.scanId) ?? []),
    refused: one.refused,
  };
}

function verdictAt(work: ScanWork, world: ScanWorld, row: ScanRow, lot: LotRow, holds: readonly ReachingHold[]) {
  const seen = { factId: row.scanId, lot, place: placeOf(work, world, row), occurredAtMs: work.nowMs, serving: true };
  return verdict(seen, holds);
}
