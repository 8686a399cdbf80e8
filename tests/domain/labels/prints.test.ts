/** Who may print what. Expected outcomes are written out here from the rule of the house: every case is one sentence of it. */
import { describe, expect, test } from 'vitest';
import {
  labelRefusal,
  printRefusal,
  supersededPrints,
  type LotToLabel,
  type PacksOfLot,
  type PrintAsked,
} from '../../../src/domain/labels/prints.ts';

const NOW = Date.parse('2026-11-25T12:00:00Z');
const lot = (more: Partial<LotToLabel & PacksOfLot> = {}): LotToLabel & PacksOfLot => ({
  lotCode: 'STEW-1',
  serialised: true,
  pieces: true,
  quantity: 30,
  holds: [],
  useByMs: NOW + 1,
  ...more,
});
const held = (kind: string) => lot({ holds: [{ holdId: 'h', kind, rootLotId: 'l' }] });
const asked = (more: Partial<PrintAsked> = {}): PrintAsked => ({
  reason: null,
  relabel: false,
  serials: ['1', '2'],
  copies: 1,
  sister: null,
  actorId: 'sam',
  ...more,
});
const printed = (...serials: string[]) => ({ serials: new Set(serials), labels: serials.length });

describe('food that may not be used gets no label that invites to use it', () => {
  test.each([
    ['quality', 'on-hold'],
    ['safety', 'on-hold'],
    ['recall', 'on-hold'],
    ['failed-check', 'on-hold'],
    ['for-rework', 'on-hold'],
    ['rejected', 'on-hold'],
    // these three wait, or need the label
    ['awaiting-release', undefined],
    ['awaiting-laboratory', undefined],
    ['declaration', undefined],
  ])('%s: %s; a quarantine label always', (kind, code) => {
    expect(labelRefusal(held(kind), false, NOW)?.code).toBe(code);
    expect(labelRefusal(held(kind), true, NOW)).toBeNull();
  });

  test('its use-by is the first moment at which it may no longer be used', () => {
    expect(labelRefusal(lot({ useByMs: NOW + 1 }), false, NOW)).toBeNull();
    expect(labelRefusal(lot({ useByMs: NOW }), false, NOW)?.code).toBe('past-use-by');
    expect(labelRefusal(lot({ useByMs: NOW }), true, NOW)).toBeNull();
    expect(labelRefusal(lot({ useByMs: null }), false, NOW)?.code).toBe('rule-broken');
  });
});

describe('a label is printed again only for a reason', () => {
  test('serials', () => {
    expect(printRefusal(lot(), asked(), printed())).toBeNull();
    expect(printRefusal(lot(), asked(), printed('3'))).toBeNull();
    const refused = printRefusal(lot(), asked(), printed('2', '7'));
    expect([refused?.code, refused?.more.members]).toEqual(['label-reason-missing', { printedBefore: ['2'] }]);
    expect(printRefusal(lot(), asked({ reason: 'first' }), printed('2'))?.code).toBe('label-reason-missing');
    expect(printRefusal(lot(), asked({ reason: 'lost' }), printed('2'))).toBeNull();
    expect(printRefusal(lot(), asked({ relabel: true }), printed('2'))).toBeNull();
    expect(printRefusal(lot(), asked({ copies: 2 }), printed())?.code).toBe('label-reason-missing');
    expect(printRefusal(lot(), asked({ copies: 2, reason: 'second-label' }), printed())).toBeNull();
  });

  test('a counted lot has as many first labels as packs', () => {
    const counted = lot({ serialised: false, quantity: 10 });
    const some = (copies: number, labels: number) =>
      printRefusal(counted, asked({ serials: [null], copies }), { serials: new Set(), labels })?.code;
    expect([some(10, 0), some(11, 0), some(4, 6), some(5, 6)]).toEqual([
      undefined,
      'label-reason-missing',
      undefined,
      'label-reason-missing',
    ]);
  });
});

test('loose food: one print for all of its containers', () => {
  const loose = lot({ serialised: false, pieces: false, quantity: 34_000 });
  const some = (labels: number) =>
    printRefusal(loose, asked({ serials: [null], copies: 6 }), { serials: new Set(), labels })?.code;
  expect([some(0), some(6)]).toEqual([undefined, 'label-reason-missing']);
});

test('a label copied from a sister pack has two people who looked', () => {
  const code = (sister: PrintAsked['sister'], more: Partial<PrintAsked> = {}, of = lot()) =>
    printRefusal(of, asked({ reason: 'damaged', sister, ...more }), printed('1', '2'))?.code;
  expect(code({ serial: '9', secondPersonId: 'nora' })).toBeUndefined();
  expect(code({ serial: '9', secondPersonId: null })).toBe('second-person-needed');
  expect(code({ serial: '9', secondPersonId: 'sam' })).toBe('second-person-needed');
  // the pack itself is not its sister, a serial beyond the lot is none, a counted lot has none
  expect(code({ serial: '2', secondPersonId: 'nora' })).toBe('serials-do-not-fit');
  expect(code({ serial: '31', secondPersonId: 'nora' })).toBe('serials-do-not-fit');
  expect(code({ serial: '9', secondPersonId: 'nora' }, { serials: [null] }, lot({ serialised: false }))).toBe(
    'serials-do-not-fit',
  );
  expect(code({ serial: '9', secondPersonId: 'nora' }, { reason: 'second-label' })).toBe('rule-broken');
});

test('the last print rules: what says a later date is superseded', () => {
  const prints = (...ends: (number | null)[]) => ends.map((useByMs, at) => ({ printId: `p${at}`, useByMs }));
  const of = (...ends: (number | null)[]) => Object.fromEntries(supersededPrints(prints(...ends)));
  expect(of()).toEqual({});
  expect(of(5, 5)).toEqual({});
  expect(of(5, 3)).toEqual({ p0: 'p1' });
  expect(of(5, 3, 4)).toEqual({ p0: 'p2' });
  expect(of(5, null)).toEqual({ p0: 'p1' });
  // released again, with the date that it had
  expect(of(5, null, 5)).toEqual({});
});
