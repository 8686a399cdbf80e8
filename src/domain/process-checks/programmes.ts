/**
 * Packing programmes as data: what the trade does for a kind of food, with its reasons, and why packs are rejected. Settings are common
 * practice (shared/packing-programmes.json), never a limit of the law.
 */
import table from '../../../shared/packing-programmes.json' with { type: 'json' };
import { Refused } from '../errors.ts';

export const FOOD_TYPES = [
  'moist-dish',
  'liquid',
  'sauce',
  'delicate',
  'hard-or-sharp',
  'porous-or-bulky',
  'solid',
  'other',
] as const;
export const REJECT_REASONS = ['leak', 'dirty-seal-area', 'crease', 'pierced', 'other'] as const;
export type RejectReason = (typeof REJECT_REASONS)[number];

export const programmeSuggestions = table;

export interface Rejects {
  readonly reason: RejectReason;
  readonly packs: number;
}

/**
 * How many packs a run rejected in all: said as one number, by reason, or both when they agree.
 * @throws Refused `rule-broken`
 */
export function packsRejected(total: number | undefined, rejects: readonly Rejects[] | undefined): number {
  if (!rejects) return total ?? 0;
  const twice = rejects.find((one, at) => rejects.findIndex(({ reason }) => reason === one.reason) < at);
  if (twice) throw broken('#/rejects', `The reason ${twice.reason} stands there twice; add the packs up.`);
  const sum = rejects.reduce((packs, one) => packs + one.packs, 0);
  if (total !== undefined && total !== sum) {
    throw broken('#/packsRejected', `${total} packs were rejected, and the reasons add up to ${sum}.`);
  }
  return sum;
}

function broken(pointer: string, detail: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}
