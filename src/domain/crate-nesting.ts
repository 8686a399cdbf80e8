/** Crates in crates: what a placement may not make. Pure. */
import { Refused } from './errors.ts';

/** A crate on a roll cage on a pallet are three; five leaves room and keeps every walk short. */
export const MOST_LEVELS = 5;

export interface PlacementCheck {
  readonly crateId: string;
  readonly code: string;
  readonly into: { readonly crateId: string; readonly code: string };
  /** ids of the crates that the other one is in, from the inside out */
  readonly outside: readonly string[];
  /** levels of crates inside the one that is placed: 0 when it holds none */
  readonly levelsInside: number;
}

/** Refusals: `crate-in-itself`, `rule-broken` (too deep). */
export function checkPlacement({ crateId, code, into, outside, levelsInside }: PlacementCheck): void {
  if (into.crateId === crateId) throw new Refused('crate-in-itself', `Crate ${code} cannot be put into itself.`);
  if (outside.includes(crateId))
    throw new Refused('crate-in-itself', `Crate ${into.code} is in crate ${code}, so ${code} cannot be put into it.`);
  // the crate, what is in it, the other one and what that is in
  const levels = 1 + levelsInside + 1 + outside.length;
  if (levels > MOST_LEVELS) {
    const detail = `Crates would be ${levels} deep; at most ${MOST_LEVELS} are taken.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/intoCrateId' }] });
  }
}
