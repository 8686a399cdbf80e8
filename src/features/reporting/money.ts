/** What is asked of every fact that says an amount. Refusals: `currency-differs`. */
import { Refused } from '../../domain/errors.ts';
import { monthsOn } from '../../domain/month/periods.ts';
import type { Tx } from '../../platform/db/db.ts';
import { getCurrency } from '../identity/index.ts';
import { getCutNow } from '../ledger/index.ts';
import { listActiveCloses, type ActiveClose } from './closes/store.ts';

/** @returns the group's currency; nothing is converted */
export async function requireCurrency(tx: Tx, said: string | undefined): Promise<string> {
  const currency = await getCurrency(tx);
  if (said === undefined || said === currency) return currency;
  const detail = `The group keeps its books in ${currency}, not in ${said}.`;
  throw new Refused('currency-differs', detail, { errors: [{ detail, pointer: '#/currency' }] });
}

export interface Books {
  /** the newest that counts */
  readonly lastClose: ActiveClose;
  /** the oldest month that is open */
  readonly openMonth: string;
}

/** null: no month is closed */
export async function findBooks(tx: Tx): Promise<Books | null> {
  const lastClose = (await listActiveCloses(tx, await getCutNow(tx))).at(-1);
  return lastClose ? { lastClose, openMonth: monthsOn(lastClose.month, 1) } : null;
}
