/** The oracle of months against stories small enough to work out by hand. */
import { describe, expect, test } from 'vitest';
import type { MonthFact } from '../support/oracle/month-facts.ts';
import { toldMovements } from '../support/oracle/month-postings.ts';
import { monthOf, type OracleMonth } from '../support/oracle/month.ts';
import { at, buy, close, SEPTEMBER, use, WORLD } from '../support/oracle/small-kitchen.ts';

describe('months', () => {
  const month = (facts: readonly MonthFact[], name: string, siteIds: string[] | null = null): OracleMonth =>
    monthOf(WORLD, facts, toldMovements(WORLD, facts), { month: name, scope: { siteIds } });
  const figures = (report: OracleMonth, itemId: string, kind: 'units' | 'money' = 'units'): Record<string, string> =>
    Object.fromEntries(
      Object.entries(report.items.get(itemId)?.[kind] ?? {}).flatMap(([line, value]) =>
        Number(value) === 0 ? [] : [[line, String(value)]],
      ),
    );
  // 100 kg for 100.00, 60 kg served in September, which is closed; in October the price becomes 120.00.
  const corrected: MonthFact[] = [
    buy('carrot1', 100_000, 10_000),
    use('carrot1', 60_000),
    close('2026-09'),
    {
      ...at('2026-10-02T10:00:00Z'),
      kind: 'price',
      lotId: 'carrot1',
      priceMinor: 12_000,
      perQuantity: null,
      freeOfCharge: false,
    },
  ];

  test('a price corrected after the close: opening 40.00 and 8.00 revalued, of which received 20.00 and served 12.00', () => {
    const october = month(corrected, '2026-10');
    expect(figures(october, 'carrot', 'money')).toEqual({ opening: '4000', revalued: '800', closing: '4800' });
    expect(october.late.map(({ line, quantity, money }) => [line, quantity, money.toFraction()])).toEqual([
      ['received', 100_000, '2000'],
      ['served', 60_000, '1200'],
    ]);
    expect(figures(month(corrected, '2026-09'), 'carrot', 'money')).toEqual({
      received: '10000',
      served: '6000',
      closing: '4000',
    });
  });

  test('told late: in the open month, on its line, and of September; undone late: taken off its own line', () => {
    const late = [...corrected, use('carrot1', 5000)];
    const undone: MonthFact[] = [...late, { ...at(SEPTEMBER), kind: 'reversal', ofFactId: corrected[1]?.id ?? '' }];
    expect(figures(month(late, '2026-09'), 'carrot')).toEqual({
      received: '100000',
      served: '60000',
      closing: '40000',
    });
    expect(figures(month(late, '2026-10'), 'carrot')).toEqual({ opening: '40000', served: '5000', closing: '35000' });
    expect(figures(month(undone, '2026-10'), 'carrot')).toEqual({
      opening: '40000',
      served: '-55000',
      closing: '95000',
    });
    const lateRows = month(undone, '2026-10').late.filter((one) => !one.revalued);
    expect(lateRows.map(({ month: of, line, quantity }) => [of, line, quantity])).toEqual([
      ['2026-09', 'served', -55_000],
    ]);
    // reopened, it is September's again
    const reopened: MonthFact[] = [...undone, { ...at(SEPTEMBER), kind: 'reopening', month: '2026-09' }];
    expect(figures(month(reopened, '2026-09'), 'carrot')).toEqual({
      received: '100000',
      served: '5000',
      closing: '95000',
    });
  });

  test('months are the site’s: half past midnight on 1 October in London is still September in New York', () => {
    const sent: MonthFact = {
      ...at('2026-09-20T10:00:00Z'),
      kind: 'departure',
      dispatchId: 'D',
      toSiteId: 'H',
      lines: [{ lotId: 'carrot1', placeId: 'k', quantity: 900 }],
    };
    const came: MonthFact = {
      ...at('2026-09-21T10:00:00Z'),
      kind: 'arrival',
      dispatchId: 'D',
      lines: [{ lotId: 'carrot1', placeId: 'h', quantity: 800 }],
    };
    // 23:30 UTC on 30 September is 00:30 in London (an hour ahead) and 19:30 in New York
    const midnight = '2026-09-30T23:30:00Z';
    const there: MonthFact = {
      ...at(midnight),
      kind: 'use',
      lotId: 'carrot1',
      placeId: 'h',
      quantity: 50,
      purpose: 'donation',
    };
    const facts = [buy('carrot1', 1000, 100), sent, came, use('carrot1', 10, midnight), there];
    expect(figures(month(facts, '2026-09'), 'carrot')).toEqual({ received: '1000', donated: '50', closing: '950' });
    expect(figures(month(facts, '2026-10'), 'carrot')).toEqual({ opening: '950', served: '10', closing: '940' });
    expect(figures(month(facts, '2026-09', ['H']), 'carrot')).toEqual({
      transferIn: '800',
      donated: '50',
      closing: '750',
    });
    expect(figures(month(facts, '2026-09', ['K']), 'carrot')).toEqual({
      received: '1000',
      transferOut: '900',
      closing: '100',
    });
    // both sites without the road between them
    expect(figures(month(facts, '2026-09', ['K', 'H']), 'carrot')).toEqual({
      received: '1000',
      transferIn: '800',
      transferOut: '900',
      donated: '50',
      closing: '850',
    });
  });

  test('a late use before a count that was closed takes back what the count had derived', () => {
    const moved: MonthFact = {
      ...at('2026-09-11T08:00:00Z'),
      kind: 'move',
      lotId: 'carrot1',
      placeId: 'k',
      toPlaceId: 'shelf',
      quantity: 1000,
    };
    const counted: MonthFact = {
      ...at('2026-09-12T08:00:00Z'),
      kind: 'count',
      placeId: 'shelf',
      lines: [{ lotId: 'carrot1', counted: 400 }],
    };
    const seen: MonthFact = {
      ...at('2026-09-11T12:00:00Z'),
      kind: 'use',
      lotId: 'carrot1',
      placeId: 'shelf',
      quantity: 250,
      purpose: 'service',
    };
    const facts = [buy('carrot1', 1000, 100), moved, counted, close('2026-09'), seen];
    expect(figures(month(facts, '2026-09'), 'carrot')).toEqual({
      received: '1000',
      servedDerived: '600',
      closing: '400',
    });
    expect(figures(month(facts, '2026-10'), 'carrot')).toEqual({
      opening: '400',
      served: '250',
      servedDerived: '-250',
      closing: '400',
    });
  });
});
