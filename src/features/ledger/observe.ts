/**
 * What an observation shows beside its quantity: it is never refused for stock, hold or date, but what conflicts with the
 * rules becomes a finding. Findings: `past-use-by`, `used-while-held`, `used-from-quarantine`, `regenerated-returned`, `time-ahead`,
 * and `shortfall` (made by the book).
 */
import type { Action, PartFacts } from '../../domain/ledger/may.ts';
import { blockingHolds, useByOfPart, whyNot } from '../../domain/ledger/may.ts';
import { netOf, partKey, type Book } from '../../domain/ledger/book.ts';
import type { PlaceRow } from '../catalogue/index.ts';
import type { FindingDraft } from './findings-store.ts';
import type { ReachingHold } from './holds-store.ts';
import type { LotRow } from './lots-store.ts';

/** Clocks drift: ten minutes ahead is not worth a finding (common practice). */
export const AHEAD_TOLERANCE_MS = 10 * 60_000;

export function partFacts(
  lot: LotRow,
  place: Pick<PlaceRow, 'placeId' | 'siteId' | 'quarantine'>,
  holds: readonly ReachingHold[],
): PartFacts {
  const open = holds.filter((hold) => hold.lotId === lot.lotId && hold.liftedAt === null);
  return {
    lotId: lot.lotId,
    lotCode: lot.code,
    siteId: place.siteId,
    accountId: place.placeId,
    quarantine: place.quarantine,
    useByMs: useByOfPart({ lotId: lot.lotId, accountId: place.placeId }, lot.useByAtMs, open),
    holds: open,
    regenerated: lot.anchors.regenerated !== undefined,
  };
}

/**
 * The lot with the date that is in force for what stands in one account: what is made from it is born with it.
 * @param holds that reach the lot
 */
export function inPlace(lot: LotRow, accountId: string, holds: readonly ReachingHold[]): LotRow {
  const open = holds.filter((hold) => hold.liftedAt === null);
  const useByAtMs = useByOfPart({ lotId: lot.lotId, accountId }, lot.useByAtMs, open);
  return useByAtMs === lot.useByAtMs ? lot : { ...lot, useByAtMs, useByDate: null };
}

/** Holds that were in force at a moment of the past. */
function inForceAt(holds: readonly ReachingHold[], lotId: string, atMs: number): ReachingHold[] {
  return holds.filter(
    (hold) =>
      hold.lotId === lotId &&
      hold.placedAt.getTime() <= atMs &&
      (hold.liftedAt === null || hold.liftedAt.getTime() > atMs),
  );
}

/**
 * The part as it was looked at: holds as they were then; the date as it is known now, for a limit follows from what the food went
 * through, whenever that was worked out.
 */
const partSeen = ({ lot, place, occurredAtMs }: Observation, holds: readonly ReachingHold[]): PartFacts => ({
  ...partFacts(lot, place, holds),
  holds: inForceAt(holds, lot.lotId, occurredAtMs),
});

export interface Observation {
  readonly factId: string;
  readonly lot: LotRow;
  readonly place: Pick<PlaceRow, 'placeId' | 'siteId' | 'quarantine'>;
  readonly occurredAtMs: number;
  /** the food was used: date, holds and quarantine are looked at */
  readonly serving: boolean;
  /** what it was used for, to know which holds stand against it; `serve` if left out */
  readonly action?: Action;
}

export function findingsOf(seen: Observation, holds: readonly ReachingHold[], nowMs: number): FindingDraft[] {
  const { factId, lot, place, occurredAtMs } = seen;
  const base = { siteId: place.siteId, lotId: lot.lotId, quantity: null, occurredAtMs, subject: factId };
  const findings: FindingDraft[] = [];
  if (seen.serving) {
    const part = partSeen(seen, holds);
    if (part.useByMs !== null && occurredAtMs >= part.useByMs) {
      const detail = { lotCode: lot.code, useByAt: new Date(part.useByMs).toISOString(), factId };
      findings.push({ ...base, kind: 'past-use-by', detail });
    }
    const held = blockingHolds(part, seen.action ?? 'serve');
    if (held.length > 0) {
      const detail = { lotCode: lot.code, holds: held.map(({ holdId, kind }) => ({ holdId, kind })), factId };
      findings.push({ ...base, kind: 'used-while-held', detail });
    }
    if (place.quarantine) {
      findings.push({
        ...base,
        kind: 'used-from-quarantine',
        detail: { lotCode: lot.code, placeId: place.placeId, factId },
      });
    }
  }
  if (occurredAtMs > nowMs + AHEAD_TOLERANCE_MS) {
    findings.push({ ...base, kind: 'time-ahead', detail: { aheadMs: occurredAtMs - nowMs, factId } });
  }
  return findings;
}

/**
 * Why what was made with it has to be held, in words that follow "which was"; empty when nothing stands against it. Holds that
 * spread do so by themselves, along the edges; one at a site or in a place stays behind unless somebody carries it on.
 */
export function doubtsOf(seen: Observation, holds: readonly ReachingHold[]): string[] {
  const { place, occurredAtMs } = seen;
  const part = partSeen(seen, holds);
  const local = blockingHolds(part, seen.action ?? 'serve').filter(
    (hold) => hold.siteId !== null || hold.accountId !== null,
  );
  return [
    ...(part.useByMs !== null && occurredAtMs >= part.useByMs ? ['past its use-by'] : []),
    ...(place.quarantine ? ['in quarantine'] : []),
    ...[...new Set(local.map((hold) => hold.kind))].sort().map((kind) => `on hold there (${kind})`),
  ];
}

/** Food that was heated for service is served or discarded: it does not come back, and does not go back. */
export function regeneratedBack({ factId, lot, place, occurredAtMs }: Observation): FindingDraft[] {
  const regenerated = lot.anchors.regenerated;
  if (regenerated === undefined) return [];
  const detail = { lotCode: lot.code, regeneratedAt: new Date(regenerated).toISOString(), factId };
  const base = { siteId: place.siteId, lotId: lot.lotId, quantity: null, occurredAtMs, subject: factId };
  return [{ ...base, kind: 'regenerated-returned', detail }];
}

/** What whoever holds the pack is told at once. */
export function verdict(seen: Observation, holds: readonly ReachingHold[]): { mayUse: boolean; whyNot: string | null } {
  const why = whyNot(partFacts(seen.lot, seen.place, holds), 'serve', seen.occurredAtMs);
  return { mayUse: why === null, whyNot: why };
}

/** The shortfall that the part has after posting, as an answer shows it. */
export function shortfallNow(
  book: Book,
  lot: LotRow,
  place: { placeId: string; siteId: string },
  atMs: number,
  factId: string,
): FindingDraft[] {
  const part = { lotId: lot.lotId, accountId: place.placeId };
  const net = netOf(book, part);
  if (net >= 0) return [];
  const detail = { lotCode: lot.code, placeId: place.placeId, missing: -net, factId };
  return [
    {
      kind: 'shortfall',
      subject: partKey(part),
      siteId: place.siteId,
      lotId: lot.lotId,
      quantity: -net,
      occurredAtMs: atMs,
      detail,
    },
  ];
}
