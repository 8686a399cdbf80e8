/** Reading a trace. Refusals: `not-found`, `trace-too-large`, `too-large-to-draw`. */
import { Refused } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { findHoldsReaching, getVisibleLot } from '../ledger/index.ts';
import { traceAnswer } from './assemble.ts';
import type { traceLot } from './contract.ts';
import { tracePicture } from './picture.ts';
import { listEdges, listFlows, listStanding, walkLots } from './queries.ts';
import { renderTraceSvg } from './trace-picture.ts';

/** A year of one busy kitchen's lots; more is a question for a report, not a trace (common practice). */
const MOST_LOTS = 20_000;

export async function readTrace(context: Context<typeof traceLot>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const direction = query.direction ?? 'forward';
  const start = await getVisibleLot(tx, scope, params.lotId);
  const lots = await walkLots(tx, start.lotId, direction, MOST_LOTS + 1);
  if (lots.length > MOST_LOTS) {
    throw new Refused('trace-too-large', `More than ${MOST_LOTS} lots hang on lot ${start.code}.`);
  }
  const lotIds = lots.map((lot) => lot.lotId);
  const trace = traceAnswer({
    startLotId: start.lotId,
    direction,
    lots,
    edges: await listEdges(tx, lotIds, direction),
    standing: await listStanding(tx, lotIds),
    flows: await listFlows(tx, lotIds),
    // a date of one part holds nothing back
    holds: (await findHoldsReaching(tx, lotIds, nowMs)).filter((hold) => hold.kind !== 'use-by'),
  });
  const wanted = context.accept(['application/json', 'image/svg+xml']) === 'image/svg+xml' ? 'svg' : 'json';
  if ((query.format ?? wanted) === 'json') return { status: 200, body: trace };
  const svg = renderTraceSvg(tracePicture(trace));
  if (typeof svg !== 'string') {
    throw new Refused(
      'too-large-to-draw',
      `${lots.length} lots and ${trace.edges.length} arrows do not fit a picture.`,
    );
  }
  return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data: svg } };
}
