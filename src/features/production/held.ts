/**
 * What is held by itself, because a fact that nobody was asked about beforehand says so. Ids follow from the facts, so that neither
 * the order in which they arrive nor a second sending holds anything twice. Refusals: none.
 */
import { utc } from '../../domain/time.ts';
import {
  findLots,
  insertFollowingHolds,
  openFindings,
  qualityHold,
  type FindingDraft,
  type HoldDraft,
} from '../ledger/index.ts';
import type { Judging } from './separation.ts';
import { listFrozenFrom } from './store-inputs.ts';

/**
 * Food that was thawed and is frozen again without a kill step between: a finding and a hold on each lot that came of it.
 * @param parentLotIds inputs that are new, or newly known to have been thawed
 */
export async function judgeFreezing(judging: Judging, parentLotIds: readonly string[]): Promise<FindingDraft[]> {
  const { tx, nowMs, actorId } = judging;
  const lots = await findLots(tx, parentLotIds);
  const thawed = [...lots.values()].filter((lot) => lot.anchors['thawStart'] !== undefined);
  if (thawed.length === 0) return [];
  const frozen = await listFrozenFrom(
    tx,
    thawed.map((lot) => lot.lotId),
  );
  const holds: HoldDraft[] = [];
  const findings = frozen.map((row): FindingDraft => {
    const parent = lots.get(row.parentLotId);
    const thawStartMs = parent?.anchors['thawStart'] ?? 0;
    const note = `Frozen again: lot ${parent?.code ?? ''} in it had been thawed, and nothing made it safe in between.`;
    holds.push(qualityHold(`refrozen-${row.parentLotId}`, row.childLotId, note));
    return {
      kind: 'refrozen',
      subject: `${row.parentLotId}|${row.childLotId}`,
      siteId: row.siteId,
      lotId: row.childLotId,
      quantity: null,
      occurredAtMs: row.childBornAt.getTime(),
      detail: {
        lotCode: row.childCode,
        batchId: row.batchId,
        thawedLotId: row.parentLotId,
        thawedLotCode: parent?.code ?? null,
        thawStartAt: utc(thawStartMs),
        // whichever of thawing, input and output was recorded last: one finding, with one id
        factId: row.batchId,
      },
    };
  });
  await openFindings(tx, findings, nowMs);
  await insertFollowingHolds(tx, holds, actorId, nowMs);
  return findings;
}
