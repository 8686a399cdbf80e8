/**
 * A first draft of a process plan, from a recipe's steps: common practice for a competent person to change, never a plan by itself. Every limit is
 * the default, so that each site gets its jurisdiction's.
 */
import type { DraftPlan, DraftPoint } from './plan-drafts.ts';

export interface Suggested extends DraftPlan {
  /** why each point is there, by its code; the trade's reasons */
  readonly reasons: readonly { readonly code: string; readonly reason: string }[];
}

interface Idea {
  readonly point: DraftPoint;
  readonly reason: string;
}

const base = { per: 'load', requiredFor: 'release', critical: false, repeatable: false } as const;

const COOKED: Idea = {
  point: {
    ...base,
    code: 'cook',
    label: 'Core after cooking',
    stage: 'cook',
    kind: 'core-temperature',
    critical: true,
    repeatable: true,
  },
  reason: 'Cooking is what makes raw food safe; food that is not hot enough is cooked on and measured again.',
};
const HEATED_IN_PACK: Idea = {
  point: {
    ...base,
    code: 'heat-in-pack',
    label: 'Heat in the pack',
    stage: 'cook',
    kind: 'lethality',
    critical: true,
    repeatable: true,
  },
  reason:
    'The time at each temperature counts, and only a series shows it. A life beyond ten days wants the target botulinum-90.',
};
const HOT_FILLED: Idea = {
  point: {
    ...base,
    code: 'filling',
    label: 'Core when filled',
    stage: 'cook',
    kind: 'core-temperature',
    critical: true,
  },
  reason: 'The heat of the filling is what makes the inside of the pack safe.',
};
const CHILLED: Idea = {
  point: { ...base, code: 'chill', label: 'Chilling', stage: 'chill', kind: 'cooling', critical: true },
  reason: 'Spores that survive cooking grow while food is lukewarm; it cannot be made good by chilling again.',
};
const COLD_BEFORE_VACUUM: Idea = {
  point: {
    ...base,
    code: 'core-before-vacuum',
    label: 'Core before the chamber',
    stage: 'pack',
    kind: 'core-temperature',
    requiredFor: 'packing',
    repeatable: true,
  },
  reason: 'Warm food boils in the chamber: the seal gets wet, the vacuum is poor, and the pack cools slowly.',
};
const SEALED: Idea = {
  point: { ...base, code: 'seal', label: 'Seal test', stage: 'pack', kind: 'seal-test', per: 'packing-run' },
  reason: 'A pack that leaks is no vacuum pack, whatever its label says.',
};
const FROZEN: Idea = {
  point: {
    ...base,
    code: 'freeze',
    label: 'Frozen through',
    stage: 'freeze',
    kind: 'core-temperature',
    repeatable: true,
  },
  reason: 'Frozen life counts only for food that is frozen to the core.',
};
const THAWED: Idea = {
  point: { ...base, code: 'thaw', label: 'Thawed cold', stage: 'thaw', kind: 'temperature' },
  reason: 'Thawed food grows bacteria as soon as its outside is warm.',
};
const REGENERATED: Idea = {
  point: {
    ...base,
    code: 'regenerate',
    label: 'Core after regenerating',
    stage: 'regeneration',
    kind: 'core-temperature',
    critical: true,
    repeatable: true,
  },
  reason: 'Food that was chilled is heated through before it is served hot.',
};

const IDEAS: Readonly<Record<string, readonly Idea[]>> = {
  cook: [COOKED],
  'cook-in-pack': [HEATED_IN_PACK],
  pasteurise: [HEATED_IN_PACK],
  'hot-fill': [HOT_FILLED, SEALED],
  chill: [CHILLED],
  'tumble-chill': [CHILLED],
  pack: [COLD_BEFORE_VACUUM, SEALED],
  freeze: [FROZEN],
  thaw: [THAWED],
  regenerate: [REGENERATED],
};

const SEALS: readonly string[] = ['pack', 'hot-fill'];

/**
 * Packing that comes before any heat or chilling is of raw food, which is cold anyway; a chilled core is asked of food that was hot. What is
 * thawed or regenerated after it was sealed is so where it is served, with a check against the limit of that site: a release that
 * waited for it would never come.
 */
function fits(idea: Idea, steps: readonly string[], at: number): boolean {
  const before = steps.slice(0, at);
  if (idea === COLD_BEFORE_VACUUM) return before.some((step) => step === 'cook' || step === 'chill');
  if (idea === THAWED || idea === REGENERATED) return !before.some((step) => SEALS.includes(step));
  return true;
}

export function suggestPlan(steps: readonly string[]): Suggested {
  const ideas = new Set(steps.flatMap((step, at) => (IDEAS[step] ?? []).filter((idea) => fits(idea, steps, at))));
  return {
    points: [...ideas].map(({ point }) => point),
    release: 'by-hand',
    twoPeople: false,
    reasons: [...ideas].map(({ point, reason }) => ({ code: point.code, reason })),
  };
}
