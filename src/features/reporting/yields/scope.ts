/** Which days a report is asked for. Refusals: `rule-broken`, `period-too-long`. */
import { Refused } from '../../../domain/errors.ts';
import { isCalendarDate } from '../../../domain/time.ts';

const MOST_MONTHS = 12;

export function refuseQuery(
  field: string,
  detail: string,
  code: 'rule-broken' | 'period-too-long' = 'rule-broken',
): Refused {
  return new Refused(code, detail, { errors: [{ detail, pointer: `#/query/${field}` }] });
}

/** @throws Refused unless both are days, in order, and at most twelve months apart */
export function requirePeriod(fromDate: string, toDate: string): void {
  for (const [field, day] of [
    ['fromDate', fromDate],
    ['toDate', toDate],
  ] as const) {
    if (!isCalendarDate(day)) throw refuseQuery(field, `${day} is not on the calendar.`);
  }
  if (toDate < fromDate) throw refuseQuery('toDate', 'The last day is before the first.');
  const [year = 0, rest = ''] = [Number(fromDate.slice(0, 4)), fromDate.slice(4)];
  if (toDate >= `${year + 1}${rest}`) {
    throw refuseQuery('toDate', `A period is at most ${MOST_MONTHS} months long.`, 'period-too-long');
  }
}
