/** What may be done with a part, by a table of what each kind of hold blocks. */
import { describe, expect, test } from 'vitest';
import type { Refused } from '../../src/domain/errors.ts';
import {
  blockingHolds,
  refusalFor,
  reworkRefusal,
  useByOfPart,
  whyNot,
  type Action,
  type OpenHold,
  type PartFacts,
} from '../../src/domain/ledger/may.ts';

const ACTIONS: readonly Action[] = ['use-in-batch', 'leave-site', 'serve', 'move-within-site'];
const USE_BY_MS = 1_000;

const hold = (kind: string, more: Partial<OpenHold> = {}): OpenHold => ({
  holdId: `hold-${kind}`,
  kind,
  lotId: 'stew',
  siteId: null,
  accountId: null,
  ...more,
});
const part = (more: Partial<PartFacts> = {}): PartFacts => ({
  lotId: 'stew',
  lotCode: 'STEW-1',
  siteId: 'ward',
  accountId: 'cold',
  quarantine: false,
  useByMs: null,
  holds: [],
  ...more,
});
const codeOf = (refused: Refused | null): string | null => refused?.code ?? null;
const ask = (facts: PartFacts, action: Action, atMs = 0, wanted = 1, there = 10): string | null =>
  codeOf(refusalFor(facts, action, atMs, wanted, there, '#/quantity'));

describe('a hold', () => {
  test.each<[string, Action[]]>([
    ['awaiting-release', ['leave-site', 'serve']],
    ['awaiting-laboratory', ['leave-site', 'serve']],
    ['quality', ['use-in-batch', 'leave-site', 'serve']],
    ['safety', ['use-in-batch', 'leave-site', 'serve']],
    ['recall', ['use-in-batch', 'leave-site', 'serve']],
    ['failed-check', ['use-in-batch', 'leave-site', 'serve']],
    ['declaration', ['leave-site', 'serve']],
    ['for-rework', ['use-in-batch', 'leave-site', 'serve']],
    ['rejected', ['use-in-batch', 'leave-site', 'serve']],
  ])('%s blocks %j and nothing else', (kind, blocked) => {
    const facts = part({ holds: [hold(kind)] });
    expect(ACTIONS.filter((action) => ask(facts, action) === 'on-hold')).toEqual(blocked);
    expect(ACTIONS.filter((action) => whyNot(facts, action, 0) !== null)).toEqual(blocked);
  });

  test('for rework, asked for in a batch: named as such only where nothing else stands against it', () => {
    const asked = (...kinds: string[]) =>
      codeOf(reworkRefusal(part({ holds: kinds.map((kind) => hold(kind)) }), '#/lotId'));
    expect(asked('for-rework', 'awaiting-release')).toBe('not-for-rework');
    expect(asked('for-rework', 'quality')).toBeNull();
    expect(asked('rejected')).toBeNull();
    expect(asked()).toBeNull();
    expect(ask(part({ holds: [hold('for-rework')] }), 'use-in-batch')).toBe('on-hold');
  });

  test.each<[string, Partial<OpenHold>, boolean]>([
    ['everywhere', {}, true],
    ['at this site', { siteId: 'ward' }, true],
    ['at another site', { siteId: 'school' }, false],
    ['in this place', { accountId: 'cold' }, true],
    ['in another place', { accountId: 'freezer' }, false],
  ])('%s covers the part: %j %s', (_name, scope, covers) => {
    expect(blockingHolds(part({ holds: [hold('quality', scope)] }), 'serve')).toHaveLength(covers ? 1 : 0);
  });

  test('whose kind is not known blocks everything', () => {
    expect(ACTIONS.map((action) => ask(part({ holds: [hold('new-kind')] }), action))).toEqual(
      Array<string>(4).fill('on-hold'),
    );
  });
});

describe('without a hold', () => {
  test.each<[string, Partial<PartFacts>, Action, number, string | null]>([
    ['one millisecond before its end', { useByMs: USE_BY_MS }, 'serve', USE_BY_MS - 1, null],
    ['at its end', { useByMs: USE_BY_MS }, 'serve', USE_BY_MS, 'past-use-by'],
    ['past it, moved within the site', { useByMs: USE_BY_MS }, 'move-within-site', USE_BY_MS, null],
    ['from quarantine', { quarantine: true }, 'use-in-batch', 0, 'quarantined'],
    ['from quarantine, moved within the site', { quarantine: true }, 'move-within-site', 0, null],
    ['regenerated, put into a batch', { regenerated: true }, 'use-in-batch', 0, 'regenerated-stays'],
    ['regenerated, sent out', { regenerated: true }, 'leave-site', 0, 'regenerated-stays'],
    ['regenerated, served', { regenerated: true }, 'serve', 0, null],
    ['regenerated, moved within the site', { regenerated: true }, 'move-within-site', 0, null],
    ['without a limit', {}, 'leave-site', Number.MAX_SAFE_INTEGER, null],
  ])('%s', (_name, facts, action, atMs, code) => {
    expect(ask(part(facts), action, atMs)).toBe(code);
    expect(whyNot(part(facts), action, atMs) === null).toBe(code === null);
  });

  test('as much as is there may be taken, and no more; a shortfall counts as nothing', () => {
    expect(ask(part(), 'serve', 0, 10, 10)).toBeNull();
    expect(refusalFor(part(), 'serve', 0, 11, 10, '#/quantity')).toMatchObject({
      code: 'insufficient-stock',
      more: { members: { available: 10 }, errors: [{ pointer: '#/quantity' }] },
    });
    expect(refusalFor(part(), 'move-within-site', 0, 1, -3, '#/quantity')?.more.members).toEqual({ available: 0 });
  });

  test('the gravest is said first: hold, date, quarantine, stock', () => {
    const facts = { useByMs: USE_BY_MS, quarantine: true };
    const said = [part({ ...facts, holds: [hold('recall')] }), part(facts), part({ quarantine: true }), part()].map(
      (one) => ask(one, 'serve', USE_BY_MS, 11, 10),
    );
    expect(said).toEqual(['on-hold', 'past-use-by', 'quarantined', 'insufficient-stock']);
  });
});

describe('the date of a part', () => {
  const dated = (useByAtMs: number, more: Partial<OpenHold> = {}) =>
    hold('use-by', { accountId: 'cold', useByAtMs, ...more });
  test.each<[string, number | null, OpenHold[], number | null]>([
    ['is its own when that is earlier', 5_000, [dated(3_000)], 3_000],
    ["is its lot's when that is earlier", 2_000, [dated(3_000)], 2_000],
    ['is the earliest of several', 5_000, [dated(4_000), dated(3_000)], 3_000],
    ['is its own when the lot has none', null, [dated(3_000)], 3_000],
    ['is not that of the lot in another place', 5_000, [dated(3_000, { accountId: 'van' })], 5_000],
    ['is not that of another lot in the same place', 5_000, [dated(3_000, { lotId: 'pie' })], 5_000],
    ['is there without any: no limit', null, [hold('quality')], null],
  ])('%s', (_name, lotMs, holds, expected) => {
    expect(useByOfPart({ lotId: 'stew', accountId: 'cold' }, lotMs, holds)).toBe(expected);
  });

  test('blocks nothing by being there', () => {
    const facts = part({ holds: [dated(3_000)] });
    expect(ACTIONS.map((action) => ask(facts, action))).toEqual([null, null, null, null]);
  });
});
