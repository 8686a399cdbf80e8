/**
 * Places are often presumed: packing, receipt and thawing put food where it usually goes when nobody says. Food that nobody
 * saw there since is `place-presumed`: a finding, never a hold or a condemnation. What confirms a place is a standing fact at
 * or after the presumed arrival: something left from there, a count named the lot there, or somebody scanned it away to just
 * that place. Computed anew from what is recorded, so the order of arrival does not matter.
 *
 * A fact that presumes says so in its entry's note: `presumed: [{ lotId, placeId }]`.
 */
import { partKey, type Book, type EntryDraft } from '../../domain/ledger/book.ts';
import type { Tx } from '../../platform/db/db.ts';
import { shortfallOf } from './accounts.ts';
import { clearFindings, openFindings, type FindingDraft } from './findings-store.ts';

interface PresumedPart {
  readonly lotId: string;
  readonly placeId: string;
}

function presumedIn(draft: EntryDraft): string[] {
  const parts = (draft.note?.presumed ?? []) as readonly PresumedPart[];
  return parts.map(({ lotId, placeId }) => partKey({ lotId, accountId: placeId }));
}

/** After the book is written: opens and clears `place-presumed` of the parts that it touched, or that were counted as booked. */
export async function refreshPresumed(tx: Tx, book: Book, counted: readonly string[], nowMs: number): Promise<void> {
  const seen = [...new Set([...book.touched, ...counted])];
  if (seen.length === 0) return;
  const drafts = book.accepted.map(({ draft }) => draft);
  const undoes = drafts.some((draft) => draft.kind === 'reversal');
  const asked = undoes ? seen : [...new Set([...drafts.flatMap(presumedIn), ...(await listPresumed(tx, seen))])];
  await refreshParts(tx, asked, nowMs);
}

/** For facts that post nothing because the food was where they put it: they confirm the place. */
export async function confirmPresumed(tx: Tx, parts: readonly PresumedPart[], nowMs: number): Promise<void> {
  const keys = new Set(parts.map(({ lotId, placeId }) => partKey({ lotId, accountId: placeId })));
  if (keys.size > 0) await refreshParts(tx, await listPresumed(tx, [...keys]), nowMs);
}

async function refreshParts(tx: Tx, asked: readonly string[], nowMs: number): Promise<void> {
  if (asked.length === 0) return;
  const open: FindingDraft[] = [];
  const clear: string[] = [];
  for (const row of await readPresumed(tx, asked)) {
    const key = partKey(row);
    if (row.factId === null || row.siteId === null || row.occurredAtMs === null || row.confirmed || row.net <= 0) {
      clear.push(key);
      continue;
    }
    open.push({
      kind: 'place-presumed',
      subject: key,
      siteId: row.siteId,
      lotId: row.lotId,
      quantity: row.net,
      occurredAtMs: row.occurredAtMs,
      detail: { placeId: row.accountId, factId: row.factId },
    });
  }
  await clearFindings(tx, 'place-presumed', clear);
  await openFindings(tx, open, nowMs);
}

async function listPresumed(tx: Tx, subjects: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ subject: string }>(
    `select f.subject from finding f
      where f.group_id = $1::uuid and f.kind = 'place-presumed' and f.subject = any($2::text[]) and f.status = 'open'`,
    [tx.groupId, subjects],
  );
  return rows.map((row) => row.subject);
}

interface PresumedRow {
  readonly lotId: string;
  readonly accountId: string;
  /** the last fact that presumed; null when none stands */
  readonly factId: string | null;
  readonly siteId: string | null;
  readonly occurredAtMs: number | null;
  readonly confirmed: boolean;
  /** what is there now */
  readonly net: number;
}

async function readPresumed(tx: Tx, partKeys: readonly string[]): Promise<PresumedRow[]> {
  const parts = partKeys.map((key) => {
    const [lotId = '', accountId = ''] = key.split('|');
    return { lot_id: lotId, account_id: accountId, twin_id: shortfallOf(accountId) };
  });
  return tx.query<PresumedRow>(
    `with part as (
       select * from jsonb_to_recordset($2::jsonb) as r(lot_id uuid, account_id uuid, twin_id uuid)
     ), arrival as (
       select distinct on (t.lot_id, t.account_id) t.lot_id, t.account_id, e.seq, e.fact_id, e.site_id, e.occurred_at
         from part t
         join posting p on p.group_id = $1::uuid and p.lot_id = t.lot_id and p.to_account_id in (t.account_id, t.twin_id)
         join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind <> 'reversal'
          and e.note -> 'presumed' @> jsonb_build_array(jsonb_build_object('lotId', t.lot_id, 'placeId', t.account_id))
        where not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
        order by t.lot_id, t.account_id, e.occurred_at desc, e.fact_id desc
     )
     select t.lot_id as "lotId", t.account_id as "accountId", a.fact_id as "factId", a.site_id as "siteId",
            (extract(epoch from a.occurred_at) * 1000)::int8 as "occurredAtMs",
            exists (select from posting p
                      join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind <> 'reversal'
                     where p.group_id = $1::uuid and p.lot_id = t.lot_id and p.from_account_id in (t.account_id, t.twin_id)
                       and p.occurred_at >= a.occurred_at
                       and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id))
              or exists (select from count_line c
                     where c.group_id = $1::uuid and c.lot_id = t.lot_id and c.account_id = t.account_id
                       and c.occurred_at >= a.occurred_at
                       and not exists (select from entry r where r.group_id = c.group_id and r.reverses_entry_id = c.count_id))
              or exists (select from scan s
                     where s.group_id = $1::uuid and s.lot_id = t.lot_id and s.place_id = t.account_id and s.kind = 'put-away'
                       and s.serial is not null
                       and s.outcome <> 'reversed' and s.occurred_at >= a.occurred_at)
              as confirmed,
            (select coalesce(sum(b.quantity), 0)::int8 from balance b
              where b.group_id = $1::uuid and b.lot_id = t.lot_id and b.account_id in (t.account_id, t.twin_id)) as net
       from part t
       left join arrival a on a.lot_id = t.lot_id and a.account_id = t.account_id`,
    [tx.groupId, JSON.stringify(parts)],
  );
}
