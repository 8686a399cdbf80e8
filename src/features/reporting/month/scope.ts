/** Which books a report is about, and up to which cut it reads. */
import { ROAD } from '../../../domain/month/lines.ts';
import { monthsOn } from '../../../domain/month/periods.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { listActiveCloses, type ActiveClose } from '../closes/store.ts';
import type { Cut } from '../../ledger/index.ts';

export interface Asked {
  readonly month: string;
  readonly throughMonth: string;
  /** null: the whole group, with what is on the road */
  readonly siteIds: readonly string[] | null;
  readonly cut: Cut;
  /** every fact in the month in which it happened, whatever was closed */
  readonly restated: boolean;
}

export interface Reading extends Asked {
  readonly state: 'open' | 'closed';
  /** that count at the cut; none in a restated view */
  readonly closes: readonly ActiveClose[];
  /** of the month before, if it is closed: what the opening was closed with */
  readonly openedAt: Cut | null;
}

/** Of this month, or of the first month closed after it, which closed it too. */
const closeOf = (closes: readonly ActiveClose[], month: string): ActiveClose | undefined =>
  closes.find((close) => close.month >= month);

const cutOf = (close: ActiveClose): Cut => ({
  seq: close.cutSeq,
  moneyNo: close.cutMoneyNo,
  recordedAtMs: close.cutRecordedAtMs,
});

/** A closed month is read as it was closed, whatever later cut was asked for; unless restated. */
export async function readingOf(tx: Tx, asked: Asked): Promise<Reading> {
  if (asked.restated) return { ...asked, state: 'open', closes: [], openedAt: null };
  const closed = closeOf(await listActiveCloses(tx, asked.cut), asked.throughMonth);
  const cut = closed ? cutOf(closed) : asked.cut;
  const closes = await listActiveCloses(tx, cut);
  const before = closeOf(closes, monthsOn(asked.month, -1));
  const state = closed ? 'closed' : 'open';
  return { ...asked, cut, state, closes, openedAt: before ? cutOf(before) : null };
}

export function inScope(siteIds: readonly string[] | null): (book: string) => boolean {
  if (siteIds === null) return () => true;
  const sites = new Set(siteIds);
  return (book) => book !== ROAD && sites.has(book);
}
