/** What finance tells of the month before: what making food costs besides what goes in, and an invoice that was dearer than the delivery note. */
import type { Calendar } from './calendar.ts';
import { as, type Door } from './door.ts';
import { ck, id } from './story.ts';

/** @param before its day 0 is the first of the month before */
export async function chooseRates(door: Door, before: Calendar): Promise<void> {
  const rate = (kind: string, fields: object) =>
    door.post(as('finance'), '/v1/cost-rates', `cost-rate/${kind}`, {
      kind,
      siteId: ck(),
      fromDate: before.date(0),
      ...fields,
    });
  await rate('labour', { perBatchMinor: 3_200, note: 'Two cooks for two hours, by the rota' });
  await rate('energy', { perKgMinor: 14, note: 'Gas and power of the last quarter, by what was cooked' });
}

/** The invoice for the last week's beef came after the delivery note, and was dearer. */
export async function correctBeef(door: Door): Promise<void> {
  await door.post(as('finance'), '/v1/prices', 'price/month-beef', {
    lotId: id('lot/month-beef-shin-3'),
    priceMinor: 12_180,
    invoiceNumber: 'BRK-INV-1043',
    reason: 'The delivery note had the price of the week before',
  });
}
