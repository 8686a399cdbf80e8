/**
 * What computed limits do by themselves. They only ever make stricter: a date in force comes forward, food that must not be eaten is held.
 * What happened where food is only presumed to be is a finding and nothing else.
 */
import type { Limit, LotFacts } from '../../../domain/limits/shapes.ts';
import { fromInstant, siteClock, utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { derivedId } from '../../../platform/ids.ts';
import { clearFindings, insertFollowingHolds, openFindings, type HoldDraft } from '../../ledger/index.ts';
import type { ComputedLot } from './compute.ts';
import { holdIdOf } from './hold-id.ts';

type ComputedPart = ComputedLot['parts'][number];

/** Dates that stand on labels and in the lot's record: everybody sees them, and when they pass no hold is needed. */
const RECORDED = ['printed-use-by', 'lot-use-by'];

const isRecorded = (code: string): boolean => RECORDED.includes(code) || code.startsWith('born-');

/** Who acts when nobody does: named in holds and results that the worker makes. */
export function workerIdOf(groupId: string): string {
  return derivedId('worker-shelf-life', groupId);
}

const INSTANT = /\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z/g;

/** In words for whoever finds the food held or its date brought forward, in the time that the kitchen's clock shows. */
export function reasonOf(limit: Limit, timeZone: string): string {
  const end = limit.endsAtMs === null ? '' : ` Ends ${utc(limit.endsAtMs)}.`;
  const text = `${limit.label}. ${limit.explanation}${end} Source: ${limit.source}. The quality lead decides.`;
  return text.replaceAll(INSTANT, (instant) => siteClock(fromInstant(instant), timeZone)).slice(0, 2000);
}

/** When the dates that everybody sees have passed, there is nothing left to bring forward. */
export function isOver({ printedUseByAtMs, lotUseByAtMs }: LotFacts, nowMs: number): boolean {
  return Math.min(printedUseByAtMs ?? Infinity, lotUseByAtMs ?? Infinity) <= nowMs;
}

/** The hold that a part must have; null when it needs none. Named by what led to it: one that was lifted stays lifted. */
export function holdOf({ lot, facts }: ComputedLot, part: ComputedPart, nowMs: number): HoldDraft | null {
  if (part.kind !== 'part') return null;
  const { lotId } = lot;
  const { forbiddenBy, ruling } = part;
  const ended = ruling !== null && ruling.endsAtMs !== null && ruling.endsAtMs <= nowMs && !isRecorded(ruling.code);
  const passed = ended && !isOver(facts, nowMs);
  const cause = forbiddenBy ?? (passed ? ruling : null);
  if (!cause) return null;
  return {
    holdId: holdIdOf(lotId, part.partId, cause),
    kind: 'safety',
    lotId,
    siteId: null,
    accountId: part.partId,
    propagates: false,
    note: reasonOf(cause, facts.timeZone),
  };
}

const PRESUMED_KIND = 'warm-where-presumed';

export async function findPresumed(tx: Tx, lots: readonly ComputedLot[], nowMs: number): Promise<void> {
  const parts = lots.flatMap(({ lot, parts: all }) =>
    all.filter(({ kind }) => kind === 'part').map((part) => ({ lot, part, subject: `${lot.lotId}|${part.partId}` })),
  );
  const found = parts.filter(({ part }) => part.presumedOnly !== null);
  const clear = parts.filter(({ part }) => part.presumedOnly === null).map(({ subject }) => subject);
  await clearFindings(tx, PRESUMED_KIND, clear);
  await openFindings(
    tx,
    found.map(({ lot, part, subject }) => {
      const limit = part.presumedOnly as Limit;
      const atMs = limit.sinceMs ?? limit.endsAtMs ?? nowMs;
      // no fact shows this, readings do: named by the limit and the time
      const factId = derivedId(`presumed-${limit.code}-${atMs}`, lot.lotId);
      const detail = { lotCode: lot.code, placeId: part.partId, limit: limit.code, why: limit.explanation, factId };
      const about = { siteId: part.siteId, lotId: lot.lotId, quantity: part.quantity, occurredAtMs: atMs };
      return { kind: PRESUMED_KIND, subject, ...about, detail };
    }),
    nowMs,
  );
}

export async function placeHolds(tx: Tx, holds: readonly HoldDraft[], nowMs: number): Promise<void> {
  await insertFollowingHolds(tx, holds, workerIdOf(tx.groupId), nowMs);
}
