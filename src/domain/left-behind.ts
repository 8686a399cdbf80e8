/**
 * What stands on a machine after each thing that happened to it: raw, and which allergens, of all food since it was last cleaned down in
 * full. The same rules as in carry-over.ts: a rinse counts for nothing; food that was still on the machine when it was cleaned is on it
 * afterwards. Refusals: none.
 */
import { unionAllergens } from './allergens.ts';

/** `atMs`: for food, when it was off the machine. */
export type MachineEvent =
  | { readonly what: 'food'; readonly atMs: number; readonly raw: boolean; readonly allergens: readonly string[] }
  | { readonly what: 'full-clean-down' | 'other'; readonly atMs: number };

export interface LeftBehind {
  readonly raw: boolean;
  readonly allergens: readonly string[];
}

/** At one moment food comes before the cleaning that takes it off. */
const ORDER = { food: 0, 'full-clean-down': 1, other: 2 } as const;

export const inOrder = (a: MachineEvent, b: MachineEvent): number => a.atMs - b.atMs || ORDER[a.what] - ORDER[b.what];

/** @param events of one machine, in order. Answers one for each event: how it leaves the machine. */
export function leftBehind(events: readonly MachineEvent[]): LeftBehind[] {
  let left: LeftBehind = { raw: false, allergens: [] };
  return events.map((event) => {
    if (event.what === 'full-clean-down') left = { raw: false, allergens: [] };
    if (event.what === 'food') {
      left = { raw: left.raw || event.raw, allergens: unionAllergens([left.allergens, event.allergens]) };
    }
    return left;
  });
}
