/**
 * Recomputes lots and keeps what changed: a result is a new row only when the date, the ruling limit, what forbids it, the hold or the rules
 * changed. What processes took is kept as well, because what they made inherits it.
 */
import { createHash } from 'node:crypto';
import { LIMITS_VERSION } from '../../../domain/limits/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Ids } from '../../../platform/ids.ts';
import { outbox } from '../../../platform/jobs.ts';
import { tightenPart, type HoldDraft } from '../../ledger/index.ts';
import { computeLots, type ComputedLot } from './compute.ts';
import { findPresumed, holdOf, isOver, placeHolds, reasonOf, workerIdOf } from './consequences.ts';
import { insertResults, listLatestResults, markMadeFrom, type ResultRow } from './results-store.ts';

type ComputedPart = ComputedLot['parts'][number];

function hashOf({ facts }: ComputedLot, part: ComputedPart): string {
  const exposures = part.exposures.map(({ sums, unmonitoredMs, presumedFromMs }) => [
    sums.hist,
    sums.runs,
    unmonitoredMs,
    presumedFromMs,
  ]);
  const rules = part.policies.map(({ set, confirmed }) => [set.code, set.edition, confirmed]);
  return createHash('sha256')
    .update(JSON.stringify([facts, exposures, rules]))
    .digest('hex');
}

export function resultOf(
  computed: ComputedLot,
  part: ComputedPart,
  more: {
    readonly ids: Ids;
    readonly nowMs: number;
    readonly holdId: string | null;
    readonly before: ResultRow | undefined;
  },
): ResultRow {
  return {
    lotId: computed.lot.lotId,
    partId: part.partId,
    resultNo: (more.before?.resultNo ?? 0) + 1,
    resultId: more.ids.newId(),
    kind: part.kind,
    computedAtMs: more.nowMs,
    ruleVersion: LIMITS_VERSION,
    effectiveAtMs: part.effectiveAtMs,
    rulingCode: part.ruling?.code ?? null,
    forbiddenCode: part.forbiddenBy?.code ?? null,
    holdId: more.holdId,
    limits: part.limits,
    inputsHash: hashOf(computed, part),
  };
}

/** Whether anything that matters is other than in the row that holds; without one, whether there is anything to say. */
function matters(
  { facts }: ComputedLot,
  part: ComputedPart,
  more: { readonly holdId: string | null; readonly before: ResultRow | undefined; readonly nowMs: number },
): boolean {
  const { holdId, before, nowMs } = more;
  const forbidden = part.forbiddenBy?.code ?? null;
  const end = part.effectiveAtMs ?? Infinity;
  if (!before) {
    const dated = Math.min(facts.printedUseByAtMs ?? Infinity, facts.lotUseByAtMs ?? Infinity);
    return forbidden !== null || holdId !== null || (end < dated && !isOver(facts, nowMs));
  }
  return (
    before.forbiddenCode !== forbidden ||
    before.holdId !== holdId ||
    before.rulingCode !== (part.ruling?.code ?? null) ||
    before.ruleVersion !== LIMITS_VERSION ||
    end < (before.effectiveAtMs ?? Infinity)
  );
}

/** Dates in force come forward, by lot and part; what is not earlier changes nothing there. */
async function tighten(
  tx: Tx,
  rows: readonly ResultRow[],
  zones: ReadonlyMap<string, string>,
  nowMs: number,
): Promise<void> {
  const inOrder = [...rows].sort((a, b) => (`${a.lotId}|${a.partId}` < `${b.lotId}|${b.partId}` ? -1 : 1));
  for (const { kind, lotId, partId, effectiveAtMs, limits, resultId, rulingCode } of inOrder) {
    const ruling = limits.find((one) => one.code === rulingCode && one.endsAtMs === effectiveAtMs);
    if (kind !== 'part' || effectiveAtMs === null || !ruling) continue;
    const change = {
      lotId,
      accountId: partId,
      useByAtMs: effectiveAtMs,
      ruling: ruling.code,
      reason: reasonOf(ruling, zones.get(lotId) ?? 'UTC'),
    };
    await tightenPart(tx, { ...change, resultId }, workerIdOf(tx.groupId), nowMs);
  }
}

interface Outcome {
  readonly results: number;
  readonly holds: number;
}

export async function recomputeLots(tx: Tx, ids: Ids, lotIds: readonly string[], nowMs: number): Promise<Outcome> {
  const lots = (await computeLots(tx, lotIds, nowMs)).filter(({ lot }) => lot.origin !== 'pseudo');
  const latest = new Map((await listLatestResults(tx, lotIds)).map((row) => [`${row.lotId}|${row.partId}`, row]));
  const rows: ResultRow[] = [];
  const holds: HoldDraft[] = [];
  for (const computed of lots) {
    for (const part of computed.parts) {
      const { lotId } = computed.lot;
      const before = latest.get(`${lotId}|${part.partId}`);
      const hold = holdOf(computed, part, nowMs);
      if (!matters(computed, part, { holdId: hold?.holdId ?? null, before, nowMs })) continue;
      if (hold) holds.push(hold);
      rows.push(resultOf(computed, part, { ids, nowMs, holdId: hold?.holdId ?? null, before }));
    }
  }
  // From here on only success.
  await insertResults(tx, rows);
  await placeHolds(tx, holds, nowMs);
  const zones = new Map(lots.map(({ lot, facts }) => [lot.lotId, facts.timeZone]));
  await tighten(tx, rows, zones, nowMs);
  await findPresumed(tx, lots, nowMs);
  await markMadeFrom(
    tx,
    rows.filter(({ kind }) => kind === 'taken'),
  );
  if (rows.length > 0) {
    const told = rows
      .filter(({ kind }) => kind === 'part')
      .map(({ lotId, partId, resultId }) => ({ lotId, partId, resultId }));
    if (told.length > 0) await outbox(tx, 'shelf-life-changed', { results: told }, nowMs);
  }
  return { results: rows.length, holds: holds.length };
}
