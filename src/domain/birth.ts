/**
 * What a lot is born with: its use-by and why, and the union of allergens. An output never outlives its shortest-dated
 * input unless a passing kill step lies between; a date set by hand is only ever earlier. Refusals: `anchor-missing`,
 * `use-by-later-than-computed`, `rule-broken`.
 */
import { DateTime } from 'luxon';
import { unionAllergens } from './allergens.ts';
import { Refused } from './errors.ts';
import { isCalendarDate, utc } from './time.ts';
import { capByInputs, dateEndingAt, overrideEarlier, useByFrom, type LifeAnchorsMs, type LifeRule } from './use-by.ts';

export interface Parent {
  readonly code: string;
  readonly useByAtMs: number | null;
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
}

export interface BornUseBy {
  readonly useBy: { readonly endsAtMs: number; readonly date: string | null } | null;
  readonly basis: Readonly<Record<string, unknown>>;
}

export interface UseByQuestion {
  readonly life: LifeRule | null;
  readonly anchors: LifeAnchorsMs;
  readonly parents: readonly Parent[];
  readonly killStepBetween: boolean;
  readonly zone: string;
  /** set by hand: 'YYYY-MM-DD', the end of that day at the site */
  readonly wantedDate?: string | undefined;
  readonly pointer: string;
}

export function bornUseBy(question: UseByQuestion): BornUseBy {
  const { life, zone, parents, pointer } = question;
  const own = life === null ? null : useByFrom(life, question.anchors, zone);
  if (own && 'refusal' in own) {
    const detail = `The life of this item counts from ${life?.anchor ?? 'something'}, which is not given.`;
    throw new Refused('anchor-missing', detail, { errors: [{ detail, pointer }] });
  }
  const inputs = parents.flatMap((parent) =>
    parent.useByAtMs === null ? [] : [{ lotCode: parent.code, endsAtMs: parent.useByAtMs }],
  );
  const capped = capByInputs({ endsAtMs: own?.endsAtMs ?? Infinity }, inputs, question.killStepBetween);
  const basis: Record<string, unknown> = { life, why: capped.why, ruledBy: capped.ruledBy };
  let endsAtMs = capped.endsAtMs;
  if (question.wantedDate !== undefined) {
    const wanted = overrideEarlier(endsAtMs, endOfDateMs(question.wantedDate, zone, pointer));
    if ('refusal' in wanted) {
      const detail = `The computed use-by ends at ${utc(endsAtMs)}.`;
      throw new Refused('use-by-later-than-computed', detail, { errors: [{ detail, pointer }] });
    }
    endsAtMs = wanted.endsAtMs;
    basis.setByHand = question.wantedDate;
  }
  if (!Number.isFinite(endsAtMs)) return { useBy: null, basis };
  return { useBy: { endsAtMs, date: dateEndingAt(endsAtMs, zone) }, basis };
}

/** The first moment after a date at the site. */
export function endOfDateMs(date: string, zone: string, pointer: string): number {
  if (!isCalendarDate(date)) {
    const detail = `${date} is not on the calendar.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
  }
  return DateTime.fromISO(date, { zone }).plus({ days: 1 }).startOf('day').toMillis();
}

export function bornAllergens(
  item: Pick<Parent, 'allergens' | 'mayContain'>,
  parents: readonly Parent[],
): { allergens: string[]; mayContain: string[] } {
  const allergens = unionAllergens([item.allergens, ...parents.map((parent) => parent.allergens)]);
  const mayContain = unionAllergens([item.mayContain, ...parents.map((parent) => parent.mayContain)]);
  return { allergens, mayContain: mayContain.filter((code) => !allergens.includes(code)) };
}
