/**
 * Derives EPCIS events from what the ledger has that has none yet: entries in the order of their seq, so that what is recorded late comes
 * late and nothing is passed over; holds by what was not told of them. Idempotent: a source is derived once, under the head's lock.
 */
import { columnsOf } from '../../../domain/epcis/columns.ts';
import { entryEvents, type Named } from '../../../domain/epcis/entries.ts';
import { holdEvent } from '../../../domain/epcis/holds.ts';
import { uuidUri } from '../../../domain/epcis/names.ts';
import { placementEvents } from '../../../domain/epcis/placements.ts';
import { declareWrong, type EventDraft } from '../../../domain/epcis/shapes.ts';
import { HOLD_STEPS } from '../../../domain/epcis/steps.ts';
import { derivedId } from '../../../platform/ids.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { daysToTell } from './derive-days.ts';
import * as sources from './sources.ts';
import { listPlacements, markPlacements } from './sources-crates.ts';
import { insertEpcisEvents, listToldOf, lockHead, moveHead } from './store.ts';

/** Entries, and holds, in one transaction; who waits for the lock waits for no more than that. */
const BATCH = 500;

function mapBy<Row>(rows: readonly Row[], key: (row: Row) => string): Map<string, Row> {
  return new Map(rows.map((row) => [key(row), row]));
}

const unique = (ids: readonly (string | null)[]): string[] => [...new Set(ids.flatMap((id) => id ?? []))];

interface Loaded extends Named {
  readonly lots: ReadonlyMap<string, sources.LotRow>;
}

async function loadNamed(
  tx: Tx,
  entries: readonly sources.EntryRow[],
  holds: readonly sources.HoldRow[],
): Promise<Loaded> {
  const lines = entries.flatMap((entry) => entry.lines);
  const dispatches = await sources.listDispatches(tx, unique(entries.map((entry) => entry.dispatchId)));
  const crated = dispatches.flatMap((dispatch) => dispatch.crates.map((crate) => crate.lotId));
  const lotIds = unique([...lines.map((line) => line.lotId), ...crated, ...holds.map((hold) => hold.lotId)]);
  const ends = lines.flatMap(({ from, to }) => [from, to]);
  const placeIds = [...ends.map((end) => (end.kind === 'place' ? end.id : null)), ...holds.map((hold) => hold.placeId)];
  return {
    lots: mapBy(await sources.listLots(tx, lotIds), (lot) => lot.lotId),
    sites: mapBy(await sources.listSites(tx), (site) => site.siteId),
    places: mapBy(await sources.listPlaces(tx, unique(placeIds)), (place) => place.placeId),
    dispatches: mapBy(dispatches, (dispatch) => dispatch.dispatchId),
    eventIdOf: (source) => uuidUri(derivedId(`epcis-${source}`, tx.groupId)),
  };
}

function eventsOfHolds(holds: readonly sources.HoldRow[], named: Loaded): EventDraft[] {
  return holds.flatMap((hold) => {
    const lot = named.lots.get(hold.lotId);
    const home = named.sites.get(hold.homeSiteId);
    if (!lot || !home) throw new Error(`EPCIS: lot ${hold.lotId} was not loaded`);
    const site = hold.siteId === null ? null : (named.sites.get(hold.siteId) ?? null);
    const place = hold.placeId === null ? null : (named.places.get(hold.placeId) ?? null);
    return holdEvent({ ...hold, lot, home, site, place }, named.eventIdOf) ?? [];
  });
}

async function tell(tx: Tx, drafts: readonly EventDraft[], afterNo: number): Promise<number> {
  if (drafts.length > 0) {
    await insertEpcisEvents(
      tx,
      drafts.map((draft, at) => ({ ...columnsOf(draft), event_no: afterNo + 1 + at })),
    );
  }
  return afterNo + drafts.length;
}

/** What was told of entries that were undone, again with the word that it did not happen. A replacement is an entry of its own. */
async function withdrawals(tx: Tx, entries: readonly sources.EntryRow[]): Promise<EventDraft[]> {
  const undone = new Map(entries.flatMap((entry) => entry.reversesSeqs.map((seq) => [seq, entry] as const)));
  if (undone.size === 0) return [];
  const told = await listToldOf(tx, [...undone.keys()]);
  return told.flatMap(({ seq, source, event, ...rest }) => {
    const by = undone.get(seq);
    if (!by) return [];
    return {
      ...rest,
      source: `${source}|wrong`,
      recordedAtMs: by.recordedAtMs,
      event: declareWrong(event, by.recordedAtMs, 'did_not_occur'),
    };
  });
}

async function placementsToTell(tx: Tx, named: Loaded): Promise<{ drafts: EventDraft[]; looked: number }> {
  const rows = await listPlacements(tx, BATCH);
  if (rows.length === 0) return { drafts: [], looked: 0 };
  await markPlacements(
    tx,
    rows.map((row) => row.placementId),
  );
  const drafts = rows.flatMap((row) => {
    const site = named.sites.get(row.siteId);
    return site ? placementEvents({ ...row, site }, named.eventIdOf) : [];
  });
  return { drafts, looked: rows.length };
}

/** One batch, in a transaction of mode `write`. Answers whether there may be more, and the number of the last event. */
export async function deriveEpcis(tx: Tx, nowMs: number): Promise<{ derived: number; more: boolean; lastNo: number }> {
  const head = await lockHead(tx);
  const entries = await sources.listEntriesAfter(tx, head.lastSeq, BATCH);
  const holds = await sources.listUntoldHolds(tx, Object.keys(HOLD_STEPS), BATCH);
  const named = await loadNamed(tx, entries, holds);
  const days = await daysToTell(tx, nowMs, named, BATCH);
  const placements = await placementsToTell(tx, named);
  if (entries.length + holds.length + days.looked + placements.looked === 0)
    return { derived: 0, more: false, lastNo: head.lastNo };
  const facts = entries.filter((entry) => entry.kind !== 'reversal');
  const told = await tell(
    tx,
    facts.flatMap((entry) => entryEvents(entry, named)),
    head.lastNo,
  );
  const withdrawn = await tell(tx, await withdrawals(tx, entries), told);
  const lastNo = await tell(tx, [...placements.drafts, ...eventsOfHolds(holds, named), ...days.drafts], withdrawn);
  await moveHead(tx, lastNo, entries.at(-1)?.seq ?? head.lastSeq);
  const more = [entries.length, holds.length, days.looked, placements.looked].includes(BATCH);
  return { derived: lastNo - head.lastNo, more, lastNo };
}
