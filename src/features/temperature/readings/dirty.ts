/** Which place-days have to be summed up again. */
import type { Tx } from '../../../platform/db/db.ts';
import { wakeJob } from '../../../platform/jobs.ts';

export interface PlaceDay {
  /** of subjectOf in domain/readings.ts */
  readonly subject: string;
  /** 'YYYY-MM-DD', UTC */
  readonly day: string;
}

const RECOMPUTE = 'recompute-temperature';

/**
 * In the transaction of what changed them, last. A row that is there is written again: whoever works on that day holds it until the sums
 * are committed, and had read the readings before these were there; letting its row be would lose the day.
 */
async function upsertPlaceDays(tx: Tx, days: readonly PlaceDay[]): Promise<void> {
  await tx.query(
    `insert into place_day_dirty (group_id, subject, day)
     select $1::uuid, d.subject, d.day from unnest($2::text[], $3::date[]) as d(subject, day) order by 2, 3
     on conflict (group_id, subject, day) do update set day = excluded.day`,
    [tx.groupId, days.map((one) => one.subject), days.map((one) => one.day)],
  );
}

/** Answers how many different ones they were. */
export async function markPlaceDays(tx: Tx, days: readonly PlaceDay[]): Promise<number> {
  const different = [...new Map(days.map((one) => [`${one.day} ${one.subject}`, one])).values()];
  if (different.length === 0) return 0;
  await upsertPlaceDays(tx, different);
  await wakeJob(tx, RECOMPUTE);
  return different.length;
}
