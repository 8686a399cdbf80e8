/** Readiness for release, against the rules of the plan as they are written in its shape, case by case. */
import { describe, expect, test } from 'vitest';
import {
  againstPacking,
  inWords,
  packsWait,
  readiness,
  standingAgainst,
  type BatchFacts,
  type LotToRelease,
} from '../../src/domain/process-checks/readiness.ts';
import type { ControlPoint, ProcessPlan, StandingCheck } from '../../src/domain/process-checks/shapes.ts';

const point = (code: string, more: Partial<ControlPoint> = {}): ControlPoint => ({
  code,
  label: code,
  stage: 'cook',
  kind: 'core-temperature',
  limit: { form: 'value', atLeast: 75, atMost: null },
  source: { source: 'Trials', edition: '2026', basis: 'common-practice' },
  confirmed: false,
  per: 'load',
  requiredFor: 'release',
  critical: false,
  repeatable: false,
  ...more,
});
const plan = (points: readonly ControlPoint[], release: ProcessPlan['release'] = 'automatic'): ProcessPlan => ({
  points,
  release,
  twoPeople: false,
});
const check = (controlPoint: string, atMs: number, more: Partial<StandingCheck> = {}): StandingCheck => ({
  checkId: `${controlPoint}@${atMs}`,
  controlPoint,
  kind: 'core-temperature',
  stage: 'cook',
  result: 'passed',
  occurredAtMs: atMs,
  batchId: 'batch',
  lotId: null,
  packingRunId: null,
  deviation: 'none',
  madeGood: false,
  ...more,
});
const BATCH: BatchFacts = { startedAtMs: 0, completed: true, doubted: new Set(), reworks: false };
const failed = (deviation: 'open' | 'closed') => ({ result: 'failed', deviation }) as const;
const load = (lotId: string): LotToRelease => ({ lotId, kind: 'load', packingRunId: null, fromLotIds: [] });
const packs = (lotId: string, packingRunId: string, fromLotIds = ['A']): LotToRelease => ({
  ...{ lotId, kind: 'packs', packingRunId },
  fromLotIds,
});
const one = (points: readonly ControlPoint[], checks: readonly StandingCheck[], release?: ProcessPlan['release']) => {
  const [lot] = readiness(plan(points, release), [load('A')], checks, BATCH);
  if (!lot) throw new Error('no lot');
  return lot;
};

describe('which checks count', () => {
  test('per batch: any check of the point; per load: its own, and the whole batch’s where it is the only load', () => {
    const points = [point('ph', { per: 'batch' }), point('cook')];
    const checks = [check('ph', 1, { lotId: 'B' }), check('cook', 1, { lotId: 'A' })];
    const both = readiness(plan(points), [load('A'), load('B')], checks, BATCH);
    expect(both.map((lot) => [lot.lotId, lot.state])).toEqual([
      ['A', 'complete'],
      ['B', 'missing'],
    ]);
    const ofBatch = [check('cook', 1), check('ph', 1)];
    expect(readiness(plan(points), [load('A')], ofBatch, BATCH)[0]?.state).toBe('complete');
    const states = readiness(plan(points), [load('A'), load('B')], ofBatch, BATCH).map((lot) => lot.state);
    expect(states).toEqual(['missing', 'missing']);
  });

  test('per packing run: of the run or of any of its packs; loads do not need it, packs need nothing else', () => {
    const points = [point('seal', { per: 'packing-run' }), point('cook')];
    const lots = [load('A'), packs('P', 'run-1'), packs('Q', 'run-1'), packs('R', 'run-2')];
    const checks = [check('seal', 1, { lotId: 'P', packingRunId: 'run-1' }), check('cook', 1, { lotId: 'A' })];
    expect(readiness(plan(points), lots, checks, BATCH).map((lot) => lot.state)).toEqual([
      'complete',
      'complete',
      'complete',
      'missing',
    ]);
    expect([packsWait(plan(points)), packsWait(plan([point('cook')]))]).toEqual([true, false]);
    expect(packsWait(plan([point('seal', { per: 'packing-run', requiredFor: null })]))).toBe(false);
  });

  test('a check without a point, or of a point that the plan does not have, counts for nothing', () => {
    const none = [check('cook', 1, { controlPoint: null }), check('salt', 1)];
    expect(one([point('cook')], none)).toMatchObject({ state: 'missing', points: [{ checkId: null }] });
  });
});

describe('a limit that asks less than the default of the jurisdiction', () => {
  const below = { looser: true, limit: { form: 'value', atLeast: 60, atMost: null } } as const;
  const acid = { looser: true, kind: 'ph', limit: { form: 'value', atLeast: null, atMost: 6 } } as const;
  test.each([
    ['of heat, as the plan has it', below, false],
    ['of heat, confirmed', { ...below, confirmed: true }, true],
    ['of pH, which binds only food that is kept by it', acid, true],
  ])('%s', (_name, more, byItself) => {
    const lot = one([point('cook', more)], [check('cook', 1)]);
    expect([lot.state, lot.releasesByItself]).toEqual(['complete', byItself]);
    expect(lot.points[0]?.unsure).toEqual(byItself ? [] : ['looser-limit']);
  });
});

describe('which check rules', () => {
  const again = point('cook', { repeatable: true });
  const once = point('cook');

  test.each([
    ['repeatable: the latest', again, [check('cook', 1, failed('closed')), check('cook', 2)], 'complete', 'cook@2'],
    ['in any order', again, [check('cook', 2), check('cook', 1, failed('closed'))], 'complete', 'cook@2'],
    ['a failure still open', again, [check('cook', 1, failed('open')), check('cook', 2)], 'deviation-open', 'cook@2'],
    ['failed later', again, [check('cook', 1), check('cook', 2, failed('closed'))], 'failed', 'cook@2'],
    ['not repeatable: any failure', once, [check('cook', 1, failed('closed')), check('cook', 2)], 'failed', 'cook@1'],
    ['not repeatable: all passed', once, [check('cook', 1), check('cook', 2)], 'complete', 'cook@2'],
  ] as const)('%s', (_name, ofPoint, checks, state, checkId) => {
    expect(one([ofPoint], checks)).toMatchObject({ state, points: [{ checkId }] });
  });

  test('of two at one time the failed one, whichever came first', () => {
    const pass = check('cook', 1, { checkId: 'pass' });
    const fail = check('cook', 1, { checkId: 'fail', ...failed('closed') });
    for (const checks of [
      [pass, fail],
      [fail, pass],
    ]) {
      expect(one([again], checks)).toMatchObject({ state: 'failed', points: [{ checkId: 'fail' }] });
    }
  });
});

describe('what follows', () => {
  test('the worst of what release wants is the state; what it does not want holds nothing up', () => {
    const points = [point('cook'), point('ph'), point('salt', { requiredFor: null })];
    const lot = one(points, [check('cook', 1), check('ph', 1, failed('open')), check('salt', 1, failed('open'))]);
    expect(lot.state).toBe('failed');
    expect(standingAgainst(lot).map(({ code }) => code)).toEqual(['ph']);
    expect(inWords(lot)).toEqual(['ph has failed.']);
    expect(one(points, [check('cook', 1), check('ph', 1)]).state).toBe('complete');
  });

  test('only a point for packing stands against packing', () => {
    const lot = one([point('cook', { requiredFor: 'packing' }), point('ph')], []);
    expect(againstPacking(lot).map(({ code }) => code)).toEqual(['cook']);
    expect(standingAgainst(lot).map(({ code }) => code)).toEqual(['cook', 'ph']);
  });

  test('by itself: when the plan says so, all has passed, something was asked, and by no number from memory alone', () => {
    const memory = { source: 'Remembered', edition: '', basis: 'from-memory' } as const;
    const passed = [check('cook', 1)];
    const byItself = (points: readonly ControlPoint[], release?: ProcessPlan['release']) =>
      one(points, passed, release).releasesByItself;
    expect(byItself([point('cook')])).toBe(true);
    expect(byItself([point('cook')], 'by-hand')).toBe(false);
    expect(byItself([point('cook'), point('ph')])).toBe(false);
    expect(byItself([point('cook', { requiredFor: null })])).toBe(false);
    expect(byItself([point('cook', { source: memory })])).toBe(false);
    expect(one([point('cook', { source: memory })], passed).state).toBe('complete');
    expect(byItself([point('cook', { source: memory, confirmed: true })])).toBe(true);
    expect(byItself([point('cook'), point('ph', { source: memory, requiredFor: null })])).toBe(true);
  });

  describe('not by itself, though all has passed', () => {
    const byItself = (checks: readonly StandingCheck[], more: Partial<BatchFacts>, of = point('cook')) => {
      const [lot] = readiness(plan([of]), [load('A')], checks, { ...BATCH, ...more });
      return [lot?.state, lot?.releasesByItself, lot?.points[0]?.unsure];
    };
    const own = check('cook', 100, { lotId: 'A' });

    test('a check that is dated more than a quarter of an hour before the batch began', () => {
      expect(byItself([own], { startedAtMs: 101 + 15 * 60_000 })).toEqual(['complete', false, ['before-batch']]);
      expect(byItself([own], { startedAtMs: 100 + 15 * 60_000 })).toEqual(['complete', true, []]);
    });

    test('a failure that was corrected to a pass; cooked on and measured again it passes by itself, chilled too slowly it never does', () => {
      const made = check('cook', 100, { lotId: 'A', madeGood: true });
      const again = check('cook', 200, { lotId: 'A' });
      expect(byItself([made], {})).toEqual(['complete', false, ['made-good']]);
      expect(byItself([made, again], {}, point('cook', { repeatable: true }))).toEqual(['complete', true, []]);
      expect(byItself([made, again], {}, point('cook'))).toEqual(['complete', false, ['made-good']]);
    });

    test('one check of the whole batch while loads may still come out; a check of the load, or of a completed batch', () => {
      const whole = check('cook', 100);
      expect(byItself([whole], { completed: false })).toEqual(['complete', false, ['whole-batch']]);
      expect(byItself([whole], { completed: true })).toEqual(['complete', true, []]);
      expect(byItself([own], { completed: false })).toEqual(['complete', true, []]);
      const perBatch = point('cook', { per: 'batch' });
      expect(byItself([whole], { completed: false }, perBatch)).toEqual(['complete', true, []]);
    });

    test('a probe in doubt', () => {
      expect(byItself([own], { doubted: new Set([own.checkId]) })).toEqual(['complete', false, ['probe-doubted']]);
    });

    test('food for rework that no check shows to have been heated', () => {
      const ph = point('ph', { kind: 'ph' });
      const ofPh = check('ph', 100, { kind: 'ph', lotId: 'A' });
      const heated = (points: readonly ControlPoint[], checks: readonly StandingCheck[]) => {
        const [lot] = readiness(plan(points), [load('A')], checks, { ...BATCH, reworks: true });
        return [lot?.heat, lot?.releasesByItself];
      };
      expect(heated([ph], [ofPh])).toEqual(['not-asked', false]);
      expect(heated([ph, point('cook', { requiredFor: null })], [ofPh])).toEqual(['not-asked', false]);
      expect(heated([ph, point('cook')], [ofPh])).toEqual(['asked', false]);
      expect(heated([ph, point('cook')], [ofPh, own])).toEqual(['shown', true]);
      expect(heated([ph, point('cook', { stage: 'pack' })], [ofPh, own])).toEqual(['not-asked', false]);
      const [packed] = readiness(plan([point('seal', { per: 'packing-run' })]), [packs('P', 'run')], [], {
        ...BATCH,
        reworks: true,
      });
      expect(packed?.heat).toBe('not-needed');
    });
  });
});

describe('a check that failed counts for whatever it may be about', () => {
  const cook = point('cook', { repeatable: true });
  const bad = (atMs: number, more: Partial<StandingCheck> = {}) => check('cook', atMs, { ...failed('open'), ...more });
  const states = (points: readonly ControlPoint[], lots: readonly LotToRelease[], checks: readonly StandingCheck[]) =>
    readiness(plan(points), lots, checks, BATCH).map((lot) => lot.state);
  const two = [load('A'), load('B')];

  test('of the whole batch, for each of its loads: failed, then open until it is closed, though each passed since', () => {
    const since = [check('cook', 2, { lotId: 'A' }), check('cook', 2, { lotId: 'B' })];
    expect(states([cook], two, [bad(1)])).toEqual(['failed', 'failed']);
    expect(states([cook], two, [bad(1), ...since])).toEqual(['deviation-open', 'deviation-open']);
    expect(states([cook], two, [bad(1, failed('closed')), ...since])).toEqual(['complete', 'complete']);
    expect(states([cook], two, [bad(3), ...since])).toEqual(['failed', 'failed']);
  });

  test('of one load, not for the other; of packs, for the loads that they come from, or for all if that is not known', () => {
    const since = [check('cook', 2, { lotId: 'A' }), check('cook', 2, { lotId: 'B' })];
    expect(states([cook], two, [bad(3, { lotId: 'A' }), ...since])).toEqual(['failed', 'complete']);
    const ofPacks = bad(3, { lotId: 'P', packingRunId: 'run' });
    expect(states([cook], [...two, packs('P', 'run')], [ofPacks, ...since])).toEqual([
      'failed',
      'complete',
      'complete',
    ]);
    const both = packs('P', 'run', ['A', 'B']);
    expect(states([cook], [...two, both], [ofPacks, ...since])).toEqual(['failed', 'failed', 'complete']);
    expect(states([cook], two, [ofPacks, ...since])).toEqual(['failed', 'failed']);
  });

  test('of the whole batch, for the packs of every run; of one run or load, not for those of another', () => {
    const seal = point('seal', { per: 'packing-run' });
    const lots = [packs('P', 'run-1'), packs('Q', 'run-2')];
    const passed = [check('seal', 1, { packingRunId: 'run-1' }), check('seal', 1, { packingRunId: 'run-2' })];
    expect(states([seal], lots, [...passed, check('seal', 2, failed('open'))])).toEqual(['failed', 'failed']);
    const ofOne = check('seal', 2, { ...failed('open'), packingRunId: 'run-1' });
    expect(states([seal], lots, [...passed, ofOne])).toEqual(['failed', 'complete']);
    const ofLoad = check('seal', 2, { ...failed('open'), lotId: 'B' });
    const apart = [load('A'), load('B'), packs('P', 'run-1', ['A']), packs('Q', 'run-2', ['B'])];
    expect(states([seal], apart, [...passed, ofLoad]).slice(2)).toEqual(['complete', 'failed']);
  });
});
