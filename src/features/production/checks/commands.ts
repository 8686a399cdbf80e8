/** Checks, bound where food is released: one may be the last that a release waits for. Refusals: those of process-checks. */
import type { Context, Reply } from '../../../platform/http/contract.ts';
import {
  checkReply,
  correctCheck,
  takeAction,
  takeCheck,
  type createCheckCorrection,
  type createCorrectiveAction,
  type createProcessCheck,
  type TakenCheck,
} from '../../process-checks/index.ts';
import { afterCorrection } from '../../shelf-life/index.ts';
import { releaseWhatIsComplete, type Completing } from '../release/automatic.ts';
import { findResting, holdUnproved } from '../release/unproved.ts';

/** The answer, once what the check completes is released. */
async function reply(context: Completing, taken: TakenCheck): Promise<Reply> {
  const released = taken.batchId === null ? [] : await releaseWhatIsComplete(context, taken.batchId);
  return checkReply(context.tx, taken, released);
}

export async function check(context: Context<typeof createProcessCheck>): Promise<Reply> {
  const { id: _id, ...body } = context.body;
  return reply(context, await takeCheck(context, context.factId, body));
}

export async function correct(context: Context<typeof createCheckCorrection>): Promise<Reply> {
  const { tx, factId, params } = context;
  const { id: _id, ...body } = context.body;
  const resting = await findResting(tx, params.checkId);
  const taken = await correctCheck(context, factId, params.checkId, body);
  const unproved = resting ? await holdUnproved(context, resting, taken) : taken;
  // The batch that the check was taken from may have waited for nothing but its failure.
  const others = resting && resting.batchId !== taken.batchId ? [resting.batchId] : [];
  const released = [];
  for (const batchId of others) released.push(...(await releaseWhatIsComplete(context, batchId)));
  if (taken.batchId !== null) released.push(...(await releaseWhatIsComplete(context, taken.batchId)));
  await afterCorrection(tx, params.checkId);
  return checkReply(tx, unproved, released);
}

export async function act(context: Context<typeof createCorrectiveAction>): Promise<Reply> {
  return reply(context, await takeAction(context, context.params.checkId, context.factId, context.body));
}
