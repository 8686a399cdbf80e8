/**
 * A plan as it is sent becomes a plan as it is kept. Codes of targets and cooling rules are looked up now, so that the plan keeps the numbers
 * that it was made with; 'default' stays, since it depends on the site. Refusal: `rule-broken`, with where in the body it is.
 */
import { Refused } from '../errors.ts';
import { coolingRule } from './cooling-rules.ts';
import { defaultLimit } from './defaults.ts';
import type { SiteLimit, StoredPlan, StoredPoint } from './plans.ts';
import type { Basis, CheckKind, CoolingPoint, Limit, ProcessPlan, Source } from './shapes.ts';
import { lethalityTarget } from './targets.ts';

interface OwnTarget {
  readonly label?: string | undefined;
  readonly referenceTemperatureC: number;
  readonly zBelowC: number;
  readonly zAboveC: number;
  readonly targetMinutes: number;
  readonly logReduction?: number | undefined;
}

interface OwnCooling {
  readonly label?: string | undefined;
  readonly points: readonly {
    readonly label?: string | undefined;
    readonly fromC: number | null;
    readonly toC: number;
    readonly withinMinutes: number;
  }[];
}

type DraftLimit =
  | 'default'
  | { readonly atLeast?: number | undefined; readonly atMost?: number | undefined }
  | { readonly target: string | OwnTarget }
  | { readonly coolingRule: string | OwnCooling }
  | { readonly leastTested: number; readonly mostFailed: number };

export interface DraftPoint extends Pick<
  StoredPoint,
  'code' | 'label' | 'stage' | 'kind' | 'per' | 'requiredFor' | 'critical' | 'repeatable'
> {
  readonly limit?: DraftLimit | undefined;
  readonly confirmed?: boolean | undefined;
  /** where own numbers are from */
  readonly source?: string | undefined;
  readonly edition?: string | undefined;
  readonly basis?: Basis | undefined;
}

export interface DraftPlan extends Omit<ProcessPlan, 'points'> {
  readonly points: readonly DraftPoint[];
}

function broken(pointer: string, detail: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

const FORM: Readonly<Record<CheckKind, Limit['form']>> = {
  'core-temperature': 'value',
  temperature: 'value',
  ph: 'value',
  'salt-in-water': 'value',
  'water-activity': 'value',
  'elapsed-time': 'value',
  lethality: 'lethality',
  cooling: 'cooling',
  'seal-test': 'sample',
  'metal-detection': 'sample',
  'yes-no': 'answer',
};

const WANTED: Readonly<Record<Limit['form'], string>> = {
  value: 'atLeast or atMost',
  lethality: 'a target',
  cooling: 'a coolingRule',
  sample: 'leastTested and mostFailed',
  answer: 'no limit: yes passes',
};

interface Ready {
  readonly limit: Limit | 'default';
  readonly source: Source | null;
}

/** A code that is not there is refused where it stands in this body. */
function lookedUp<Found>(look: () => Found, pointer: string): Found {
  try {
    return look();
  } catch (error) {
    throw error instanceof Refused ? broken(pointer, error.detail) : error;
  }
}

/** Own numbers come with where they are from; unless it is said otherwise they are taken as the kitchen's own practice. */
function ownSource(draft: DraftPoint, at: string): Source {
  if (draft.source === undefined) throw broken(`${at}/source`, 'Say where the numbers are from.');
  return { source: draft.source, edition: draft.edition ?? 'own plan', basis: draft.basis ?? 'common-practice' };
}

function lethalityOf(target: string | OwnTarget, draft: DraftPoint, at: string): Ready {
  if (typeof target === 'string') {
    const found = lookedUp(() => lethalityTarget(target), `${at}/limit/target`);
    return { limit: { form: 'lethality', target: found }, source: found.source };
  }
  if (target.targetMinutes === 0) {
    throw broken(`${at}/limit/target/targetMinutes`, 'A target of no time is reached by everything.');
  }
  const source = ownSource(draft, at);
  const label = target.label ?? `${target.targetMinutes} minutes at ${target.referenceTemperatureC} °C`;
  const { referenceTemperatureC, zBelowC, zAboveC, targetMinutes, logReduction = 6 } = target;
  const own = { code: 'own', label, referenceTemperatureC, zBelowC, zAboveC, targetMinutes, logReduction, source };
  return { limit: { form: 'lethality', target: own }, source };
}

function coolingOf(rule: string | OwnCooling, draft: DraftPoint, at: string): Ready {
  if (typeof rule === 'string') {
    const found = lookedUp(() => coolingRule(rule), `${at}/limit/coolingRule`);
    return { limit: { form: 'cooling', rule: found }, source: found.source };
  }
  const source = ownSource(draft, at);
  const points = rule.points.map((point, no): CoolingPoint => {
    const { fromC, toC, withinMinutes } = point;
    if (fromC !== null && fromC <= toC) {
      throw broken(`${at}/limit/coolingRule/points/${no}/toC`, 'Cooling ends colder than it begins.');
    }
    const from = fromC === null ? 'from the beginning' : `from ${fromC} °C`;
    const label = point.label ?? `${from} to ${toC} °C within ${withinMinutes} minutes`;
    return { code: `point-${no + 1}`, label, fromC, toC, withinMinutes };
  });
  const label = rule.label ?? points.map((point) => point.label).join('; ');
  return { limit: { form: 'cooling', rule: { code: 'own', label, points, source } }, source };
}

function limitOf(draft: DraftPoint, at: string): Ready {
  const { limit = 'default', kind, stage } = draft;
  const form = FORM[kind];
  if (limit === 'default') {
    if (!defaultLimit('*', stage, kind)) {
      throw broken(`${at}/limit`, `There is no default for ${kind} at the stage ${stage}: give ${WANTED[form]}.`);
    }
    return { limit, source: null };
  }
  if ('target' in limit && form === 'lethality') return lethalityOf(limit.target, draft, at);
  if ('coolingRule' in limit && form === 'cooling') return coolingOf(limit.coolingRule, draft, at);
  if ('leastTested' in limit && form === 'sample') {
    const { leastTested, mostFailed } = limit;
    if (mostFailed >= leastTested) {
      throw broken(`${at}/limit/mostFailed`, 'A sample of which all may fail shows nothing.');
    }
    return { limit: { form, leastTested, mostFailed }, source: ownSource(draft, at) };
  }
  const isValue = !('target' in limit || 'coolingRule' in limit || 'leastTested' in limit);
  if (isValue && form === 'value') {
    const { atLeast = null, atMost = null } = limit;
    requireBounds(atLeast, atMost, `${at}/limit`);
    return { limit: { form, atLeast, atMost }, source: ownSource(draft, at) };
  }
  throw broken(`${at}/limit`, `The limit of a check of kind ${kind} is ${WANTED[form]}.`);
}

/** One bound at least, and not crossed. `pointer`: where the limit is. */
function requireBounds(atLeast: number | null, atMost: number | null, pointer: string): void {
  if (atLeast === null && atMost === null) throw broken(pointer, 'A limit has a bound: atLeast, atMost or both.');
  if (atLeast !== null && atMost !== null && atLeast > atMost) {
    throw broken(pointer, 'atLeast is not above atMost.');
  }
}

function requireSense(draft: DraftPoint, at: string): void {
  if (draft.kind === 'cooling' && draft.repeatable) {
    throw broken(`${at}/repeatable`, 'Food that cooled too slowly is not cooled again: cooling cannot be repeated.');
  }
  if (draft.requiredFor === 'packing' && draft.per === 'packing-run') {
    throw broken(`${at}/requiredFor`, 'A check of each packing run cannot come before packing.');
  }
  if (draft.critical && draft.requiredFor === null) {
    throw broken(`${at}/critical`, 'A critical point is required, for release or for packing.');
  }
}

/** @throws Refused rule-broken */
export function storedPlan(draft: DraftPlan): StoredPlan {
  const seen = new Set<string>();
  const points = draft.points.map((point, no): StoredPoint => {
    const at = `#/points/${no}`;
    if (seen.has(point.code)) throw broken(`${at}/code`, `There are two points ${point.code}.`);
    seen.add(point.code);
    requireSense(point, at);
    const { code, label, stage, kind, per, requiredFor, critical, repeatable, confirmed = false } = point;
    return { code, label, stage, kind, ...limitOf(point, at), confirmed, per, requiredFor, critical, repeatable };
  });
  if (draft.release === 'automatic' && !points.some(({ requiredFor }) => requiredFor !== null)) {
    throw broken('#/release', 'Nothing is released by itself that no check is required for.');
  }
  return { points, release: draft.release, twoPeople: draft.twoPeople };
}

export interface DraftSiteLimit extends Pick<SiteLimit, 'stage' | 'kind'> {
  readonly atLeast?: number | undefined;
  readonly atMost?: number | undefined;
  readonly source: string;
}

/**
 * The limits that a site sets for itself: bounds of values only; a target or a cooling rule of its own belongs to a plan.
 * @param edition of the site's policy
 * @throws Refused rule-broken
 */
export function siteLimitsOf(drafts: readonly DraftSiteLimit[], edition: string): SiteLimit[] {
  const seen = new Set<string>();
  return drafts.map((draft, no) => {
    const at = `#/limits/${no}`;
    const { stage, kind, atLeast = null, atMost = null } = draft;
    if (FORM[kind] !== 'value') {
      throw broken(`${at}/kind`, `A site sets bounds of values; ${kind} belongs to a process plan.`);
    }
    if (seen.has(`${stage} ${kind}`)) throw broken(at, `There are two limits for ${kind} at the stage ${stage}.`);
    seen.add(`${stage} ${kind}`);
    requireBounds(atLeast, atMost, at);
    return { stage, kind, atLeast, atMost, source: { source: draft.source, edition, basis: 'common-practice' } };
  });
}
