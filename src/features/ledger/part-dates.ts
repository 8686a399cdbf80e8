/**
 * The use-by in force of a part, where it is earlier than its lot's. It is a row among the holds (kind `use-by`, blocking nothing), so
 * that whoever reads what stands against a lot reads its dates as well. It only tightens by itself; `loosenPart` is for the decision
 * of a person. Callers with several parts come in the order of (lot, account), as everywhere that balances are locked.
 */
import type { Tx } from '../../platform/db/db.ts';
import { derivedId } from '../../platform/ids.ts';
import { outbox } from '../../platform/jobs.ts';
import { clearFindings } from './findings-store.ts';
import { judgeLabels } from './part-labels.ts';
import {
  findPartForDate,
  insertPartDates,
  liftPartDate,
  lockPart,
  setLabelled,
  type PartDateDraft,
  type StandingDate,
} from './part-dates-store.ts';

interface PartDateChange {
  readonly lotId: string;
  /** a place or a dispatch in which the lot is or was */
  readonly accountId: string;
  readonly useByAtMs: number;
  /** code of the limit that rules */
  readonly ruling: string;
  /** in words that stand on the relabel list */
  readonly reason: string;
  /** the stored result that it came from; null for what a person decided */
  readonly resultId: string | null;
  /** id of the row, and of its relabel, where it has to be known beforehand */
  readonly holdId?: string;
}

/**
 * Brings the date of a part forward: lifts the one that stood there and places the earlier one, opens the finding
 * `label-outlives-use-by` where there is food on a shelf, and tells the outbox (`use-by-tightened`, `relabel-opened`). What is not earlier
 * than the date in force, the part's or the lot's, changes nothing.
 * @returns the id of the row that now stands, which is the id of its relabel; null when nothing changed
 */
export async function tightenPart(
  tx: Tx,
  change: PartDateChange,
  actorId: string,
  nowMs: number,
): Promise<string | null> {
  await lockPart(tx, change.lotId, change.accountId);
  const part = await findPartForDate(tx, change.lotId, change.accountId);
  const inForceMs = Math.min(part.standing?.useByAtMs ?? Infinity, part.lotUseByAtMs ?? Infinity);
  if (change.useByAtMs >= inForceMs) return null;
  return replace(tx, change, part.standing, null, actorId, nowMs);
}

/**
 * A later date for a part, by decision of a person. It is never later than the lot's own: a date at or after that one, or null, ends the part's
 * own date.
 * @returns the id of the row that now stands; null when the lot's date holds again, or nothing stood there that is earlier
 */
export async function loosenPart(
  tx: Tx,
  change: Omit<PartDateChange, 'useByAtMs'> & { readonly useByAtMs: number | null },
  actorId: string,
  nowMs: number,
): Promise<string | null> {
  await lockPart(tx, change.lotId, change.accountId);
  const part = await findPartForDate(tx, change.lotId, change.accountId);
  const { standing } = part;
  const { useByAtMs } = change;
  if (standing === null || (useByAtMs !== null && useByAtMs <= standing.useByAtMs)) return null;
  const lotMs = part.lotUseByAtMs ?? Infinity;
  // Labels that say the earlier date already are no danger.
  if (useByAtMs !== null && useByAtMs < lotMs) {
    return replace(tx, { ...change, useByAtMs }, standing, standing.labelledAt, actorId, nowMs);
  }
  await liftPartDate(tx, standing.holdId, change.reason, actorId, nowMs);
  await clearPast(tx, change);
  await judgeLabels(tx, [change], nowMs);
  await outbox(tx, 'use-by-loosened', { ...change, holdId: null }, nowMs);
  return null;
}

/** The hourly look finds it again where the later date has passed as well. */
const clearPast = (tx: Tx, { lotId, accountId }: Pick<PartDateChange, 'lotId' | 'accountId'>): Promise<void> =>
  clearFindings(tx, 'past-use-by-in-stock', [`${lotId}|${accountId}`]);

async function replace(
  tx: Tx,
  change: PartDateChange,
  standing: StandingDate | null,
  labelledAt: Date | null,
  actorId: string,
  nowMs: number,
): Promise<string> {
  const { lotId, accountId, useByAtMs } = change;
  const name = `${change.resultId ?? ''}|${lotId}|${accountId}|${useByAtMs}|${standing?.holdId ?? ''}|${nowMs}`;
  const draft: PartDateDraft = {
    ...change,
    holdId: change.holdId ?? derivedId('part-use-by', name),
    cameFromId: null,
    labelledAtMs: labelledAt?.getTime() ?? null,
  };
  const earlier = standing === null || useByAtMs < standing.useByAtMs;
  if (standing) await liftPartDate(tx, standing.holdId, change.reason, actorId, nowMs);
  await insertPartDates(tx, [draft], actorId, nowMs);
  await outbox(tx, earlier ? 'use-by-tightened' : 'use-by-loosened', { ...change, holdId: draft.holdId }, nowMs);
  if (!earlier) await clearPast(tx, change);
  await judgeLabels(tx, [change], nowMs);
  return draft.holdId;
}

/** Everything in the part says the date in force on its label now; the finding goes with it. The part has to be locked. */
export async function markLabelled(
  tx: Tx,
  part: { readonly holdId: string; readonly lotId: string; readonly accountId: string },
  nowMs: number,
): Promise<void> {
  await setLabelled(tx, part.holdId, nowMs);
  await judgeLabels(tx, [part], nowMs);
}
