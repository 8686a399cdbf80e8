/** Partitions of readings by month: made ahead, and dropped when nobody needs them any more. */
import { dayOf, dayText, WINDOW_DAYS } from '../../../domain/readings.ts';
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import { ensureMonths } from './store.ts';

/** Further ahead than the next day, so that a job that fails for weeks does no harm. */
const AHEAD_DAYS = 32;
/** Months that ended so long before the limit have been dropped by earlier sweeps. */
const LOOK_BACK_DAYS = 800;
/** Readings of a month are taken until 400 days after its end: the least that a partition lives. */
const LEAST_KEEP_DAYS = WINDOW_DAYS + AHEAD_DAYS;

/** First days of the months of these days. */
function monthsBetween(firstDay: number, lastDay: number): string[] {
  const months = new Set<string>();
  for (let day = firstDay; day <= lastDay; day += 1) months.add(`${dayText(day).slice(0, 7)}-01`);
  return [...months];
}

/** Daily. Uploads make what is missing themselves, but then wait for it. */
export function makeReadingMonths({ db, clock }: { db: Db; clock: Clock }): Job {
  return {
    name: 'make-reading-months',
    sweep: '11 2 * * *',
    async run({ groupId }) {
      const today = dayOf(clock.nowMs());
      const months = monthsBetween(today - WINDOW_DAYS, today + AHEAD_DAYS);
      await db.inGroup(groupId, 'write', (tx) => ensureMonths(tx, months));
    },
  };
}

/** The group's readings of these months have all been summed up: none of their days waits to be computed. */
async function insertMonthsDone(tx: Tx, months: readonly string[], nowMs: number): Promise<void> {
  await tx.query(
    `insert into reading_month_done (group_id, month, done_at)
     select $1::uuid, m.month, to_timestamp($3::float8 / 1000) from unnest($2::date[]) as m(month)
      where not exists (select from place_day_dirty d
              where d.group_id = $1::uuid and d.day >= m.month and d.day < m.month + interval '1 month')
     on conflict (group_id, month) do nothing`,
    [tx.groupId, months, nowMs],
  );
}

/** Drops months that every group has done with; gives up on one that readers hold, until the next sweep. */
const DROP = `select drop_reading_month(d.month) from reading_month_done d
  group by d.month having count(*) = (select count(*) from group_queue)`;

/** Daily, where it is said how long readings are kept; place-days stay. Null: readings are kept for ever. */
export function dropReadingMonths({ db, clock, keepDays }: { db: Db; clock: Clock; keepDays: number | null }): Job[] {
  if (keepDays === null) return [];
  return [
    {
      name: 'drop-reading-months',
      sweep: '41 2 * * *',
      afterSweep: DROP,
      async run({ groupId }) {
        const nowMs = clock.nowMs();
        // A month has ended by the first day of the next one, so the month of the limit's own day stays.
        const last = dayOf(nowMs) - Math.max(keepDays, LEAST_KEEP_DAYS);
        const current = `${dayText(last).slice(0, 7)}-01`;
        const months = monthsBetween(last - LOOK_BACK_DAYS, last).filter((month) => month !== current);
        await db.inGroup(groupId, 'write', (tx) => insertMonthsDone(tx, months, nowMs));
      },
    },
  ];
}
