/** Background work of the ledger: stock that is past its date is found before somebody serves it; old outbox rows go. */
import type { Clock } from '../../platform/clock.ts';
import type { Db, Tx } from '../../platform/db/db.ts';
import type { Job } from '../../platform/jobs.ts';
import { derivedId } from '../../platform/ids.ts';
import { partUseBy } from './part-dates-store.ts';
import { openFindings } from './findings-store.ts';

const OUTBOX_DAYS = 30;
/** Nobody undoes an entry of food that went a month ago (common practice). */
const PART_DATE_DAYS = 30;

interface PastDateRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly placeId: string;
  readonly siteId: string;
  readonly quantity: number;
  readonly useByAtMs: number;
}

async function listPastDate(tx: Tx, nowMs: number): Promise<PastDateRow[]> {
  return tx.query<PastDateRow>(
    `select b.lot_id as "lotId", l.code as "lotCode", b.account_id as "placeId", a.site_id as "siteId", b.quantity,
            (extract(epoch from ${partUseBy()}) * 1000)::int8 as "useByAtMs"
       from (select p.lot_id, p.account_id
               from lot_state sp
               join balance p on p.group_id = sp.group_id and p.lot_id = sp.lot_id
              where sp.group_id = $1::uuid and sp.use_by_at <= to_timestamp($2::float8 / 1000)
             union
             select h.lot_id, h.account_id
               from hold h
              where h.group_id = $1::uuid and h.kind = 'use-by' and h.lifted_at is null
                and h.use_by_at <= to_timestamp($2::float8 / 1000)) due
       join balance b on b.group_id = $1::uuid and b.lot_id = due.lot_id and b.account_id = due.account_id and b.quantity > 0
       join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.kind = 'place'
       join lot l on l.group_id = b.group_id and l.lot_id = b.lot_id
       join lot_state s on s.group_id = b.group_id and s.lot_id = b.lot_id
      order by b.lot_id, b.account_id`,
    [tx.groupId, nowMs],
  );
}

/** Findings of this sweep whose food has gone since. */
async function clearGone(tx: Tx): Promise<void> {
  await tx.query(
    `update finding f set status = 'cleared', version = f.version + 1
      where f.group_id = $1::uuid and f.kind in ('past-use-by-in-stock', 'label-outlives-use-by') and f.status = 'open'
        and not exists (select from balance b
              where b.group_id = f.group_id and b.lot_id = f.lot_id
                and b.account_id = split_part(f.subject, '|', 2)::uuid and b.quantity > 0)`,
    [tx.groupId],
  );
}

/**
 * Own dates of parts that are empty, when the lot itself is long past its date: whatever came back would be refused by that one. Until then they
 * stay, because an undo brings food back.
 */
async function endPartDates(tx: Tx, nowMs: number): Promise<void> {
  await tx.query(
    `update hold h set lifted_at = to_timestamp($2::float8 / 1000), lifted_by = h.placed_by, lift_note = 'Gone, and past every date'
       from lot_state s
      where h.group_id = $1::uuid and h.kind = 'use-by' and h.lifted_at is null
        and s.group_id = h.group_id and s.lot_id = h.lot_id
        and s.use_by_at < to_timestamp($2::float8 / 1000) - make_interval(days => $3::int)
        and not exists (select from balance b
              where b.group_id = h.group_id and b.lot_id = h.lot_id and b.account_id = h.account_id and b.quantity > 0)`,
    [tx.groupId, nowMs, PART_DATE_DAYS],
  );
}

/** Hourly: what stands on a shelf past its use-by is a finding until it is discarded. */
export function findPastDateStock({ db, clock }: { db: Db; clock: Clock }): Job {
  return {
    name: 'find-past-date-stock',
    sweep: '7 * * * *',
    async run({ groupId }) {
      await db.inGroup(groupId, 'write', async (tx) => {
        const nowMs = clock.nowMs();
        const rows = await listPastDate(tx, nowMs);
        const drafts = rows.map((row) => {
          const subject = `${row.lotId}|${row.placeId}`;
          // no fact shows this, only time does: the finding is named by what it is about and the date that passed
          const factId = derivedId(`past-date-${row.useByAtMs}`, row.lotId);
          const detail = {
            lotCode: row.lotCode,
            placeId: row.placeId,
            useByAt: new Date(row.useByAtMs).toISOString(),
            factId,
          };
          const about = { siteId: row.siteId, lotId: row.lotId, quantity: row.quantity, occurredAtMs: row.useByAtMs };
          return { kind: 'past-use-by-in-stock', subject, ...about, detail };
        });
        await clearGone(tx);
        await endPartDates(tx, nowMs);
        await openFindings(tx, drafts, nowMs);
      });
    },
  };
}

/** Daily: what has long been in the event feed. What has no number there yet stays, however old. */
export function trimOutbox({ db, clock }: { db: Db; clock: Clock }): Job {
  return {
    name: 'trim-outbox',
    sweep: '23 3 * * *',
    async run({ groupId }) {
      const before = clock.nowMs() - OUTBOX_DAYS * 86_400_000;
      await db.inGroup(groupId, 'write', (tx) =>
        tx.query(
          `delete from outbox o
            where o.group_id = $1::uuid and o.created_at < to_timestamp($2::float8 / 1000) and o.numbered_at is not null`,
          [tx.groupId, before],
        ),
      );
    },
  };
}
