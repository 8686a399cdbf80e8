/** The oracle on holds, on what they leave free and on what requests are told, judged by tables worked out by hand. */
import { describe, expect, it } from 'vitest';
import { freeQuantity, replay, wouldRefuse } from '../support/oracle/oracle.ts';
import type { OracleRequest } from '../support/oracle/oracle.ts';
import { at, bothWays, gets, held, into, lift, outOf, sorted, undo, world } from '../support/oracle/telling.ts';

describe('holds', () => {
  const chain = [gets(1, 'A', 50), into('X', 'A'), outOf('X', 'B'), into('Y', 'B'), outOf('Y', 'C')];

  it('reaches every descendant, whichever of hold and edge was told first', () => {
    for (const facts of [
      [...chain, held('A')],
      [held('A'), ...chain],
      [...chain.slice(0, 3), held('A'), ...chain.slice(3)],
    ]) {
      const state = bothWays(facts);
      expect(sorted(state.holdsMinimal)).toEqual(['H|A', 'H|B', 'H|C']);
      expect(sorted(state.holdsPossible)).toEqual(['H|A', 'H|B', 'H|C']);
    }
  });

  it('is lifted with all its copies, and reaches nothing born afterwards', () => {
    for (const facts of [
      [...chain, held('A'), lift],
      [held('A'), lift, ...chain],
    ]) {
      expect(replay(world, facts).holdsMinimal.size + replay(world, facts).holdsPossible.size).toBe(0);
    }
  });

  it('stays on its lot when it does not propagate or covers a site or place only', () => {
    for (const over of [{ propagates: false }, { scope: { siteId: 'kitchen' } }, { scope: { placeId: 'k-in' } }]) {
      expect(sorted(bothWays([...chain, held('A', over)]).holdsMinimal)).toEqual(['H|A']);
    }
  });

  it('may stay, and spread, where an edge brought it that was undone later', () => {
    const late = [into('Z', 'C', 9), outOf('Z', 'E', 10)];
    const undone = replay(world, [...chain, held('A'), undo('in-X-A'), ...late]);
    expect(sorted(undone.holdsMinimal)).toEqual(['H|A']);
    expect(sorted(undone.holdsPossible)).toEqual(['H|A', 'H|B', 'H|C', 'H|E']);
    const before = replay(world, [...chain, undo('in-X-A'), held('A'), ...late]);
    expect(sorted(before.holdsPossible)).toEqual(['H|A']);
  });

  it('decides what is free and what a request is told', () => {
    const request: OracleRequest = {
      kind: 'batch-input',
      ...at(9),
      batchId: 'W',
      lotId: 'A',
      placeId: 'k-in',
      quantity: 41,
    };
    const send = (lotId: string, quantity: number): OracleRequest => ({
      kind: 'dispatch',
      ...at(60),
      dispatchId: 'D',
      toSiteId: 'ward',
      lines: [{ lotId, placeId: 'k-in', quantity }],
    });
    const open = replay(world, [...chain, gets(1, 'dated', 5)]);
    expect(freeQuantity(open, 'A', 'k-in')).toBe(40);
    expect(sorted(wouldRefuse(open, request))).toEqual(['insufficient-stock']);
    expect(sorted(wouldRefuse(open, { ...request, quantity: 40 }))).toEqual([]);
    expect(sorted(wouldRefuse(open, { ...request, batchId: 'X', lotId: 'C', quantity: 8 }))).toEqual(['own-ancestor']);
    expect(sorted(wouldRefuse(open, send('dated', 5)))).toEqual(['past-use-by']);

    const recalled = replay(world, [...chain, held('A')]);
    expect(freeQuantity(recalled, 'C', 'k-in')).toBe(0);
    expect(sorted(wouldRefuse(recalled, { ...request, quantity: 40 }))).toEqual(['on-hold']);
    const move = { kind: 'move', ...at(9), lotId: 'A', fromPlaceId: 'k-in', toPlaceId: 'k-q', quantity: 40 } as const;
    expect(sorted(wouldRefuse(recalled, move))).toEqual([]);

    const pending = replay(world, [...chain, held('C', { holdKind: 'awaiting-release' })]);
    expect(freeQuantity(pending, 'C', 'k-in', 'make')).toBe(8);
    expect(sorted(wouldRefuse(pending, send('C', 8)))).toEqual(['on-hold']);
    expect(freeQuantity(replay(world, [...chain, held('A', { holdKind: 'drill' })]), 'A', 'k-in')).toBe(40);
    const local = replay(world, [...chain, held('A', { scope: { siteId: 'ward' } })]);
    expect(freeQuantity(local, 'A', 'k-in')).toBe(40);
  });
});
