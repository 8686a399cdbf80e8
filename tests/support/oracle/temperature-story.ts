/**
 * Random small worlds of food on its way: two sites, three chillers, a van, one lot of packs, two days of readings at fifteen minutes with warm
 * stretches, gaps and conflicts. All on whole minutes, no two facts in the same one, and nothing leaves a place before it came.
 */
import fc from 'fast-check';
import type { Facts, Located, Moved, Reading } from './exposure.ts';

/** Packed, in minutes from 1970: 23 November 2026, 06:00 UTC. */
export const BORN = Date.UTC(2026, 10, 23, 6) / 60_000;
export const SPAN = 2 * 24 * 60;
export const PACKS = 60;
/** shared/policies/place-defaults.json: 8 °C; an hour, and 20 minutes on the road; half an hour, and 15 minutes on the road */
const CHILLER = { upper: 800, gapMin: 60, delayMin: 30 };
const VAN = { upper: 800, gapMin: 20, delayMin: 15 };

/** the accounts of the lot; `road` is the dispatch on the van V */
export const ACCOUNTS = ['CK', 'A', 'B', 'road'] as const;
export const SENSORS = ['ck', 'a', 'b', 'v', 'roams'] as const;
const FIRST = { ck: 'CK', a: 'A', b: 'B', v: 'V', roams: 'A' } as const;

const WATCHED = {
  subjects: { CK: 'CK', A: 'A', B: 'B', road: 'V' },
  watch: { CK: CHILLER, A: CHILLER, B: CHILLER, V: VAN },
};

const quarter = fc.nat(SPAN / 15 - 1);
const course = fc.record({
  offset: fc.nat(14),
  base: fc.integer({ min: 180, max: 480 }),
  wave: fc.array(fc.integer({ min: -60, max: 60 }), { minLength: 7, maxLength: 7 }),
  warm: fc.array(
    fc.record({
      from: quarter,
      quarters: fc.integer({ min: 1, max: 20 }),
      centiC: fc.constantFrom(560, 790, 801, 905, 1001, 1130),
    }),
    { maxLength: 2 },
  ),
  silent: fc.array(fc.record({ from: quarter, quarters: fc.integer({ min: 2, max: 16 }) }), { maxLength: 2 }),
  twice: fc.array(fc.record({ at: quarter, more: fc.integer({ min: 1, max: 500 }) }), { maxLength: 2 }),
});
type Course = typeof course extends fc.Arbitrary<infer T> ? T : never;

function readingsOf(sensor: string, { offset, base, wave, warm, silent, twice }: Course): Reading[] {
  const readings: Reading[] = [];
  const during = (one: { from: number; quarters: number }, at: number) =>
    at >= one.from && at < one.from + one.quarters;
  for (let at = 0; at < SPAN / 15; at += 1) {
    if (silent.some((one) => during(one, at))) continue;
    const minute = BORN + offset + at * 15;
    const centiC = warm.find((one) => during(one, at))?.centiC ?? base + (wave[at % wave.length] ?? 0);
    readings.push({ sensor, minute, centiC });
    for (const one of twice) if (one.at === at) readings.push({ sensor, minute, centiC: centiC + one.more });
  }
  return readings;
}

const drawnMoves = fc.record({
  leaves: fc.integer({ min: 60, max: 900 }),
  first: fc.integer({ min: 45, max: 240 }),
  second: fc.integer({ min: 30, max: 300 }),
  all: fc.boolean(),
  later: fc.array(
    fc.record({
      minute: fc.integer({ min: 10, max: 200 }),
      kind: fc.constantFrom('A to B', 'B to A', 'A to B', 'use at A', 'use at B'),
      quantity: fc.integer({ min: 1, max: 20 }),
    }),
    { minLength: 2, maxLength: 5 },
  ),
});
type DrawnMoves = typeof drawnMoves extends fc.Arbitrary<infer T> ? T : never;

function movesOf({ leaves, first, second, all, later }: DrawnMoves): Moved[] {
  const there: Record<string, number> = { A: 20, B: 0 };
  const moves: Moved[] = [
    { minute: BORN, from: null, to: 'CK', quantity: PACKS },
    { minute: BORN + leaves, from: 'CK', to: 'road', quantity: 40 },
    { minute: BORN + leaves + first, from: 'road', to: 'A', quantity: 20 },
  ];
  let minute = BORN + leaves + first;
  const secondAt = minute + second;
  let came = false;
  for (const one of later) {
    minute += one.minute;
    if (!came && minute >= secondAt) {
      came = true;
      there['B'] = (there['B'] ?? 0) + (all ? 20 : 15);
      moves.push({ minute: secondAt, from: 'road', to: 'B', quantity: all ? 20 : 15 });
      if (minute === secondAt) minute += 1;
    }
    const from = one.kind.startsWith('A') || one.kind === 'use at A' ? 'A' : 'B';
    const to = one.kind.startsWith('use') ? null : from === 'A' ? 'B' : 'A';
    const quantity = Math.min(one.quantity, there[from] ?? 0);
    if (quantity === 0) continue;
    there[from] = (there[from] ?? 0) - quantity;
    if (to !== null) there[to] = (there[to] ?? 0) + quantity;
    moves.push({ minute, from, to, quantity });
  }
  return moves;
}

/** Numbers that a story is made of; small enough to print when it fails. */
export const drawnStories = fc.record({
  courses: fc.tuple(course, course, course, course, course),
  moves: drawnMoves,
  roamsAt: fc.integer({ min: 200, max: SPAN - 200 }),
  /** numbers to shuffle by, one list for each further order of arrival */
  ranks: fc.array(fc.array(fc.nat(999), { minLength: 30, maxLength: 30 }), { minLength: 2, maxLength: 2 }),
});
type DrawnStory = typeof drawnStories extends fc.Arbitrary<infer T> ? T : never;

export function factsOf({ courses, moves, roamsAt }: DrawnStory): Facts {
  const located: Located[] = SENSORS.map((sensor) => ({ sensor, from: BORN - 60, subject: FIRST[sensor] }));
  located.push({ sensor: 'roams', from: BORN + roamsAt, subject: 'B' });
  return {
    ...WATCHED,
    readings: courses.flatMap((one, at) => readingsOf(SENSORS[at] ?? '', one)),
    located,
    moved: movesOf(moves),
    now: BORN + SPAN,
  };
}

/** Three chillers at 3 °C read each hour for nine days, and what a van's logger said; forty packs go by it, from the kitchen to A, and ten on to B. */
export function weekOf(van: readonly Reading[]): Facts {
  const hours = Array.from({ length: 9 * 24 + 2 }, (_, hour) => BORN - 60 + hour * 60);
  const still = (['ck', 'a', 'b'] as const).flatMap((sensor) =>
    hours.map((minute) => ({ sensor, minute, centiC: 300 })),
  );
  return {
    ...WATCHED,
    readings: [...still, ...van],
    located: SENSORS.slice(0, 4).map((sensor) => ({ sensor, from: BORN - 60, subject: FIRST[sensor] })),
    moved: [
      { minute: BORN, from: null, to: 'CK', quantity: PACKS },
      { minute: BORN + 120, from: 'CK', to: 'road', quantity: 40 },
      { minute: BORN + 240, from: 'road', to: 'A', quantity: 40 },
      { minute: BORN + 600, from: 'A', to: 'B', quantity: 10 },
    ],
    now: BORN + 9 * 24 * 60,
  };
}

/** Each quarter of an hour; 3 °C when it left, 11 °C two hours long on the road and after. */
export const VAN_WARM: readonly Reading[] = Array.from({ length: 20 }, (_, at) => ({
  sensor: 'v',
  minute: BORN + 30 + at * 15,
  centiC: at >= 7 && at <= 15 ? 1100 : 300,
}));
