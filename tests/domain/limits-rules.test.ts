/** Everyday limits by the rules of each jurisdiction. Expected ends are worked out by hand from the sources named in the titles. */
import { describe, expect, test } from 'vitest';
import { heatMinutes, whyNotControlled, type ControlFactor } from '../../src/domain/limits/controls.ts';
import { computeLimits } from '../../src/domain/limits/limits.ts';
import { basisOf, POLICY_SETS, policySetOf, type SitePolicy } from '../../src/domain/limits/policies.ts';
import { at, BORN, factsOf, HOUR, policyFor, wayOf } from './limits-kit.ts';

const endsOf = (
  facts: Parameters<typeof factsOf>[0],
  steps: Parameters<typeof wayOf>[0],
  policy: SitePolicy,
  more: Parameters<typeof wayOf>[1] = {},
) => {
  const lot = factsOf(facts);
  const computed = computeLimits(lot, [wayOf(steps, more)], [policy]);
  return {
    computed,
    of: (code: string) => computed.limits.find((limit) => limit.code === code),
    end: (code: string) => {
      const ms = computed.limits.find((limit) => limit.code === code)?.endsAtMs;
      return ms === null || ms === undefined ? ms : new Date(ms).toISOString();
    },
  };
};

describe('the ten days of vacuum-packed chilled food', () => {
  const packed = { anchors: { firstSeal: at('2026-11-23T10:00:00Z') } };

  test("FSA factsheet 2008, 'A maximum 10 day shelf-life ... 3-8C': sealed on the 23rd, that day the first, they end with 2 December", () => {
    const { end, of } = endsOf(packed, [[240, 3]], policyFor('gb-eng'));
    expect(end('vacuum-pack-10-days')).toBe('2026-12-03T00:00:00.000Z');
    expect(of('vacuum-pack-10-days')?.drives).toBe(true);
  });

  test('a clock change makes no day longer or shorter: sealed on 23 October, the end is the end of 1 November at the site', () => {
    const facts = { bornAtMs: at('2026-10-23T09:00:00Z'), anchors: { firstSeal: at('2026-10-23T10:00:00Z') } };
    expect(endsOf(facts, [[1, 3]], policyFor('gb-eng')).end('vacuum-pack-10-days')).toBe('2026-11-02T00:00:00.000Z');
    const new_york = { ...facts, timeZone: 'America/New_York' };
    // ten days from 23 October end with 1 November, the day the clocks go back there: 05:00 UTC is midnight EST
    expect(endsOf(new_york, [[1, 3]], policyFor('gb-eng')).end('vacuum-pack-10-days')).toBe('2026-11-02T05:00:00.000Z');
  });

  test('they do not hold for food that is not sealed, and not for what is kept in the dry store', () => {
    expect(endsOf({ anchors: {} }, [[1, 3]], policyFor('gb-eng')).of('vacuum-pack-10-days')).toBeUndefined();
    expect(endsOf({ ...packed, storage: 'ambient' }, [[1, 20]], policyFor('gb-eng')).computed.limits).toHaveLength(1);
  });

  test.each<[string, ControlFactor, readonly string[], boolean]>([
    ['90 °C for 10 minutes (FSA, read)', { factor: 'heat', value: 90, minutes: 10, signedBy: 'N' }, [], true],
    ['85 °C for 36 minutes (FSA module 3, read)', { factor: 'heat', value: 85, minutes: 36, signedBy: 'N' }, [], true],
    ['85 °C for 35 minutes', { factor: 'heat', value: 85, minutes: 35, signedBy: 'N' }, [], false],
    [
      '80 °C for 129 minutes: in the table, but an experiment needed 230',
      { factor: 'heat', value: 80, minutes: 129, signedBy: 'N' },
      [],
      false,
    ],
    [
      'pH 4.9, threshold from memory and not confirmed',
      { factor: 'ph', value: 4.9, minutes: null, signedBy: 'N' },
      [],
      false,
    ],
    [
      'pH 4.9, confirmed for the site',
      { factor: 'ph', value: 4.9, minutes: null, signedBy: 'N' },
      ['vacuum-pack-controls'],
      true,
    ],
    ['pH 5.1, confirmed', { factor: 'ph', value: 5.1, minutes: null, signedBy: 'N' }, ['vacuum-pack-controls'], false],
    [
      '3.5 % salt in the water, confirmed',
      { factor: 'salt', value: 3.5, minutes: null, signedBy: 'N' },
      ['vacuum-pack-controls'],
      true,
    ],
    [
      'water activity 0.98, confirmed',
      { factor: 'water-activity', value: 0.98, minutes: null, signedBy: 'N' },
      ['vacuum-pack-controls'],
      false,
    ],
  ])('%s lifts them or not', (_name, statement, confirmed, lifts) => {
    const policy = policyFor('gb-eng', confirmed);
    expect(whyNotControlled(statement, policy) === null).toBe(lifts);
    const limit = endsOf({ ...packed, controls: [statement] }, [[1, 3]], policy).of('vacuum-pack-10-days');
    expect(limit?.endsAtMs === null).toBe(lifts);
  });

  test('FSA vacuum-packing training module 3, equivalents: 90 °C 10 min, 92 °C 6.3, 100 °C 1.0; between rows the colder one counts', () => {
    expect([90, 92, 92.9, 100, 121].map(heatMinutes)).toEqual([10, 6.3, 6.3, 1, 1]);
  });
});

describe('cook-chill, DoH 1989 (from memory)', () => {
  const all = policyFor('gb-eng', ['cook-chill-5-days', 'cook-chill-5-c', 'cook-chill-10-c']);
  const meal = { cookChill: true, anchors: { endOfCooking: at('2026-11-23T08:00:00Z') } };

  test('5 days including production and consumption: cooked on the 23rd, the 27th is the last', () => {
    expect(endsOf(meal, [[1, 2]], all).end('cook-chill-5-days')).toBe('2026-11-28T00:00:00.000Z');
  });

  test('above 5 and not above 10 °C: eat within 12 hours of when it began', () => {
    const { end, computed } = endsOf(
      meal,
      [
        [4, 3],
        [1, 9],
        [1, 3],
      ],
      all,
    );
    expect(end('cook-chill-5-c')).toBe(new Date(BORN + 16 * HOUR).toISOString());
    expect(end('cook-chill-10-c')).toBeNull();
    expect(computed.ruling?.code).toBe('cook-chill-5-c');
    expect(computed.forbiddenBy).toBeNull();
  });

  test('above 10 °C: discard, from when it began', () => {
    const { computed } = endsOf(
      meal,
      [
        [4, 3],
        [1, 10.01],
        [1, 3],
      ],
      all,
    );
    expect(computed.forbiddenBy?.code).toBe('cook-chill-10-c');
    expect(computed.effectiveAtMs).toBe(BORN + 4 * HOUR);
  });

  test('exactly 5 and 10 °C are not above; half an hour is a door, a minute more is not', () => {
    expect(
      endsOf(
        meal,
        [
          [4, 3],
          [9, 5],
        ],
        all,
      ).end('cook-chill-5-c'),
    ).toBeNull();
    expect(
      endsOf(
        meal,
        [
          [4, 3],
          [9, 10],
        ],
        all,
      ).end('cook-chill-10-c'),
    ).toBeNull();
    expect(
      endsOf(
        meal,
        [
          [4, 3],
          [0.5, 11],
          [1, 3],
        ],
        all,
      ).end('cook-chill-10-c'),
    ).toBeNull();
    expect(
      endsOf(
        meal,
        [
          [4, 3],
          [0.5 + 1 / 60, 11],
          [1, 3],
        ],
        all,
      ).computed.forbiddenBy,
    ).not.toBeNull();
  });

  test('told and driving nothing where nobody has confirmed them; then the printed date rules', () => {
    const { of, computed } = endsOf(
      meal,
      [
        [4, 3],
        [2, 11],
      ],
      policyFor('gb-eng'),
    );
    expect(of('cook-chill-10-c')).toMatchObject({ drives: false, endsAtMs: BORN + 4 * HOUR, basis: 'from-memory' });
    expect(computed.forbiddenBy).toBeNull();
    expect(computed.ruling?.code).toBe('printed-use-by');
  });

  test('FSAI Guidance Note 15 (2018), Ireland: at most 5 days, where the site works by it', () => {
    const { of, end } = endsOf(meal, [[1, 2]], policyFor('ie', ['cook-chill-5-days']));
    expect(end('cook-chill-5-days')).toBe('2026-11-28T00:00:00.000Z');
    expect(of('cook-chill-5-days')?.drives).toBe(true);
  });

  test('where it is only presumed to be, warmth is a finding and condemns nothing; warmth before that does', () => {
    const there = endsOf(
      meal,
      [
        [4, 3],
        [2, 11],
      ],
      all,
      { presumedFromMs: BORN + 4 * HOUR },
    ).computed;
    expect(there.forbiddenBy).toBeNull();
    expect(there.presumedOnly?.code).toBe('cook-chill-10-c');
    const before = endsOf(
      meal,
      [
        [4, 3],
        [2, 11],
      ],
      all,
      { presumedFromMs: BORN + 5 * HOUR },
    ).computed;
    expect(before.forbiddenBy?.code).toBe('cook-chill-10-c');
  });
});

describe('hours out of the chill', () => {
  const food = { handling: 'ready-to-eat' } as const;

  test('Northern Ireland, SR 2006/3 Sch. 4 para 5, less than 4 h above 8 °C: the end is when 4 hours are full, in two stretches as well', () => {
    const policy = policyFor('gb-nir');
    expect(
      endsOf(
        food,
        [
          [2, 9],
          [1, 3],
          [1.99, 9],
        ],
        policy,
      ).end('hours-out-of-chill'),
    ).toBeNull();
    const { end, computed } = endsOf(
      food,
      [
        [2, 9],
        [1, 3],
        [3, 9],
      ],
      policy,
    );
    expect(end('hours-out-of-chill')).toBe(new Date(BORN + 5 * HOUR).toISOString());
    expect(computed.forbiddenBy?.code).toBe('hours-out-of-chill');
  });

  test('England: para 5 is from memory, so it drives nothing unconfirmed', () => {
    expect(endsOf(food, [[6, 9]], policyFor('gb-eng')).of('hours-out-of-chill')).toMatchObject({
      drives: false,
      forbids: true,
    });
    const confirmed = policyFor('gb-eng', ['hours-out-of-chill']);
    expect(endsOf(food, [[6, 9]], confirmed).computed.forbiddenBy?.code).toBe('hours-out-of-chill');
  });

  test('Food Code 3-501.19 (Delaware, Wisconsin): 4 hours above 41 °F; 6 where it never was above 70 °F (21 °C)', () => {
    const policy = policyFor('us');
    expect(endsOf(food, [[7, 20]], policy).end('hours-out-of-chill')).toBe(new Date(BORN + 6 * HOUR).toISOString());
    expect(
      endsOf(
        food,
        [
          [6, 20],
          [1, 22],
        ],
        policy,
      ).end('hours-out-of-chill'),
    ).toBe(new Date(BORN + 4 * HOUR).toISOString());
    expect(endsOf(food, [[20, 5]], policy).end('hours-out-of-chill')).toBeNull();
  });
});

describe('reduced oxygen in the United States, 3-502.12(D)(2)(e)', () => {
  const sealed = { anchors: { firstSeal: BORN } };
  const policy = policyFor('us');

  test('(i), Florida 03G-29-5: at 34 °F, 30 days from packaging', () => {
    const { end, computed } = endsOf(
      sealed,
      [
        [30, 4],
        [400, 1],
      ],
      policy,
    );
    expect(end('us-rop-34-f')).toBeNull();
    expect(end('us-rop-30-days')).toBe('2026-12-23T00:00:00.000Z');
    expect(computed.limits.find(({ code }) => code === 'us-rop-41-f')?.drives).toBe(false);
  });

  test('(iii): taken out after ten days, 7 days from then, and never beyond the 30', () => {
    // sealed on 23 November; above 34 °F from 3 December 06:00 on
    const { end } = endsOf(
      sealed,
      [
        [30, 4],
        [210, 1],
        [40, 4],
      ],
      policy,
    );
    expect(end('us-rop-34-f')).toBe('2026-12-10T00:00:00.000Z');
  });

  test('not at 34 °F within 48 hours: 7 days from packaging', () => {
    expect(endsOf(sealed, [[60, 4]], policy).end('us-rop-34-f')).toBe('2026-11-30T00:00:00.000Z');
  });

  test('the 38 °F with 72 hours of 2009 was deleted in 2013 and is nowhere', () => {
    const values = POLICY_SETS.flatMap(({ rules }) =>
      rules.flatMap(({ numbers }) => Object.values(numbers).map(({ value }) => value)),
    );
    expect(values).not.toContain(72);
  });

  test('Food Code 3-501.17 (Georgia, Minnesota): 7 days with the day of preparation; freezing pauses', () => {
    const made = { origin: 'produced', anchors: { endOfCooking: BORN } };
    expect(endsOf(made, [[1, 3]], policy).end('us-date-mark')).toBe('2026-11-30T00:00:00.000Z');
    const frozen = { ...made, anchors: { ...made.anchors, frozenAt: BORN, frozenDaysLeft: 4 } };
    expect(endsOf(frozen, [[1, -20]], policy).end('us-date-mark')).toBeNull();
  });
});

describe('frozen food', () => {
  const frozen = {
    anchors: { firstSeal: BORN, frozenAt: BORN, frozenDaysLeft: 3 },
    printedUseByAtMs: at('2027-05-01T00:00:00Z'),
  };

  test('the clock stands still: no limit in days, however long it lies there', () => {
    const { computed, end } = endsOf(frozen, [[24 * 60, -20]], policyFor('gb-eng'));
    expect(end('vacuum-pack-10-days')).toBeNull();
    expect(computed.ruling?.code).toBe('printed-use-by');
  });

  test('a freezer that failed: the three days that were left count from when it was above 3 °C', () => {
    const { end } = endsOf(
      frozen,
      [
        [100, -20],
        [2, 6],
        [5, -20],
      ],
      policyFor('gb-eng'),
    );
    // 100 h after 06:00 on the 23rd is 10:00 on the 27th; three days more end with the 30th
    expect(end('thawed-by-warmth')).toBe('2026-12-01T00:00:00.000Z');
    expect(
      endsOf(
        frozen,
        [
          [100, -20],
          [2, 2],
          [5, -20],
        ],
        policyFor('gb-eng'),
      ).of('thawed-by-warmth'),
    ).toBeUndefined();
  });
});

describe('temperatures of law in the policy sets', () => {
  const temperature = (set: string, code: string) =>
    POLICY_SETS.find((one) => one.code === set)?.temperatures.find((one) => one.code === code);

  test.each([
    ['England at most 8 °C (SI 2013/2996 Sch. 4 para 2)', 'gb-eng', 'chilled-at-most', 8, 'published'],
    ['hot at least 63 °C (WSI 2006/31, SSI 2006/3)', 'gb-eng', 'hot-at-least', 63, 'published'],
    [
      'Scotland reheats to 82 °C (1995 Regs reg. 14; SSI 2006/3 second-hand)',
      'gb-sct',
      'reheat-at-least',
      82,
      'second-hand',
    ],
    ['quick-frozen at most -18 °C (89/108/EEC Art. 5)', 'eu', 'frozen-at-most', -18, 'published'],
    [
      'and -15 °C in distribution (89/108/EEC Art. 5, 3 °C upward)',
      'eu',
      'frozen-in-distribution-at-most',
      -15,
      'published',
    ],
    ['Food Code cold at most 5 °C (3-501.16 via Delaware)', 'us', 'chilled-at-most', 5, 'published'],
    ['Food Code hot at least 57 °C (3-501.16 via Delaware)', 'us', 'hot-at-least', 57, 'published'],
    ['FSAI GN 15: cook-chill stored at 3 °C', 'ie', 'cook-chill-at-most', 3, 'published'],
  ])('%s', (_title, set, code, value, basis) => {
    expect(temperature(set, code)).toMatchObject({ value, basis, unit: 'C' });
  });

  test('no general number of the European Union was found, so there is none', () => {
    expect(temperature('eu', 'chilled-at-most')).toBeUndefined();
    expect(policySetOf('FR').code).toBe('eu');
  });

  test('a jurisdiction has its own set, else its country’s', () => {
    expect(['GB-ENG', 'GB-SCT', 'GB-NIR', 'GB-WLS', 'IE', 'US-NY', 'DE'].map((one) => policySetOf(one).code)).toEqual([
      'gb-eng',
      'gb-sct',
      'gb-nir',
      'gb-eng',
      'ie',
      'us',
      'eu',
    ]);
  });

  test('every number says where it is from, how sure it is and who confirms it; what is from memory says so in its edition or source', () => {
    for (const set of POLICY_SETS) {
      const numbers = [...set.rules.flatMap((rule) => Object.values(rule.numbers)), ...set.temperatures, set.useBy];
      for (const one of numbers) {
        expect(one.source.length, JSON.stringify(one)).toBeGreaterThan(10);
        expect(one.confirmBy).not.toBe('');
        if (one.basis === 'from-memory') expect(one.edition).toContain('from memory');
      }
      for (const rule of set.rules)
        expect(['published', 'second-hand', 'common-practice', 'from-memory']).toContain(basisOf(rule));
    }
  });
});
