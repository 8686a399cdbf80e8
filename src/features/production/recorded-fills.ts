/**
 * What a packing run that was recorded afterwards shows beside its quantities: food that should not have been packed, labels that cannot
 * be right. Refusals: none.
 */
import {
  doubtsOf,
  findingsOf,
  holdsOfDoubt,
  qualityHold,
  type FindingDraft,
  type HoldDraft,
  type ReachingHold,
} from '../ledger/index.ts';
import type { MadeFill } from './fills.ts';

interface Run {
  readonly factId: string;
  readonly finishedAtMs: number;
  readonly nowMs: number;
}

const seenIn = ({ factId, finishedAtMs }: Run, { from, fromPlace }: MadeFill) =>
  ({
    factId,
    lot: from,
    place: fromPlace,
    occurredAtMs: finishedAtMs,
    serving: true,
    action: 'use-in-batch',
  }) as const;

export function findingsOfFills(run: Run, fills: readonly MadeFill[], holds: readonly ReachingHold[]): FindingDraft[] {
  return fills.flatMap((fill) => {
    // One run takes from several lots: each shows its own.
    const subject = `${run.factId}|${fill.from.lotId}|${fill.fromPlace.placeId}`;
    const ofFood = findingsOf(seenIn(run, fill), holds, run.nowMs).map((finding) => ({ ...finding, subject }));
    const ofLabels = fill.faults.flatMap((kind) =>
      fill.made.map(({ lot }): FindingDraft => {
        const about = { siteId: fill.fromPlace.siteId, lotId: lot.lotId, quantity: null };
        const detail = {
          lotCode: lot.code,
          ...(fill.fill.useByDate !== undefined && { labelSays: fill.fill.useByDate }),
          useByDate: lot.useBy?.date ?? null,
          factId: run.factId,
        };
        return { kind, subject: lot.lotId, ...about, occurredAtMs: run.finishedAtMs, detail };
      }),
    );
    return [...ofFood, ...ofLabels];
  });
}

const LABEL_NOTES = {
  'life-unknown': 'Packed before it was known how long it keeps. Decide on its use-by before it is used.',
  'label-later-than-computed': 'Its label says a later use-by than it may have. Relabel it before it is used.',
} as const;

export function holdsOfFills(run: Run, fills: readonly MadeFill[], holds: readonly ReachingHold[]): HoldDraft[] {
  return fills.flatMap((fill) => {
    const lotIds = fill.made.map(({ lot }) => lot.lotId);
    const reasons = doubtsOf(seenIn(run, fill), holds);
    const { lotId, code: lotCode } = fill.from;
    return [
      ...(reasons.length > 0 ? holdsOfDoubt({ entryId: run.factId, lotId, lotCode, reasons }, lotIds) : []),
      ...fill.faults.flatMap((fault) => lotIds.map((id) => qualityHold(fault, id, LABEL_NOTES[fault]))),
    ];
  });
}
