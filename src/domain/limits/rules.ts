/**
 * What the rules of a policy set come to for food on one way. Each rule is a limit by itself. Exposure is counted as place-days count it:
 * where nobody looked, at the place's upper limit or the last value seen, whichever is warmer.
 */
import type { Segment } from '../exposure/shapes.ts';
import { useByFrom, type DayOneRule, type LifeAnchor } from '../use-by.ts';
import { utc } from '../time.ts';
import { whyNotControlled } from './controls.ts';
import { firstLonger, longestAboveMs, peakCentiC, reachedAbove, stretchesAbove, totalAboveMs } from './crossings.ts';
import { basisOf, numberOf, sourceOf, whySilent, type AppliesTo, type Rule, type SitePolicy } from './policies.ts';
import { HOUR_MS, MINUTE_MS, type Limit, type LotFacts, type WayExposure } from './shapes.ts';

export function applies(appliesTo: AppliesTo, facts: LotFacts): boolean {
  const { storage, handling, anchors, origin, cookChill, printedUseByAtMs } = facts;
  if (storage === 'ambient') return false;
  switch (appliesTo) {
    case 'vacuum-packed':
      return anchors.firstSeal !== undefined;
    case 'cook-chill':
      return cookChill;
    case 'chilled-ready-to-eat':
      return handling === 'ready-to-eat' && printedUseByAtMs !== null;
    case 'ready-to-eat-not-packed':
      return (
        handling === 'ready-to-eat' && anchors.firstSeal === undefined && ['produced', 'converted'].includes(origin)
      );
  }
}

/** What a rule says of one way: an end, since when, and in words what it rests on. */
interface Said {
  readonly endsAtMs: number | null;
  readonly sinceMs: number | null;
  readonly forbids: boolean;
  readonly explanation: string;
  readonly whySilent?: string | null;
}

const NOTHING = { endsAtMs: null, sinceMs: null, forbids: false } as const;
const centi = (rule: Rule, name: string): number => Math.round(numberOf(rule, name) * 100);

/** True when the sums alone do not say whether a rule sets an end, or when: the stretches in order are needed. */
export function needsSegments(facts: LotFacts, way: WayExposure, policies: readonly SitePolicy[]): boolean {
  return policies.some(({ set }) =>
    set.rules.some((rule) => {
      if (!applies(rule.appliesTo, facts)) return false;
      switch (rule.kind) {
        case 'warmer-than':
          return longestAboveMs(way.sums, centi(rule, 'aboveC')) > numberOf(rule, 'toleranceMin') * MINUTE_MS;
        case 'hours-above':
          return totalAboveMs(way.sums, centi(rule, 'aboveC')) >= numberOf(rule, 'hours') * HOUR_MS;
        case 'cold-chain-days':
          return totalAboveMs(way.sums, centi(rule, 'coldC')) > 0;
        default:
          return false;
      }
    }),
  );
}

export function ruleLimits(facts: LotFacts, way: WayExposure, policy: SitePolicy): Limit[] {
  return policy.set.rules.flatMap((rule) => {
    if (rule.kind === 'controls' || !applies(rule.appliesTo, facts)) return [];
    const said = sayOf(rule, facts, way, policy);
    const unseen =
      said.sinceMs !== null && way.presumedFromMs !== null && said.sinceMs >= way.presumedFromMs
        ? 'It happened where the food is only presumed to be: a finding, until somebody has seen it there.'
        : null;
    const silent = whySilent(rule, policy) ?? said.whySilent ?? unseen;
    return [
      {
        code: rule.code,
        policySet: policy.set.code,
        label: rule.label,
        tier: 'everyday' as const,
        endsAtMs: said.endsAtMs,
        sinceMs: said.sinceMs,
        forbids: said.forbids,
        basis: basisOf(rule),
        source: sourceOf(rule),
        assumption: rule.assumption,
        drives: silent === null,
        presumed: silent !== null && silent === unseen,
        whySilent: silent,
        explanation: said.explanation,
        unmonitoredMs: rule.kind === 'days-from-anchor' ? 0 : way.unmonitoredMs,
        usedFraction: null,
      },
    ];
  });
}

function sayOf(rule: Rule, facts: LotFacts, way: WayExposure, policy: SitePolicy): Said {
  switch (rule.kind) {
    case 'days-from-anchor':
      return daysFromAnchor(rule, facts, policy);
    case 'warmer-than':
      return warmerThan(rule, way);
    case 'hours-above':
      return hoursAbove(rule, way);
    default:
      return coldChain(rule, facts, way);
  }
}

/** Food that was frozen keeps the days that it had left then; they are in the date that it was born with. */
function frozenSay({ anchors }: LotFacts): Said | null {
  if (anchors.frozenAt !== undefined) {
    const left = anchors.frozenDaysLeft === undefined ? '' : ` with ${anchors.frozenDaysLeft} days left`;
    return { ...NOTHING, explanation: `Frozen at ${utc(anchors.frozenAt)}: the clock stands still${left}.` };
  }
  if (anchors.thawStart === undefined) return null;
  return { ...NOTHING, explanation: 'It was frozen meanwhile: the days left are in the date that it was born with.' };
}

function anchorsOf({ anchors, bornAtMs }: LotFacts) {
  return {
    firstSeal: anchors.firstSeal,
    endOfCooking: anchors.endOfCooking,
    production: anchors.production ?? anchors.endOfCooking ?? bornAtMs,
  };
}

function daysFromAnchor(rule: Rule, facts: LotFacts, policy: SitePolicy): Said {
  const stopped = frozenSay(facts);
  if (stopped) return stopped;
  const refusals = rule.liftedByControl
    ? facts.controls.map((one) => ({ one, why: whyNotControlled(one, policy) }))
    : [];
  const lifting = refusals.find(({ why }) => why === null)?.one;
  if (lifting) {
    const explanation = `A controlling factor is on the batch's record (${lifting.factor} ${lifting.value}, signed by ${lifting.signedBy}).`;
    return { ...NOTHING, explanation };
  }
  const life = {
    lifeDays: numberOf(rule, 'days'),
    anchor: rule.anchor as LifeAnchor,
    dayOne: rule.numbers.dayOne?.value as DayOneRule,
  };
  const end = useByFrom(life, anchorsOf(facts), facts.timeZone);
  if ('refusal' in end) {
    return { ...NOTHING, explanation: `It counts from ${rule.anchor ?? 'something'}, which is not on record.` };
  }
  const unheard = refusals.map(({ one, why }) => ` The statement on ${one.factor} does not lift it: ${why}`).join('');
  const counted = `${life.lifeDays} days from ${rule.anchor}, that day being the first.${unheard}`;
  return { ...NOTHING, endsAtMs: end.endsAtMs, explanation: counted };
}

const doubtWords = (one: { readonly unmonitored: boolean; readonly doubt: boolean }): string =>
  `${one.unmonitored ? ' Part of it was unmonitored.' : ''}${one.doubt ? " A sensor's own time is in doubt there." : ''}`;

function warmerThan(rule: Rule, way: WayExposure): Said {
  const [aboveC, toleranceMin, thenH] = [
    numberOf(rule, 'aboveC'),
    numberOf(rule, 'toleranceMin'),
    numberOf(rule, 'thenH'),
  ];
  const first = firstLonger(way.segments ?? [], centi(rule, 'aboveC'), toleranceMin * MINUTE_MS);
  if (!first) return { ...NOTHING, explanation: `Never above ${aboveC} °C for longer than ${toleranceMin} min.` };
  const minutes = Math.round((first.toMs - first.fromMs) / MINUTE_MS);
  const explanation = `Above ${aboveC} °C from ${utc(first.fromMs)} for ${minutes} min.${doubtWords(first)}`;
  return { endsAtMs: first.fromMs + thenH * HOUR_MS, sinceMs: first.fromMs, forbids: thenH === 0, explanation };
}

function hoursAbove(rule: Rule, way: WayExposure): Said {
  const aboveC = numberOf(rule, 'aboveC');
  const peak = peakCentiC(way.sums);
  const mild = rule.numbers.peakC !== undefined && peak !== null && peak <= centi(rule, 'peakC');
  const hours = numberOf(rule, mild ? 'peakHours' : 'hours');
  const totalMs = totalAboveMs(way.sums, centi(rule, 'aboveC'));
  const explanation = `${Math.round(totalMs / MINUTE_MS)} min above ${aboveC} °C in all; ${hours} h are the most.`;
  const atMs = reachedAbove(way.segments ?? [], centi(rule, 'aboveC'), hours * HOUR_MS);
  if (atMs === null) return { ...NOTHING, explanation };
  return { endsAtMs: atMs, sinceMs: atMs, forbids: true, explanation };
}

/** Days once it was not kept cold any more; where it was not cold within the time of grace, days from the first seal. */
function coldChain(rule: Rule, facts: LotFacts, way: WayExposure): Said {
  const stopped = frozenSay(facts);
  if (stopped) return stopped;
  const sealedMs = facts.anchors.firstSeal as number;
  const [coldC, coldCentiC] = [numberOf(rule, 'coldC'), centi(rule, 'coldC')];
  const graceMs = sealedMs + numberOf(rule, 'graceH') * HOUR_MS;
  const days = numberOf(rule, 'days');
  const within = (way.segments ?? []).filter((one: Segment) => one.fromMs <= graceMs);
  const wasCold = within.some(({ centiC }) => centiC <= coldCentiC);
  const late = stretchesAbove(way.segments ?? [], coldCentiC).find(
    ({ fromMs, toMs }) =>
      toMs > graceMs && toMs - Math.max(fromMs, graceMs) > numberOf(rule, 'toleranceMin') * MINUTE_MS,
  );
  if (!late)
    return { ...NOTHING, explanation: `At ${coldC} °C or below but for the first ${numberOf(rule, 'graceH')} h.` };
  const fromMs = wasCold ? Math.max(late.fromMs, graceMs) : sealedMs;
  const life = { lifeDays: days, anchor: 'first-seal', dayOne: 'anchor-day-is-day-one' } as const;
  const end = useByFrom(life, { firstSeal: fromMs }, facts.timeZone);
  const explanation = `Above ${coldC} °C from ${utc(late.fromMs)}: ${days} days from ${utc(fromMs)}.${doubtWords(late)}`;
  return { ...NOTHING, endsAtMs: 'refusal' in end ? null : end.endsAtMs, sinceMs: late.fromMs, explanation };
}
