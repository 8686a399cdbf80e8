/**
 * The month in which records begin (September of the examples) closed by finance, its files made, its reopening asked for and not confirmed;
 * and one export. The month after it is left open, for whoever tries it.
 */
import { monthAfter } from '../../src/domain/month-close.ts';
import { reportingJobs } from '../../src/features/reporting/index.ts';
import type { Db } from '../../src/platform/db/db.ts';
import { exampleId, groupIdOf } from '../../src/platform/ids.ts';
import { DEMO_GROUP } from '../../src/start/try-out.ts';
import { as, type Door, type Who } from './door.ts';

/** Everything that may block, so that closing does not depend on what the story left open. */
const ACCEPTED = ['open-batches', 'unreceived-dispatches', 'negative-balances', 'uncosted-lots'].map((check) => ({
  check,
  reason: 'Before the records of this system were whole',
}));

/** Another person of finance: whoever asked for a reopening cannot confirm it. */
const controller: Who = { name: 'person/controller', role: 'finance' };

/**
 * @param first any day of the month in which records begin
 * @param now the door's time, in the month after the next or later
 */
export async function closeMonths(door: Door, db: Db, first: string, now: string): Promise<void> {
  const month = first.slice(0, 7);
  await door.post(as('finance'), '/v1/month-closes', 'month-close/september', {
    month,
    accept: ACCEPTED,
    note: 'The last month on paper',
  });
  const closePath = `/v1/month-closes/${exampleId('month-close/september')}`;
  await door.post(controller, `${closePath}/reopenings`, 'month-reopening/september', {
    reason: 'A delivery note of its last day turned up',
  });
  await door.post(as('finance'), '/v1/report-exports', 'report-export/first', {
    report: 'lines',
    month: monthAfter(month),
    site: 'CK',
    format: 'csv',
  });
  const parts = { db, clock: { nowMs: () => Date.parse(now) } };
  for (const job of reportingJobs(parts)) await job.run({ groupId: groupIdOf(DEMO_GROUP) });
}
