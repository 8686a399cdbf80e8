/**
 * Policy sets: the rules of a jurisdiction as data (shared/policies/), each number with its source, edition, basis and who must confirm it.
 * A site has the set of its jurisdiction until somebody chooses another. A rule of which a number is from memory drives nothing until a
 * named person has confirmed it for the site; nor does a regime that a kitchen works by only if it says so.
 */
import eu from '../../../shared/policies/eu.json' with { type: 'json' };
import gbEng from '../../../shared/policies/gb-eng.json' with { type: 'json' };
import gbNir from '../../../shared/policies/gb-nir.json' with { type: 'json' };
import gbSct from '../../../shared/policies/gb-sct.json' with { type: 'json' };
import ie from '../../../shared/policies/ie.json' with { type: 'json' };
import us from '../../../shared/policies/us.json' with { type: 'json' };

export type Basis = 'published' | 'second-hand' | 'common-practice' | 'from-memory';

interface Sourced<Value = number> {
  readonly value: Value;
  readonly unit: string;
  readonly source: string;
  readonly edition: string;
  readonly basis: Basis;
  readonly confirmBy: string;
}

export type AppliesTo = 'vacuum-packed' | 'cook-chill' | 'chilled-ready-to-eat' | 'ready-to-eat-not-packed';

/** days-from-anchor: days; warmer-than: aboveC, thenH, toleranceMin; hours-above: aboveC, hours; cold-chain-days: coldC, graceH, days. */
export interface Rule {
  readonly code: string;
  readonly label: string;
  readonly kind: 'days-from-anchor' | 'warmer-than' | 'hours-above' | 'cold-chain-days' | 'controls';
  readonly appliesTo: AppliesTo;
  readonly byChoice: boolean;
  readonly liftedByControl?: boolean;
  readonly anchor?: 'first-seal' | 'end-of-cooking' | 'production';
  readonly numbers: Readonly<Record<string, Sourced<number | string>>>;
  readonly assumption: string;
}

export interface PolicySet {
  readonly code: string;
  readonly title: string;
  readonly edition: string;
  readonly jurisdictions: readonly string[];
  readonly note: string;
  readonly useBy: Sourced<string>;
  readonly rules: readonly Rule[];
  readonly temperatures: readonly (Sourced & { readonly code: string; readonly label: string })[];
}

export const POLICY_SETS = [gbEng, gbSct, gbNir, ie, eu, us] as unknown as readonly PolicySet[];

export function findPolicySet(code: string): PolicySet | null {
  return POLICY_SETS.find((set) => set.code === code) ?? null;
}

/** The set of a jurisdiction (ISO 3166): its own, its country's, or that of the European Union, which has hardly a rule. */
export function policySetOf(jurisdiction: string): PolicySet {
  const country = jurisdiction.slice(0, 2);
  const named = (code: string) => POLICY_SETS.find((set) => set.jurisdictions.includes(code));
  return named(jurisdiction) ?? named(country) ?? (eu as unknown as PolicySet);
}

const WEAKEST: readonly Basis[] = ['from-memory', 'common-practice', 'second-hand', 'published'];

/** A rule is as sure as the least sure of its numbers. */
export function basisOf(rule: Rule): Basis {
  const bases = Object.values(rule.numbers).map(({ basis }) => basis);
  return WEAKEST.find((basis) => bases.includes(basis)) ?? 'published';
}

export function sourceOf(rule: Rule): string {
  return [...new Set(Object.values(rule.numbers).map(({ source, edition }) => `${source} (${edition})`))].join('; ');
}

/** What a site works by. */
export interface SitePolicy {
  readonly set: PolicySet;
  /** codes of rules that a named person has confirmed for the site */
  readonly confirmed: readonly string[];
}

/** Why a rule drives nothing at a site; null when it does. */
export function whySilent(rule: Rule, { confirmed }: SitePolicy): string | null {
  if (confirmed.includes(rule.code)) return null;
  if (basisOf(rule) === 'from-memory') return 'A number of it is from memory: nobody has confirmed it for this site.';
  return rule.byChoice ? 'The site has not said that it works by this regime.' : null;
}

export function numberOf(rule: Rule, name: string): number {
  const value = rule.numbers[name]?.value;
  if (typeof value !== 'number') throw new TypeError(`Rule ${rule.code} has no number ${name}`);
  return value;
}
