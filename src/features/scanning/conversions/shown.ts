/**
 * What a conversion shows beside its quantity, and which holds it places by itself. Findings: `past-use-by`, `used-while-held`,
 * `used-from-quarantine`, `time-ahead`, `refrozen`, `regenerated-frozen`. A way out of a hold through a tin opener there is not: what
 * stood in quarantine, or under a hold for its site or place, is held again as what it became; and so is what was frozen past its date.
 */
import type { ConversionKind } from '../../../domain/conversions.ts';
import { blockingHolds } from '../../../domain/ledger/may.ts';
import { derivedId } from '../../../platform/ids.ts';
import type { PlaceRow } from '../../catalogue/index.ts';
import {
  findingsOf,
  partFacts,
  type FindingDraft,
  type HoldDraft,
  type LotRow,
  type ReachingHold,
} from '../../ledger/index.ts';

export interface ConversionSeen {
  readonly kind: ConversionKind;
  readonly factId: string;
  /** what went in, and where it was */
  readonly lot: LotRow;
  readonly stood: PlaceRow;
  readonly occurredAtMs: number;
  readonly refrozen: boolean;
  readonly newLotId: string;
}

export function findingsAt(seen: ConversionSeen, holds: readonly ReachingHold[], nowMs: number): FindingDraft[] {
  const { kind, factId, lot, stood, occurredAtMs } = seen;
  // Taking a sample of held or old food is what samples are for.
  const serving = kind !== 'sample';
  const observed = { factId, lot, place: stood, occurredAtMs, serving, action: 'use-in-batch' as const };
  const found = findingsOf(observed, holds, nowMs);
  const base = { subject: factId, siteId: stood.siteId, quantity: null, occurredAtMs };
  const detail = { lotCode: lot.code, conversion: kind, factId };
  if (seen.refrozen) {
    const thawedAt = new Date(lot.anchors.thawStart ?? occurredAtMs).toISOString();
    found.push({ ...base, kind: 'refrozen', lotId: seen.newLotId, detail: { ...detail, thawedAt } });
  }
  if (kind === 'freeze' && lot.anchors.regenerated !== undefined) {
    found.push({ ...base, kind: 'regenerated-frozen', lotId: seen.newLotId, detail });
  }
  return found;
}

export function holdsOf(
  seen: ConversionSeen & { readonly sampleFor: 'retained' | 'laboratory' },
  holds: readonly ReachingHold[],
): HoldDraft[] {
  const { kind, factId, lot, stood } = seen;
  const drafts: HoldDraft[] = [];
  const hold = (why: string, holdKind: string, propagates: boolean, note: string) =>
    drafts.push({
      holdId: derivedId(`conversion-hold-${why}`, factId),
      kind: holdKind,
      lotId: seen.newLotId,
      siteId: null,
      accountId: null,
      propagates,
      note,
    });
  if (kind === 'sample') {
    if (seen.sampleFor === 'laboratory') hold('sample', 'awaiting-laboratory', false, 'Sample for the laboratory');
    else hold('sample', 'quality', false, 'Retained sample: never served');
    return drafts;
  }
  if (seen.refrozen) {
    const note = `Lot ${lot.code} had been thawed and was frozen again without cooking between. The quality lead decides.`;
    hold('refrozen', 'quality', true, note);
  }
  if (kind === 'freeze' && lot.useByAtMs !== null && seen.occurredAtMs >= lot.useByAtMs) {
    hold('past-use-by', 'quality', true, `Lot ${lot.code} was past its use-by when it was frozen.`);
  }
  const local = blockingHolds(partFacts(lot, stood, holds), 'use-in-batch').filter(
    ({ siteId, accountId }) => siteId !== null || accountId !== null,
  );
  if (stood.quarantine || local.length > 0) {
    const why = stood.quarantine ? 'stood in quarantine' : 'was on hold there';
    hold('source', 'quality', true, `It came of lot ${lot.code}, which ${why}.`);
  }
  return drafts;
}
