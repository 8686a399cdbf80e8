/** The path of one pack, by tables worked out by hand: scans at a ward (receiving place w-in) and at a school (s-in). */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { pathOf, sameFate, type Fate, type SerialScan, type Stop } from '../../src/domain/ledger/serials.ts';

const AT_WARD = { siteId: 'ward', receivingPlaceId: 'w-in' };
const AT_SCHOOL = { siteId: 'school', receivingPlaceId: 's-in' };

function scan(
  kind: SerialScan['kind'],
  scanId: string,
  occurredAtMs: number,
  more: Partial<SerialScan> = {},
): SerialScan {
  const site = more.siteId === 'school' ? AT_SCHOOL : AT_WARD;
  const dispatchId = kind === 'arrival' ? 'd1' : null;
  return { scanId, kind, occurredAtMs, dispatchId, placeId: site.receivingPlaceId, ...site, ...more };
}

const place = (placeId: string): Stop => ({ at: 'place', placeId });
const transit = (dispatchId: string): Stop => ({ at: 'transit', dispatchId });
const posts = (scanId: string, from: Stop, to: Stop): Fate => ({ scanId, outcome: 'posts', from, to });
const served: Stop = { at: 'served' };
const waste: Stop = { at: 'waste' };
const consumed: Stop = { at: 'consumed' };
const ENDS: ReadonlySet<Stop['at']> = new Set(['served', 'waste', 'consumed']);

describe('pathOf', () => {
  test.each<[string, SerialScan[], Fate[]]>([
    ['nothing', [], []],
    ['an arrival goes to the place it names', [scan('arrival', 'a', 1)], [posts('a', transit('d1'), place('w-in'))]],
    [
      'arrival, put away, used: each leg starts where the last one ended',
      [scan('arrival', 'a', 1), scan('put-away', 'p', 2, { placeId: 'w-cold' }), scan('use', 'u', 3)],
      [
        posts('a', transit('d1'), place('w-in')),
        posts('p', place('w-in'), place('w-cold')),
        posts('u', place('w-cold'), served),
      ],
    ],
    [
      'told backwards it is the same',
      [scan('use', 'u', 3), scan('put-away', 'p', 2, { placeId: 'w-cold' }), scan('arrival', 'a', 1)],
      [
        posts('a', transit('d1'), place('w-in')),
        posts('p', place('w-in'), place('w-cold')),
        posts('u', place('w-cold'), served),
      ],
    ],
    [
      'a second arrival on the same dispatch says nothing new, one on another does',
      [scan('arrival', 'a', 1), scan('arrival', 'b', 2), scan('arrival', 'c', 3, { dispatchId: 'd2' })],
      [
        posts('a', transit('d1'), place('w-in')),
        { scanId: 'b', outcome: 'already-recorded' },
        posts('c', transit('d2'), place('w-in')),
      ],
    ],
    [
      'put away where it is already: nothing',
      [scan('arrival', 'a', 1, { placeId: 'w-cold' }), scan('put-away', 'p', 2, { placeId: 'w-cold' })],
      [posts('a', transit('d1'), place('w-cold')), { scanId: 'p', outcome: 'nothing' }],
    ],
    [
      'never seen before, a put-away starts at the receiving place',
      [scan('put-away', 'p', 1, { placeId: 'w-cold' })],
      [posts('p', place('w-in'), place('w-cold'))],
    ],
    [
      'never seen before, a use starts at the place it names',
      [scan('use', 'u', 1, { placeId: 'w-cold' })],
      [posts('u', place('w-cold'), served)],
    ],
    [
      'where it is known to be wins over the place that a use names',
      [scan('put-away', 'p', 1, { placeId: 'w-cold' }), scan('use', 'u', 2, { placeId: 'w-in' })],
      [posts('p', place('w-in'), place('w-cold')), posts('u', place('w-cold'), served)],
    ],
    [
      'what is known at one site is not used at another',
      [scan('put-away', 'p', 1, { placeId: 'w-cold' }), scan('use', 'u', 2, { siteId: 'school', placeId: 's-in' })],
      [posts('p', place('w-in'), place('w-cold')), posts('u', place('s-in'), served)],
    ],
    [
      'the earliest end wins; later ends and put-aways are findings',
      [
        scan('use', 'u', 5),
        scan('discard', 'x', 4),
        scan('put-away', 'p', 6, { placeId: 'w-cold' }),
        scan('put-away', 'q', 3, { placeId: 'w-cold' }),
      ],
      [
        posts('q', place('w-in'), place('w-cold')),
        posts('x', place('w-cold'), waste),
        { scanId: 'u', outcome: 'finding', finding: 'ended-twice' },
        { scanId: 'p', outcome: 'finding', finding: 'seen-after-end' },
      ],
    ],
    [
      'two ends of one moment go by their ids',
      [scan('discard', 'b', 1), scan('use', 'a', 1)],
      [posts('a', place('w-in'), served), { scanId: 'b', outcome: 'finding', finding: 'ended-twice' }],
    ],
    [
      'opened where it is known to be; whatever is said of it later is a finding',
      [
        scan('put-away', 'p', 1, { placeId: 'w-cold' }),
        scan('conversion', 'c', 2),
        scan('use', 'u', 3),
        scan('put-away', 'q', 4),
      ],
      [
        posts('p', place('w-in'), place('w-cold')),
        posts('c', place('w-cold'), consumed),
        { scanId: 'u', outcome: 'finding', finding: 'ended-twice' },
        { scanId: 'q', outcome: 'finding', finding: 'seen-after-end' },
      ],
    ],
    [
      'opened after its end: a finding that says where it was',
      [
        scan('put-away', 'p', 1, { placeId: 'w-cold' }),
        scan('use', 'u', 2),
        scan('conversion', 'c', 3),
        scan('conversion', 'd', 4, { siteId: 'school', placeId: 's-cold' }),
      ],
      [
        posts('p', place('w-in'), place('w-cold')),
        posts('u', place('w-cold'), served),
        { scanId: 'c', outcome: 'finding', finding: 'ended-twice', placeId: 'w-cold' },
        { scanId: 'd', outcome: 'finding', finding: 'ended-twice', placeId: 's-cold' },
      ],
    ],
    [
      'an arrival after the end still leaves the dispatch, and the pack stays ended',
      [scan('use', 'u', 1), scan('arrival', 'a', 2), scan('use', 'v', 3)],
      [
        posts('u', place('w-in'), served),
        posts('a', transit('d1'), place('w-in')),
        { scanId: 'v', outcome: 'finding', finding: 'ended-twice' },
      ],
    ],
  ])('%s', (_name, scans, fates) => {
    expect(pathOf(scans)).toEqual(fates);
  });

  const someScan = fc
    .record({
      kind: fc.constantFrom<SerialScan['kind'][]>('arrival', 'put-away', 'use', 'discard', 'conversion'),
      occurredAtMs: fc.nat(6),
      atSchool: fc.boolean(),
      cold: fc.boolean(),
      dispatch: fc.constantFrom('d1', 'd2'),
    })
    .map(({ kind, occurredAtMs, atSchool, cold, dispatch }) => {
      const site = atSchool ? AT_SCHOOL : AT_WARD;
      const placeId = cold ? `${site.siteId}-cold` : site.receivingPlaceId;
      const dispatchId = kind === 'arrival' ? dispatch : null;
      return { kind, occurredAtMs, dispatchId, placeId, ...site };
    });
  const someScans = fc
    .array(someScan, { maxLength: 9 })
    .map((scans) => scans.map((one, at): SerialScan => ({ ...one, scanId: `s${at}` })));
  const shuffled = someScans.chain((scans) =>
    fc.tuple(fc.constant(scans), fc.shuffledSubarray(scans, { minLength: scans.length, maxLength: scans.length })),
  );

  test('does not depend on the order in which the scans are given', () => {
    fc.assert(
      fc.property(shuffled, ([scans, others]) => {
        expect(pathOf(others)).toEqual(pathOf(scans));
      }),
    );
  });

  test('ends a pack at most once, and lets it arrive at most once by each dispatch', () => {
    fc.assert(
      fc.property(someScans, (scans) => {
        const legs = pathOf(scans).flatMap((fate) => (fate.outcome === 'posts' ? [fate] : []));
        expect(legs.filter(({ to }) => ENDS.has(to.at)).length).toBeLessThanOrEqual(1);
        const arrivals = legs.flatMap(({ from }) => (from.at === 'transit' ? [from.dispatchId] : []));
        expect(new Set(arrivals).size).toBe(arrivals.length);
        expect(pathOf(scans)).toHaveLength(scans.length);
      }),
    );
  });
});

test('two fates are the same when they say the same of the same scan', () => {
  const fate = posts('u', place('w-in'), served);
  expect(sameFate({ ...fate }, fate)).toBe(true);
  expect(sameFate(posts('u', place('w-cold'), served), fate)).toBe(false);
  expect(sameFate(posts('v', place('w-in'), served), fate)).toBe(false);
  expect(sameFate(undefined, fate)).toBe(false);
});
