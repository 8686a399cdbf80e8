import { describe, expect, test } from 'vitest';
import { anchorsOfOutput, anchorsOfPacks, bornHandling, bornLot, bornUseBy } from '../../src/domain/birth.ts';
import { Refused } from '../../src/domain/errors.ts';
import { makePackCode } from '../../src/domain/lot-codes.ts';

const NOON = Date.UTC(2026, 10, 25, 12);
const END_OF_27TH = Date.UTC(2026, 10, 28);
const raw = { handling: 'raw', anchors: {} } as const;
const ready = { handling: 'ready-to-eat', anchors: {} } as const;
const threeDays = { lifeDays: 3, anchor: 'production', dayOne: 'anchor-day-is-day-one' } as const;

test('food is raw with anything raw in it and no kill step since, whatever the item says', () => {
  expect(bornHandling(ready, [ready, raw], false)).toBe('raw');
  expect(bornHandling(ready, [ready, raw], true)).toBe('ready-to-eat');
  expect(bornHandling(ready, [ready], false)).toBe('ready-to-eat');
  // what its item calls raw stays so: a kill step is not a promise that it may be eaten as it is
  expect(bornHandling(raw, [ready], true)).toBe('raw');
});

test('the earliest thaw start survives until a kill step', () => {
  const parents = [{ anchors: { thawStart: 7 } }, { anchors: { thawStart: 5, production: 1 } }, { anchors: {} }];
  expect(anchorsOfOutput({ production: 9 }, parents, false)).toEqual({ production: 9, thawStart: 5 });
  expect(anchorsOfOutput({ production: 9 }, parents, true)).toEqual({ production: 9 });
  expect(anchorsOfOutput({ production: 9 }, [], false)).toEqual({ production: 9 });
});

test('packs keep the anchors of their food, and the first seal is the first', () => {
  expect(anchorsOfPacks({ anchors: { production: 1, thawStart: 2 } }, 9)).toEqual({
    production: 1,
    thawStart: 2,
    firstSeal: 9,
  });
  expect(anchorsOfPacks({ anchors: { firstSeal: 4 } }, 9)).toEqual({ firstSeal: 4 });
});

test('frozen food put into a batch without a kill step has the days that were left, from when it was taken', () => {
  const frozen = { code: 'F', useByAtMs: Date.UTC(2027, 4, 1), allergens: [], mayContain: [], takenAtMs: NOON };
  const ask = (anchors: Record<string, number>, killStepBetween = false, own = {}) =>
    bornUseBy({
      life: { ...threeDays, lifeDays: 9 },
      anchors: { production: NOON + 86_400_000, ...own },
      parents: [{ ...frozen, anchors }],
      killStepBetween,
      zone: 'Europe/London',
      pointer: '#',
    }).useBy?.endsAtMs;
  // taken on the 25th with two days left: the end of the 27th
  expect(ask({ frozenAt: 1, frozenDaysLeft: 2 })).toBe(END_OF_27TH);
  expect(ask({ frozenAt: 1, frozenMsLeft: 3_600_000 })).toBe(NOON + 3_600_000);
  // its own nine days from the 26th, that day the first: the end of 4 December
  const ownEnd = Date.UTC(2026, 11, 5);
  expect(ask({ frozenAt: 1, frozenDaysLeft: 2 }, true)).toBe(ownEnd);
  expect(ask({ frozenAt: 1 })).toBe(ownEnd);
  expect(ask({ frozenAt: 1, frozenDaysLeft: 2 }, false, { frozenAt: 2 })).toBe(ownEnd);
});

describe('what was done already', () => {
  const question = {
    life: threeDays,
    anchors: { production: NOON },
    parents: [],
    killStepBetween: false,
    zone: 'Europe/London',
    pointer: '#',
  };

  test('takes the computed date when the label says a later one; a request is refused', () => {
    const later = { ...question, wantedDate: '2026-12-24' };
    expect(() => bornUseBy(later)).toThrow(Refused);
    expect(bornUseBy({ ...later, doneAlready: true })).toMatchObject({
      useBy: { endsAtMs: END_OF_27TH, date: '2026-11-27' },
      faults: ['label-later-than-computed'],
      basis: { labelSays: '2026-12-24' },
    });
    expect(bornUseBy({ ...question, wantedDate: '2026-11-26', doneAlready: true })).toMatchObject({
      useBy: { date: '2026-11-26' },
      faults: [],
    });
  });

  test('without what its life counts from has at most the life of what went in', () => {
    const unknown = { ...question, anchors: {} };
    expect(() => bornUseBy(unknown)).toThrow(Refused);
    expect(bornUseBy({ ...unknown, doneAlready: true })).toMatchObject({ useBy: null, faults: ['life-unknown'] });
    const parents = [{ code: 'A', useByAtMs: END_OF_27TH, allergens: [], mayContain: [] }];
    expect(bornUseBy({ ...unknown, parents, doneAlready: true })).toMatchObject({
      useBy: { endsAtMs: END_OF_27TH },
      faults: ['life-unknown'],
    });
  });
});

test('a lot is born whole', () => {
  const item = {
    itemId: 'item',
    unit: 'piece',
    unitMassMg: 300_000,
    handling: 'ready-to-eat' as const,
    storageInstruction: 'Keep at 3 °C or below',
    life: threeDays,
    allergens: ['celery'],
    mayContain: ['milk', 'eggs'],
  };
  const from = { code: 'A', useByAtMs: null, allergens: ['eggs'], mayContain: ['mustard'], ...raw };
  const { lot, faults } = bornLot({
    lotId: '00000000-0000-4000-8000-000000000001',
    item,
    origin: 'packed',
    quantity: 10,
    serialised: true,
    site: { siteId: 'site', siteCode: 'CK', timeZone: 'Europe/London' },
    bornAtMs: NOON,
    anchors: { production: NOON },
    parents: [from],
    killStepBetween: false,
    pointer: '#',
  });
  expect(faults).toEqual([]);
  expect(lot).toMatchObject({
    code: expect.stringMatching(/^CK-261125-[0-9A-Z]{5}$/),
    massMg: 3_000_000,
    handling: 'raw',
    useBy: { endsAtMs: END_OF_27TH, date: '2026-11-27' },
    allergens: ['eggs', 'celery'],
    mayContain: ['milk', 'mustard'],
  });
});

test('codes of packs weighed singly differ, and fit AI (10) with the longest site code', () => {
  const codes = Array.from({ length: 500 }, (_, at) =>
    makePackCode('KITCHEN-NORTH', '2026-11-25', '00000000-0000-4000-8000-000000000001', at),
  );
  expect(new Set(codes).size).toBe(500);
  for (const code of codes) expect(code).toMatch(/^KITCH-261125-[0-9A-Z]{7}$/);
});
