/**
 * Lethality and cooling to try, over HTTP. Expected numbers by hand from the definitions: at a constant 70 °C each minute counts as one; 1 °C a minute
 * crosses each threshold at a minute of its own.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { coolingRule } from '../../../src/domain/process-checks/cooling-rules.ts';
import { judge } from '../../../src/domain/process-checks/judge.ts';
import type { Limit } from '../../../src/domain/process-checks/shapes.ts';
import { lethalityTarget } from '../../../src/domain/process-checks/targets.ts';
import { seriesChart } from '../../../src/features/process-checks/index.ts';
import { svgDrawing } from '../../../src/platform/pdf/svg.ts';
import { renderSheet } from '../../../src/platform/pdf/sheet.ts';
import { startService, type TestService } from '../../support/service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startService();
});
afterAll(() => service.stop());

const lethality = (body: object) => service.as('finance').post('/v1/process-checks/lethality', body);
const cooling = (body: object) => service.as('driver').post('/v1/process-checks/cooling', body);
const listeria = { referenceTemperatureC: 70, zBelowC: 7.5, zAboveC: 7.5, targetMinutes: 2 };
const held = [0, 1, 3].map((minute) => ({ minute, temperatureC: 70 }));

describe('lethality', () => {
  test('70 °C for 3 minutes against 70 °C for 2 minutes: 3 equivalent minutes, 9 of 6 reductions, each step told', async () => {
    const { status, body } = await lethality({ series: held, ...listeria });
    expect(status).toBe(200);
    expect(body).toMatchObject({
      equivalentMinutes: 3,
      equivalentMinutesStraight: 3,
      logReductionOfTarget: 9,
      meetsTarget: true,
      meetsTargetStraight: true,
      target: { code: 'listeria-70' },
      source: { basis: 'from-memory' },
      steps: [
        { minute: 0, temperatureC: 70, lethalRate: 1, cumulativeMinutes: 0 },
        { minute: 1, lethalRate: 1, cumulativeMinutes: 1 },
        { minute: 3, lethalRate: 1, cumulativeMinutes: 3 },
      ],
    });
    expect(body.cautions).toHaveLength(1);
    expect(body.cautions[0]).toMatch(/from memory.*has to confirm/);
  });

  test('the same in Fahrenheit, by the names of the fields (158 °F is 70 °C, 13.5 °F are 7.5 °C)', async () => {
    const series = held.map(({ minute }) => ({ minute, temperatureF: 158 }));
    const { body } = await lethality({
      series,
      referenceTemperatureF: 158,
      zBelowF: 13.5,
      zAboveF: 13.5,
      targetMinutes: 2,
    });
    expect(body).toMatchObject({
      equivalentMinutes: 3,
      target: { code: 'listeria-70' },
      steps: [{ temperatureF: 158, temperatureC: 70 }, {}, {}],
    });
  });

  test('numbers of your own are nobody else’s', async () => {
    const { body } = await lethality({ series: held, ...listeria, targetMinutes: 4, targetLogReduction: 5 });
    expect(body).toMatchObject({
      meetsTarget: false,
      logReductionOfTarget: 3.75,
      target: { code: null },
      source: null,
    });
    expect(body.cautions).toEqual(['These are numbers of your own: no source here vouches for them.']);
  });

  test.each([
    ['neither target nor numbers', {}, /^Missing: referenceTemperatureC, zBelowC, zAboveC, targetMinutes\./],
    ['both', { ...listeria, target: 'listeria-70' }, /not both/],
    [
      'one unit for the reference, another for z',
      { ...listeria, referenceTemperatureC: undefined, referenceTemperatureF: 158 },
      /all in Celsius or all in Fahrenheit/,
    ],
    ['unknown', { target: 'salmonella' }, /There are: listeria-70, /],
  ])('what to hold it against: %s', async (_what, more, said) => {
    const { status, body } = await lethality({ series: held, ...more });
    expect([status, body.code]).toEqual([422, 'rule-broken']);
    expect(body.detail).toMatch(said);
  });

  test('50,000 points are answered, 100,000 are refused by their number with the limit', async () => {
    const many = (count: number) =>
      Array.from({ length: count }, (_, at) => ({ minute: at / 1000, temperatureC: 70.25 }));
    const taken = await lethality({ series: many(50_000), target: 'listeria-70' });
    expect(taken.status).toBe(200);
    expect(taken.body.steps).toHaveLength(50_000);
    // 49.999 minutes at 10^(0.25/7.5) = 1.0797752
    expect(taken.body.equivalentMinutes).toBeCloseTo(53.98768, 3);
    const refused = await lethality({ series: many(100_000), target: 'listeria-70' });
    expect([refused.status, refused.body.code]).toEqual([422, 'series-unusable']);
    expect(refused.body.detail).toContain('at most 50000');
  });
});

describe('cooling', () => {
  const falling = [
    { minute: 0, temperatureC: 73 },
    { minute: 63, temperatureC: 10 },
    { minute: 70, temperatureC: 3 },
  ];

  test('1 °C a minute from 73 °C: 63 °C at minute 10, 10 °C at 63; 53 of 120 minutes', async () => {
    const { status, body } = await cooling({ series: falling, jurisdiction: 'FR' });
    expect(status).toBe(200);
    expect(body).toMatchObject({
      met: true,
      failed: [],
      rule: { code: 'fr-rapid-cooling' },
      source: { basis: 'second-hand' },
      points: [
        {
          startedAtMinute: 10,
          startedBetweenMinutes: [0, 63],
          endedAtMinute: 63,
          tookMinutes: 53,
          leftMinutes: 67,
          reason: null,
        },
      ],
    });
  });

  test('a rule of your own, in Fahrenheit: 140 °F (60 °C, minute 13) to 50 °F (10 °C, minute 63) is 50 minutes', async () => {
    const { body } = await cooling({ series: falling, points: [{ fromF: 140, toF: 50, withinMinutes: 45 }] });
    expect(body).toMatchObject({
      met: false,
      failed: ['point-1'],
      source: null,
      points: [{ startedAtMinute: 13, tookMinutes: 50, leftMinutes: -5, state: 'too-slow' }],
    });
    expect(body.points[0].reason).toBe('140 °F to 50 °F: it took 50 minutes; 45 are allowed, so it was over by 5.');
  });

  test.each([
    ['no rule', {}, /^Send one of rule/],
    ['two', { rule: 'us-food-code', jurisdiction: 'US' }, /^Send one of rule/],
    ['a country without one', { jurisdiction: 'DE' }, /No cooling rule is known here for DE/],
    ['warmer at the end', { points: [{ fromC: 5, toC: 10, withinMinutes: 5 }] }, /from warm to cold/],
    ['nothing to come down to', { points: [{ fromC: 5, withinMinutes: 5 }] }, /needs toC or toF/],
  ])('what to hold it against: %s', async (_what, more, said) => {
    const { status, body } = await cooling({ series: falling, ...more });
    expect([status, body.code]).toEqual([422, 'rule-broken']);
    expect(body.detail).toMatch(said);
  });
});

test('the lists: each number with its source and what of it was read', async () => {
  const targets = (await service.as('device').get('/v1/process-checks/targets')).body;
  expect(targets.targets.map((one: { code: string }) => one.code)).toContain('botulinum-90');
  expect(targets.coreTemperatures).toContainEqual(expect.objectContaining({ code: 'gb-sct-reheat', temperatureC: 82 }));
  const { rules } = (await service.as('device').get('/v1/process-checks/cooling-rules')).body;
  for (const one of [...targets.targets, ...rules]) {
    expect(one.numbers.length).toBeGreaterThan(0);
    for (const { source, edition, basis } of one.numbers) expect([source, edition, basis].every(Boolean)).toBe(true);
  }
});

test('a series as a picture: its verdict, its crossings, its source; and the printer of pages can draw it', async () => {
  const cooled = [
    { minute: 0, temperatureC: 73 },
    { minute: 68, temperatureC: 5 },
  ];
  const cooked = Array.from({ length: 20_000 }, (_, at) => ({
    minute: at / 100,
    temperatureC: 20 + (60 * at) / 20_000,
  }));
  const draw = (points: typeof cooled, limit: Limit) =>
    seriesChart({
      title: 'Load A',
      points,
      limit,
      judgement: judge(limit.form === 'cooling' ? 'cooling' : 'lethality', { form: 'series', points }, limit),
      began: { atMs: Date.UTC(2026, 10, 25, 9), zone: 'Europe/London' },
    });
  const cool = draw(cooled, { form: 'cooling', rule: coolingRule('us-food-code') });
  // 1 °C a minute: 57 °C at 16, 21 °C at 52, 5 °C at 68
  expect(cool).toContain('Passed. 57 °C to 21 °C: 36 min of 120. 57 °C to 5 °C: 52 min of 360.');
  expect(cool).toContain('10:00');
  const cook = draw(cooked, { form: 'lethality', target: lethalityTarget('listeria-70') });
  expect(cook).toContain('Equivalent minutes at 70 °C');
  expect(cook.length).toBeLessThan(60_000);
  const sections = [cool, cook].map((svg) => svgDrawing([svg]));
  const pdf = await renderSheet({
    title: 'Record',
    subtitle: '',
    sections,
    foot: '',
    madeAtMs: Date.UTC(2026, 10, 25),
  });
  expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
});
