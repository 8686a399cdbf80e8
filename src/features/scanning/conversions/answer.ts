/** What whoever holds the pack is told: the new lot, what to write on it, and whether it may be used. */
import type { Amounts } from '../../../domain/conversion-amounts.ts';
import type { Converted } from '../../../domain/conversions.ts';
import { exactJson, massOfMg } from '../../../domain/exact.ts';
import { whyNot } from '../../../domain/ledger/may.ts';
import { localDate, utc } from '../../../domain/time.ts';
import { formatUseBy } from '../../../domain/use-by.ts';
import type { PlaceRow } from '../../catalogue/index.ts';
import { partFacts, type FindingDraft, type LotDraft, type ReachingHold } from '../../ledger/index.ts';
import type { ConversionAnswer } from './contract.ts';
import type { Asked, Convert, Whither } from './source.ts';

const CAUTION =
  'Decision support for trained staff: the limits come from what is set for the item and from the lot it came from. ' +
  'Your food-safety plan and a competent person decide.';

export interface Done {
  readonly context: Convert;
  readonly asked: Asked;
  readonly converted: Converted;
  readonly amounts: Amounts;
  readonly draft: LotDraft;
  readonly stood: PlaceRow;
  readonly to: Whither;
  readonly toPlace: PlaceRow;
  readonly occurredAtMs: number;
  /** holds that reach the source, and the new lot */
  readonly before: readonly ReachingHold[];
  readonly after: readonly ReachingHold[];
  readonly shown: readonly FindingDraft[];
}

export function answerOf(done: Done): ConversionAnswer {
  const { context, asked, converted, amounts, draft, stood, to, occurredAtMs } = done;
  const { site, lot, toItem } = asked;
  const { factId, body, nowMs } = context;
  const useBy = converted.useBy;
  const why = whyNotOf(done);
  return {
    conversionId: factId,
    entryId: factId,
    kind: body.kind,
    siteId: site.siteId,
    occurredAt: utc(occurredAtMs),
    occurredOn: localDate(occurredAtMs, site.timeZone),
    recordedAt: utc(nowMs),
    source: {
      lotId: lot.lotId,
      lotCode: lot.code,
      serial: asked.serial,
      placeId: stood.placeId,
      quantity: asked.quantity,
      unit: lot.unit,
    },
    lot: {
      lotId: draft.lotId,
      code: draft.code,
      itemId: toItem.itemId,
      itemName: toItem.name,
      quantity: amounts.quantity,
      unit: toItem.unit,
      serialised: draft.serialised,
      handling: converted.handling,
      placeId: to.toPlaceId,
      placePresumed: to.presumed,
      useByAt: useBy === null ? null : utc(useBy.endsAtMs),
      useByDate: useBy?.date ?? null,
    },
    limits: converted.limits.map((limit) => ({ why: limit.why, endsAt: utc(limit.endsAtMs), date: limit.date })),
    assumed: [...converted.assumed],
    consumedG: exactJson(amounts.consumedMg.div(1000)),
    outputG: exactJson(massOfMg(BigInt(amounts.massMg), 1000n, 1n)),
    unexplainedG: exactJson(amounts.unexplainedMg.div(1000)),
    label: labelOf(done),
    findings: done.shown.map(({ kind, lotId, quantity, detail }) => ({ kind, lotId, quantity, detail })),
    mayUse: why === null,
    whyNot: why,
    caution: CAUTION,
  };
}

/** The new lot now; and whatever stood against what it was made from. */
function whyNotOf({
  context,
  asked,
  converted,
  draft,
  stood,
  toPlace,
  occurredAtMs,
  before,
  after,
}: Done): string | null {
  const { lot } = asked;
  const born = { ...lot, lotId: draft.lotId, code: draft.code, useByAtMs: converted.useBy?.endsAtMs ?? null };
  const now = whyNot(partFacts(born, toPlace, after), 'serve', context.nowMs);
  if (now !== null || context.body.kind === 'sample') return now;
  const regenerated = context.body.kind === 'freeze' && lot.anchors.regenerated !== undefined;
  return whyNot({ ...partFacts(lot, stood, before), regenerated }, 'use-in-batch', occurredAtMs);
}

function labelOf({ context, asked, converted, draft, occurredAtMs }: Done): ConversionAnswer['label'] {
  const { kind } = context.body;
  const zone = asked.site.timeZone;
  const { useBy, anchors } = converted;
  if (useBy !== null) {
    const words = kind === 'sample' ? 'Sample, not for serving. Dispose of after' : 'Use by';
    const text = `${words} ${formatUseBy(useBy.endsAtMs, zone)}`;
    return { path: `/v1/lots/${draft.lotId}/label`, printTime: useBy.date === null, text };
  }
  const left = anchors.frozenDaysLeft;
  const keeps = left === undefined ? '' : `; once thawed, use within ${Math.max(0, left)} days`;
  const done = kind === 'freeze' ? 'Frozen' : 'Done';
  return { path: null, printTime: false, text: `${done} ${localDate(occurredAtMs, zone)}, no use-by${keeps}` };
}
