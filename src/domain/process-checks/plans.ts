/**
 * Process plans: as they are kept, and as a batch has them. A plan that is kept may say 'default' for a limit; the copy that a batch gets has
 * the number of its site in that place, with its source: the site's own where it has set one, else its jurisdiction's.
 */
import { defaultLimit, type SourcedLimit } from './defaults.ts';
import type { CheckKind, ControlPoint, Limit, ProcessPlan, Source, Stage } from './shapes.ts';

export interface StoredPoint extends Omit<ControlPoint, 'limit' | 'source'> {
  /** default: the site's, or its jurisdiction's, when a batch is opened */
  readonly limit: Limit | 'default';
  /** null where the limit is the default: the source comes with it */
  readonly source: Source | null;
}

export interface StoredPlan extends Omit<ProcessPlan, 'points'> {
  readonly points: readonly StoredPoint[];
}

/** A limit that a site has set for checks of one stage and kind. Null: no bound on that side. */
export interface SiteLimit {
  readonly stage: Stage;
  readonly kind: CheckKind;
  readonly atLeast: number | null;
  readonly atMost: number | null;
  readonly source: Source;
}

/** What counts at a site for a stage and kind: its own limit, else its jurisdiction's default; null: neither is there. */
export function limitAtSite(
  jurisdiction: string,
  siteLimits: readonly SiteLimit[],
  stage: Stage,
  kind: CheckKind,
): SourcedLimit | null {
  const own = siteLimits.find((limit) => limit.stage === stage && limit.kind === kind);
  if (!own) return defaultLimit(jurisdiction, stage, kind);
  const { atLeast, atMost, source } = own;
  return { limit: { form: 'value', atLeast, atMost }, source, assumption: null };
}

/** @throws Error where a point says 'default' and there is none for its stage and kind; requirePlan keeps such plans out */
export function resolvePlan(
  stored: StoredPlan,
  jurisdiction: string,
  siteLimits: readonly SiteLimit[] = [],
): ProcessPlan {
  const points = stored.points.map((point): ControlPoint => {
    const { limit, source, ...rest } = point;
    if (limit !== 'default' && source !== null) return { ...rest, limit, source };
    const found = limitAtSite(jurisdiction, siteLimits, point.stage, point.kind);
    if (!found) throw new Error(`There is no default for ${point.kind} at the stage ${point.stage}`);
    return { ...rest, limit: found.limit, source: found.source };
  });
  return { points, release: stored.release, twoPeople: stored.twoPeople };
}
