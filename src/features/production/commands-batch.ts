/** Open, complete, read. Refusals: `not-found`, `wrong-state`, `time-in-future`, `item-unsuitable`, `code-taken`, `rule-broken`. */
import { notFound, Refused } from '../../domain/errors.ts';
import { makeLotCode } from '../../domain/lot-codes.ts';
import { fromInstant, localDate } from '../../domain/time.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { findRecipes, findSites } from '../catalogue/index.ts';
import { requirePast, takeMoneyNo, type FindingDraft } from '../ledger/index.ts';
import { copyPlanToBatch } from '../process-checks/index.ts';
import { batchAnswer, batchHead, findingBriefs } from './answer.ts';
import type * as contract from './contract.ts';
import { releaseWhatIsComplete } from './release/automatic.ts';
import {
  completeBatch,
  findBatch,
  insertBatch,
  insertGains,
  insertLosses,
  listBatchRows,
  listBorn,
  lockBatch,
  type BatchRow,
} from './store.ts';

/** The batch as it is now; with what the fact showed, where its contract says so. */
export async function batchReply(
  context: Pick<Context, 'tx'>,
  batchId: string,
  findings?: readonly FindingDraft[],
): Promise<Reply> {
  const batch = await findBatch(context.tx, batchId);
  if (!batch) throw new Error(`batch ${batchId} cannot be read back`);
  const body = { ...(await batchAnswer(context.tx, batch)), ...(findings && { findings: findingBriefs(findings) }) };
  return { status: 201, body, siteId: batch.siteId, headers: { Location: `/v1/batches/${batchId}` } };
}

/** Locks the batch, if it is at a site where the actor may act. */
export async function getBatchForWrite(context: Pick<Context, 'tx' | 'scope'>, batchId: string): Promise<BatchRow> {
  const batch = await lockBatch(context.tx, batchId);
  if (!batch || !context.scope.includes(batch.siteId)) throw notFound('batch');
  return batch;
}

export function requireOpen(batch: BatchRow): void {
  if (batch.state !== 'open') throw new Refused('wrong-state', `Batch ${batch.code} is completed.`);
}

export async function open(context: Context<typeof contract.createBatch>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const recipe = (await findRecipes(tx, [body.recipeId])).get(body.recipeId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  if (!recipe) throw notFound('recipe');
  const startedAtMs = body.startedAt ? fromInstant(body.startedAt) : nowMs;
  requirePast(startedAtMs, nowMs);
  if (!recipe.active) throw new Refused('item-unsuitable', `The recipe ${recipe.name} is not in use any more.`);
  // From here on only success.
  await insertBatch(tx, {
    batchId: factId,
    code: body.code ?? makeLotCode(site.code, localDate(startedAtMs, site.timeZone), factId),
    siteId: site.siteId,
    recipeId: recipe.recipeId,
    recipeVersion: recipe.version,
    itemId: recipe.itemId,
    expectedYieldPpm: recipe.expectedYieldPpm,
    killStep: recipe.killStep,
    steps: recipe.steps,
    startedAtMs,
  });
  await copyPlanToBatch(tx, { batchId: factId, recipeId: recipe.recipeId, siteId: site.siteId });
  return batchReply(context, factId);
}

export async function complete(context: Context<typeof contract.createBatchCompletion>): Promise<Reply> {
  const { body, tx, params, factId, nowMs } = context;
  const batch = await getBatchForWrite(context, params.batchId);
  requireOpen(batch);
  const born = await listBorn(tx, batch.batchId);
  if (born.length === 0) throw new Refused('wrong-state', 'Nothing has come out of the batch yet.');
  const completedAtMs = body.completedAt ? fromInstant(body.completedAt) : nowMs;
  requirePast(completedAtMs, nowMs);
  const gains = body.gains ?? [];
  for (const [what, lines] of [
    ['loss', body.losses],
    ['gain', gains],
  ] as const) {
    if (new Set(lines.map((line) => line.kind)).size < lines.length) {
      throw new Refused('rule-broken', `Give each kind of ${what} once.`);
    }
  }
  for (const [at, loss] of body.losses.entries()) {
    if ((loss.inedibleMassG ?? 0) > loss.massG) {
      const detail = 'What nobody eats of it is not more than all of it.';
      throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/losses/${at}/inedibleMassG` }] });
    }
  }
  // From here on only success.
  const { batchId } = batch;
  const completion = { kind: 'batch-completion', subjectId: batchId, factId, actorId: context.actor.actorId } as const;
  await completeBatch(tx, batchId, completedAtMs, await takeMoneyNo(tx, completion, nowMs));
  await insertGains(tx, batch.batchId, gains);
  await insertLosses(tx, batch.batchId, body.losses);
  // No further load comes out: what was checked for the whole batch may be enough for its one load.
  await releaseWhatIsComplete(context, batch.batchId);
  return batchReply(context, batch.batchId);
}

export async function readBatch(context: Context<typeof contract.getBatch>): Promise<Reply> {
  const batch = await findBatch(context.tx, context.params.batchId);
  if (!batch || !context.scope.includes(batch.siteId)) throw notFound('batch');
  return { status: 200, body: await batchAnswer(context.tx, batch) };
}

export async function readBatches(context: Context<typeof contract.listBatches>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const filter = { siteId: query.siteId ?? null, state: query.state ?? null };
  const rows = await listBatchRows(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(batchHead), (row) => [row.startedAt, row.batchId]);
}
