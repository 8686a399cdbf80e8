/** Statements that people sign. Refusals: `not-found`, `rule-broken`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import { whyNotControlled } from '../../../domain/limits/controls.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { findItems } from '../../catalogue/index.ts';
import { proveHeat } from '../../process-checks/index.ts';
import { markStock } from '../limits/results-store.ts';
import { findChoices, policyOf } from '../policies/store.ts';
import { MOST_MINUTES, type createControlFactorStatement, type createModelValidation } from './contract.ts';
import * as store from './store.ts';

export async function signControlFactor(context: Context<typeof createControlFactorStatement>): Promise<Reply> {
  const { tx, scope, params, body, factId, nowMs, actor } = context;
  const batch = await store.findBatch(tx, params.batchId);
  if (!batch || !scope.includes(batch.siteId)) throw notFound('batch');
  const shown = await whatIsSigned(context, batch.batchId);
  const choice = (await findChoices(tx, [batch.siteId])).get(batch.siteId);
  const row: store.StatementRow = {
    statementId: factId,
    batchId: batch.batchId,
    factor: body.factor,
    ...shown,
    signedBy: body.signedBy,
    document: body.document ?? null,
    checkId: body.checkId ?? null,
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  const whyNot = whyNotControlled(row, policyOf(batch.jurisdiction, choice));
  // From here on only success.
  await store.insertControlFactor(tx, row);
  await markStock(tx, { batchId: batch.batchId });
  await wakeJob(tx, 'recompute-shelf-life');
  const answer = { ...row, recordedAt: row.recordedAt.toISOString(), lifts: whyNot === null, whyNot };
  return { status: 201, body: answer, siteId: batch.siteId, headers: { Location: `/v1/batches/${batch.batchId}` } };
}

const broken = (detail: string, pointer: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

/** As the person says, or as a lethality check of the batch shows: minutes at 90 °C. */
async function whatIsSigned(
  { tx, body }: Context<typeof createControlFactorStatement>,
  batchId: string,
): Promise<{ value: number; minutes: number | null }> {
  const { factor, value, minutes, checkId } = body;
  if (checkId === undefined) {
    if (value === undefined) throw broken('Say what was measured, or name the check.', '#/value');
    if ((factor === 'heat') !== (minutes !== undefined)) {
      throw broken('Heat goes with minutes, and nothing else does.', '#/minutes');
    }
    return { value, minutes: minutes ?? null };
  }
  if (factor !== 'heat') throw broken('Only heat is shown by a lethality check.', '#/factor');
  if (value !== undefined || minutes !== undefined) {
    throw broken('What the check shows is taken from the check.', value === undefined ? '#/minutes' : '#/value');
  }
  const proof = await proveHeat(tx, batchId, checkId);
  if ('whyNot' in proof) throw broken(proof.whyNot, '#/checkId');
  // never rounded up to minutes that were not shown
  return { value: 90, minutes: Math.min(Math.floor(proof.minutes * 100) / 100, MOST_MINUTES) };
}

/** A check was corrected: what somebody signed because of it may count no more. */
export async function afterCorrection(tx: Tx, correctedCheckId: string): Promise<void> {
  const batchIds = await store.listBatchesSigned(tx, correctedCheckId);
  for (const batchId of batchIds) await markStock(tx, { batchId });
  if (batchIds.length > 0) await wakeJob(tx, 'recompute-shelf-life');
}

/** Of the whole group: an item is the same at all of its sites. */
export async function validateModel(context: Context<typeof createModelValidation>): Promise<Reply> {
  const { tx, params, body, factId, nowMs, actor, scope } = context;
  if (!scope.all)
    throw new Refused('forbidden', 'A model holds at every site: only those who act for all of them may say so.');
  const item = (await findItems(tx, [params.itemId])).get(params.itemId);
  if (!item) throw notFound('item');
  const { model, reference } = body;
  if ((model === undefined) !== (reference === undefined)) {
    throw new Refused('rule-broken', 'Give model and reference, or neither.');
  }
  if (model?.kind === 'square-root' && reference && reference.temperatureC <= model.minTemperatureC) {
    const detail = 'Nothing grows at the reference temperature by that model.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/reference/temperatureC' }] });
  }
  const last = (await store.findValidations(tx, [item.itemId])).get(item.itemId);
  const row: store.ValidationRow = {
    validationId: factId,
    itemId: item.itemId,
    version: (last?.version ?? 0) + 1,
    model: model ?? null,
    referenceC: reference?.temperatureC ?? null,
    referenceLifeH: reference?.lifeH ?? null,
    validatedBy: body.validatedBy,
    basis: body.basis,
    document: body.document ?? null,
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await store.insertValidation(tx, row);
  await markStock(tx, { itemId: item.itemId });
  await wakeJob(tx, 'recompute-shelf-life');
  const { referenceC: _c, referenceLifeH: _h, ...shown } = row;
  const answer = {
    ...shown,
    reference: reference ?? null,
    drives: row.model !== null && row.basis !== 'from-memory',
    recordedAt: row.recordedAt.toISOString(),
  };
  return { status: 201, body: answer, siteId: null, headers: { Location: `/v1/items/${item.itemId}` } };
}
