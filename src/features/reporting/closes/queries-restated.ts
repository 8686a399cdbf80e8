/** Reading a closed month beside what is known now. Refusals: `forbidden`, `wrong-state` (not closed, or its report is not made yet). */
import { Refused } from '../../../domain/errors.ts';
import { LINES, MONEY_LINES } from '../../../domain/month/lines.ts';
import { restate } from '../../../domain/restated.ts';
import { monthBounds, utc } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { getCutNow, type Cut } from '../../ledger/index.ts';
import { makeMonthReport } from '../month/index.ts';
import { requireWholeGroup } from '../whole-group.ts';
import type { getRestatedMonth, RestatedAnswer } from './contract-restated.ts';
import { listLateEntries, listLateMoneyFacts, type LateFactRow } from './facts-queries.ts';
import { readReport } from './files-job.ts';
import { findClose, listActiveCloses } from './store.ts';

const MOST_FACTS = 200;

const NOTES = [
  'closed is what was signed; now is the same month with everything recorded since, at the prices known now.',
  'The difference stands in the month that was open when each fact became known, under late.',
];

export async function readRestated({ tx, scope, params }: Context<typeof getRestatedMonth>): Promise<Reply> {
  requireWholeGroup(scope);
  const { month } = params;
  const now = await getCutNow(tx);
  const active = (await listActiveCloses(tx, now)).find((one) => one.month === month);
  if (!active) throw new Refused('wrong-state', `${month} has no close of its own; read its report as it is.`);
  const close = await findClose(tx, active.closeId);
  if (!close?.reportHash) throw new Refused('wrong-state', `The report of ${month} is being made; ask again soon.`);
  const closed = await readReport(tx, close.closeId);
  const asked = { month, throughMonth: month, siteIds: null, cut: now, restated: true };
  const { rows, totals } = restate(closed, await makeMonthReport(tx, asked), MONEY_LINES, LINES);
  const cutOf = ({ seq, moneyNo, recordedAtMs }: Cut) => ({ seq, moneyNo, recordedAt: utc(recordedAtMs) });
  const from = { seq: close.cutSeq, moneyNo: close.cutMoneyNo, recordedAtMs: close.cutRecordedAtMs };
  const { to } = monthBounds(month);
  const between = { from, through: now };
  const entries = await listLateEntries(tx, to, between, MOST_FACTS);
  const moneyFacts = await listLateMoneyFacts(tx, to, between, MOST_FACTS);
  const body: RestatedAnswer = {
    month,
    closeId: close.closeId,
    currency: closed.currency,
    closed: cutOf(from),
    now: cutOf(now),
    rows,
    totals,
    facts: [...entries, ...moneyFacts].map(factAnswer),
    factsInAll: (entries[0]?.count ?? 0) + (moneyFacts[0]?.count ?? 0),
    notes: NOTES,
  };
  return { status: 200, body };
}

const HREFS: Readonly<Record<LateFactRow['kind'], (id: string) => string>> = {
  entry: (id) => `/v1/entries/${id}`,
  price: (id) => `/v1/lots/${id}/cost`,
  'batch-completion': (id) => `/v1/batches/${id}`,
};

function textOf({ kind, what, occurredOn, reversesEntryId }: LateFactRow): string {
  if (kind === 'price') return 'A price was told or corrected';
  if (kind === 'batch-completion') return 'A batch was completed';
  return reversesEntryId === null ? `A ${what} of ${occurredOn} was told` : `An entry of ${occurredOn} was undone`;
}

function factAnswer(row: LateFactRow): RestatedAnswer['facts'][number] {
  return {
    kind: row.kind,
    what: row.what,
    factId: row.factId,
    occurredOn: row.occurredOn,
    recordedAt: utc(row.recordedAt.getTime()),
    text: textOf(row),
    href: HREFS[row.kind](row.subjectId),
  };
}
