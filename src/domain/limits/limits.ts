/**
 * All limits of a part, each by itself, and which of them rules. Food that came on several ways takes the worse of each limit. The earliest of
 * the limits that drive is the computed end; limits that do not drive are told and change nothing.
 */
import { endOfDayAfter } from './days.ts';
import { firstLonger } from './crossings.ts';
import { itemModelLimit, toxinLimit } from './models.ts';
import type { SitePolicy } from './policies.ts';
import { applies, needsSegments as rulesNeedSegments, ruleLimits } from './rules.ts';
import { MINUTE_MS, type Limit, type LotFacts, type WayExposure } from './shapes.ts';
import { utc } from '../time.ts';

/** Frozen food warmer than this for longer than half an hour is thawing; psychrotrophic bacteria grow from about there (FSA 2008: 3 °C). */
const THAWS_ABOVE_CENTI_C = 300;
const THAW_TOLERANCE_MIN = 30;

export function needsSegments(facts: LotFacts, way: WayExposure, policies: readonly SitePolicy[]): boolean {
  if (rulesNeedSegments(facts, way, policies)) return true;
  const longestMs = way.sums.runs[0]?.counted.longestMs ?? 0;
  return facts.anchors.frozenAt !== undefined && longestMs > THAW_TOLERANCE_MIN * MINUTE_MS;
}

const plain = {
  policySet: null,
  tier: 'everyday',
  sinceMs: null,
  forbids: false,
  basis: 'recorded',
  assumption: '',
  drives: true,
  presumed: false,
  whySilent: null,
  unmonitoredMs: 0,
  usedFraction: null,
} as const;

const BORN_LABELS: Readonly<Record<string, string>> = {
  'opened-life': 'Life once opened',
  'regenerated-life': 'Life once regenerated',
  'thawed-life': 'Life once thawed',
  'frozen-life': 'Life in the freezer',
  'days-left': 'Days left when it was frozen',
  'time-left': 'Time left when it was frozen',
  'item-life': "The item's own life",
  'source-use-by': 'Date of what it came from',
  'dispose-after': 'Kept until',
};

/** Limits that were there before any warmth: the label, what it was born with, what its inputs and people said. */
function recordedLimits(facts: LotFacts): Limit[] {
  const { printedUseByAtMs, lotUseByAtMs, born, input } = facts;
  const out: Limit[] = [
    {
      ...plain,
      code: 'printed-use-by',
      label: 'Use-by on the label',
      endsAtMs: printedUseByAtMs,
      source: 'The label of the lot',
      assumption: 'It assumes that the cold chain held all the way.',
      explanation: printedUseByAtMs === null ? 'There is none.' : 'As printed.',
    },
  ];
  if (lotUseByAtMs !== null && lotUseByAtMs < (printedUseByAtMs ?? Infinity)) {
    out.push({
      ...plain,
      code: 'lot-use-by',
      label: 'Date in force for the whole lot',
      endsAtMs: lotUseByAtMs,
      source: "The lot's record",
      explanation: 'Brought forward by a person, or by what it was made from.',
    });
  }
  for (const { why, endsAtMs } of born) {
    const label = BORN_LABELS[why] ?? why;
    const explanation = 'As it was when the lot was made.';
    out.push({ ...plain, code: `born-${why}`, label, endsAtMs, source: "The lot's birth record", explanation });
  }
  if (input) {
    out.push({
      ...plain,
      code: 'inputs',
      label: 'What it was made from, no kill step between',
      endsAtMs: input.endsAtMs,
      forbids: input.forbids,
      source: `Lot ${input.lotCode}: ${input.code}`,
      explanation: `Lot ${input.lotCode} ended by ${input.code} when it was taken, or ends then.`,
    });
  }
  return out;
}

/** A freezer that warmed: the days that were left begin to count. */
function thawedByWarmth(facts: LotFacts, way: WayExposure): Limit[] {
  const { frozenAt, frozenDaysLeft } = facts.anchors;
  if (frozenAt === undefined || frozenDaysLeft === undefined) return [];
  const first = firstLonger(way.segments ?? [], THAWS_ABOVE_CENTI_C, THAW_TOLERANCE_MIN * MINUTE_MS);
  if (!first) return [];
  const unseen = way.presumedFromMs !== null && first.fromMs >= way.presumedFromMs;
  const whySilent = unseen ? 'It happened where the food is only presumed to be.' : null;
  return [
    {
      ...plain,
      code: 'thawed-by-warmth',
      label: 'Frozen food that became warm: the days left count from then',
      endsAtMs: endOfDayAfter(first.fromMs, Math.max(-1, frozenDaysLeft), facts.timeZone),
      sinceMs: first.fromMs,
      basis: 'common-practice',
      source: 'Domain rule: freezing stops the clock and keeps the days left; no law found',
      assumption: `Warmer than 3 °C for longer than ${THAW_TOLERANCE_MIN} min is taken as thawing.`,
      drives: !unseen,
      presumed: unseen,
      whySilent,
      explanation: `Above 3 °C from ${utc(first.fromMs)}; ${frozenDaysLeft} days were left.`,
      unmonitoredMs: way.unmonitoredMs,
    },
  ];
}

/** Every limit of food on one way. `policies`: of the site where it is; on the road of both, so that the stricter counts. */
function limitsOfWay(facts: LotFacts, way: WayExposure, policies: readonly SitePolicy[]): Limit[] {
  const controlled = policies.some(
    (policy) => ruleLimits(facts, way, policy).find(({ code }) => code === 'vacuum-pack-10-days')?.endsAtMs === null,
  );
  const toxin = applies('vacuum-packed', facts) && facts.anchors.frozenAt === undefined && !controlled;
  return [
    ...recordedLimits(facts),
    ...policies.flatMap((policy) => ruleLimits(facts, way, policy)),
    ...thawedByWarmth(facts, way),
    ...itemModelLimit(facts, way),
    ...(toxin ? toxinLimit(way) : []),
  ];
}

const endOf = ({ endsAtMs }: Limit): number => endsAtMs ?? Infinity;

/** Of two that end alike: the one of which more is used; then one of them by its words, so that the order of the ways does not show. */
function usedMore(a: Limit, b: Limit): boolean {
  const difference = (a.usedFraction ?? 0) - (b.usedFraction ?? 0);
  return difference === 0 ? a.explanation < b.explanation : difference > 0;
}

/** The worse of the same limit on two ways: one that drives, then the earlier end. */
function worse(a: Limit, b: Limit): Limit {
  const unmonitoredMs = Math.max(a.unmonitoredMs, b.unmonitoredMs);
  const forbids = (one: Limit): number => Number(one.forbids && one.drives);
  if (forbids(a) !== forbids(b)) return { ...(a.forbids && a.drives ? a : b), unmonitoredMs };
  if (endOf(a) === endOf(b)) {
    const one = a.drives === b.drives ? (usedMore(b, a) ? b : a) : a.drives ? a : b;
    return { ...one, unmonitoredMs };
  }
  if (a.drives === b.drives) return { ...(endOf(b) < endOf(a) ? b : a), unmonitoredMs };
  const [driving, silent] = a.drives ? [a, b] : [b, a];
  return { ...(driving.endsAtMs === null ? silent : driving), unmonitoredMs };
}

export interface Computed {
  /** the earliest end first; those without an end last */
  readonly limits: readonly Limit[];
  /** the earliest of those that drive; null: nothing limits it */
  readonly effectiveAtMs: number | null;
  readonly ruling: Limit | null;
  /** a limit that drives forbids it */
  readonly forbiddenBy: Limit | null;
  /** would rule or forbid if the food had been seen where it is presumed to be */
  readonly presumedOnly: Limit | null;
}

/** A limit that a quality lead has overruled for the part, as long as it comes to the same end. */
export interface Overruled {
  readonly code: string;
  readonly endsAtMs: number | null;
  readonly reason: string;
}

export function computeLimits(
  facts: LotFacts,
  ways: readonly WayExposure[],
  policies: readonly SitePolicy[],
  overruled: readonly Overruled[] = [],
): Computed {
  const byCode = new Map<string, Limit>();
  for (const way of ways) {
    for (const limit of limitsOfWay(facts, way, policies)) {
      const key = `${limit.code}|${limit.policySet ?? ''}`;
      const known = byCode.get(key);
      byCode.set(key, known ? worse(known, limit) : limit);
    }
  }
  const heard = [...byCode.values()].map((limit) => {
    const decision = overruled.find(({ code, endsAtMs }) => code === limit.code && endsAtMs === limit.endsAtMs);
    return decision
      ? { ...limit, drives: false, presumed: false, whySilent: `The quality lead has overruled it: ${decision.reason}` }
      : limit;
  });
  const limits = heard.sort((a, b) => endOf(a) - endOf(b));
  const driving = limits.filter(({ drives }) => drives);
  const ruling = driving.find(({ endsAtMs }) => endsAtMs !== null) ?? null;
  const unseen = limits.find(({ presumed, endsAtMs }) => presumed && endsAtMs !== null);
  return {
    limits,
    effectiveAtMs: ruling?.endsAtMs ?? null,
    ruling,
    forbiddenBy: driving.find(({ forbids }) => forbids) ?? null,
    presumedOnly: unseen && endOf(unseen) < endOf(ruling ?? { ...unseen, endsAtMs: null }) ? unseen : null,
  };
}
