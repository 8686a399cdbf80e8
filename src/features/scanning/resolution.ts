/**
 * One scan, decided against the running state: which rows it makes. Refusals: `not-found`, `rule-broken`, `serials-do-not-fit`,
 * `discard-reason-unknown`, `scan-unreadable`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { checkDiscardReason } from '../ledger/index.ts';
import { arrivalOf, wrongSiteFinding, type Arrival } from './arrivals.ts';
import { crateRows, purposeIn } from './crate-rows.ts';
import { dayAt, type ReadScan } from './read-scans.ts';
import { nameOf, type Named } from './resolve.ts';
import type { ScanRow } from './store.ts';
import { placed } from './totals.ts';
import type { ResolvedScan, ScanWork, ScanWorld } from './work.ts';

export interface Resolution {
  readonly scanId: string;
  readonly status: 'recorded' | 'already-recorded' | 'awaiting-identity' | 'refused';
  readonly rows: readonly ResolvedScan[];
  readonly arrival: Arrival | null;
  readonly refused: Refused | null;
}

/** Checks one scan and says which rows it makes. Throws Refused. */
export function resolveOne(work: ScanWork, world: ScanWorld, scan: ReadScan): Omit<Resolution, 'refused'> {
  const { site } = work;
  if (scan.unreadable) throw scan.unreadable;
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
  const said = scan.dispatchId === undefined ? null : (world.dispatches.get(scan.dispatchId) ?? null);
  // a dispatch to another site is what a wrong drop is; one that nobody knows is not
  if (scan.dispatchId && (!said || (scan.kind !== 'arrival' && said.toSiteId !== site.siteId)))
    throw notFound('dispatch to this site');
  const { named, lines } = namedBy(world, scan);
  const base = rowOf(work, scan);
  if (named.as === 'unknown') {
    const row: ScanRow = { ...base, dispatchId: scan.dispatchId ?? null, outcome: 'awaiting-identity' };
    return { scanId: scan.scanId, status: 'awaiting-identity', rows: [{ row, lot: null }], arrival: null };
  }
  if (named.as === 'crate') return crateResolution(work, world, base, named, lines);
  const { lot, serial } = named;
  if (serial !== null && (scan.quantity ?? 1) !== 1) throw new Refused('rule-broken', 'One serial is one pack.');
  if (serial !== null && scan.kind === 'count')
    throw new Refused('rule-broken', 'Count a lot by its code, without a serial.');
  const row: ScanRow = {
    ...base,
    serial,
    dispatchId: scan.dispatchId ?? null,
    quantity: scan.quantity ?? 1,
    outcome: 'recorded',
  };
  if (scan.kind !== 'arrival')
    return {
      scanId: scan.scanId,
      status: 'recorded',
      rows: [{ row: placed(site, row, lot, purposeIn(world)), lot }],
      arrival: null,
    };
  const saidIsHere = said?.toSiteId === site.siteId;
  const arrival = arrivalOf({ lotId: lot.lotId, serial }, row.dispatchId, saidIsHere, world.carried, world.astray);
  if (arrival.as === 'not-sent') {
    const waits: ScanRow = { ...row, dispatchId: null, outcome: 'awaiting-identity' };
    const rows = [{ row: waits, lot, shows: wrongSiteFinding(waits, lot, arrival) }];
    return { scanId: scan.scanId, status: 'awaiting-identity', rows, arrival };
  }
  const arrived = placed(site, astrayRow(row, arrival), lot, purposeIn(world));
  const rows = [{ row: arrived, lot, shows: wrongSiteFinding(arrived, lot, arrival) }];
  return { scanId: scan.scanId, status: 'recorded', rows, arrival };
}

/** Booked out of the dispatch that carries it; the note says where that goes, and sets it aside. */
function astrayRow(row: ScanRow, { dispatchId, astray }: Arrival): ScanRow {
  return { ...row, dispatchId, ...(astray && { note: { ...row.note, expectedAtSiteId: astray.toSiteId } }) };
}

/** What a code names; a crate by a line of the dispatch named, else of any to this site, else of one to another site. */
function namedBy({ lots, carried, astray }: ScanWorld, { code, dispatchId, kind }: ReadScan) {
  const first = nameOf(code, lots, carried, dispatchId);
  if (first.as !== 'unknown' || kind !== 'arrival') return { named: first, lines: 'expected' as const };
  const here = nameOf(code, lots, carried, undefined);
  if (here.as !== 'unknown') return { named: here, lines: 'other-dispatch' as const };
  return { named: nameOf(code, lots, astray, undefined), lines: 'wrong-site' as const };
}

function crateResolution(
  work: ScanWork,
  world: ScanWorld,
  base: ScanRow,
  named: Named & { as: 'crate' },
  as: 'expected' | 'other-dispatch' | 'wrong-site',
): Omit<Resolution, 'refused'> {
  const key = `${named.dispatchId}|${named.code}`;
  const seen = (code: string) => world.seenCrates.has(`${named.dispatchId}|${code}`);
  const again = world.seenCrates.has(key);
  // It says nothing new when all that is in it was in crates that were beeped, around it or inside. Its packs get their rows all the
  // same: which beep stands for a pack follows from the times, whichever of them came in first.
  const covered = again || named.lines.every((line) => line.crateCodes.some(seen));
  world.seenCrates.add(key);
  const outcome = covered ? ('already-recorded' as const) : ('recorded' as const);
  const to = world.astray.find((row) => row.dispatchId === named.dispatchId);
  const arrival: Arrival = { as, dispatchId: named.dispatchId, astray: as === 'wrong-site' ? (to ?? null) : null };
  const own: ScanRow = { ...astrayRow(base, arrival), outcome };
  const rows = again ? [] : crateRows(work, { ...own, outcome: base.outcome }, named.lines, world);
  const shows = covered ? [] : wrongSiteFinding(own, null, arrival);
  return { scanId: base.scanId, status: outcome, rows: [{ row: own, lot: null, shows }, ...rows], arrival };
}

function rowOf({ site }: ScanWork, scan: ReadScan): ScanRow {
  return {
    scanId: scan.scanId,
    siteId: site.siteId,
    kind: scan.kind,
    code: scan.asRead,
    named: scan.asRead === scan.code ? null : scan.code,
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
