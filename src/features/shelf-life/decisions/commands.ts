/** What a quality lead decides about a part. Refusals: `not-found`, `rule-broken`, `wrong-state`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import { utc } from '../../../domain/time.ts';
import { deputyOf } from '../../../platform/auth/actor.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findHoldsReaching, getVisibleLot, liftHolds, loosenPart } from '../../ledger/index.ts';
import type { decideShelfLife } from '../answer/contract.ts';
import { computeLots, type ComputedLot } from '../limits/compute.ts';
import { holdOf } from '../limits/consequences.ts';
import { resultOf } from '../limits/recompute.ts';
import { insertResults, listLatestResults } from '../limits/results-store.ts';
import { listPartDates } from '../limits/load-store.ts';
import { insertDecision, type DecisionRow } from './store.ts';

type Decide = Context<typeof decideShelfLife>;
type Part = ComputedLot['parts'][number];

export function decisionAnswer(row: DecisionRow) {
  const at = (atMs: number | null) => (atMs === null ? null : utc(atMs));
  return {
    decisionId: row.decisionId,
    partId: row.accountId,
    kind: row.kind,
    effectiveAt: at(row.effectiveAtMs),
    holdId: row.holdId,
    limit: row.limitCode,
    reason: row.reason,
    decidedAt: utc(row.decidedAtMs),
    decidedBy: row.decidedBy,
    deputyId: row.deputyId,
  };
}

async function getPart({ tx, scope, params, body, nowMs }: Decide): Promise<{ computed: ComputedLot; part: Part }> {
  const lot = await getVisibleLot(tx, scope, params.lotId);
  const { placeId, dispatchId } = body;
  if ((placeId === undefined) === (dispatchId === undefined)) {
    throw new Refused('rule-broken', 'Give one of placeId and dispatchId.');
  }
  const [computed] = await computeLots(tx, [lot.lotId], nowMs);
  const part = computed?.parts.find(({ kind, partId }) => kind === 'part' && partId === (placeId ?? dispatchId));
  if (!computed || !part || !scope.includes(part.siteId)) throw notFound('part of that lot');
  return { computed, part };
}

/** The limit that led to the hold: what would place it again. */
function causeOf(
  computed: ComputedLot,
  part: Part,
  holdId: string,
  nowMs: number,
): { code: string; endsAtMs: number | null } {
  const hold = holdOf(computed, part, nowMs);
  const cause = part.forbiddenBy ?? part.ruling;
  if (hold?.holdId !== holdId || !cause) {
    throw new Refused(
      'wrong-state',
      'That hold does not come from what is computed now: lift it as a hold, or look again.',
    );
  }
  return cause;
}

/** Open or lifted, as long as it is about that part. */
async function requireHold(tx: Tx, lotId: string, part: Part, holdId: string): Promise<void> {
  const hold = (await findHoldsReaching(tx, [lotId], 0)).find((one) => one.holdId === holdId);
  if (hold?.accountId !== part.partId) throw notFound('hold of that part');
  if (hold.liftedAt !== null) throw new Refused('wrong-state', 'The hold is lifted already.');
}

/** The date that is in force for the part, if it is earlier than what is computed now. */
async function requireLater(tx: Tx, { lot }: ComputedLot, part: Part): Promise<void> {
  const standing = (await listPartDates(tx, lot.lotId)).find(({ accountId }) => accountId === part.partId);
  if (!standing || standing.useByAtMs >= (part.effectiveAtMs ?? Infinity)) {
    throw new Refused('wrong-state', 'What is computed now is not later than the use-by in force there.');
  }
}

export async function decide(context: Decide): Promise<Reply> {
  const { tx, params, body, nowMs, factId, actor, ids } = context;
  const { computed, part } = await getPart(context);
  const { accept, liftHoldId } = body;
  if ((accept === undefined) === (liftHoldId === undefined)) {
    throw new Refused('rule-broken', 'Give one of accept and liftHoldId.');
  }
  if (liftHoldId !== undefined) await requireHold(tx, params.lotId, part, liftHoldId);
  const cause = liftHoldId === undefined ? null : causeOf(computed, part, liftHoldId, nowMs);
  if (accept !== undefined) await requireLater(tx, computed, part);
  const deputyId = deputyOf(actor, 'shelf-life.decide', part.siteId);
  const decision: DecisionRow = {
    decisionId: factId,
    lotId: params.lotId,
    accountId: part.partId,
    kind: cause === null ? 'accept-computed' : 'lift-hold',
    effectiveAtMs: part.effectiveAtMs,
    holdId: liftHoldId ?? null,
    limitCode: cause?.code ?? null,
    limitEndsAtMs: cause?.endsAtMs ?? null,
    reason: body.reason,
    decidedAtMs: nowMs,
    decidedBy: actor.actorId,
    deputyId,
  };
  // From here on only success.
  if (liftHoldId !== undefined) await liftHolds(tx, [liftHoldId], actor.actorId, body.reason, nowMs, deputyId);
  const after = cause === null ? { computed, part } : await overrule(context, decision, part.partId);
  const effectiveAtMs = after.part.effectiveAtMs;
  if (cause === null) await insertDecision(tx, decision);
  await putInForce(context, after.computed, after.part);
  await outbox(tx, 'shelf-life-decided', { decisionId: factId, lotId: params.lotId, partId: part.partId }, nowMs);
  const before = (await listLatestResults(tx, [params.lotId])).find(({ partId }) => partId === part.partId);
  await insertResults(tx, [resultOf(after.computed, after.part, { ids, nowMs, holdId: liftHoldId ?? null, before })]);
  const headers = { Location: `/v1/lots/${params.lotId}/shelf-life` };
  return { status: 201, body: decisionAnswer({ ...decision, effectiveAtMs }), siteId: part.siteId, headers };
}

/** Kept first, so that what is computed next knows of it. */
async function overrule(
  { tx, nowMs }: Decide,
  decision: DecisionRow,
  partId: string,
): Promise<{ computed: ComputedLot; part: Part }> {
  await insertDecision(tx, decision);
  const [computed] = await computeLots(tx, [decision.lotId], nowMs);
  const part = computed?.parts.find((one) => one.partId === partId && one.kind === 'part');
  if (!computed || !part) throw new Error(`lot ${decision.lotId} is gone`);
  return { computed, part };
}

async function putInForce({ tx, body, actor, nowMs }: Decide, computed: ComputedLot, part: Part): Promise<void> {
  const change = {
    lotId: computed.lot.lotId,
    accountId: part.partId,
    useByAtMs: part.effectiveAtMs,
    ruling: part.ruling?.code ?? 'none',
    reason: body.reason,
    resultId: null,
  };
  await loosenPart(tx, change, actor.actorId, nowMs);
}
