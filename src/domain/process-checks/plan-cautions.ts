/** What whoever reads a plan, or the limits of a site, has to know before relying on it. Sentences for a person. */
import type { StoredPoint } from './plans.ts';
import type { Limit, ProcessPlan, Source } from './shapes.ts';

export const COMPETENT =
  "This is decision support: local law and the group's own food-safety plan come first, and a competent person confirms each number.";

/** A value's bounds leave more room than others do; limits of another form are not compared. */
export function isLooser(own: Limit, than: Limit): boolean {
  if (own.form !== 'value' || than.form !== 'value') return false;
  const wider = (mine: number | null, theirs: number | null, sign: 1 | -1) =>
    theirs !== null && (mine === null || sign * mine > sign * theirs);
  return wider(own.atMost, than.atMost, 1) || wider(own.atLeast, than.atLeast, -1);
}

function unconfirmed(label: string, source: Source | null, confirmed: boolean): string[] {
  if (source?.basis !== 'from-memory' || confirmed) return [];
  return [`${label}: a number is from memory. Until a named person has confirmed it, it never releases by itself.`];
}

/** Of a plan as it is kept, or as a batch has it. */
export function cautionsOfPlan(plan: {
  readonly points: readonly Pick<StoredPoint, 'label' | 'limit' | 'source' | 'confirmed'>[];
  readonly release: ProcessPlan['release'];
}): string[] {
  return [
    ...plan.points.flatMap(({ label, limit, source, confirmed }) =>
      limit === 'default'
        ? [`${label}: the limit is that of the site or its jurisdiction when a batch is opened.`]
        : unconfirmed(label, source, confirmed),
    ),
    COMPETENT,
  ];
}

/** Points of a batch's plan that ask less than its jurisdiction's default. */
export function looserPoints(
  plan: ProcessPlan,
  defaultOf: (point: ProcessPlan['points'][number]) => Limit | null,
): string[] {
  return plan.points.flatMap((point) => {
    const usual = defaultOf(point);
    return usual && isLooser(point.limit, usual)
      ? [`${point.label}: the limit asks less than the default of the site's jurisdiction; it says where it is from.`]
      : [];
  });
}

/** The plan of a batch with its looser points marked: a check at one says so, and one of heat or cold needs a person's confirmation. */
export function markLooser(
  plan: ProcessPlan,
  defaultOf: (point: ProcessPlan['points'][number]) => Limit | null,
): ProcessPlan {
  const points = plan.points.map((point) => {
    const usual = defaultOf(point);
    return usual && isLooser(point.limit, usual) ? { ...point, looser: true as const } : point;
  });
  return { ...plan, points };
}
