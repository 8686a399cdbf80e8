/** Reading what shared something with a case. Refusals: `not-found`. */
import type { Context, Reply } from '../../../platform/http/contract.ts';
import type { listSideways, SidewaysAnswer } from './contract.ts';
import { getVisibleRecall } from '../answer.ts';
import { listCaseLots } from './store-causes.ts';
import { SIDEWAYS_ASSUMPTIONS, suggestionsFor } from './suggest.ts';

export async function readSideways(context: Context<typeof listSideways>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const { holdId } = await getVisibleRecall(tx, scope, params.recallId);
  const lotIds = await listCaseLots(tx, holdId);
  const found = await suggestionsFor(tx, lotIds, nowMs, { places: query.places === 'true' });
  const body: SidewaysAnswer = {
    recallId: params.recallId,
    scopeLotCount: lotIds.length,
    ...found,
    assumptions: [...SIDEWAYS_ASSUMPTIONS],
  };
  return { status: 200, body };
}
