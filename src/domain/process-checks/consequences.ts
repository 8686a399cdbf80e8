/** What a check is held against, in words, and what follows for the food when it failed. Refusals: none. */
import type { SourcedLimit } from './defaults.ts';
import type { CheckKind, ControlPoint, Limit, Source, Stage } from './shapes.ts';

export const ABOUT_KINDS = [
  'batch',
  'lot',
  'packing-run',
  'goods-receipt',
  'dispatch',
  'place',
  'equipment',
  'site',
] as const;
export type AboutKind = (typeof ABOUT_KINDS)[number];

/** The limit as it was then: a correction of the plan never changes what a record was judged by. */
export interface HeldAgainst {
  /** a point of the batch's plan; or the site's policy or its jurisdiction's default */
  readonly from: 'control-point' | 'site';
  readonly label: string | null;
  readonly limit: Limit;
  readonly source: Source;
  /** what its reader has to know; null: nothing beyond the source */
  readonly assumption: string | null;
  /** a person has confirmed it, where it is from memory */
  readonly confirmed: boolean;
  /** of the control point; null where there is none */
  readonly per: ControlPoint['per'] | null;
  readonly critical: boolean | null;
  readonly repeatable: boolean | null;
}

export const againstPoint = (point: ControlPoint): HeldAgainst => ({
  from: 'control-point',
  label: point.label,
  limit: point.limit,
  source: point.source,
  assumption: null,
  confirmed: point.confirmed,
  per: point.per,
  critical: point.critical,
  repeatable: point.repeatable,
});

export const againstSite = ({ limit, source, assumption }: SourcedLimit): HeldAgainst => ({
  from: 'site',
  label: null,
  limit,
  source,
  assumption,
  confirmed: false,
  per: null,
  critical: null,
  repeatable: null,
});

const UNITS: Readonly<Partial<Record<CheckKind, string>>> = {
  'core-temperature': ' °C',
  temperature: ' °C',
  'salt-in-water': ' %',
  'elapsed-time': ' minutes',
};

/** An upper limit from elsewhere, such as a packing programme. */
export interface UpperLimit {
  readonly atMost: number;
  readonly source: Source;
}

/** The lower of a site's upper limit and another one. What a batch's plan says stands. */
export function orLower(against: HeldAgainst, { atMost, source }: UpperLimit): HeldAgainst {
  const { from, limit } = against;
  if (from !== 'site' || limit.form !== 'value') return against;
  if (limit.atMost !== null && limit.atMost <= atMost) return against;
  return { ...against, limit: { ...limit, atMost }, source, assumption: null };
}

/** The limit in words, as a table of checks shows it. */
export function limitWords(kind: CheckKind, limit: Limit): string {
  switch (limit.form) {
    case 'value': {
      const unit = UNITS[kind] ?? '';
      const least = limit.atLeast === null ? [] : [`at least ${limit.atLeast}${unit}`];
      const most = limit.atMost === null ? [] : [`at most ${limit.atMost}${unit}`];
      return [...least, ...most].join(' and ') || 'no limit';
    }
    case 'lethality': {
      const { targetMinutes, referenceTemperatureC, zBelowC, zAboveC } = limit.target;
      const z = zBelowC === zAboveC ? `z ${zBelowC}` : `z ${zBelowC} below and ${zAboveC} above`;
      return `heat like ${targetMinutes} minutes at ${referenceTemperatureC} °C (${z})`;
    }
    case 'cooling':
      return limit.rule.points
        .map(({ fromC, toC, withinMinutes }) => {
          const from = fromC === null ? 'from the beginning' : `from ${fromC}`;
          return `${from} to ${toC} °C within ${withinMinutes} minutes`;
        })
        .join('; ');
    case 'sample':
      return `at least ${limit.leastTested} tried, at most ${limit.mostFailed} failed`;
    case 'answer':
      return 'yes';
  }
}

/** A lot that a check is about. */
export interface CheckedLot {
  readonly lotId: string;
  readonly code: string;
  /** its own wait for release is not over */
  readonly waits: boolean;
  readonly rejected: boolean;
}

interface Failed {
  readonly stage: Stage;
  readonly about: AboutKind;
  /** null: of no plan */
  readonly repeatable: boolean | null;
  /** it was made or came in at the site of the check; elsewhere only what is there is in doubt */
  readonly atOrigin: boolean;
}

/** Food on its way to the plate is heated on, or kept out of service there and then; a hold would leave hot food standing. */
const AT_SERVICE: readonly Stage[] = ['regeneration', 'hot-holding'];

/**
 * The lots that a failed check holds by itself, and how far. A repeatable point holds nothing that waits for release anyway. At another site than
 * its own a lot is held at that site only: one warm shelf does not condemn what stands elsewhere. A check of a batch and of no
 * plan holds what was released; what waits a person releases who sees the check. A dispatch, a place, a machine hold nothing: which food is in doubt is for a person to say.
 */
export function heldBy(
  failed: Failed,
  lots: readonly CheckedLot[],
): { readonly reach: 'everywhere' | 'site'; readonly lots: readonly CheckedLot[] } {
  const reach = failed.atOrigin ? 'everywhere' : 'site';
  const aboutFood = ['lot', 'packing-run', 'goods-receipt', 'batch'].includes(failed.about);
  if (!aboutFood || AT_SERVICE.includes(failed.stage)) return { reach, lots: [] };
  const waitsAnyway = failed.repeatable === true || (failed.about === 'batch' && failed.repeatable === null);
  return { reach, lots: lots.filter((lot) => !lot.rejected && !(waitsAnyway && lot.waits)) };
}
