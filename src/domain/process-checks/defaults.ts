/**
 * What a check is held against where neither a plan nor the site says otherwise, and how machines are kept apart, by jurisdiction
 * (shared/policies/process-defaults.json). The data says where each number is from, how sure that is, and who has to confirm it.
 */
import table from '../../../shared/policies/process-defaults.json' with { type: 'json' };
import { coolingRule } from './cooling-rules.ts';
import { CHECK_KINDS, STAGES, type Basis, type CheckKind, type Limit, type Source, type Stage } from './shapes.ts';
import { lethalityTarget } from './targets.ts';

export type RawOnPacker = 'refuse' | 'hold';
export type AllergenChangeover = 'refuse' | 'hold' | 'finding';

interface DefaultLimit {
  /** '*': any */
  readonly stages: readonly (Stage | '*')[];
  readonly kinds: readonly CheckKind[];
  readonly jurisdictions: readonly string[];
  readonly limit: {
    readonly atLeast?: number;
    readonly atMost?: number;
    readonly unit?: string;
    readonly target?: string;
    readonly coolingRule?: string;
    readonly leastTested?: number;
    readonly mostFailed?: number;
    readonly answer?: true;
  };
  readonly source: string;
  readonly edition: string;
  readonly basis: Basis;
  readonly confirmBy: string;
  readonly assumption?: string;
}

/** A setting with its source; `standing`: law, guidance or custom, and what follows from that. */
interface SeparationEntry<Value> extends Source {
  readonly jurisdictions: readonly string[];
  readonly value: Value;
  readonly confirmBy: string;
  readonly standing: string;
}

const LIMITS = table.limits as readonly DefaultLimit[];
const SEPARATION = table.separation as unknown as {
  readonly rawOnPacker: readonly SeparationEntry<RawOnPacker>[];
  readonly allergenChangeover: readonly SeparationEntry<AllergenChangeover>[];
  readonly twoPeople: readonly SeparationEntry<boolean>[];
};

const KNOWN: ReadonlySet<string> = new Set(LIMITS.flatMap(({ jurisdictions }) => jurisdictions));

/** The jurisdiction (ISO 3166) that the data knows: itself, else its country; '*' where it knows neither. */
function regionOf(jurisdiction: string): string {
  const country = jurisdiction.slice(0, 2);
  return [jurisdiction, country].find((code) => KNOWN.has(code)) ?? '*';
}

function forRegion<Entry extends { readonly jurisdictions: readonly string[] }>(
  entries: readonly Entry[],
  jurisdiction: string,
): Entry | null {
  const region = regionOf(jurisdiction);
  const named = (code: string) => entries.find(({ jurisdictions }) => jurisdictions.includes(code));
  return named(region) ?? named('*') ?? null;
}

const WEAKEST: readonly Source['basis'][] = [
  'from-memory',
  'common-practice',
  'second-hand',
  'recomputed',
  'published',
];

/** The least sure of them. */
function weakestBasis(bases: readonly Source['basis'][]): Source['basis'] {
  return WEAKEST.find((basis) => bases.includes(basis)) ?? 'published';
}

/** A limit and where it is from. `assumption`: what its reader has to know; null: nothing beyond the source. */
export interface SourcedLimit {
  readonly limit: Limit;
  readonly source: Source;
  readonly assumption: string | null;
}

function limitOf({ limit }: DefaultLimit): Limit {
  if (limit.target !== undefined) return { form: 'lethality', target: lethalityTarget(limit.target) };
  if (limit.coolingRule !== undefined) return { form: 'cooling', rule: coolingRule(limit.coolingRule) };
  if (limit.leastTested !== undefined) {
    return { form: 'sample', leastTested: limit.leastTested, mostFailed: limit.mostFailed ?? 0 };
  }
  if (limit.answer) return { form: 'answer' };
  return { form: 'value', atLeast: limit.atLeast ?? null, atMost: limit.atMost ?? null };
}

/** Why a target or rule was chosen is as sure as the less sure of the choice and its own numbers. */
function sourced(entry: DefaultLimit): SourcedLimit {
  const limit = limitOf(entry);
  const numbers =
    limit.form === 'lethality' ? limit.target.source : limit.form === 'cooling' ? limit.rule.source : null;
  const { source, edition, basis } = entry;
  return {
    limit,
    source: { source, edition, basis: numbers ? weakestBasis([basis, numbers.basis]) : basis },
    assumption: entry.assumption ?? null,
  };
}

/** The default of a jurisdiction for one stage and kind; null: there is none. */
export function defaultLimit(jurisdiction: string, stage: Stage, kind: CheckKind): SourcedLimit | null {
  const entry = forRegion(
    LIMITS.filter(({ stages, kinds }) => kinds.includes(kind) && (stages.includes(stage) || stages.includes('*'))),
    jurisdiction,
  );
  return entry && sourced(entry);
}

/** Every stage and kind that the data names, with what counts in a jurisdiction. Stage null: at any stage. */
export function listDefaults(
  jurisdiction: string,
): readonly (SourcedLimit & { readonly stage: Stage | null; readonly kind: CheckKind })[] {
  return CHECK_KINDS.flatMap((kind) =>
    [...STAGES, null].flatMap((stage) => {
      const named = LIMITS.some(({ stages, kinds }) => kinds.includes(kind) && stages.includes(stage ?? '*'));
      const found = named ? defaultLimit(jurisdiction, stage ?? 'other', kind) : null;
      return found ? [{ stage, kind, ...found }] : [];
    }),
  );
}

interface Setting<Value> extends Source {
  readonly value: Value;
  readonly standing: string;
}

export interface Separation {
  readonly rawOnPacker: Setting<RawOnPacker>;
  readonly allergenChangeover: Setting<AllergenChangeover>;
  readonly twoPeople: Setting<boolean>;
}

function setting<Value>(entries: readonly SeparationEntry<Value>[], jurisdiction: string): Setting<Value> {
  const entry = forRegion(entries, jurisdiction);
  if (!entry) throw new Error('The policy data has no setting for everywhere');
  const { value, source, edition, basis, standing } = entry;
  return { value, source, edition, basis, standing };
}

export function defaultSeparation(jurisdiction: string): Separation {
  return {
    rawOnPacker: setting(SEPARATION.rawOnPacker, jurisdiction),
    allergenChangeover: setting(SEPARATION.allergenChangeover, jurisdiction),
    twoPeople: setting(SEPARATION.twoPeople, jurisdiction),
  };
}
