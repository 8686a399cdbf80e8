/**
 * One part of the ward's stock with an earlier use-by than its label: its place was warm for a while, and its packs wait to be relabelled. Placed
 * through the ledger's door, as the computation of limits does.
 */
import { tightenPart } from '../../src/features/ledger/index.ts';
import type { Db, Tx } from '../../src/platform/db/db.ts';
import { exampleId } from '../../src/platform/ids.ts';

const DAY_MS = 86_400_000;

interface PartRow {
  readonly lotId: string;
  readonly accountId: string;
  readonly useByAtMs: number;
}

/** Packs at the ward that keep longest: what is to be used soon stays as it is. */
async function findLongest(tx: Tx, siteId: string): Promise<PartRow | null> {
  const rows = await tx.query<PartRow>(
    `select b.lot_id as "lotId", b.account_id as "accountId", (extract(epoch from s.use_by_at) * 1000)::int8 as "useByAtMs"
       from place p
       join balance b on b.group_id = p.group_id and b.account_id = p.place_id and b.quantity > 1
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id and l.unit = 'piece'
       join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id and s.use_by_at < 'infinity'
      where p.group_id = $1::uuid and p.site_id = $2::uuid and not p.quarantine
      order by s.use_by_at desc, l.code limit 1`,
    [tx.groupId, siteId],
  );
  return rows[0] ?? null;
}

export async function warmShelf(db: Db, groupId: string, nowMs: number): Promise<void> {
  await db.inGroup(groupId, 'write', async (tx) => {
    const part = await findLongest(tx, exampleId('site/w3'));
    if (!part) return;
    const change = {
      lotId: part.lotId,
      accountId: part.accountId,
      useByAtMs: part.useByAtMs - DAY_MS,
      ruling: 'cook-chill-5-days',
      reason: 'The chiller stood open; the quality lead took a day off.',
      resultId: null,
      holdId: exampleId('relabel/w3'),
    };
    await tightenPart(tx, change, exampleId('person/quality'), nowMs);
  });
}
