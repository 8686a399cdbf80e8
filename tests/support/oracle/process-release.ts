/**
 * A second reading of when food of a batch may leave, for tests. It keeps lists of what was told and looks through all of them each time;
 * it shares nothing with the service but the words.
 */
import fc from 'fast-check';

export type Code = 'cook' | 'chill' | 'ph' | 'seal';

const series = (minutes: number) => ({
  series: [
    { minute: 0, temperatureC: 80 },
    { minute: minutes, temperatureC: 2 },
  ],
});
const toThree = { coolingRule: { points: [{ fromC: null, toC: 3, withinMinutes: 90 }] } };
const forRelease = { requiredFor: 'release' } as const;

/** The points of the plans, with something that passes and something that fails each. */
export const POINTS = {
  cook: {
    plan: {
      ...{ code: 'cook', label: 'Core after cooking', stage: 'cook', kind: 'core-temperature', limit: { atLeast: 75 } },
      ...{ per: 'load', critical: true, repeatable: true, ...forRelease },
    },
    passing: { temperatureC: 75 },
    failing: { temperatureC: 74.9 },
  },
  chill: {
    plan: {
      ...{ code: 'chill', label: 'Chilling', stage: 'chill', kind: 'cooling', limit: toThree },
      ...{ per: 'load', critical: true, repeatable: false, ...forRelease },
    },
    passing: series(80),
    failing: series(120),
  },
  ph: {
    plan: {
      ...{ code: 'ph', label: 'pH of the gravy', stage: 'cook', kind: 'ph', limit: { atMost: 6 } },
      ...{ per: 'batch', critical: false, repeatable: false, ...forRelease },
    },
    passing: { value: 6 },
    failing: { value: 6.1 },
  },
  seal: {
    plan: {
      ...{ code: 'seal', label: 'Seals', stage: 'pack', kind: 'seal-test', limit: { leastTested: 2, mostFailed: 0 } },
      ...{ per: 'packing-run', critical: false, repeatable: false, ...forRelease },
    },
    passing: { tested: 2, failed: 0 },
    failing: { tested: 3, failed: 1 },
  },
} as const;

export type Fact =
  | {
      readonly kind: 'check';
      readonly name: string;
      readonly code: Code;
      /** a lot's name, or `batch` */
      readonly about: string;
      /** packs by their run */
      readonly byRun: boolean;
      readonly passes: boolean;
      readonly minute: number;
    }
  | {
      readonly kind: 'correction';
      readonly name: string;
      readonly of: string;
      /** the check that began the chain */
      readonly first: string;
      readonly passes: boolean;
    }
  | { readonly kind: 'closing'; readonly name: string; readonly of: string }
  | { readonly kind: 'packing'; readonly name: string; readonly load: string }
  | { readonly kind: 'release'; readonly name: string; readonly accept: readonly Code[] }
  | {
      readonly kind: 'rejection';
      readonly name: string;
      readonly load: string;
      readonly disposition: 'discard' | 'rework';
    };

export interface Story {
  readonly codes: readonly Code[];
  readonly release: 'automatic' | 'by-hand';
  readonly cookFor: 'release' | 'packing';
  readonly loads: number;
  readonly facts: readonly Fact[];
}

export interface Lot {
  readonly name: string;
  /** of packs: the load they are from */
  readonly load: string | null;
}

interface Check {
  readonly name: string;
  readonly code: Code;
  readonly about: string;
  readonly minute: number;
  readonly passes: boolean;
  /** it corrects one that had failed, at whatever remove */
  readonly madeGood: boolean;
  standing: boolean;
  closed: boolean;
}
/** a hold for a check that failed, at a lot */
interface Stop {
  readonly first: string;
  readonly code: Code;
  readonly lot: string;
}
type Decision = { readonly lot: string; readonly outcome: 'released' | 'rejected' | 'for-rework' };
type PointState = 'passed' | 'failed' | 'missing' | 'open';

export interface Walk {
  /** taken, the code of the refusal, or not-told: what it names does not exist */
  tell(fact: Fact): string;
  lots(): readonly Lot[];
  holds(lot: Lot): string[];
  mayLeave(lot: Lot): boolean;
  openDeviations(): string[];
}

export function beginWalk(story: Story): Walk {
  const lots: Lot[] = Array.from({ length: story.loads }, (_, n) => ({ name: `load-${n}`, load: null }));
  const checks: Check[] = [];
  const firstOf = new Map<string, string>();
  const stops: Stop[] = [];
  const decisions: Decision[] = [];
  const sealWanted = story.codes.includes('seal');

  const decisionOf = (lot: Lot) => decisions.filter((one) => one.lot === lot.name).at(-1)?.outcome ?? 'waits';
  const loadOf = (lot: Lot) => lots.find((one) => one.name === lot.load);
  /** packs wait of their own where the plan asks something of their run */
  const waits = (lot: Lot) => (lot.load === null || sealWanted) && decisionOf(lot) === 'waits';
  const stopped = (lot: Lot): boolean =>
    stops.some((stop) => stop.lot === lot.name) || (lot.load !== null && stopped(loadOf(lot) as Lot));
  const thrown = (lot: Lot): string | null => {
    const own = decisionOf(lot);
    if (own === 'rejected' || own === 'for-rework') return own;
    return lot.load === null ? null : thrown(loadOf(lot) as Lot);
  };

  function counting(code: Code, lot: Lot): Check[] {
    const { per } = POINTS[code].plan;
    return checks.filter((one) => {
      if (!one.standing || one.code !== code) return false;
      if (per === 'batch' || one.about === lot.name) return true;
      if (per !== 'load') return false;
      // of the whole batch: a pass is that of the one load there is, a failure may be any load's; what failed in the packs failed in the load
      if (one.about === 'batch') return story.loads === 1 || !one.passes;
      return !one.passes && lots.some((packs) => packs.name === one.about && packs.load === lot.name);
    });
  }

  /** what failed and was made good with a pen is left to a person; measured again, it is not */
  function madeGood(code: Code, lot: Lot): boolean {
    const counts = counting(code, lot);
    const latest = Math.max(...counts.map((one) => one.minute));
    return counts.some((one) => one.madeGood && one.passes && (!POINTS[code].plan.repeatable || one.minute === latest));
  }

  function stateOf(code: Code, lot: Lot): PointState {
    const { repeatable } = POINTS[code].plan;
    const counts = counting(code, lot);
    if (counts.length === 0) return 'missing';
    if (!repeatable) return counts.some((one) => !one.passes) ? 'failed' : 'passed';
    const latest = Math.max(...counts.map((one) => one.minute));
    if (counts.some((one) => one.minute === latest && !one.passes)) return 'failed';
    return counts.some((one) => !one.passes && !one.closed) ? 'open' : 'passed';
  }
  const needs = (lot: Lot) =>
    story.codes.filter((code) => (POINTS[code].plan.per === 'packing-run') === (lot.load !== null));

  function settle(): void {
    if (story.release !== 'automatic') return;
    // loads come first in the list
    for (const lot of lots) {
      if (!waits(lot) || stopped(lot) || thrown(lot) !== null) continue;
      const load = loadOf(lot);
      if (load !== undefined && decisionOf(load) !== 'released') continue;
      if (needs(lot).every((code) => stateOf(code, lot) === 'passed' && !madeGood(code, lot)))
        decisions.push({ lot: lot.name, outcome: 'released' });
    }
  }

  function stop(check: Check): void {
    if (check.passes) return;
    const first = firstOf.get(check.name) as string;
    const { per, repeatable } = POINTS[check.code].plan;
    const touched = lots.filter((lot) => {
      if (lot.name === check.about) return true;
      if (lot.load !== null) return false;
      if (check.about === 'batch') return true;
      if (per === 'batch') return true;
      // what was let go on it is stopped with it
      const itsPacks = per === 'load' && lots.some((packs) => packs.name === check.about && packs.load === lot.name);
      return itsPacks && decisionOf(lot) === 'released';
    });
    for (const lot of touched) {
      // what is decided away already needs no other stop
      if (thrown(lot) !== null) continue;
      // cooked on, it may pass yet: it waits anyway, unless it was let go already
      const loadWaits = lot.load !== null && decisionOf(loadOf(lot) as Lot) === 'waits';
      if (repeatable && (waits(lot) || loadWaits)) continue;
      if (stops.some((one) => one.first === first && one.lot === lot.name)) continue;
      stops.push({ first, code: check.code, lot: lot.name });
    }
  }

  function release(accept: readonly Code[]): string {
    const waiting = lots.filter((lot) => waits(lot) && thrown(lot) === null);
    if (waiting.length === 0) return 'wrong-state';
    // whoever names no lot has not seen what is open
    const fits = (lot: Lot) =>
      needs(lot).every(
        (code) => stateOf(code, lot) === 'passed' || (!POINTS[code].plan.critical && accept.includes(code)),
      );
    const going: Lot[] = [];
    for (const lot of waiting) {
      const load = loadOf(lot);
      if (!fits(lot)) continue;
      if (load !== undefined && decisionOf(load) !== 'released' && !going.includes(load)) continue;
      going.push(lot);
    }
    if (going.length === 0) return 'checks-not-passed';
    for (const lot of going) {
      decisions.push({ lot: lot.name, outcome: 'released' });
      for (let n = stops.length - 1; n >= 0; n -= 1) {
        const one = stops[n] as Stop;
        const current = checks.find((check) => check.standing && firstOf.get(check.name) === one.first);
        const ends = accept.includes(one.code) || current?.passes === true;
        if (one.lot === lot.name && ends) stops.splice(n, 1);
      }
    }
    return 'taken';
  }

  function reject(load: string, outcome: 'rejected' | 'for-rework'): string {
    const lot = lots.find((one) => one.name === load) as Lot;
    const now = decisionOf(lot);
    if (now === 'rejected' || (now === 'for-rework' && outcome === 'for-rework')) return 'wrong-state';
    decisions.push({ lot: load, outcome });
    const under = [lot, ...lots.filter((one) => one.load === load)];
    for (let n = stops.length - 1; n >= 0; n -= 1)
      if (under.some((one) => one.name === stops[n]?.lot)) stops.splice(n, 1);
    return 'taken';
  }

  function judge(fact: Fact): string {
    switch (fact.kind) {
      case 'check': {
        if (fact.about !== 'batch' && !lots.some((lot) => lot.name === fact.about)) return 'not-told';
        // nobody completes the batch in these stories, so it is never closed
        const { name, code, about, minute, passes } = fact;
        const check = { name, code, about, minute, passes, madeGood: false, standing: true, closed: false };
        checks.push(check);
        firstOf.set(name, name);
        stop(check);
        return 'taken';
      }
      case 'correction': {
        const before = checks.find((one) => one.name === fact.of);
        if (before === undefined) return 'not-told';
        if (!before.standing) return 'already-corrected';
        before.standing = false;
        const madeGood = before.madeGood || !before.passes;
        const check = { ...before, madeGood, name: fact.name, passes: fact.passes, standing: true, closed: false };
        checks.push(check);
        firstOf.set(fact.name, fact.first);
        stop(check);
        return 'taken';
      }
      case 'closing': {
        const check = checks.find((one) => one.name === fact.of);
        if (check === undefined) return 'not-told';
        if (!check.standing) return 'already-corrected';
        if (check.passes || check.closed) return 'wrong-state';
        check.closed = true;
        return 'taken';
      }
      case 'packing': {
        const load = lots.find((lot) => lot.name === fact.load) as Lot;
        if (stopped(load) || thrown(load) !== null) return 'on-hold';
        const first = story.codes.includes('cook') && story.cookFor === 'packing';
        if (first && !['passed', 'open'].includes(stateOf('cook', load))) return 'checks-not-passed';
        lots.push({ name: fact.name, load: fact.load });
        return 'taken';
      }
      case 'release':
        return release(fact.accept);
      case 'rejection':
        return reject(fact.load, fact.disposition === 'rework' ? 'for-rework' : 'rejected');
    }
  }

  return {
    tell(fact) {
      const answer = judge(fact);
      if (answer === 'taken') settle();
      return answer;
    },
    lots: () => lots,
    holds(lot) {
      const kinds = new Set<string>();
      const chain = [lot, ...(lot.load === null ? [] : [loadOf(lot) as Lot])];
      if (chain.some((one) => waits(one) && thrown(one) === null)) kinds.add('awaiting-release');
      if (stopped(lot)) kinds.add('failed-check');
      for (const one of chain) {
        const why = thrown(one);
        if (why !== null) kinds.add(why);
      }
      return [...kinds].sort();
    },
    mayLeave: (lot) =>
      [lot, loadOf(lot)].every((one) => one === undefined || (!waits(one) && thrown(one) === null)) && !stopped(lot),
    openDeviations: () =>
      checks
        .filter((one) => one.standing && !one.passes && !one.closed)
        .map((one) => one.name)
        .sort(),
  };
}

const drawn = fc.record({
  kind: fc.constantFrom(
    ...(['check', 'check', 'check', 'check', 'check', 'check', 'check', 'check', 'check'] as const),
    ...(['correction', 'correction', 'closing', 'packing', 'packing', 'release', 'release', 'rejection'] as const),
  ),
  n: fc.nat(1_000),
  lot: fc.nat(1_000),
  passes: fc.integer({ min: 0, max: 9 }).map((n) => n < 7),
  said: fc.boolean(),
  other: fc.boolean(),
});

export const arbitraryStory: fc.Arbitrary<Story> = fc
  .record({
    codes: fc.subarray(['cook', 'chill', 'ph', 'seal'] as const, { minLength: 1 }),
    release: fc.constantFrom('automatic' as const, 'by-hand' as const),
    cookFor: fc.constantFrom('release' as const, 'release' as const, 'packing' as const),
    loads: fc.integer({ min: 1, max: 3 }),
    drawn: fc.array(drawn, { minLength: 4, maxLength: 16 }),
    minutes: fc.uniqueArray(fc.integer({ min: 1, max: 140 }), { minLength: 16, maxLength: 16 }),
  })
  .map(({ drawn: all, minutes, ...plan }) => {
    const codes: readonly Code[] = plan.codes.every((code) => code === 'seal') ? ['cook', 'seal'] : plan.codes;
    const facts: Fact[] = [];
    const chains: { name: string; first: string }[] = [];
    const packs: string[] = [];
    const pick = <T>(list: readonly T[], n: number): T | undefined => list[n % Math.max(1, list.length)];
    for (const [index, one] of all.entries()) {
      const name = `${one.kind}-${index}`;
      const load = `load-${one.lot % plan.loads}`;
      switch (one.kind) {
        case 'check': {
          const code = pick(codes, one.n) as Code;
          const run = pick(packs, one.lot);
          if (code === 'seal' && run === undefined) break;
          // what passes for the whole batch is left to a person where the plan asks it of each load
          const whole = one.said && (code === 'ph' || plan.release === 'by-hand' || !one.passes);
          const inPacks = plan.loads === 1 && code === 'cook' && one.other && !one.passes && run !== undefined;
          const about = code === 'seal' || inPacks ? (run as string) : whole ? 'batch' : load;
          facts.push({
            kind: 'check',
            name,
            code,
            about,
            byRun: one.said,
            passes: one.passes,
            minute: minutes[index] ?? index,
          });
          chains.push({ name, first: name });
          break;
        }
        case 'correction': {
          const chain = pick(chains, one.n);
          if (chain === undefined) break;
          facts.push({ kind: 'correction', name, of: chain.name, first: chain.first, passes: one.passes });
          chains.push({ name, first: chain.first });
          break;
        }
        case 'closing': {
          const chain = pick(chains, one.n);
          if (chain !== undefined) facts.push({ kind: 'closing', name, of: chain.name });
          break;
        }
        case 'packing': {
          const run = `packs-${index}`;
          facts.push({ kind: 'packing', name: run, load });
          packs.push(run);
          break;
        }
        case 'release': {
          const accept = (['ph', 'seal'] as const).filter(
            (code) => codes.includes(code) && (code === 'ph' ? one.said : one.other),
          );
          facts.push({ kind: 'release', name, accept });
          break;
        }
        case 'rejection':
          facts.push({ kind: 'rejection', name, load, disposition: one.said ? 'discard' : 'rework' });
      }
    }
    return { ...plan, codes, facts };
  });
