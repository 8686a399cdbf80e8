/** The account of a case as it stands. Refusals: none. */
import { accountOf, type Account, type AccountPart } from '../../../domain/recall/account.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { RecallRow } from '../queries.ts';
import { listAccountLots, listAccountParts, listAsides, listSaid } from './queries.ts';

/** @param siteId only what is at one site: its lines; the figures are then of that site alone */
export async function loadAccount(
  tx: Tx,
  found: Pick<RecallRow, 'recallId' | 'holdId' | 'drill'>,
  siteId: string | null = null,
): Promise<Account> {
  const { holdId, recallId, drill } = found;
  const ledger = await listAccountParts(tx, holdId, siteId);
  const asides = await listAsides(tx, holdId, siteId);
  const said = await listSaid(tx, recallId, holdId, siteId);
  const here = siteId === null ? null : [...new Set([...ledger, ...asides, ...said].map((row) => row.lotId))];
  const lots = await listAccountLots(tx, holdId, here);
  const aside = new Map(asides.map((row) => [`${row.lotId}|${row.siteId}`, row]));
  const parts = ledger.map((part): AccountPart => {
    const more = aside.size === 0 ? undefined : aside.get(`${part.lotId}|${part.siteId}`);
    return { ...part, returned: more?.returned ?? 0, inProcess: more?.inProcess ?? 0 };
  });
  // Taken straight from the supplier's account and given back: no place ever had it, so no part speaks of it.
  const known = new Set(aside.size === 0 ? [] : parts.map((part) => `${part.lotId}|${part.siteId}`));
  const only = asides.filter((row) => !known.has(`${row.lotId}|${row.siteId}`));
  const none = { onHand: 0, inQuarantine: 0, inTransit: 0, served: 0, wasted: 0, consumed: 0, unexplained: 0 };
  return accountOf(lots, [...parts, ...only.map((row) => ({ ...none, ...row }))], said, drill);
}
