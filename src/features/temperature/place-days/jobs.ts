/**
 * The worker that computes place-days. What there is to do stands in place_day_dirty; being woken only saves the wait for the next minute's sweep.
 * Any number of processes may run it beside each other: each takes subjects that no other one has.
 */
import { RULE_VERSION } from '../../../domain/exposure/days.ts';
import type { Clock } from '../../../platform/clock.ts';
import type { Db } from '../../../platform/db/db.ts';
import type { Job } from '../../../platform/jobs.ts';
import type { Log } from '../../../platform/log.ts';
import { dayText } from '../../../domain/readings.ts';
import { firstDayKept, recomputeSubject } from './recompute.ts';
import { listDirtySubjects, markOlderRules } from './store.ts';

const SUBJECTS_A_PASS = 200;
/** Subjects at once: gateways send those of a whole kitchen together. */
const LANES = 3;
/** Rounds of a run; whatever is left is the next minute's. */
const MOST_PASSES = 500;
/** Days of an older rule that one sweep takes up. */
const OLDER_A_SWEEP = 500;
/** Promised is about a second. */
const LATE_MS = 5_000;

interface Waiting {
  readonly subject: string;
  readonly markedAtMs: number;
}

export function recomputeTemperature(parts: { db: Db; clock: Clock; log: Log }): Job {
  const { db, clock, log } = parts;
  /** Takes subjects off the list until it is empty; answers how many had days to compute. */
  async function lane(groupId: string, waiting: Waiting[]): Promise<number> {
    let worked = 0;
    for (let next = waiting.shift(); next; next = waiting.shift()) {
      const { subject, markedAtMs } = next;
      const nowMs = clock.nowMs();
      const done = await db.inGroup(groupId, 'write', (tx) => recomputeSubject(tx, subject, nowMs));
      if (done === null) continue;
      if (done.days > 0) worked += 1;
      const waitedMs = clock.nowMs() - markedAtMs;
      if (waitedMs > LATE_MS) log.warn({ groupId, subject, waitedMs, ...done }, 'place-days were computed late');
    }
    return worked;
  }
  async function pass(groupId: string): Promise<number> {
    const waiting = await db.inGroup(groupId, 'read', (tx) => listDirtySubjects(tx, SUBJECTS_A_PASS));
    // One that fails must not leave the others running behind its back.
    const lanes = await Promise.allSettled(Array.from({ length: LANES }, () => lane(groupId, waiting)));
    const failed = lanes.find((one) => one.status === 'rejected');
    if (failed) throw failed.reason;
    return lanes.reduce((sum, one) => sum + (one.status === 'fulfilled' ? one.value : 0), 0);
  }
  return {
    name: 'recompute-temperature',
    sweep: '* * * * *',
    async run({ groupId }) {
      await db.inGroup(groupId, 'write', (tx) => {
        const fromDay = dayText(firstDayKept(clock.nowMs()));
        return markOlderRules(tx, RULE_VERSION, fromDay, OLDER_A_SWEEP);
      });
      for (let round = 0; round < MOST_PASSES && (await pass(groupId)) > 0; round += 1);
    },
  };
}
