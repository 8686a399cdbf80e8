/** Process plans. Refusals: `not-found`, `rule-broken`. */
import { notFound } from '../../../domain/errors.ts';
import { defaultLimit } from '../../../domain/process-checks/defaults.ts';
import { cautionsOfPlan, looserPoints } from '../../../domain/process-checks/plan-cautions.ts';
import { storedPlan } from '../../../domain/process-checks/plan-drafts.ts';
import { limitAtSite } from '../../../domain/process-checks/plans.ts';
import { suggestPlan } from '../../../domain/process-checks/suggest.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findRecipes, findSites, lockRecipe, type RecipeRow } from '../../catalogue/index.ts';
import { findBatchPlan, getLimitsAt } from './at-site.ts';
import type * as contract from './contract.ts';
import { findBatchSite, findNewestPlan, findPlan, insertPlan, listPlans, type PlanRow } from './store.ts';

function planAnswer({ content, recordedAt, ...row }: PlanRow) {
  return {
    ...row,
    release: content.release,
    twoPeople: content.twoPeople,
    points: content.points.map((point) => ({
      ...point,
      limit: point.limit === 'default' ? { form: 'default' } : point.limit,
    })),
    recordedAt: recordedAt.toISOString(),
    cautions: cautionsOfPlan(content),
  };
}

async function getRecipe(tx: Tx, recipeId: string): Promise<RecipeRow> {
  const recipe = (await findRecipes(tx, [recipeId])).get(recipeId);
  if (!recipe) throw notFound('recipe');
  return recipe;
}

export async function createPlan(context: Context<typeof contract.createProcessPlan>): Promise<Reply> {
  const { tx, params, body, factId, nowMs, actor } = context;
  // Locked, so that two versions written at one time get two numbers.
  const recipe = await lockRecipe(tx, params.recipeId);
  if (!recipe) throw notFound('recipe');
  const content = storedPlan(body);
  const last = await findNewestPlan(tx, recipe.recipeId);
  const row: PlanRow = {
    planId: factId,
    recipeId: recipe.recipeId,
    version: (last?.version ?? 0) + 1,
    content,
    note: body.note ?? null,
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await insertPlan(tx, row);
  return { status: 201, body: planAnswer(row), siteId: null, headers: { Location: `/v1/process-plans/${factId}` } };
}

export async function readPlans(context: Context<typeof contract.listProcessPlans>): Promise<Reply> {
  const { tx, params, query, path } = context;
  const recipe = await getRecipe(tx, params.recipeId);
  const page = pageOf(query, ['int']);
  const rows = await listPlans(tx, recipe.recipeId, page);
  return pageReply(path, query, page, rows.map(planAnswer), (row) => [String(row.version)]);
}

export async function readPlan({ tx, params }: Context<typeof contract.getProcessPlan>): Promise<Reply> {
  const row = await findPlan(tx, params.planId);
  if (!row) throw notFound('process plan');
  return { status: 200, body: planAnswer(row) };
}

export async function suggest(context: Context<typeof contract.suggestProcessPlan>): Promise<Reply> {
  const { tx, scope, params, query } = context;
  const site = (await findSites(tx, [query.siteId])).get(query.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const recipe = await getRecipe(tx, params.recipeId);
  const { jurisdiction, limits } = await getLimitsAt(tx, site.siteId);
  const { reasons, ...plan } = suggestPlan(recipe.steps);
  const resolved = plan.points.flatMap((point) => {
    const found = limitAtSite(jurisdiction, limits, point.stage, point.kind);
    const reason = reasons.find(({ code }) => code === point.code)?.reason ?? '';
    return found ? [{ code: point.code, reason, ...found }] : [];
  });
  const cautions = cautionsOfPlan({
    release: plan.release,
    points: plan.points.flatMap(({ code, label }) => {
      const found = resolved.find((one) => one.code === code);
      return found ? [{ label, limit: found.limit, source: found.source, confirmed: false }] : [];
    }),
  });
  const { recipeId, steps } = recipe;
  return { status: 200, body: { recipeId, siteId: site.siteId, jurisdiction, steps, plan, resolved, cautions } };
}

export async function readBatchPlan(context: Context<typeof contract.getBatchProcessPlan>): Promise<Reply> {
  const { tx, scope, params } = context;
  const siteId = await findBatchSite(tx, params.batchId);
  if (siteId === null || !scope.includes(siteId)) throw notFound('batch');
  const found = (await findBatchPlan(tx, [params.batchId])).get(params.batchId);
  if (!found) throw notFound('process plan of the batch');
  const { planId, planVersion, plan } = found;
  const { jurisdiction } = await getLimitsAt(tx, siteId);
  const usual = ({ stage, kind }: (typeof plan.points)[number]) =>
    defaultLimit(jurisdiction, stage, kind)?.limit ?? null;
  const cautions = [...looserPoints(plan, usual), ...cautionsOfPlan(plan)];
  return { status: 200, body: { batchId: params.batchId, planId, planVersion, ...plan, cautions } };
}
