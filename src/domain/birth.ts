/**
 * What a lot is born with: its use-by and why, its anchors, how it is to be handled, the union of allergens. Batches and packing
 * build their lots here, and so may anything else that turns lots into others.
 *
 * - An output never outlives its shortest-dated input unless a passing kill step lies between; a date set by hand is only ever
 *   earlier.
 * - What lay in the freezer counts as thawed from when it was taken: without a kill step between, the output has at most the days that were left
 *   when it was frozen.
 * - Without a kill step between, food is as raw as the rawest of what went in, whatever its item says; and it carries the earliest
 *   thaw start of what went in, so that it cannot be frozen again unnoticed.
 *
 * Refusals: `anchor-missing`, `use-by-later-than-computed`, `rule-broken`. What has been done already is not refused: it takes the
 * cautious date and says what is wrong with it.
 */
import { DateTime } from 'luxon';
import { unionAllergens } from './allergens.ts';
import { Refused } from './errors.ts';
import { makeLotCode } from './lot-codes.ts';
import { isCalendarDate, localDate, utc } from './time.ts';
import { capByInputs, dateEndingAt, overrideEarlier, useByFrom, type LifeAnchorsMs, type LifeRule } from './use-by.ts';

export interface Parent {
  readonly code: string;
  readonly useByAtMs: number | null;
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
}

/** What would have been refused: the item's life counts from something unknown, or the label says a later date than may be. */
export type BirthFault = 'life-unknown' | 'label-later-than-computed';

export interface BornUseBy {
  readonly useBy: { readonly endsAtMs: number; readonly date: string | null } | null;
  readonly basis: Readonly<Record<string, unknown>>;
  /** always empty unless it was done already */
  readonly faults: readonly BirthFault[];
}

/** A parent that may have lain in the freezer, and when it was taken, if that is known. */
interface Taken extends Parent {
  readonly anchors?: Readonly<Record<string, number>>;
  readonly takenAtMs?: number | undefined;
}

export interface UseByQuestion {
  readonly life: LifeRule | null;
  readonly anchors: LifeAnchorsMs & { readonly frozenAt?: number | undefined };
  readonly parents: readonly Taken[];
  readonly killStepBetween: boolean;
  readonly zone: string;
  /** set by hand: 'YYYY-MM-DD', the end of that day at the site */
  readonly wantedDate?: string | undefined;
  readonly pointer: string;
  /** the food was made or packed before anybody asked: nothing is refused */
  readonly doneAlready?: boolean | undefined;
}

export function bornUseBy(question: UseByQuestion): BornUseBy {
  const { life, zone, parents, pointer } = question;
  const faults: BirthFault[] = [];
  const computed = life === null ? null : useByFrom(life, question.anchors, zone);
  const own = computed && 'refusal' in computed ? null : computed;
  if (computed && !own) {
    const detail = `The life of this item counts from ${life?.anchor ?? 'something'}, which is not given.`;
    if (!question.doneAlready) throw new Refused('anchor-missing', detail, { errors: [{ detail, pointer }] });
    faults.push('life-unknown');
  }
  const inputs = parents.flatMap((parent) =>
    parent.useByAtMs === null ? [] : [{ lotCode: parent.code, endsAtMs: parent.useByAtMs }],
  );
  // What stays frozen keeps its days; they begin to count when it is thawed.
  if (question.anchors.frozenAt === undefined) inputs.push(...parents.flatMap((one) => thawedEnds(one, question)));
  const capped = capByInputs({ endsAtMs: own?.endsAtMs ?? Infinity }, inputs, question.killStepBetween);
  const basis: Record<string, unknown> = { life, why: capped.why, ruledBy: capped.ruledBy };
  let endsAtMs = capped.endsAtMs;
  if (question.wantedDate !== undefined) {
    const wanted = overrideEarlier(endsAtMs, endOfDateMs(question.wantedDate, zone, pointer));
    if ('refusal' in wanted) {
      const detail = `The computed use-by ends at ${utc(endsAtMs)}.`;
      if (!question.doneAlready) {
        throw new Refused('use-by-later-than-computed', detail, { errors: [{ detail, pointer }] });
      }
      faults.push('label-later-than-computed');
      basis.labelSays = question.wantedDate;
    } else {
      endsAtMs = wanted.endsAtMs;
      basis.setByHand = question.wantedDate;
    }
  }
  if (!Number.isFinite(endsAtMs)) return { useBy: null, basis, faults };
  return { useBy: { endsAtMs, date: dateEndingAt(endsAtMs, zone) }, basis, faults };
}

/** What a frozen parent has left from when it was taken: the days at the site, or the time. */
function thawedEnds(parent: Taken, { anchors, zone, pointer }: UseByQuestion): { lotCode: string; endsAtMs: number }[] {
  const { frozenAt, frozenDaysLeft, frozenMsLeft } = parent.anchors ?? {};
  const takenAtMs = parent.takenAtMs ?? anchors.production;
  if (frozenAt === undefined || takenAtMs === undefined) return [];
  const ends: number[] = [];
  if (frozenMsLeft !== undefined) ends.push(takenAtMs + frozenMsLeft);
  if (frozenDaysLeft !== undefined) {
    const taken = DateTime.fromISO(localDate(takenAtMs, zone), { zone: 'utc' });
    ends.push(endOfDateMs(taken.plus({ days: frozenDaysLeft }).toFormat('yyyy-MM-dd'), zone, pointer));
  }
  return ends.map((endsAtMs) => ({ lotCode: parent.code, endsAtMs }));
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

export type Handling = 'raw' | 'ready-to-eat';

/** A lot that something else is made from, with what is in force for it. */
export interface ParentLot extends Parent {
  readonly handling: Handling;
  readonly anchors: Readonly<Record<string, number>>;
  readonly takenAtMs?: number | undefined;
}

/** Raw is what must be cooked before it is eaten: with anything raw in it and no kill step since, food is raw. */
export function bornHandling(
  item: { readonly handling: Handling },
  parents: readonly Pick<ParentLot, 'handling'>[],
  killStepBetween: boolean,
): Handling {
  return !killStepBetween && parents.some((parent) => parent.handling === 'raw') ? 'raw' : item.handling;
}

/** Its own anchors; and without a kill step since, the earliest thaw start of what went in. */
export function anchorsOfOutput(
  own: Readonly<Record<string, number>>,
  parents: readonly Pick<ParentLot, 'anchors'>[],
  killStepBetween: boolean,
): Readonly<Record<string, number>> {
  if (killStepBetween) return own;
  const thawed = parents.flatMap(({ anchors }) => anchors['thawStart'] ?? []);
  return thawed.length === 0 ? own : { ...own, thawStart: Math.min(...thawed) };
}

/** Anchors survive repacking: the first seal is the earliest one. */
export function anchorsOfPacks(from: Pick<ParentLot, 'anchors'>, sealedAtMs: number): Readonly<Record<string, number>> {
  return { ...from.anchors, firstSeal: from.anchors['firstSeal'] ?? sealedAtMs };
}

interface BornItem extends Pick<Parent, 'allergens' | 'mayContain'> {
  readonly itemId: string;
  readonly unit: string;
  readonly unitMassMg: number;
  readonly handling: Handling;
  readonly storageInstruction: string;
  readonly life: LifeRule | null;
}

export interface BirthQuestion {
  readonly lotId: string;
  /** as the client names it; made from site, date and id if left out */
  readonly code?: string | undefined;
  readonly item: BornItem;
  readonly origin: 'produced' | 'packed' | 'converted';
  readonly quantity: number;
  /** weighed; nominal if left out */
  readonly massMg?: number | undefined;
  readonly serialised: boolean;
  readonly site: { readonly siteId: string; readonly siteCode: string; readonly timeZone: string };
  readonly bornAtMs: number;
  readonly anchors: Readonly<Record<string, number>>;
  readonly parents: readonly ParentLot[];
  readonly killStepBetween: boolean;
  readonly wantedDate?: string | undefined;
  readonly pointer: string;
  readonly doneAlready?: boolean | undefined;
}

export interface BornLot {
  readonly lotId: string;
  readonly code: string;
  readonly itemId: string;
  readonly unit: string;
  readonly quantity: number;
  readonly massMg: number;
  readonly origin: BirthQuestion['origin'];
  readonly siteId: string;
  readonly serialised: boolean;
  readonly bornAtMs: number;
  readonly handling: Handling;
  readonly storageInstruction: string;
  readonly useBy: BornUseBy['useBy'];
  readonly useByBasis: BornUseBy['basis'];
  readonly anchors: Readonly<Record<string, number>>;
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
}

/** The whole of a lot that is made from others. */
export function bornLot(question: BirthQuestion): { readonly lot: BornLot; readonly faults: readonly BirthFault[] } {
  const { item, site, parents, killStepBetween, anchors, bornAtMs, lotId, quantity, origin, serialised } = question;
  const { useBy, basis, faults } = bornUseBy({
    life: item.life,
    anchors,
    parents,
    killStepBetween,
    zone: site.timeZone,
    wantedDate: question.wantedDate,
    pointer: question.pointer,
    doneAlready: question.doneAlready,
  });
  const lot: BornLot = {
    lotId,
    code: question.code ?? makeLotCode(site.siteCode, localDate(bornAtMs, site.timeZone), lotId),
    itemId: item.itemId,
    unit: item.unit,
    quantity,
    massMg: question.massMg ?? quantity * item.unitMassMg,
    origin,
    siteId: site.siteId,
    serialised,
    bornAtMs,
    handling: bornHandling(item, parents, killStepBetween),
    storageInstruction: item.storageInstruction,
    useBy,
    useByBasis: basis,
    anchors,
    ...bornAllergens(item, parents),
  };
  return { lot, faults };
}
