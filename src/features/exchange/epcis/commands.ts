/** EPCIS documents. Refusals: `not-found` (lot, dispatch), `rule-broken` (a period the wrong way round). */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findDispatches } from '../../distribution/index.ts';
import { getVisibleLot } from '../../ledger/index.ts';
import { CONTEXT, type readEpcisDocument } from './contract.ts';
import { deriveEpcis } from './derive.ts';
import { isPending, lastEpcisNo, listEpcisEvents, type EpcisFilter } from './queries.ts';

type Asked = Context<typeof readEpcisDocument>;

const PAGE = 500;
/** Whoever reads waits for so many batches at most; the job does the rest, and the next reader has it. */
const MOST_BATCHES = 400;

/** All that is committed is derived before it is read. */
async function deriveAll({
  readAgain,
  writeAgain,
  nowMs,
}: Pick<Asked, 'readAgain' | 'writeAgain' | 'nowMs'>): Promise<void> {
  for (let batch = 0; batch < MOST_BATCHES && (await readAgain((tx) => isPending(tx, nowMs))); batch += 1) {
    const { more, lastNo } = await writeAgain((tx) => deriveEpcis(tx, nowMs));
    // What is not there after the commit would be derived again for ever.
    if (!more || (await readAgain(lastEpcisNo)) < lastNo) return;
  }
}

async function filterOf({ tx, scope, query }: Asked): Promise<EpcisFilter> {
  const fromMs = query.from === undefined ? null : fromInstant(query.from);
  const toMs = query.to === undefined ? null : fromInstant(query.to);
  if (fromMs !== null && toMs !== null && toMs <= fromMs) {
    const detail = `${query.to} is not after ${query.from}.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/to' }] });
  }
  if (query.lotId !== undefined) await getVisibleLot(tx, scope, query.lotId);
  if (query.dispatchId !== undefined) {
    const dispatch = (await findDispatches(tx, [query.dispatchId])).get(query.dispatchId);
    const seen = dispatch && (scope.includes(dispatch.fromSiteId) || scope.includes(dispatch.toSiteId));
    if (!seen) throw notFound('dispatch');
  }
  return {
    fromMs,
    toMs,
    lotId: query.lotId ?? null,
    dispatchId: query.dispatchId ?? null,
    siteIds: scope.all ? null : scope.siteIds,
  };
}

/** Pages by transactions of their own: this one's snapshot is older than what was derived for it. `upToNo` keeps the end where it was. */
async function* documentOf(
  { readAgain, nowMs }: Pick<Asked, 'readAgain' | 'nowMs'>,
  filter: EpcisFilter,
  upToNo: number,
): AsyncGenerator<string> {
  const head = {
    '@context': [CONTEXT],
    type: 'EPCISDocument',
    schemaVersion: '2.0',
    creationDate: new Date(nowMs).toISOString(),
  };
  yield `${JSON.stringify(head).slice(0, -1)},"epcisBody":{"eventList":[`;
  let separator = '';
  for (let afterNo = 0; ;) {
    const from = afterNo;
    const rows = await readAgain((tx) => listEpcisEvents(tx, filter, { afterNo: from, upToNo }, PAGE));
    let text = '';
    for (const { body, recordTime } of rows) {
      text += separator + JSON.stringify({ ...body, recordTime: recordTime.toISOString() });
      separator = ',\n';
    }
    yield text;
    const last = rows.at(-1);
    if (!last || rows.length < PAGE) break;
    afterNo = last.eventNo;
  }
  yield ']}}';
}

export async function readDocument(context: Asked): Promise<Reply> {
  const filter = await filterOf(context);
  await deriveAll(context);
  const upToNo = await context.readAgain(lastEpcisNo);
  const chunks = documentOf(context, filter, upToNo);
  return { status: 200, live: { contentType: 'application/json; charset=utf-8', chunks } };
}
