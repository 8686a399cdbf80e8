/** Short ways to tell facts at a kitchen and a ward, for tables worked out by hand. Ids say what they name. */
import { expect } from 'vitest';
import { checkConservation, replay } from './oracle.ts';
import type { HoldFact, OracleFact, OracleState, World } from './oracle.ts';

export const world: World = {
  sites: [
    { id: 'kitchen', receivingPlaceId: 'k-in', quarantinePlaceId: 'k-q' },
    { id: 'ward', receivingPlaceId: 'w-in', quarantinePlaceId: 'w-q' },
  ],
  places: [
    { id: 'k-in', siteId: 'kitchen' },
    { id: 'k-cold', siteId: 'kitchen' },
    { id: 'k-q', siteId: 'kitchen' },
    { id: 'w-in', siteId: 'ward' },
    { id: 'w-cold', siteId: 'ward' },
    { id: 'w-q', siteId: 'ward' },
  ],
  lots: [{ lotId: 'dated', useByMs: 50 }],
};

export const at = (occurredAt: number, id = `t${occurredAt}`): { id: string; occurredAt: number } => ({
  id,
  occurredAt,
});
export const gets = (t: number, lotId: string, quantity: number, placeId = 'k-in'): OracleFact => ({
  kind: 'receive',
  ...at(t, `get-${lotId}`),
  lotId,
  placeId,
  quantity,
});
export const uses = (t: number, lotId: string, quantity: number, placeId = 'k-in', id = `use-${t}`): OracleFact => ({
  kind: 'use',
  ...at(t, id),
  lotId,
  placeId,
  quantity,
});
export const counts = (t: number, lotId: string, counted: number, id = `count-${t}`): OracleFact => ({
  kind: 'count',
  ...at(t, id),
  placeId: 'k-in',
  lines: [{ lotId, counted }],
});
export const into = (batchId: string, lotId: string, t = 5): OracleFact => ({
  kind: 'batch-input',
  ...at(t, `in-${batchId}-${lotId}`),
  batchId,
  lotId,
  placeId: 'k-in',
  quantity: 10,
});
export const outOf = (batchId: string, lotId: string, t = 6): OracleFact => ({
  kind: 'batch-output',
  ...at(t, `out-${batchId}-${lotId}`),
  batchId,
  lotId,
  placeId: 'k-in',
  quantity: 8,
});
export const undo = (ofFactId: string): OracleFact => ({ kind: 'reversal', ...at(0, `undo-${ofFactId}`), ofFactId });
export const held = (lotId: string, over: Partial<HoldFact> = {}): HoldFact => ({
  kind: 'hold',
  ...at(1, `hold-${lotId}`),
  holdId: 'H',
  lotId,
  holdKind: 'recall',
  scope: 'everywhere',
  propagates: true,
  ...over,
});
export const lift: OracleFact = { kind: 'lift', ...at(99), holdId: 'H' };

export const nets = (state: OracleState): Record<string, number> => Object.fromEntries(state.net);
export const sorted = (set: ReadonlySet<string>): string[] => [...set].sort();

/** The same end in both orders of telling. */
export function bothWays(facts: readonly OracleFact[]): OracleState {
  const state = replay(world, facts);
  const backwards = replay(world, [...facts].reverse());
  expect(nets(backwards)).toEqual(nets(state));
  expect(sorted(backwards.findings)).toEqual(sorted(state.findings));
  checkConservation(state);
  return state;
}
