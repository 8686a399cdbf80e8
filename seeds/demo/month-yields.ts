/** The baseline that finance chose to hold savings against: the month before the fortnight. */
import type { Calendar } from './calendar.ts';
import { as, type Door } from './door.ts';

/** @param before its day 0 is the first of the month before */
export async function chooseBaseline(door: Door, before: Calendar): Promise<void> {
  await door.post(as('finance'), '/v1/savings-baselines', 'savings-baseline/month-before', {
    month: before.date(0).slice(0, 7),
    note: 'The month before all kitchens recorded by scan',
  });
}
