/** Reading what shared something with a case. Refusals: `not-found`. */
import { notFound } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import type { listSideways, SidewaysAnswer } from './contract.ts';
import { findCaseLots } from './store-causes.ts';
import { SIDEWAYS_ASSUMPTIONS, suggestionsFor } from './suggest.ts';

export async function readSideways(context: Context<typeof listSideways>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const lotIds = await findCaseLots(tx, scope, params.recallId);
  if (lotIds === null) throw notFound('recall');
  const found = await suggestionsFor(tx, lotIds, nowMs, { places: query.places === 'true' });
  const body: SidewaysAnswer = {
    recallId: params.recallId,
    scopeLotCount: lotIds.length,
    ...found,
    assumptions: [...SIDEWAYS_ASSUMPTIONS],
  };
  return { status: 200, body };
}
