/**
 * The reconciliation of a case, against figures worked by hand, and against what must hold whatever the ledger and the answers say.
 * The levels of effectiveness checks are those of 21 CFR 7.42(b)(3).
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { accountOf, type AccountLot, type AccountPart, type AccountSaid } from '../../src/domain/recall/account.ts';
import { neededSites, requireLevel } from '../../src/domain/recall/checks.ts';

const part = (lotId: string, siteId: string, more: Partial<AccountPart>): AccountPart => ({
  lotId,
  siteId,
  onHand: 0,
  inQuarantine: 0,
  inTransit: 0,
  served: 0,
  wasted: 0,
  returned: 0,
  consumed: 0,
  inProcess: 0,
  unexplained: 0,
  ...more,
});
const said = (lotId: string, siteId: string, more: Partial<AccountSaid>): AccountSaid => ({
  lotId,
  siteId,
  found: 0,
  quarantined: 0,
  destroyed: 0,
  destroyedPosted: 0,
  returned: 0,
  leftSince: 0,
  alreadyServed: 0,
  alreadyServedPosted: 0,
  notFound: 0,
  ...more,
});

/** 34 kg of stew: 30 kg went into 100 packs of 300 g, 4 kg were thrown away. 100 packs: 40 served, 20 on the road, 30 there, 10 missing. */
const lots: AccountLot[] = [
  { lotId: 'stew', unit: 'g', quantity: 34_000, massMg: 34_000_000 },
  { lotId: 'packs', unit: 'piece', quantity: 100, massMg: 30_000_000 },
];
const parts = [
  part('stew', 'kitchen', { consumed: 30_000, wasted: 4_000 }),
  part('packs', 'kitchen', { onHand: 5 }),
  part('packs', 'ward', { onHand: 25, served: 40, inTransit: 20, unexplained: 10 }),
];

describe('the stew', () => {
  test('is counted once: what went into packs is counted as packs', () => {
    const { figures, byUnit, lines } = accountOf(lots, parts, [], false);
    // 4 kg of stew and 100 x 300 g; explained: 4 kg wasted and 40 x 300 g served = 16 of 34 kg = 47.05...%
    expect(figures).toMatchObject({ toAccountForG: '34000.000', answeredG: '16000.000', openG: '18000.000' });
    expect(figures.answeredShare).toEqual({ numerator: '8', denominator: '17', percent: 47 });
    expect(byUnit).toMatchObject([
      { unit: 'g', produced: 34_000, consumedInScope: 30_000, wasted: 4_000, toAccountFor: 4_000, open: 0 },
      { unit: 'piece', produced: 100, onHand: 30, inTransit: 20, served: 40, unexplained: 10, open: 60 },
    ]);
    expect(lines.map((line) => [line.siteId, line.toType, line.open])).toEqual([
      ['kitchen', 5, 5],
      ['ward', 55, 55],
    ]);
  });

  test('not found is an answer, and no account', () => {
    const answers = [
      said('packs', 'kitchen', { found: 5 }),
      said('packs', 'ward', { found: 25, returned: 20, notFound: 10 }),
    ];
    const { figures, lines } = accountOf(lots, parts, answers, false);
    expect(lines.every((line) => line.open === 0)).toBe(true);
    expect(figures.answeredShare).toEqual({ numerator: '1', denominator: '1', percent: 100 });
    // 10 packs of 300 g are missing: 31 of 34 kg = 91.17...%
    expect(figures.accountedShare).toEqual({ numerator: '31', denominator: '34', percent: 91.1 });
    expect(figures).toMatchObject({ notFoundG: '3000.000', accountedG: '31000.000', openG: '0.000' });
  });

  test('100 % is said only when it is all: one gram of a tonne is open', () => {
    const tonne = [{ lotId: 'a', unit: 'g', quantity: 1_000_000, massMg: 1_000_000_000 }];
    const { figures } = accountOf(tonne, [part('a', 's', { served: 999_999, onHand: 1 })], [], false);
    expect(figures.answeredShare.percent).toBe(99.9);
    expect(figures.openG).toBe('1.000');
  });

  test('a pot that gave nothing is open until its kitchen says what became of it', () => {
    const pot = [part('stew', 'kitchen', { consumed: 34_000, inProcess: 10_000 })];
    const [stew = lots[0] as AccountLot] = lots;
    const before = accountOf([stew], pot, [], false);
    expect(before.byUnit).toMatchObject([
      { produced: 34_000, consumedInScope: 24_000, toAccountFor: 10_000, open: 10_000 },
    ]);
    expect(accountOf([stew], pot, [said('stew', 'kitchen', { destroyed: 10_000 })], false).lines[0]?.open).toBe(0);
  });

  test('what the answer recorded in the ledger is explained there, not twice', () => {
    // 25 there; 10 destroyed and so in the waste account, 15 set aside: all answered, by 15 that are still there
    const after = [part('packs', 'ward', { onHand: 15, inQuarantine: 15, wasted: 10, served: 75 })];
    const answer = said('packs', 'ward', { destroyed: 10, destroyedPosted: 10, quarantined: 15 });
    const packs = lots.slice(1);
    expect(accountOf(packs, after, [answer], false).lines[0]).toMatchObject({ toType: 15, open: 0 });
    // 12 of the 15 are thrown away from quarantine: 3 are left there, and nothing else is covered by what has gone
    const gone = [part('packs', 'ward', { onHand: 8, inQuarantine: 3, wasted: 22, served: 70 })];
    expect(accountOf(packs, gone, [answer], false).lines[0]).toMatchObject({ toType: 8, open: 5 });
  });

  test('what was said to go back covers nothing else once it has left', () => {
    const rest = [part('packs', 'ward', { onHand: 4, served: 90 }), part('packs', 'kitchen', { onHand: 6 })];
    const answer = said('packs', 'ward', { returned: 6, leftSince: 6 });
    const { lines } = accountOf(lots.slice(1), rest, [answer], false);
    expect(lines.map((line) => line.open)).toEqual([4, 6]);
  });

  test('found over at one site does not make up for another lot that is missing', () => {
    const two = [
      { lotId: 'a', unit: 'piece', quantity: 10, massMg: 1_000 },
      { lotId: 'b', unit: 'piece', quantity: 10, massMg: 1_000 },
    ];
    const over = [part('a', 's', { onHand: 12, unexplained: -2 }), part('b', 's', { onHand: 8, unexplained: 2 })];
    const answers = [said('a', 's', { found: 12 }), said('b', 's', { found: 8, notFound: 2 })];
    const { figures } = accountOf(two, over, answers, false);
    // 20 to account for, 2 of them not found: 18 of 20
    expect(figures.answeredShare.percent).toBe(100);
    expect(figures.accountedShare).toEqual({ numerator: '9', denominator: '10', percent: 90 });
  });
});

test('levels of effectiveness checks', () => {
  // 21 CFR 7.42(b)(3): A all, B more than 10 and fewer than 100 in 100, C 10, D 2, E none; whole sites, rounded up
  const of = (level: string, sites: number, percent: number | null = null) => neededSites(level, percent, sites);
  expect([of('A', 7), of('B', 7, 50), of('C', 7), of('D', 7), of('E', 7)]).toEqual([7, 4, 1, 1, 0]);
  expect([of('C', 30), of('C', 31), of('D', 100), of('D', 101), of('A', 0)]).toEqual([3, 4, 2, 3, 0]);
  expect(() => requireLevel('B', undefined)).toThrow(/rule-broken/);
  expect(() => requireLevel('C', 20)).toThrow(/rule-broken/);
  expect(() => requireLevel('B', 20)).not.toThrow();
});

test('whatever the ledger and the answers say: sums are exact, and 0 <= accounted <= answered <= 1', () => {
  const amount = fc.integer({ min: 0, max: 50 });
  const signed = fc.integer({ min: -20, max: 50 });
  const UNITS = ['g', 'ml', 'piece'];
  const lot = fc.record({
    unit: fc.constantFrom(...UNITS),
    quantity: fc.integer({ min: 1, max: 99 }),
    massMg: fc.integer({ min: 1, max: 9_999 }),
  });
  const anyPart = fc.record({
    lot: fc.nat(4),
    site: fc.nat(2),
    ...{ onHand: signed, inTransit: signed, served: signed, wasted: amount, returned: amount, unexplained: signed },
    ...{ consumed: amount, inProcess: amount, inQuarantine: amount },
  });
  const anySaid = fc.record({
    lot: fc.nat(4),
    site: fc.nat(2),
    ...{ found: amount, quarantined: amount, destroyed: amount, returned: amount, leftSince: amount },
    ...{ alreadyServed: amount, notFound: amount },
  });
  const once = <T extends { lot: number; site: number }>(rows: T[]): T[] => [
    ...new Map(rows.map((row) => [`${row.lot}|${row.site}`, row])).values(),
  ];
  fc.assert(
    fc.property(
      fc.array(lot, { minLength: 5, maxLength: 5 }),
      fc.array(anyPart, { maxLength: 15 }),
      fc.array(anySaid, { maxLength: 15 }),
      fc.boolean(),
      (rows, ledger, answers, drill) => {
        const all = rows.map((row, at) => ({ lotId: `${at}`, ...row }));
        const stands = once(ledger).map((row) => ({
          ...part(`${row.lot}`, `${row.site}`, row),
          inProcess: Math.min(row.inProcess, row.consumed),
        }));
        const typed = once(answers).map((row) => said(`${row.lot}`, `${row.site}`, row));
        const { figures, byUnit, lines } = accountOf(all, stands, typed, drill);
        for (const sums of byUnit) {
          const rest =
            sums.onHand + sums.inTransit + sums.served + sums.wasted + sums.returnedToSupplier + sums.unexplained;
          expect(sums.consumedInScope + sums.inProcess + rest).toBe(sums.produced);
          const own = lines.filter((line) => line.unit === sums.unit);
          expect(own.reduce((sum, line) => sum + line.open, 0)).toBe(sums.open);
        }
        for (const line of lines) expect(line.open >= 0 && line.open <= line.toType).toBe(true);
        const [a, b] = [figures.accountedShare, figures.answeredShare];
        expect(BigInt(a.numerator) >= 0n && BigInt(b.numerator) <= BigInt(b.denominator)).toBe(true);
        expect(BigInt(a.numerator) * BigInt(b.denominator) <= BigInt(b.numerator) * BigInt(a.denominator)).toBe(true);
        expect(b.percent === 100).toBe(b.numerator === b.denominator);
        // worked apart: a lot that there is something of to account for, and that is open, is not all answered
        const weighs = (lotId: string) =>
          stands
            .filter((one) => one.lotId === lotId)
            .reduce(
              (sum, one) =>
                sum +
                one.onHand +
                one.inTransit +
                one.served +
                one.wasted +
                one.returned +
                one.inProcess +
                one.unexplained,
              0,
            );
        if (lines.some((line) => line.open > 0 && weighs(line.lotId) > 0)) expect(b.percent).toBeLessThan(100);
      },
    ),
  );
});
