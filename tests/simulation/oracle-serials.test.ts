/** The oracle on serialised packs and on the month, judged by tables worked out by hand. */
import { describe, expect, it } from 'vitest';
import { checkConservation, replay } from '../support/oracle/oracle.ts';
import type { OracleFact, World } from '../support/oracle/oracle.ts';

const world: World = {
  sites: [
    { id: 'kitchen', receivingPlaceId: 'k-in', quarantinePlaceId: 'k-q' },
    { id: 'ward', receivingPlaceId: 'w-in', quarantinePlaceId: 'w-q' },
    { id: 'school', receivingPlaceId: 's-in', quarantinePlaceId: 's-q' },
  ],
  places: [
    { id: 'k-in', siteId: 'kitchen' },
    { id: 'k-q', siteId: 'kitchen' },
    { id: 'w-in', siteId: 'ward' },
    { id: 'w-cold', siteId: 'ward' },
    { id: 'w-q', siteId: 'ward' },
    { id: 's-in', siteId: 'school' },
    { id: 's-q', siteId: 'school' },
  ],
  lots: [{ lotId: 'P', useByMs: 500 }],
};

const packed: OracleFact = {
  kind: 'packing',
  id: 'pack',
  occurredAt: 1,
  runId: 'R',
  serialised: true,
  fills: [{ fromLotId: 'A', placeId: 'k-in', usedQuantity: 40, packLotId: 'P', packs: 4, toPlaceId: 'k-in' }],
};
const bought: OracleFact = { kind: 'receive', id: 'buy', occurredAt: 0, lotId: 'A', placeId: 'k-in', quantity: 40 };
const sent = (dispatchId: string, toSiteId: string): OracleFact => ({
  kind: 'dispatch',
  id: `send-${dispatchId}`,
  occurredAt: 2,
  dispatchId,
  toSiteId,
  lines: [{ lotId: 'P', placeId: 'k-in', quantity: 1, serials: ['1'] }],
});

const scanned = (occurredAt: number, id: string) => ({ id, occurredAt, lotId: 'P', serial: '1' });
const arrives = (t: number, placeId?: string, dispatchId = 'D', id = `a${t}`): OracleFact => ({
  kind: 'scan-arrival',
  ...scanned(t, id),
  dispatchId,
  ...(placeId === undefined ? {} : { placeId }),
});
const putAway = (t: number, placeId: string, siteId = 'ward'): OracleFact => ({
  kind: 'scan-put-away',
  ...scanned(t, `p${t}`),
  siteId,
  placeId,
});
const ends = (
  t: number,
  kind: 'scan-use' | 'scan-discard',
  placeId?: string,
  siteId = 'ward',
  id = `e${t}`,
): OracleFact => ({
  kind,
  ...scanned(t, id),
  siteId,
  ...(placeId === undefined ? {} : { placeId }),
});

interface Case {
  readonly what: string;
  readonly scans: OracleFact[];
  /** Nets of lot P beside the kitchen's -4 produced and 3 left at k-in. */
  readonly where: Record<string, number>;
  readonly findings: string[];
}

const cases: Case[] = [
  { what: 'not scanned yet', scans: [], where: { 'transit:D': 1 }, findings: [] },
  { what: 'arrives at the default place', scans: [arrives(10)], where: { 'place:w-in': 1 }, findings: [] },
  {
    what: 'two beeps of one arrival are one',
    scans: [arrives(10), arrives(11, 'w-cold')],
    where: { 'place:w-in': 1 },
    findings: [],
  },
  {
    what: 'arrival, put away, use',
    scans: [arrives(10), putAway(11, 'w-cold'), ends(12, 'scan-use')],
    where: { 'served:ward': 1 },
    findings: [],
  },
  {
    what: 'put away before its arrival, and left where the arrival says',
    scans: [putAway(9, 'w-cold'), arrives(10)],
    where: { 'place:w-cold': 1 },
    findings: [],
  },
  { what: 'put away where it is', scans: [arrives(10), putAway(11, 'w-in')], where: { 'place:w-in': 1 }, findings: [] },
  {
    what: 'used without an arrival: short at the receiving place, and still on the road',
    scans: [ends(12, 'scan-use')],
    where: { 'transit:D': 1, 'place:w-in': -1, 'served:ward': 1 },
    findings: ['shortfall|P|place:w-in'],
  },
  {
    what: 'used first, arrival stamped later: the two meet',
    scans: [ends(12, 'scan-use'), arrives(13)],
    where: { 'served:ward': 1 },
    findings: [],
  },
  {
    what: 'the place on a use counts only when nothing better is known',
    scans: [arrives(10), ends(12, 'scan-discard', 'w-cold')],
    where: { 'waste:ward': 1 },
    findings: [],
  },
  {
    what: 'the place on a use without an arrival',
    scans: [ends(12, 'scan-use', 'w-cold')],
    where: { 'transit:D': 1, 'place:w-cold': -1, 'served:ward': 1 },
    findings: ['shortfall|P|place:w-cold'],
  },
  {
    what: 'discarded, then used: the first one by time wins',
    scans: [arrives(10), ends(20, 'scan-use'), ends(12, 'scan-discard')],
    where: { 'waste:ward': 1 },
    findings: ['ended-twice|e20'],
  },
  {
    what: 'two ends at one instant: the smaller id wins',
    scans: [
      arrives(10),
      ends(12, 'scan-use', undefined, 'ward', 'y'),
      ends(12, 'scan-discard', undefined, 'ward', 'x'),
    ],
    where: { 'waste:ward': 1 },
    findings: ['ended-twice|y'],
  },
  {
    what: 'put away after its end',
    scans: [arrives(10), ends(12, 'scan-use'), putAway(13, 'w-cold')],
    where: { 'served:ward': 1 },
    findings: ['seen-after-end|p13'],
  },
  {
    what: 'an end that was undone never was',
    scans: [
      arrives(10),
      ends(12, 'scan-use'),
      putAway(13, 'w-cold'),
      { kind: 'reversal', id: 'u', occurredAt: 12, ofFactId: 'e12' },
    ],
    where: { 'place:w-cold': 1 },
    findings: [],
  },
  {
    what: 'a first arrival that was undone lets the second count',
    scans: [arrives(10), arrives(11, 'w-cold'), { kind: 'reversal', id: 'u', occurredAt: 10, ofFactId: 'a10' }],
    where: { 'place:w-cold': 1 },
    findings: [],
  },
  {
    what: 'used at another site than it arrived at',
    scans: [arrives(10), ends(12, 'scan-use', undefined, 'school')],
    where: { 'place:w-in': 1, 'place:s-in': -1, 'served:school': 1 },
    findings: ['shortfall|P|place:s-in'],
  },
  {
    what: 'used after its last moment',
    scans: [arrives(10), ends(501, 'scan-use')],
    where: { 'served:ward': 1 },
    findings: ['past-use-by|e501'],
  },
  {
    what: 'only the winning use can be too late',
    scans: [arrives(10), ends(12, 'scan-discard'), ends(501, 'scan-use')],
    where: { 'waste:ward': 1 },
    findings: ['ended-twice|e501'],
  },
];

describe('the path of one serialised pack', () => {
  it.each(cases)('$what', ({ scans, where, findings }) => {
    const facts = [bought, packed, sent('D', 'ward'), ...scans];
    for (const order of [facts, [...facts].reverse()]) {
      const state = replay(world, order);
      checkConservation(state);
      expect(Object.fromEntries(state.whereIs('P'))).toEqual({ 'produced:kitchen': -4, 'place:k-in': 3, ...where });
      expect([...state.findings].sort()).toEqual(findings);
    }
  });

  it('posts nothing for a pack put away where it is, nor for a second beep', () => {
    const facts = [bought, packed, sent('D', 'ward'), arrives(10), arrives(11), putAway(12, 'w-in')];
    const scans = replay(world, facts).postings.filter((p) => p.occurredAt >= 10);
    expect(scans.map((p) => p.factId)).toEqual(['a10']);
  });

  it('follows a pack over two dispatches', () => {
    const facts = [
      bought,
      packed,
      sent('D', 'ward'),
      arrives(10),
      arrives(20, undefined, 'E', 'b20'),
      ends(21, 'scan-use', undefined, 'school'),
    ];
    const onward: OracleFact = {
      kind: 'dispatch',
      id: 'send-E',
      occurredAt: 15,
      dispatchId: 'E',
      toSiteId: 'school',
      lines: [{ lotId: 'P', placeId: 'w-in', quantity: 1, serials: ['1'] }],
    };
    const state = replay(world, [onward, ...facts]);
    expect(Object.fromEntries(state.whereIs('P'))).toEqual({
      'produced:kitchen': -4,
      'place:k-in': 3,
      'served:school': 1,
    });
    expect(state.findings.size).toBe(0);
  });
});

describe('the month', () => {
  const zero = {
    opening: 0,
    received: 0,
    produced: 0,
    returned: 0,
    transferIn: 0,
    consumed: 0,
    served: 0,
    servedDerived: 0,
    wasted: 0,
    transferOut: 0,
    adjusted: 0,
    closing: 0,
  };
  const lot = { lotId: 'L' };
  const facts: OracleFact[] = [
    { kind: 'receive', id: 'r', occurredAt: 10, ...lot, placeId: 'k-in', quantity: 100 },
    { kind: 'use', id: 'old', occurredAt: 99, ...lot, placeId: 'k-in', quantity: 5 },
    // the month is [100, 200)
    {
      kind: 'dispatch',
      id: 'd',
      occurredAt: 100,
      dispatchId: 'D',
      toSiteId: 'ward',
      lines: [{ ...lot, placeId: 'k-in', quantity: 50 }],
    },
    { kind: 'arrival-counted', id: 'a', occurredAt: 110, dispatchId: 'D', ...lot, quantity: 48 },
    { kind: 'use', id: 'u', occurredAt: 120, ...lot, placeId: 'w-in', quantity: 20 },
    { kind: 'return-from-service', id: 'b', occurredAt: 130, ...lot, siteId: 'ward', quantity: 3 },
    { kind: 'discard', id: 'w', occurredAt: 140, ...lot, placeId: 'w-q', quantity: 3 },
    { kind: 'count', id: 'c', occurredAt: 150, placeId: 'w-in', lines: [{ ...lot, counted: 27 }] },
    { kind: 'batch-input', id: 'i', occurredAt: 160, batchId: 'X', ...lot, placeId: 'k-in', quantity: 15 },
    { kind: 'batch-output', id: 'o', occurredAt: 161, batchId: 'X', lotId: 'M', placeId: 'k-in', quantity: 12 },
    { kind: 'use', id: 'n', occurredAt: 200, ...lot, placeId: 'k-in', quantity: 7 },
  ];
  const state = replay(world, facts);

  it('adds up for the whole group, goods on the road inside', () => {
    expect(Object.fromEntries(state.monthReport(100, 200, null))).toEqual({
      L: { ...zero, opening: 95, returned: 3, consumed: 15, served: 20, wasted: 3, adjusted: -1, closing: 59 },
      M: { ...zero, produced: 12, closing: 12 },
    });
  });

  it('adds up for one site, goods on the road outside', () => {
    expect(Object.fromEntries(state.monthReport(100, 200, 'kitchen'))).toEqual({
      L: { ...zero, opening: 95, consumed: 15, transferOut: 50, closing: 30 },
      M: { ...zero, produced: 12, closing: 12 },
    });
    expect(Object.fromEntries(state.monthReport(100, 200, 'ward'))).toEqual({
      L: { ...zero, returned: 3, transferIn: 48, served: 20, wasted: 3, adjusted: -1, closing: 27 },
    });
    expect(state.monthReport(100, 200, 'school').size).toBe(0);
    expect(Object.fromEntries(state.monthReport(0, 100, null))).toEqual({
      L: { ...zero, received: 100, served: 5, closing: 95 },
    });
  });
});
