/**
 * Labels that say a later date than the one in force. While food stands on a shelf under such a label, the finding `label-outlives-use-by` is
 * open; it goes when the packs are relabelled, when the food is gone, or when the date is loosened.
 */
import type { Tx } from '../../platform/db/db.ts';
import { outbox } from '../../platform/jobs.ts';
import { clearFindings, openFindings } from './findings-store.ts';

const KIND = 'label-outlives-use-by';

interface LabelRow {
  readonly lotId: string;
  readonly accountId: string;
  readonly lotCode: string;
  readonly siteId: string;
  readonly quantity: number;
  readonly holdId: string;
  readonly useByAt: Date;
  readonly printedUseByAt: Date | null;
  readonly ruling: string;
  readonly reason: string;
  readonly placedAt: Date;
  readonly fresh: boolean;
}

const subjectOf = (part: { lotId: string; accountId: string }): string => `${part.lotId}|${part.accountId}`;

/** Of these parts, those in places with food whose labels are not known to say the date in force. */
async function listMislabelled(tx: Tx, parts: readonly { lotId: string; accountId: string }[]): Promise<LabelRow[]> {
  return tx.query<LabelRow>(
    `select h.lot_id as "lotId", h.account_id as "accountId", l.code as "lotCode", a.site_id as "siteId", b.quantity,
            h.hold_id as "holdId", h.use_by_at as "useByAt", l.printed_use_by_at as "printedUseByAt", h.ruling, h.note as reason,
            h.placed_at as "placedAt",
            not exists (select from finding f
                  where f.group_id = h.group_id and f.kind = $4::text and f.detail ->> 'factId' = h.hold_id::text
                    and f.subject = h.lot_id || '|' || h.account_id) as fresh
       from unnest($2::uuid[], $3::uuid[]) as p(lot_id, account_id)
       join hold h on h.group_id = $1::uuid and h.lot_id = p.lot_id and h.account_id = p.account_id and h.kind = 'use-by'
                  and h.lifted_at is null and h.labelled_at is null
       join lot l on l.group_id = h.group_id and l.lot_id = h.lot_id
       join account a on a.group_id = h.group_id and a.account_id = h.account_id and a.kind = 'place'
       join balance b on b.group_id = h.group_id and b.lot_id = h.lot_id and b.account_id = h.account_id and b.quantity > 0
      where l.printed_use_by_at is null or l.printed_use_by_at > h.use_by_at`,
    [tx.groupId, parts.map((part) => part.lotId), parts.map((part) => part.accountId), KIND],
  );
}

/** Opens and clears the finding of these parts as their dates, labels and balances now are. */
export async function judgeLabels(
  tx: Tx,
  parts: readonly { lotId: string; accountId: string }[],
  nowMs: number,
): Promise<void> {
  const rows = await listMislabelled(tx, parts);
  const open = new Set(rows.map(subjectOf));
  // A part has one such finding: that of an earlier date gives way to that of the date in force.
  const over = [...new Set(parts.map(subjectOf))].filter((subject) => !open.has(subject));
  const replaced = rows.filter((row) => row.fresh).map(subjectOf);
  await clearFindings(tx, KIND, [...over, ...replaced]);
  const drafts = rows.map((row) => ({
    kind: KIND,
    subject: subjectOf(row),
    siteId: row.siteId,
    lotId: row.lotId,
    quantity: row.quantity,
    occurredAtMs: row.placedAt.getTime(),
    detail: {
      lotCode: row.lotCode,
      placeId: row.accountId,
      useByAt: row.useByAt.toISOString(),
      printedUseByAt: row.printedUseByAt?.toISOString() ?? null,
      ruling: row.ruling,
      reason: row.reason,
      factId: row.holdId,
    },
  }));
  await openFindings(tx, drafts, nowMs);
  for (const { holdId, siteId, lotId, accountId } of rows.filter((row) => row.fresh)) {
    await outbox(tx, 'relabel-opened', { relabelId: holdId, siteId, lotId, placeId: accountId }, nowMs);
  }
}
