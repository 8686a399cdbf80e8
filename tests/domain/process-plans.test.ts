/** Process plans without a service: what the data says against what was published, and which plans are refused. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Refused } from '../../src/domain/errors.ts';
import { defaultLimit, defaultSeparation, listDefaults } from '../../src/domain/process-checks/defaults.ts';
import { sourceWords } from '../../src/domain/process-checks/words.ts';
import { isLooser } from '../../src/domain/process-checks/plan-cautions.ts';
import { siteLimitsOf, storedPlan, type DraftPoint } from '../../src/domain/process-checks/plan-drafts.ts';
import { resolvePlan, type SiteLimit } from '../../src/domain/process-checks/plans.ts';
import type { CheckKind, Limit, Stage } from '../../src/domain/process-checks/shapes.ts';
import { suggestPlan } from '../../src/domain/process-checks/suggest.ts';

/** Typed in from the sources that the titles name; never read from the data. */
const PUBLISHED: readonly [
  source: string,
  where: string,
  stage: Stage,
  kind: CheckKind,
  side: 'least' | 'most',
  value: number,
  basis: string,
][] = [
  ['SI 2013/2996 Sch. 4 para 2', 'GB-ENG', 'storage', 'temperature', 'most', 8, 'published'],
  ['NI SR 2006/3 Sch. 4', 'GB-NIR', 'storage', 'temperature', 'most', 8, 'published'],
  ['Food Code 3-501.16, Delaware: 41 °F', 'US', 'storage', 'temperature', 'most', 5, 'published'],
  ['Food Code 3-501.16, Delaware: 135 °F', 'US-DE', 'hot-holding', 'core-temperature', 'least', 57, 'published'],
  ['WSI 2006/31', 'GB-WLS', 'hot-holding', 'temperature', 'least', 63, 'published'],
  ['SSI 2006/3', 'GB-SCT', 'hot-holding', 'temperature', 'least', 63, 'published'],
  ['Scotland, 1995 regulations reg. 14', 'GB-SCT', 'regeneration', 'core-temperature', 'least', 82, 'second-hand'],
  ['FSAI Guidance Note 15', 'IE', 'regeneration', 'core-temperature', 'least', 70, 'published'],
  ['FSAI Guidance Note 15', 'IE', 'cook', 'core-temperature', 'least', 75, 'published'],
  ['FSAI, 30 November 2022: 0-5 °C', 'IE', 'storage', 'temperature', 'most', 5, 'published'],
  ['FSA kitchen equivalents: 75 °C, 30 s', 'GB-ENG', 'cook', 'core-temperature', 'least', 75, 'second-hand'],
  ['Food Code 3-403.11, Delaware: 165 °F, 15 s', 'US', 'regeneration', 'core-temperature', 'least', 74, 'published'],
  ['89/108/EEC Art. 5', 'FR', 'freeze', 'temperature', 'most', -18, 'published'],
  ['Lund and Notermans: 0-3 °C', 'GB-ENG', 'chill', 'core-temperature', 'most', 3, 'published'],
  ['Meat Refrigeration ch. 16: 30 min', 'GB', 'chill', 'elapsed-time', 'most', 30, 'second-hand'],
  ['WSI 2006/31 Sch. 4 para 7: less than 2 h', 'GB-WLS', 'hot-holding', 'elapsed-time', 'most', 120, 'published'],
  ['Food Code 3-501.19: 4 h', 'US', 'hot-holding', 'elapsed-time', 'most', 240, 'published'],
  ['Food Code 3-502.12(B), Wisconsin', 'US', 'other', 'ph', 'most', 4.6, 'published'],
  ['Food Code 3-502.12(B), Wisconsin', 'US', 'other', 'water-activity', 'most', 0.91, 'published'],
  ['FSA guidance December 2020, second-hand', 'GB-ENG', 'cook', 'ph', 'most', 5, 'second-hand'],
  ['FSA guidance December 2020, second-hand', 'GB-ENG', 'cook', 'salt-in-water', 'least', 3.5, 'second-hand'],
  ['FSA guidance December 2020, second-hand', 'GB-ENG', 'cook', 'water-activity', 'most', 0.97, 'second-hand'],
];

describe('defaults by jurisdiction', () => {
  test.each(PUBLISHED)('%s: %s, %s, %s', (_source, where, stage, kind, side, value, basis) => {
    const found = defaultLimit(where, stage, kind);
    const [atLeast, atMost] = side === 'least' ? [value, null] : [null, value];
    expect(found?.limit).toEqual({ form: 'value', atLeast, atMost });
    expect(found?.source.basis).toBe(basis);
  });

  test.each([
    ['DoH 1989, from memory', 'GB-ENG', 3, 90, 'from-memory'],
    ['FSAI Guidance Note 15', 'IE', 3, 150, 'published'],
    ['arrêté of 21 December 2009, second-hand', 'FR', 10, 120, 'second-hand'],
    ['Food Code 3-501.14', 'US', 5, 360, 'published'],
    ['no rule known: Ireland stands in, common practice', 'NO', 3, 150, 'common-practice'],
  ])('cooling, %s: %s', (_source, where, toC, withinMinutes, basis) => {
    const found = defaultLimit(where, 'chill', 'cooling');
    const points = found?.limit.form === 'cooling' ? found.limit.rule.points : [];
    expect(points.at(-1)).toMatchObject({ toC, withinMinutes });
    expect(found?.source.basis).toBe(basis);
  });

  test('a target is as sure as the less sure of the choice and its own numbers: 70 °C for 2 min is published, its z is from memory', () => {
    const found = defaultLimit('GB-ENG', 'cook', 'lethality');
    expect(found?.limit).toMatchObject({ target: { referenceTemperatureC: 70, targetMinutes: 2, zBelowC: 7.5 } });
    expect(found?.source.basis).toBe('from-memory');
  });

  test('Scotland names no number for chilled food: no English law stands in for it', () => {
    expect(defaultLimit('GB-SCT', 'storage', 'temperature')?.source.basis).toBe('common-practice');
  });

  test('every stage and kind with a default anywhere has one everywhere, with a source', () => {
    for (const where of ['GB', 'GB-ENG', 'GB-WLS', 'GB-SCT', 'GB-NIR', 'IE', 'FR', 'US', 'US-CA']) {
      for (const one of listDefaults(where)) {
        expect(one.source.source.length).toBeGreaterThan(20);
        expect(defaultLimit('ZZ', one.stage ?? 'other', one.kind), `${one.stage} ${one.kind}`).not.toBeNull();
      }
    }
  });

  test("vacuum packers: the FSA's guidance refuses in the United Kingdom and says that it is no law; elsewhere the food is held", () => {
    for (const where of ['GB', 'GB-ENG', 'GB-WLS', 'GB-SCT', 'GB-NIR']) {
      expect(defaultSeparation(where).rawOnPacker).toMatchObject({ value: 'refuse', basis: 'published' });
      expect(defaultSeparation(where).rawOnPacker.standing).toMatch(/not law/);
    }
    expect(defaultSeparation('IE').rawOnPacker).toMatchObject({ value: 'refuse', basis: 'second-hand' });
    expect(defaultSeparation('US').rawOnPacker).toMatchObject({ value: 'hold', basis: 'common-practice' });
    expect(defaultSeparation('FR').allergenChangeover.value).toBe('finding');
    expect(defaultSeparation('FR').twoPeople.value).toBe(false);
  });
});

const point = (more: Partial<DraftPoint> = {}): DraftPoint => ({
  code: 'cook',
  label: 'Cook',
  stage: 'cook',
  kind: 'core-temperature',
  per: 'load',
  requiredFor: 'release',
  critical: false,
  repeatable: false,
  ...more,
});
const z75 = { referenceTemperatureC: 70, zBelowC: 7.5, zAboveC: 7.5 };
const keep = (points: readonly DraftPoint[], release: 'automatic' | 'by-hand' = 'by-hand') =>
  storedPlan({ points, release, twoPeople: false });

describe('plans', () => {
  const own: SiteLimit = {
    stage: 'cook',
    kind: 'core-temperature',
    atLeast: 80,
    atMost: null,
    source: { source: 'Plan of the house', edition: 'site policy 1', basis: 'common-practice' },
  };

  test("a default becomes the site's own limit where it has one, else its jurisdiction's; own numbers stay", () => {
    const stored = keep([point(), point({ code: 'gentle', limit: { atLeast: 62, atMost: 66 }, source: 'Own trials' })]);
    expect(stored.points.map(({ limit }) => limit)).toEqual(['default', { form: 'value', atLeast: 62, atMost: 66 }]);
    const limits = (jurisdiction: string, site: readonly SiteLimit[] = []) =>
      resolvePlan(stored, jurisdiction, site).points.map(({ limit }) =>
        limit.form === 'value' ? limit.atLeast : null,
      );
    expect(limits('GB-ENG')).toEqual([75, 62]);
    expect(limits('US')).toEqual([74, 62]);
    expect(limits('US', [own])).toEqual([80, 62]);
    expect(resolvePlan(stored, 'US', [own]).points[0]?.source).toEqual(own.source);
    expect(resolvePlan(stored, 'IE').points[1]?.source).toEqual({
      source: 'Own trials',
      edition: 'own plan',
      basis: 'common-practice',
    });
  });

  test.each<[string, readonly DraftPoint[], string]>([
    ['two points of one code', [point(), point()], '#/points/1/code'],
    [
      'cooling that may be repeated',
      [point({ kind: 'cooling', stage: 'chill', repeatable: true })],
      '#/points/0/repeatable',
    ],
    ['a packing run before packing', [point({ requiredFor: 'packing', per: 'packing-run' })], '#/points/0/requiredFor'],
    ['critical and not required', [point({ critical: true, requiredFor: null })], '#/points/0/critical'],
    ['own numbers without a source', [point({ limit: { atLeast: 70 } })], '#/points/0/source'],
    ['no bound', [point({ limit: {}, source: 'x' })], '#/points/0/limit'],
    ['crossed bounds', [point({ limit: { atLeast: 5, atMost: 4 }, source: 'x' })], '#/points/0/limit'],
    ['a bound for a series', [point({ kind: 'lethality', limit: { atLeast: 70 }, source: 'x' })], '#/points/0/limit'],
    ['a target for one value', [point({ limit: { target: 'listeria-70' } })], '#/points/0/limit'],
    [
      'a target of no time',
      [point({ kind: 'lethality', limit: { target: { ...z75, targetMinutes: 0 } }, source: 'x' })],
      '#/points/0/limit/target/targetMinutes',
    ],
    ['an unknown target', [point({ kind: 'lethality', limit: { target: 'nothing' } })], '#/points/0/limit/target'],
    [
      'an unknown rule',
      [point({ kind: 'cooling', limit: { coolingRule: 'nothing' } })],
      '#/points/0/limit/coolingRule',
    ],
    ['no default there', [point({ stage: 'cleaning', kind: 'cooling' })], '#/points/0/limit'],
    [
      'all may fail',
      [point({ kind: 'seal-test', limit: { leastTested: 2, mostFailed: 2 }, source: 'x' })],
      '#/points/0/limit/mostFailed',
    ],
    [
      'warming up',
      [
        point({
          kind: 'cooling',
          limit: { coolingRule: { points: [{ fromC: 5, toC: 8, withinMinutes: 9 }] } },
          source: 'x',
        }),
      ],
      '#/points/0/limit/coolingRule/points/0/toC',
    ],
  ])('refused: %s', (_what, points, pointer) => {
    const refused = catching(() => keep(points));
    expect(refused?.code).toBe('rule-broken');
    expect(refused?.more.errors?.[0]?.pointer).toBe(pointer);
  });

  test('refused: released by itself, with nothing required', () => {
    expect(catching(() => keep([point({ requiredFor: null })], 'automatic'))?.code).toBe('rule-broken');
  });

  test('a site sets bounds of values, once for each stage and kind', () => {
    const limit = { stage: 'storage', kind: 'temperature', atMost: 5, source: 'x' } as const;
    expect(siteLimitsOf([limit], 'site policy 3')[0]?.source.edition).toBe('site policy 3');
    expect(catching(() => siteLimitsOf([limit, limit], '1'))?.more.errors?.[0]?.pointer).toBe('#/limits/1');
    expect(catching(() => siteLimitsOf([{ ...limit, kind: 'cooling' }], '1'))?.code).toBe('rule-broken');
  });

  const value = (atLeast: number | null, atMost: number | null): Limit => ({ form: 'value', atLeast, atMost });
  test.each([
    ['8 °C at most is looser than 5', value(null, 8), value(null, 5), true],
    ['5 °C at most is not looser than 8', value(null, 5), value(null, 8), false],
    ['no upper bound is looser than one', value(1, null), value(null, 5), true],
    ['70 °C at least is looser than 75', value(70, null), value(75, null), true],
    ['the same is not looser', value(75, null), value(75, null), false],
  ])('%s', (_what, own, usual, looser) => {
    expect(isLooser(own, usual)).toBe(looser);
  });

  test('a limit is looser exactly when it lets some value pass that the other does not', () => {
    const bound = fc.option(fc.integer({ min: 0, max: 20 }));
    const lets = (limit: Limit, at: number) =>
      limit.form === 'value' && at >= (limit.atLeast ?? -Infinity) && at <= (limit.atMost ?? Infinity);
    // Half steps, and beyond both ends; only limits that let something pass are limits.
    const tried = Array.from({ length: 61 }, (_, step) => step / 2 - 5);
    fc.assert(
      fc.property(bound, bound, bound, bound, (a, b, c, d) => {
        const [own, usual] = [value(a, b), value(c, d)];
        fc.pre((a ?? -1) <= (b ?? 21) && (c ?? -1) <= (d ?? 21));
        expect(isLooser(own, usual)).toBe(tried.some((at) => lets(own, at) && !lets(usual, at)));
      }),
    );
  });
});

describe('drafts from the steps of a recipe', () => {
  test.each([
    [
      ['prepare', 'cook', 'chill', 'pack'],
      ['cook', 'chill', 'core-before-vacuum', 'seal'],
    ],
    [
      ['prepare', 'pack', 'cook-in-pack', 'chill'],
      ['seal', 'heat-in-pack', 'chill'],
    ],
    [
      ['cook', 'hot-fill', 'tumble-chill'],
      ['cook', 'filling', 'seal', 'chill'],
    ],
    [['prepare', 'pack', 'raw-for-cooking-at-site'], ['seal']],
    [
      ['thaw', 'cook', 'pack', 'freeze', 'regenerate'],
      // regenerated where it is served, long after the release
      ['thaw', 'cook', 'core-before-vacuum', 'seal', 'freeze'],
    ],
    [['prepare', 'regenerate'], ['regenerate']],
  ])('%j', (steps, codes) => {
    const draft = suggestPlan(steps);
    expect(draft.points.map(({ code }) => code)).toEqual(codes);
    expect(draft.reasons.map(({ code }) => code)).toEqual(codes);
    expect(draft.release).toBe('by-hand');
    // What is suggested can be kept as it is, and resolved anywhere.
    expect(resolvePlan(keep(draft.points), 'ZZ').points).toHaveLength(codes.length);
  });
});

function catching(run: () => unknown): Refused | null {
  try {
    run();
    return null;
  } catch (error) {
    if (error instanceof Refused) return error;
    throw error;
  }
}

test('from memory is said once, whether there is an edition to name or not', () => {
  const source = 'Guidelines';
  expect(sourceWords({ source, edition: 'from memory', basis: 'from-memory' })).toBe('Guidelines, from memory');
  expect(sourceWords({ source, edition: '1989', basis: 'from-memory' })).toBe('Guidelines, 1989, from memory');
});
