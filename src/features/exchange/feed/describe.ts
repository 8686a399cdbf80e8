/**
 * What an event says: ids, codes and a link, never who did it or what somebody wrote. Whoever wants more reads the link, with rights of
 * their own.
 */
import { utc } from '../../../domain/time.ts';
import type { HoldAbout, LotAbout, PendingEntry, PendingRow, RecallAbout, SitesAbout } from './sources.ts';
import { eventTypes, typeOfEntry } from './types.ts';

/** An entry may have thousands of lots; its link names all of them. */
const MOST_IDS = 100;

export interface EventDraft {
  readonly type: string;
  readonly recordedAtMs: number;
  /** empty: of the whole group */
  readonly siteIds: readonly string[];
  readonly href: string | null;
  readonly data: Readonly<Record<string, unknown>>;
  readonly source: string;
}

export interface Lookups {
  readonly lots: ReadonlyMap<string, LotAbout>;
  readonly holds: ReadonlyMap<string, HoldAbout>;
  readonly recalls: ReadonlyMap<string, RecallAbout>;
  readonly sites: ReadonlyMap<string, SitesAbout>;
}

type Payload = Readonly<Record<string, unknown>>;

const textOf = (payload: Payload, key: string): string[] => {
  const value = payload[key];
  if (typeof value === 'string') return [value];
  return Array.isArray(value) ? value.filter((one) => typeof one === 'string') : [];
};

/** Lots that a payload names, under whichever of its names for them. */
export function lotIdsOf(payload: Payload): string[] {
  const { results } = payload;
  const told = Array.isArray(results) ? (results as { lotId?: unknown }[]).map((one) => one.lotId) : [];
  const all = [
    ...textOf(payload, 'lotId'),
    ...textOf(payload, 'lotIds'),
    ...told.filter((id) => typeof id === 'string'),
  ];
  return [...new Set(all)];
}

export const holdIdsOf = (payload: Payload): string[] => [...textOf(payload, 'holdId'), ...textOf(payload, 'holdIds')];

export const recallIdsOf = (payload: Payload): string[] => textOf(payload, 'recallId');

/** What has its own site or two. */
export const placedIdsOf = (payload: Payload): string[] =>
  ['batchId', 'dispatchId', 'accountId', 'placeId', 'noticeId', 'noticeIds'].flatMap((key) => textOf(payload, key));

const present = (fields: Payload): Payload =>
  Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== undefined && value !== null));

const sorted = (ids: readonly (string | null)[]): string[] => [...new Set(ids.filter((id) => id !== null))].sort();

export function describeEntry(row: PendingEntry): EventDraft {
  const lotIds = row.lotIds ?? [];
  return {
    type: typeOfEntry(row.kind),
    recordedAtMs: row.recordedAtMs,
    siteIds: sorted([row.siteId, row.fromSiteId, row.toSiteId]),
    href: `/v1/entries/${row.entryId}`,
    data: present({
      entryId: row.entryId,
      occurredAt: utc(row.occurredAtMs),
      siteId: row.siteId,
      lotCount: lotIds.length,
      lotIds: lotIds.slice(0, MOST_IDS),
      batchId: row.batchId,
      packingRunId: row.packingRunId,
      dispatchId: row.dispatchId,
      dispatchCode: row.dispatchCode,
      countId: row.countId,
      scanId: row.scanId,
      reversesEntryId: row.reversesEntryId,
    }),
    source: `entry|${row.seq}`,
  };
}

/** One row tells of many holds; each of them is an event. */
const SPLIT: Readonly<Record<string, string>> = { 'holds-placed': 'hold-placed', 'holds-lifted': 'hold-lifted' };

/** The first that the payload names is what the link is of. */
const LINKS = [
  ['webhookId', '/v1/webhooks/'],
  ['relabelId', '/v1/relabels/'],
  ['recallId', '/v1/recalls/'],
  ['calibrationId', '/v1/calibrations/'],
  ['dispatchId', '/v1/dispatches/'],
] as const;

function linkOf(type: string, payload: Payload): string | null {
  if (type === 'shelf-life-decided') return `/v1/lots/${textOf(payload, 'lotId')[0]}/shelf-life`;
  if (type.startsWith('hold-')) return `/v1/holds/${textOf(payload, 'holdId')[0]}`;
  const found = LINKS.find(([key]) => typeof payload[key] === 'string');
  if (found) return `${found[1]}${textOf(payload, found[0])[0]}`;
  const batch = textOf(payload, 'batchId')[0];
  if (batch !== undefined) return `/v1/batches/${batch}`;
  const lots = lotIdsOf(payload);
  return lots.length === 1 ? `/v1/lots/${lots[0]}` : null;
}

function sitesOf(payload: Payload, { lots, holds, recalls, sites }: Lookups): string[] {
  const said = [...textOf(payload, 'siteId'), ...textOf(payload, 'toSiteId'), ...textOf(payload, 'siteIds')];
  const placed = placedIdsOf(payload).flatMap((id) => sites.get(id)?.siteIds ?? []);
  if (said.length + placed.length > 0) return sorted([...said, ...placed]);
  const cases = recallIdsOf(payload).flatMap((id) => recalls.get(id)?.holdId ?? []);
  const held = [...holdIdsOf(payload), ...cases].flatMap((id) => holds.get(id)?.siteIds ?? []);
  if (held.length > 0) return sorted(held);
  return sorted(lotIdsOf(payload).flatMap((id) => lots.get(id)?.siteIds ?? []));
}

function describeOne(type: string, payload: Payload, row: PendingRow, part: number, known: Lookups): EventDraft {
  const lotIds = lotIdsOf(payload);
  const hold = known.holds.get(textOf(payload, 'holdId')[0] ?? '');
  const recall = known.recalls.get(recallIdsOf(payload)[0] ?? '');
  const lot = known.lots.get(textOf(payload, 'lotId')[0] ?? '');
  const dispatch = known.sites.get(textOf(payload, 'dispatchId')[0] ?? '');
  const all: Payload = {
    ...hold,
    ...recall,
    ...payload,
    lotCode: lot?.lotCode ?? hold?.lotCode,
    lotIds: lotIds.slice(0, MOST_IDS),
    batchCode: known.sites.get(textOf(payload, 'batchId')[0] ?? '')?.code,
    dispatchCode: dispatch?.code,
    fromSiteId: dispatch?.siteIds[0],
    placeId: payload.placeId ?? payload.accountId,
    useByAt: typeof payload.useByAtMs === 'number' ? utc(payload.useByAtMs) : undefined,
  };
  const fields = eventTypes[type]?.fields ?? [];
  return {
    type,
    recordedAtMs: row.createdAtMs,
    siteIds: sitesOf(payload, known),
    href: linkOf(type, payload),
    data: present(Object.fromEntries(fields.map((field) => [field, all[field]]))),
    source: `outbox|${row.outboxId}|${part}`,
  };
}

/** Nothing for a topic that the table of types does not name: such rows are for others, not for the feed. */
export function describeRow(row: PendingRow, known: Lookups): EventDraft[] {
  const split = SPLIT[row.topic];
  if (split !== undefined) {
    return holdIdsOf(row.payload).map((holdId, part) => describeOne(split, { holdId }, row, part, known));
  }
  return eventTypes[row.topic]?.from === 'outbox' ? [describeOne(row.topic, row.payload, row, 0, known)] : [];
}
