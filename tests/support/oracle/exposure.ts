/**
 * What a part of a lot went through and how long it may be kept, worked out from the facts minute by minute with plain loops. Shares no code with the
 * service. All facts are on whole minutes; minutes count from 1970, temperatures are hundredths of a degree Celsius.
 *
 * Rules: domain.md §6 (the less safe value counts; unmonitored time counts at the upper limit or the last seen value, whichever is warmer; joined parts
 * take the worse), the place defaults (between readings the warmer end, a gap from gapMin on), and the limits as the United Kingdom's guidance has them.
 */

export interface Reading {
  readonly sensor: string;
  readonly minute: number;
  readonly centiC: number;
}

/** From this minute on the sensor is there, until its next statement. */
export interface Located {
  readonly sensor: string;
  readonly from: number;
  readonly subject: string;
}

/** A quantity of the lot goes from one account to another; null: from birth, or out of the books. */
export interface Moved {
  readonly minute: number;
  readonly from: string | null;
  readonly to: string | null;
  readonly quantity: number;
}

interface Watch {
  readonly upper: number;
  readonly gapMin: number;
  readonly delayMin: number;
}

export interface Facts {
  readonly readings: readonly Reading[];
  readonly located: readonly Located[];
  readonly moved: readonly Moved[];
  /** account to what its temperature is read at: a place, or the vehicle of a dispatch */
  readonly subjects: Readonly<Record<string, string>>;
  readonly watch: Readonly<Record<string, Watch>>;
  readonly now: number;
}

interface Minute {
  readonly centiC: number;
  readonly seen: boolean;
}

/** Where the sensor was in that minute. */
function subjectOf(facts: Facts, sensor: string, minute: number): string | null {
  let found: Located | null = null;
  for (const one of facts.located) {
    if (one.sensor === sensor && one.from <= minute && (found === null || one.from >= found.from)) found = one;
  }
  return found?.subject ?? null;
}

/** The warmest value of each minute that the sensor told of while it was there. */
function valuesThere(facts: Facts, sensor: string, subject: string): Map<number, number> {
  const values = new Map<number, number>();
  for (const one of facts.readings) {
    if (one.sensor !== sensor || subjectOf(facts, sensor, one.minute) !== subject) continue;
    values.set(one.minute, Math.max(one.centiC, values.get(one.minute) ?? -Infinity));
  }
  return values;
}

/**
 * Each minute from one to another at a subject.
 * @param stays whether the food is still there at `to`, which is now: then the last value holds on for as long as a gap may be
 */
function minutesAt(facts: Facts, subject: string, from: number, to: number, stays: boolean): Minute[] {
  const watch = facts.watch[subject];
  if (!watch) throw new Error(`nobody said how ${subject} is watched`);
  const sensors = [...new Set(facts.located.filter((one) => one.subject === subject).map((one) => one.sensor))];
  const told = sensors.map((sensor) => {
    const values = valuesThere(facts, sensor, subject);
    return { sensor, values, times: [...values.keys()].sort((a, b) => a - b) };
  });
  const minutes: Minute[] = [];
  for (let minute = from; minute < to; minute += 1) {
    let seen: number | null = null;
    let lastAt = -Infinity;
    let last = watch.upper;
    for (const { sensor, values, times } of told) {
      const before = times.findLast((time) => time <= minute);
      if (before === undefined) continue;
      const here = values.get(before) ?? 0;
      if (before > lastAt || (before === lastAt && here > last)) [lastAt, last] = [before, here];
      if (subjectOf(facts, sensor, minute) !== subject) continue;
      const after = times.find((time) => time > minute);
      const until = after ?? (stays ? to : Infinity);
      // It may have been elsewhere between the two.
      let away = false;
      for (const one of facts.located) if (one.sensor === sensor && one.from > before && one.from <= until) away = true;
      if (away || until - before > watch.gapMin) continue;
      const value = after === undefined ? here : Math.max(here, values.get(after) ?? 0);
      seen = Math.max(seen ?? -Infinity, value);
    }
    minutes.push(seen === null ? { centiC: Math.max(watch.upper, last), seen: false } : { centiC: seen, seen: true });
  }
  return minutes;
}

interface Stay {
  readonly account: string;
  readonly from: number;
}
/** Where food of a part has been, from birth on. */
type Way = readonly Stay[];

/** What there is in each account at the end, and the ways that it came; food that joins other food keeps both. */
function partsOf(facts: Facts): Map<string, { quantity: number; ways: Way[] }> {
  const parts = new Map<string, { quantity: number; ways: Way[] }>();
  const inOrder = [...facts.moved].sort((a, b) => a.minute - b.minute);
  for (const { minute, from, to, quantity } of inOrder) {
    let ways: Way[] = [[]];
    if (from !== null) {
      const source = parts.get(from);
      if (!source || source.quantity < quantity) throw new Error(`${from} has not ${quantity} at ${minute}`);
      ways = source.ways;
      if (source.quantity === quantity) parts.delete(from);
      else parts.set(from, { quantity: source.quantity - quantity, ways: source.ways });
    }
    if (to === null) continue;
    const there = parts.get(to) ?? { quantity: 0, ways: [] };
    const come = ways.map((way): Way => [...way, { account: to, from: minute }]);
    parts.set(to, { quantity: there.quantity + quantity, ways: [...there.ways, ...come] });
  }
  return parts;
}

/** Every minute of a way from birth to now. */
function minutesOn(facts: Facts, way: Way): Minute[] {
  const minutes: Minute[] = [];
  for (let at = 0; at < way.length; at += 1) {
    const { account, from } = way[at] as Stay;
    const to = way[at + 1]?.from ?? facts.now;
    const subject = facts.subjects[account];
    if (subject === undefined) throw new Error(`where is ${account}`);
    minutes.push(...minutesAt(facts, subject, from, to, at === way.length - 1));
  }
  return minutes;
}

/** When the first stretch warmer than that began which lasted longer than the tolerance; null: there was none. */
function warmSince(minutes: readonly Minute[], above: number, toleranceMin: number, first: number): number | null {
  let run = 0;
  for (let at = 0; at < minutes.length; at += 1) {
    run = (minutes[at] as Minute).centiC > above ? run + 1 : 0;
    if (run > toleranceMin) return first + at + 1 - run;
  }
  return null;
}

/** When that many minutes above the temperature had come together; null: they have not. */
function togetherBy(minutes: readonly Minute[], above: number, enough: number, first: number): number | null {
  let sum = 0;
  for (let at = 0; at < minutes.length; at += 1) {
    if ((minutes[at] as Minute).centiC > above) sum += 1;
    if (sum === enough) return first + at + 1;
  }
  return null;
}

/** Square root: the rate goes with (T - minC)², the life is `lifeH` at `referenceC`. */
export interface SquareRoot {
  readonly minC: number;
  readonly referenceC: number;
  readonly lifeH: number;
}

/** Share of a life that is used. */
function squareRootUsed(minutes: readonly Minute[], { minC, referenceC, lifeH }: SquareRoot): number {
  let used = 0;
  for (const { centiC } of minutes) {
    const rate = Math.max(0, (centiC / 100 - minC) / (referenceC - minC)) ** 2;
    used += rate / 60 / lifeH;
  }
  return used;
}

export interface Life {
  readonly quantity: number;
  readonly unmonitoredMin: number;
  readonly usedFraction: number;
  /** minute at which each limit ends; null: it sets none */
  readonly ends: Readonly<Record<'cook-chill-5-c' | 'cook-chill-10-c' | 'hours-out-of-chill', number | null>>;
}

const earlier = (a: number | null, b: number | null): number | null =>
  a === null ? b : b === null ? a : Math.min(a, b);

/** Of each part that is left: each limit at its worst over the ways. */
export function livesOf(facts: Facts, model: SquareRoot): Map<string, Life> {
  const lives = new Map<string, Life>();
  for (const [account, { quantity, ways }] of partsOf(facts)) {
    let [unmonitoredMin, usedFraction] = [0, 0];
    let [five, ten, out]: (number | null)[] = [null, null, null];
    for (const way of ways) {
      const minutes = minutesOn(facts, way);
      const first = way[0]?.from ?? 0;
      unmonitoredMin = Math.max(unmonitoredMin, minutes.filter((one) => !one.seen).length);
      usedFraction = Math.max(usedFraction, squareRootUsed(minutes, model));
      const since = warmSince(minutes, 500, 30, first);
      five = earlier(five ?? null, since === null ? null : since + 12 * 60);
      ten = earlier(ten ?? null, warmSince(minutes, 1000, 30, first));
      out = earlier(out ?? null, togetherBy(minutes, 800, 4 * 60, first));
    }
    const ends = { 'cook-chill-5-c': five ?? null, 'cook-chill-10-c': ten ?? null, 'hours-out-of-chill': out ?? null };
    lives.set(account, { quantity, unmonitoredMin, usedFraction, ends });
  }
  return lives;
}

export interface Outside {
  readonly from: number;
  /** null: it goes on in the last reading */
  readonly to: number | null;
  readonly peakCentiC: number;
  readonly minutes: number;
  readonly areaCMin: number;
  readonly unseenMin: number;
}

/** Stretches above the upper limit for longer than the delay, from the first reading there to the last. */
export function outsidesAt(facts: Facts, subject: string): Outside[] {
  const { upper, delayMin } = facts.watch[subject] as Watch;
  const there = facts.readings.filter((one) => subjectOf(facts, one.sensor, one.minute) === subject);
  if (there.length === 0) return [];
  const [first, last] = [Math.min(...there.map((one) => one.minute)), Math.max(...there.map((one) => one.minute))];
  const minutes = minutesAt(facts, subject, first, last, false);
  const found: Outside[] = [];
  for (let at = 0; at < minutes.length; at += 1) {
    let end = at;
    while (end < minutes.length && (minutes[end] as Minute).centiC > upper) end += 1;
    if (end === at) continue;
    const run = minutes.slice(at, end);
    const lastWarm = Math.max(...there.filter((one) => one.minute === last).map((one) => one.centiC)) > upper;
    if (run.length > delayMin) {
      found.push({
        from: first + at,
        to: end === minutes.length && lastWarm ? null : first + end,
        peakCentiC: Math.max(...run.map((one) => one.centiC)),
        minutes: run.length,
        areaCMin: run.reduce((sum, one) => sum + (one.centiC - upper), 0) / 100,
        unseenMin: run.filter((one) => !one.seen).length,
      });
    }
    at = end;
  }
  return found;
}

/**
 * The last moment of a date's day at a place, some days after the day of an instant (which is day one if days is 1): by asking the calendar of the zone
 * minute by minute. In minutes from 1970.
 */
export function endOfDay(zone: string, minute: number, days: number): number {
  const calendar = new Intl.DateTimeFormat('en-CA', {
    timeZone: zone,
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
  });
  let left = days;
  let day = calendar.format(minute * 60_000);
  for (let at = minute + 1; ; at += 1) {
    const next = calendar.format(at * 60_000);
    if (next === day) continue;
    day = next;
    left -= 1;
    if (left === 0) return at;
  }
}
