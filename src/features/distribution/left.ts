/**
 * What left a site though nothing would have let it leave. It is on the road already, so it is not refused: findings say so, one
 * of a kind for each dispatch and lot (`left-while-held`, `left-past-use-by`, `left-from-quarantine`), and where the site that it goes to could
 * not know (the hold was for a place or a site, the date was past, the food stood in quarantine), the lot is held there. All of
 * it follows from the time of departure; a hold that was lifted since still was in force then, and only a person lifts the new
 * one.
 */
import { blockingHolds, type OpenHold } from '../../domain/ledger/may.ts';
import { derivedId } from '../../platform/ids.ts';
import type { PlaceRow } from '../catalogue/index.ts';
import { partFacts, type FindingDraft, type insertHolds, type LotRow, type ReachingHold } from '../ledger/index.ts';

type HoldDraft = Parameters<typeof insertHolds>[1][number];

export interface Leaving {
  readonly lot: LotRow;
  readonly place: PlaceRow;
}

export interface LeftAt {
  readonly factId: string;
  readonly dispatchId: string;
  readonly dispatchCode: string;
  readonly fromSiteId: string;
  readonly toSiteId: string;
  readonly departedAtMs: number;
}

export const LEFT_FINDINGS = ['left-while-held', 'left-past-use-by', 'left-from-quarantine'] as const;

export const leftSubject = (dispatchId: string, lotId: string): string => `${dispatchId}|${lotId}`;

/** Unreleased food is unreleased from its birth, though the birth may have been recorded later. */
function inForce(hold: ReachingHold, lot: LotRow, atMs: number): boolean {
  const fromMs =
    hold.kind === 'awaiting-release'
      ? Math.min(lot.bornAt.getTime(), hold.placedAt.getTime())
      : hold.placedAt.getTime();
  return hold.lotId === lot.lotId && fromMs <= atMs && (hold.liftedAt === null || hold.liftedAt.getTime() > atMs);
}

const isLocal = (hold: OpenHold): boolean => hold.siteId !== null || hold.accountId !== null;

/** @param holds that reach the lots and were open at the departure or later (findHoldsReaching since then) */
export function judgeLeft(
  at: LeftAt,
  leaving: readonly Leaving[],
  holds: readonly ReachingHold[],
): { findings: FindingDraft[]; holds: HoldDraft[] } {
  const findings = new Map<string, FindingDraft>();
  const reasons = new Map<string, Set<string>>();
  for (const { lot, place } of leaving) {
    const find = (kind: (typeof LEFT_FINDINGS)[number], detail: object) =>
      findings.set(`${kind}|${lot.lotId}`, {
        kind,
        subject: leftSubject(at.dispatchId, lot.lotId),
        siteId: at.fromSiteId,
        lotId: lot.lotId,
        quantity: null,
        occurredAtMs: at.departedAtMs,
        detail: {
          lotCode: lot.code,
          dispatchId: at.dispatchId,
          dispatchCode: at.dispatchCode,
          ...detail,
          factId: at.factId,
        },
      });
    const tell = (why: string) => reasons.set(lot.lotId, (reasons.get(lot.lotId) ?? new Set()).add(why));
    const part = {
      ...partFacts(lot, place, holds),
      holds: holds.filter((hold) => inForce(hold, lot, at.departedAtMs)),
    };
    const held = blockingHolds(part, 'leave-site');
    if (held.length > 0) {
      find('left-while-held', { holds: held.map(({ holdId, kind }) => ({ holdId, kind })) });
      if (held.some(isLocal)) tell('on hold');
    }
    if (part.useByMs !== null && at.departedAtMs >= part.useByMs) {
      find('left-past-use-by', { useByAt: new Date(part.useByMs).toISOString() });
      tell('past its use-by');
    }
    if (place.quarantine) {
      find('left-from-quarantine', {});
      tell('in quarantine');
    }
  }
  const placed = Array.from(reasons, ([lotId, why]) => ({
    holdId: derivedId('left-hold', `${at.factId}|${lotId}`),
    kind: 'quality',
    lotId,
    siteId: at.toSiteId,
    accountId: null,
    propagates: false,
    note: `It came with ${at.dispatchCode} although it was ${[...why].join(' and ')} where it left.`,
  }));
  return { findings: [...findings.values()], holds: placed };
}
