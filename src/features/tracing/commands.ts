/** Reading a trace. Refusals: `not-found`, `rule-broken`, `trace-too-large`, `too-large-to-draw`. */
import { Refused } from '../../domain/errors.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { getVisibleLot } from '../ledger/index.ts';
import { holdsOf, momentOf } from './as-recorded.ts';
import { traceAnswer } from './assemble.ts';
import type { traceLot } from './contract.ts';
import { tracePicture } from './picture.ts';
import { countWalk, listEdges, listFlows, listStanding, walkLots } from './queries.ts';
import { brokenOff, traceLines } from './trace-lines.ts';
import { renderTraceSvg } from './trace-picture.ts';

/** A year of one busy kitchen's lots; more is a question for lines, for sums (reach) or for a report (common practice). */
const MOST_LOTS = 20_000;
const MOST_LINED_LOTS = 200_000;

export async function readTrace(context: Context<typeof traceLot>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const direction = query.direction ?? 'forward';
  const start = await getVisibleLot(tx, scope, params.lotId);
  const asOf = await momentOf(tx, start, query.recordedAt, nowMs);
  const tooMany = (most: number) => new Refused('trace-too-large', `More than ${most} lots hang on lot ${start.code}.`);
  const walk = { lotId: start.lotId, direction, asOf } as const;
  const wanted = context.accept(['application/json', 'image/svg+xml', 'application/x-ndjson']);
  const format =
    query.format ?? ({ 'image/svg+xml': 'svg', 'application/x-ndjson': 'ndjson' } as const)[wanted] ?? 'json';
  if (format === 'ndjson') {
    const limit = MOST_LINED_LOTS + 1;
    if ((await countWalk(tx, { ...walk, limit })) === limit) throw tooMany(MOST_LINED_LOTS);
    const chunks = traceLines(tx, { ...walk, limit }, nowMs);
    return { status: 200, stream: { contentType: 'application/x-ndjson', chunks, failed: brokenOff } };
  }
  const lots = await walkLots(tx, { ...walk, limit: MOST_LOTS + 1 });
  if (lots.length > MOST_LOTS) throw tooMany(MOST_LOTS);
  const lotIds = lots.map((lot) => lot.lotId);
  const trace = traceAnswer({
    startLotId: start.lotId,
    direction,
    lots,
    edges: await listEdges(tx, lotIds, direction, asOf),
    standing: await listStanding(tx, lotIds, asOf),
    flows: await listFlows(tx, lotIds, asOf),
    holds: await holdsOf(tx, lotIds, asOf, nowMs),
  });
  if (format === 'json') return { status: 200, body: trace };
  const svg = renderTraceSvg(tracePicture(trace));
  if (typeof svg !== 'string') {
    throw new Refused(
      'too-large-to-draw',
      `${lots.length} lots and ${trace.edges.length} arrows do not fit a picture.`,
    );
  }
  return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data: svg } };
}
