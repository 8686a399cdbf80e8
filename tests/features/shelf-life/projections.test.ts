import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../../support/kitchen.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startService();
});
afterAll(() => service.stop());

const PATH = '/v1/shelf-life/projections';
const ask = (body: unknown, query = '', headers = {}): Promise<Answer> =>
  service.as('device').post(`${PATH}${query}`, body, headers);
const asked = {
  model: { kind: 'square-root', minTemperatureC: -10 },
  reference: { temperatureC: 4, lifeH: 240 },
  exposure: [{ durationH: 6, temperatureC: 9 }],
  thenTemperatureC: 4,
};
const codes = (answer: Answer): string[] => answer.body.cautions.map(({ code }: { code: string }) => code);

describe('each model', () => {
  test('square root, by hand: 6 h at (19/14)² are 11.0510 h of 240; used is rounded up, left down', async () => {
    const { status, body } = await ask(asked);
    expect(status).toBe(200);
    // (19/14)^2 = 1.841836...; x 6 = 11.051020...; / 240 = 0.046045...
    expect(body).toMatchObject({ usedFraction: 0.046046, equivalentAgeH: 11.052, remainingH: 228.948, exposureH: 6 });
    expect(body.steps).toEqual([
      {
        fromH: 0,
        durationH: 6,
        temperatureC: 9,
        toTemperatureC: 9,
        relativeRate: 1.84184,
        usedFraction: 0.046046,
        usedFractionSoFar: 0.046046,
      },
    ]);
  });

  test('Olley & Ratkowsky 1973 (coefficient from memory): 2 d at 0, 1 d at 5, 6 h at 15 °C are 5.8125 d at 0 °C', async () => {
    const exposure = [
      { durationH: 48, temperatureC: 0 },
      { durationH: 24, temperatureC: 5 },
      { durationH: 6, temperatureC: 15 },
    ];
    const { body } = await ask({ ...asked, reference: { temperatureC: 0, lifeH: 240 }, exposure });
    expect(body.equivalentAgeH).toBeCloseTo(5.8125 * 24, 3);
  });

  test('Q10 of 2: 10 weeks at 30 °C take all that 20 weeks at 20 °C take (a textbook passage, second-hand)', async () => {
    const week = 168;
    const answer = await ask({
      model: { kind: 'q10', q10: 2 },
      reference: { temperatureC: 20, lifeH: 20 * week },
      exposure: [{ durationH: 10 * week, temperatureC: 30 }],
      thenTemperatureC: 20,
    });
    expect(answer.body).toMatchObject({ usedFraction: 1, remainingH: 0 });
    expect(codes(answer)).toContain('life-used');
  });

  test('Arrhenius says that it fits growth badly', async () => {
    const answer = await ask({ ...asked, model: { kind: 'arrhenius', activationEnergyKjPerMol: 83.144 } });
    // exp(10000 x (1/277.15 - 1/282.15)) = 1.8955
    expect(answer.body.steps[0].relativeRate).toBeCloseTo(1.8955, 3);
    expect(codes(answer)).toContain('poor-fit-for-growth');
  });

  test('Listeria at 0.148 log10 a day (FDA/FSIS/CDC 2003, Hudson & Mott row): 5 d at 4 and 1 d at 10 °C, recomputed', async () => {
    const answer = await ask({
      model: { kind: 'listeria-growth', growthAt5CLog10PerDay: 0.148, allowedIncreaseLog10: 2 },
      exposure: [
        { durationH: 120, temperatureC: 4 },
        { durationH: 24, temperatureC: 10 },
      ],
      thenTemperatureC: 5,
    });
    const { body } = answer;
    expect(body.growth.log10Increase).toBeCloseTo(1.0043, 3);
    expect(body.usedFraction).toBeCloseTo(1.0043 / 2, 3);
    expect(body.remainingH / 24).toBeCloseTo((2 - 1.0043) / 0.148, 2);
    expect(body.model.minTemperatureC).toBe(-1.18);
    expect(body.sources.map(({ basis }: Json) => basis)).toContain('recomputed');
  });

  test('mean kinetic temperature (USP 29 <1160>, recomputed) is reported and is no life', async () => {
    const exposure = [
      { durationH: 22, temperatureC: 4 },
      { durationH: 2, temperatureC: 15 },
    ];
    const answer = await ask({ ...asked, model: { kind: 'mean-kinetic-temperature' }, exposure });
    expect(answer.body.meanKineticTemperatureC).toBeCloseTo(5.7063, 2);
    expect(answer.body).toMatchObject({ usedFraction: null, equivalentAgeH: null, remainingH: null, reference: null });
    expect(codes(answer)).toEqual(expect.arrayContaining(['not-for-microbes', 'not-used', 'few-temperatures']));
  });
});

describe('what is said beside the numbers', () => {
  test('that it decides nothing, and what is from memory', async () => {
    const answer = await ask(asked);
    expect(codes(answer)).toEqual(['decision-support', 'lengthens-nothing', 'model-not-checked', 'toxin-advisory']);
    expect(answer.body.toxinAdvisory.basis).toBe('from-memory');
    expect(answer.body.cautions.at(-1).sentence).toContain('FROM MEMORY');
    expect(answer.body.sources).toContainEqual(expect.objectContaining({ basis: 'from-memory' }));
    // 10^(0.65 - 0.0525 x 9 + 2.74/9) = 3.0336 days at 9 °C, of which 6 h
    expect(answer.body.toxinAdvisory.usedFraction).toBeCloseTo(6 / (3.0336 * 24), 4);
  });

  test('nothing about toxin below 3 °C, no hours without a further temperature, and the cold is no reason for a later date', async () => {
    const cold = { ...asked, exposure: [{ durationH: 240, temperatureC: -12 }], thenTemperatureC: -12 };
    const answer = await ask(cold);
    expect(answer.body).toMatchObject({ usedFraction: 0, remainingH: null, toxinAdvisory: null });
    expect(codes(answer)).toEqual(
      expect.arrayContaining(['outside-tried-range', 'below-minimum', 'no-end-in-model', 'colder-than-reference']),
    );
    const { thenTemperatureC: _, ...noFurther } = asked;
    const open = await ask(noFurther);
    expect(open.body.remainingH).toBeNull();
    expect(codes(open)).toContain('no-further-temperature');
  });
});

describe('readings with times', () => {
  const readings = [
    { at: '2026-11-25T06:00:00+00:00', temperatureC: 2 },
    { at: '2026-11-25T08:00:00+01:00', temperatureC: 6 },
    { at: '2026-11-25T10:00:00+00:00', temperatureC: 4 },
  ];
  test('by hand, 1 h between 2 and 6, 3 h between 6 and 4 °C: the warmer end counts unless something else is said', async () => {
    const used = async (more: object) => (await ask({ ...asked, exposure: readings, ...more })).body;
    const share = (hours: number) => Math.ceil((hours / 240) * 1e6 - 1e-6) / 1e6;
    const warmer = await used({});
    expect(warmer).toMatchObject({ betweenReadings: 'warmer-end', startsAt: '2026-11-25T06:00:00.000Z', exposureH: 4 });
    expect(warmer.usedFraction).toBe(share((4 * 16 ** 2) / 14 ** 2));
    expect((await used({ betweenReadings: 'step' })).usedFraction).toBe(share((12 ** 2 + 3 * 16 ** 2) / 14 ** 2));
    // The mean of x² between a and b is (a² + ab + b²) / 3.
    const line = (144 + 192 + 256) / 3 + 3 * ((256 + 224 + 196) / 3);
    expect((await used({ betweenReadings: 'line' })).usedFraction).toBeCloseTo(line / 196 / 240, 5);
    expect(warmer.cautions.map(({ code }: Json) => code)).toContain('gap-between-readings');
  });
});

describe('what does not go together is refused at its place', () => {
  const timed = (...at: string[]) => at.map((time) => ({ at: time, temperatureC: 4 }));
  test.each<[string, object | string, string, string]>([
    [
      'below -60 °C',
      { exposure: [{ durationH: 1, temperatureC: -60.1 }] },
      'invalid-request',
      '#/exposure/0/temperatureC',
    ],
    ['above 150 °C', { thenTemperatureC: 150.5 }, 'invalid-request', '#/thenTemperatureC'],
    ['no time at all', { exposure: [{ durationH: 0, temperatureC: 4 }] }, 'invalid-request', '#/exposure/0/durationH'],
    [
      'a step of years',
      { exposure: [{ durationH: 1e6, temperatureC: 4 }] },
      'invalid-request',
      '#/exposure/0/durationH',
    ],
    ['warmth that gives life', { model: { kind: 'q10', q10: 0.5 } }, 'invalid-request', '#/model/q10'],
    ['Fahrenheit', { exposure: [{ durationH: 1, temperatureF: 41 }] }, 'invalid-request', '#/exposure/0/temperatureC'],
    [
      'a number beyond all numbers',
      JSON.stringify(asked).replace('"temperatureC":9', '"temperatureC":1e999'),
      'invalid-request',
      '#/exposure/0/temperatureC',
    ],
    ['a time without zone', { exposure: timed('2026-11-25T06:00:00') }, 'invalid-request', '#/exposure/0/at'],
    [
      'a reference that grows nothing',
      { reference: { temperatureC: -10, lifeH: 1 } },
      'rule-broken',
      '#/reference/temperatureC',
    ],
    ['no life to take from', { reference: undefined }, 'rule-broken', '#/reference'],
    ['a step without time', { exposure: [{ temperatureC: 4 }] }, 'rule-broken', '#/exposure/0'],
    [
      'steps and readings mixed',
      { exposure: [{ durationH: 1, temperatureC: 4 }, ...timed('2026-11-25T06:00:00Z')] },
      'rule-broken',
      '#/exposure/1',
    ],
    ['one reading', { exposure: timed('2026-11-25T06:00:00Z') }, 'rule-broken', '#/exposure'],
    [
      'times that do not ascend',
      { exposure: timed('2026-11-25T06:00:00Z', '2026-11-25T07:00:00+01:00') },
      'rule-broken',
      '#/exposure/1/at',
    ],
    [
      'the 30th of February',
      { exposure: timed('2026-02-28T06:00:00Z', '2026-02-30T06:00:00Z') },
      'rule-broken',
      '#/exposure/1/at',
    ],
    ['a rule for what is not there', { betweenReadings: 'line' }, 'rule-broken', '#/betweenReadings'],
    [
      'a life said twice',
      { model: { kind: 'listeria-growth', growthAt5CLog10PerDay: 0.1, allowedIncreaseLog10: 2 } },
      'rule-broken',
      '#/model/allowedIncreaseLog10',
    ],
    [
      'an increase without a rate',
      { model: { kind: 'listeria-growth', allowedIncreaseLog10: 2 } },
      'rule-broken',
      '#/model/growthAt5CLog10PerDay',
    ],
  ])('%s', async (_what, change, code, pointer) => {
    const answer = await ask(typeof change === 'string' ? change : { ...asked, ...change });
    expect(answer.body).toMatchObject({ code });
    expect(answer.body.errors.map((issue: Json) => issue.pointer)).toContain(pointer);
  });

  test('whoever may not sign in may not ask', async () => {
    expect((await service.anonymous.post(PATH, asked)).status).toBe(401);
  });
});

test('at the ends of what may be sent the numbers stay numbers', async () => {
  const year = { durationH: 8_784, temperatureC: 150 };
  const blink = { durationH: 0.00021, temperatureC: -60 };
  const models = [
    { model: { kind: 'arrhenius', activationEnergyKjPerMol: 500 }, reference: { temperatureC: -60, lifeH: 0.011 } },
    { model: { kind: 'q10', q10: 20 }, reference: { temperatureC: -60, lifeH: 0.011 } },
    { model: { kind: 'square-root', minTemperatureC: -60 }, reference: { temperatureC: -59.9, lifeH: 0.011 } },
    { model: { kind: 'listeria-growth', growthAt5CLog10PerDay: 10, allowedIncreaseLog10: 0.00011 } },
    { model: { kind: 'listeria-growth', growthAt5CLog10PerDay: 0.00011, allowedIncreaseLog10: 12 } },
    { model: { kind: 'mean-kinetic-temperature', activationEnergyKjPerMol: 1 } },
    { model: { kind: 'mean-kinetic-temperature', activationEnergyKjPerMol: 500 } },
  ];
  for (const model of models) {
    for (const exposure of [[year, blink], [blink]]) {
      for (const format of ['json', 'svg']) {
        const answer = await ask({ ...model, exposure, thenTemperatureC: 150 }, `?format=${format}`);
        expect(answer.status, answer.text).toBe(200);
      }
    }
  }
});

describe('as a picture', () => {
  test('asked for by query or by Accept: what was sent, what is left, and that it decides nothing', async () => {
    const picture = await ask(asked, '?format=svg');
    expect(picture.status).toBe(200);
    expect(picture.headers['content-type']).toBe('image/svg+xml; charset=utf-8');
    expect((await ask(asked, '', { accept: 'image/svg+xml' })).text).toBe(picture.text);
    expect(picture.text).toMatch(/^<svg [^>]*font-family="'DejaVu Sans'[^>]*xmlns="http:\/\/www.w3.org\/2000\/svg"/);
    expect(picture.text).not.toContain('<style');
    for (const words of [
      'square-root model, minimum -10 °C',
      '228.9 h (9.5 days) left',
      'it changes no date',
      'from memory',
    ]) {
      expect(picture.text).toContain(words);
    }
    expect(picture.text).not.toMatch(/NaN|undefined|Infinity/);
  });

  test('of any kind, also when the life is long over', async () => {
    const times = Array.from({ length: 40 }, (_, at) => ({
      at: new Date(Date.UTC(2026, 10, 25, 6, at * 5)).toISOString(),
      temperatureC: at === 20 ? 140 : 4,
    }));
    const kinds = [
      { ...asked, model: { kind: 'q10', q10: 20 }, exposure: times, betweenReadings: 'line' },
      { ...asked, model: { kind: 'mean-kinetic-temperature' }, exposure: times },
      { model: { kind: 'listeria-growth', growthAt5CLog10PerDay: 0.1 }, exposure: asked.exposure },
      { ...asked, exposure: [{ durationH: 1, temperatureC: -12 }], thenTemperatureC: -12 },
    ];
    for (const body of kinds) {
      const { status, text } = await ask(body, '?format=svg');
      expect(status, text).toBe(200);
      expect(text).not.toMatch(/NaN|undefined|Infinity/);
    }
    expect((await ask(kinds[0], '?format=svg')).text).toContain('used up after');
  });
});
