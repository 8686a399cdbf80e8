/**
 * What came back from service. It is born on hold in the quarantine place of its site, in that one account, so that one pack that came back
 * never condemns the two hundred that stayed. Finding: `returned-not-served`, when more of a lot came back than was served there; it
 * is a matter of sums, so a use that is recorded later settles it with the next return.
 */
import { partKey } from '../../domain/ledger/book.ts';
import type { Tx } from '../../platform/db/db.ts';
import { derivedId } from '../../platform/ids.ts';
import { outside, shortfallOf } from './accounts.ts';
import { clearFindings, openFindings, type FindingDraft } from './findings-store.ts';
import { findHoldIds, insertHolds, type ReachingHold } from './holds-store.ts';
import type { LotRow } from './lots-store.ts';
import { readNets } from './store-book.ts';

export interface Returned {
  readonly lot: LotRow;
  readonly siteId: string;
  readonly quarantineId: string;
  readonly reason: string;
  readonly factId: string;
  readonly occurredAtMs: number;
}

/** Something of the lot went back to a supplier: its traces look for how much, those of other lots need not. */
export async function markGivenBack(tx: Tx, lotId: string): Promise<void> {
  await tx.query(
    `update lot_state set given_back = true where group_id = $1::uuid and lot_id = $2::uuid and not given_back`,
    [tx.groupId, lotId],
  );
}

/** So many times a hold of a lot at a place can have been lifted and placed anew before its id follows from the return instead. */
const MOST_IN_TURN = 50;

/**
 * One hold for all that came back of a lot; a new one when the last was lifted. Its id follows from lot, place and turn, so that it is not
 * taken for a hold that somebody placed there for another reason: holds stack, and that one may be lifted first.
 * @param holds read after the part was locked, so that two returns at once do not both place one
 */
export async function holdReturned(
  tx: Tx,
  { lot, quarantineId, reason, factId }: Returned,
  holds: readonly ReachingHold[],
  actorId: string,
  nowMs: number,
): Promise<void> {
  const turns = Array.from({ length: MOST_IN_TURN }, (_, turn) =>
    derivedId(`return-hold-${quarantineId}-${turn}`, lot.lotId),
  );
  if (holds.some((hold) => hold.liftedAt === null && turns.includes(hold.holdId))) return;
  const used = await findHoldIds(tx, turns);
  const hold = {
    holdId: turns.find((id) => !used.has(id)) ?? derivedId('return-hold', factId),
    kind: 'quality',
    lotId: lot.lotId,
    siteId: null,
    accountId: quarantineId,
    propagates: false,
    note: `Came back from service: ${reason}`,
  };
  await insertHolds(tx, [hold], actorId, nowMs);
}

/** Opens or clears the finding from what is served of the lot at the site now; answers it if it is open. */
export async function refreshReturned(
  tx: Tx,
  { lot, siteId, factId, occurredAtMs }: Returned,
  nowMs: number,
): Promise<FindingDraft[]> {
  const servedId = outside('served', siteId);
  const part = { lot_id: lot.lotId, account_id: servedId, twin_id: shortfallOf(servedId) };
  const served = (await readNets(tx, [part]))[0]?.net ?? 0;
  const subject = partKey({ lotId: lot.lotId, accountId: servedId });
  if (served >= 0) {
    await clearFindings(tx, 'returned-not-served', [subject]);
    return [];
  }
  const detail = { lotCode: lot.code, missing: -served, factId };
  const about = { kind: 'returned-not-served', subject, siteId, lotId: lot.lotId };
  const never: FindingDraft = { ...about, quantity: -served, occurredAtMs, detail };
  await openFindings(tx, [never], nowMs);
  return [never];
}
