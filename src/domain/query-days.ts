/** The days that a list or a report is asked for. Refusals: `rule-broken`, `period-too-long`. */
import { Refused } from './errors.ts';
import { isCalendarDate } from './time.ts';

export function refuseQuery(
  field: string,
  detail: string,
  code: 'rule-broken' | 'period-too-long' = 'rule-broken',
): Refused {
  return new Refused(code, detail, { errors: [{ detail, pointer: `#/query/${field}` }] });
}

/** @throws Refused unless each day that is given, by the name of its field, is on the calendar */
export function requireDays(days: Readonly<Record<string, string | undefined>>): void {
  for (const [field, day] of Object.entries(days)) {
    if (day !== undefined && !isCalendarDate(day)) throw refuseQuery(field, `${day} is not on the calendar.`);
  }
}

interface Period {
  readonly fromDate?: string | undefined;
  readonly toDate?: string | undefined;
}

/** @throws Refused unless what is given are days, in order */
export function requirePeriod({ fromDate, toDate }: Period): void {
  requireDays({ fromDate, toDate });
  if (fromDate !== undefined && toDate !== undefined && toDate < fromDate) {
    throw refuseQuery('toDate', 'The last day is before the first.');
  }
}

/** @throws Refused unless both are days, in order, and at most twelve months apart */
export function requireYear(fromDate: string, toDate: string): void {
  requirePeriod({ fromDate, toDate });
  const yearLater = `${Number(fromDate.slice(0, 4)) + 1}${fromDate.slice(4)}`;
  if (toDate >= yearLater) throw refuseQuery('toDate', 'A period is at most twelve months long.', 'period-too-long');
}
