/** What a site's process policy, or its jurisdiction where the site has none, says; and the plan that a batch gets. */
import {
  defaultLimit,
  defaultSeparation,
  type AllergenChangeover,
  type RawOnPacker,
  type Separation,
  type SourcedLimit,
} from '../../../domain/process-checks/defaults.ts';
import { markLooser } from '../../../domain/process-checks/plan-cautions.ts';
import { limitAtSite, resolvePlan, type SiteLimit } from '../../../domain/process-checks/plans.ts';
import type { CheckKind, ProcessPlan, Source, Stage } from '../../../domain/process-checks/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { findSites } from '../../catalogue/index.ts';
import { findPolicy, type PolicyRow } from './policy-store.ts';
import { findBatchPlans, findNewestPlan, insertBatchPlan } from './store.ts';

interface AtSite {
  readonly jurisdiction: string;
  readonly policy: PolicyRow | null;
}

async function getAtSite(tx: Tx, siteId: string): Promise<AtSite> {
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site) throw new Error(`site ${siteId} cannot be read`);
  return { jurisdiction: site.jurisdiction, policy: await findPolicy(tx, siteId) };
}

/** What the site said is as sure as whoever confirmed it. */
export function separationOf({ jurisdiction, policy }: AtSite): Separation {
  const defaults = defaultSeparation(jurisdiction);
  if (!policy) return defaults;
  const { rawOnPacker, allergenChangeover, twoPeople } = policy.content;
  const said = {
    source: `The site's process policy, version ${policy.version}, confirmed by ${policy.confirmedBy}`,
    edition: String(policy.version),
    basis: 'common-practice' as const,
  };
  return {
    rawOnPacker: { ...said, value: rawOnPacker, standing: defaults.rawOnPacker.standing },
    allergenChangeover: { ...said, value: allergenChangeover, standing: defaults.allergenChangeover.standing },
    twoPeople: { ...said, value: twoPeople, standing: defaults.twoPeople.standing },
  };
}

export interface SiteSeparation {
  /** ready-to-eat food on a packer that last ran raw food without a recorded clean-down in full */
  readonly rawOnPacker: RawOnPacker;
  readonly allergenChangeover: AllergenChangeover;
  /** whoever had a hand in a batch does not release it, at this site; a plan may demand it too */
  readonly twoPeople: boolean;
  /** of rawOnPacker; that of each is in `settings` */
  readonly source: Source;
  /** law, guidance or custom */
  readonly standing: string;
  readonly settings: Separation;
}

/** How the site keeps raw food and allergens apart on its machines. */
export async function getSeparation(tx: Tx, siteId: string): Promise<SiteSeparation> {
  const settings = separationOf(await getAtSite(tx, siteId));
  const { source, edition, basis, standing } = settings.rawOnPacker;
  return {
    rawOnPacker: settings.rawOnPacker.value,
    allergenChangeover: settings.allergenChangeover.value,
    twoPeople: settings.twoPeople.value,
    source: { source, edition, basis },
    standing,
    settings,
  };
}

/** What a check outside any plan is held against at a site: its own limit, else its jurisdiction's; null: neither is there. */
export async function findSiteLimit(
  tx: Tx,
  siteId: string,
  stage: Stage,
  kind: CheckKind,
): Promise<SourcedLimit | null> {
  const { jurisdiction, policy } = await getAtSite(tx, siteId);
  return limitAtSite(jurisdiction, policy?.content.limits ?? [], stage, kind);
}

/** The site's jurisdiction and its own limits, to resolve a plan with. */
export async function getLimitsAt(
  tx: Tx,
  siteId: string,
): Promise<{ readonly jurisdiction: string; readonly limits: readonly SiteLimit[] }> {
  const { jurisdiction, policy } = await getAtSite(tx, siteId);
  return { jurisdiction, limits: policy?.content.limits ?? [] };
}

/** Gives a batch that was just opened its own copy of its recipe's newest plan; where the recipe has none, nothing is written. */
export async function copyPlanToBatch(
  tx: Tx,
  batch: { readonly batchId: string; readonly recipeId: string; readonly siteId: string },
): Promise<void> {
  const row = await findNewestPlan(tx, batch.recipeId);
  if (!row) return;
  const { jurisdiction, limits } = await getLimitsAt(tx, batch.siteId);
  const plan = markLooser(
    resolvePlan(row.content, jurisdiction, limits),
    ({ stage, kind }) => defaultLimit(jurisdiction, stage, kind)?.limit ?? null,
  );
  await insertBatchPlan(tx, { batchId: batch.batchId, planId: row.planId, planVersion: row.version, plan });
}

export interface BatchPlan {
  readonly planId: string;
  readonly planVersion: number;
  readonly plan: ProcessPlan;
}

/** By batch; batches that were opened without a plan are left out. */
export async function findBatchPlan(tx: Tx, batchIds: readonly string[]): Promise<Map<string, BatchPlan>> {
  const rows = await findBatchPlans(tx, batchIds);
  return new Map(rows.map(({ batchId, ...plan }) => [batchId, plan]));
}
