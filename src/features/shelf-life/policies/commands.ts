/** Policy sets and choices. Refusals: `not-found`, `rule-broken`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import {
  basisOf,
  findPolicySet,
  POLICY_SETS,
  whySilent,
  type PolicySet,
  type Rule,
  type SitePolicy,
} from '../../../domain/limits/policies.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { findSites, type SiteRow } from '../../catalogue/index.ts';
import { computeLots, type ComputedLot } from '../limits/compute.ts';
import { listLotsAt, markStock } from '../limits/results-store.ts';
import type { getSitePolicy, listPolicySets, setSitePolicy } from './contract.ts';
import { findChoices, insertChoice, policyOf, type ChoiceRow } from './store.ts';

const MOST_LOTS = 200;
const MOST_CHANGES = 100;

function ruleAnswer(rule: Rule) {
  const { code, label, appliesTo, byChoice, assumption, numbers } = rule;
  const listed = Object.entries(numbers).map(([name, one]) => ({ name, ...one }));
  return { code, label, appliesTo, byChoice, basis: basisOf(rule), numbers: listed, assumption };
}

export async function readPolicySets(_context: Context<typeof listPolicySets>): Promise<Reply> {
  const items = POLICY_SETS.map((set: PolicySet) => ({ ...set, rules: set.rules.map(ruleAnswer) }));
  return { status: 200, body: { items } };
}

async function getSite(tx: Tx, scope: SiteScope, siteId: string): Promise<SiteRow> {
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  return site;
}

function policyAnswer(siteId: string, policy: SitePolicy, choice: ChoiceRow | undefined) {
  const { set } = policy;
  return {
    siteId,
    policySet: set.code,
    title: set.title,
    edition: set.edition,
    note: set.note,
    rules: set.rules.map((rule) => {
      const silent = whySilent(rule, policy);
      return { ...ruleAnswer(rule), drives: silent === null, whySilent: silent };
    }),
    choice: choice
      ? {
          choiceId: choice.choiceId,
          confirmed: choice.confirmed,
          confirmedBy: choice.confirmedBy,
          note: choice.note,
          recordedAt: choice.recordedAt.toISOString(),
          recordedBy: choice.recordedBy,
        }
      : null,
  };
}

export async function readSitePolicy({ tx, scope, params }: Context<typeof getSitePolicy>): Promise<Reply> {
  const site = await getSite(tx, scope, params.siteId);
  const choice = (await findChoices(tx, [site.siteId])).get(site.siteId);
  return { status: 200, body: policyAnswer(site.siteId, policyOf(site.jurisdiction, choice), choice) };
}

/** Parts at the site of which the end, or what rules it, would be another. */
function changesOf(before: readonly ComputedLot[], after: readonly ComputedLot[]) {
  const was = new Map(
    before.flatMap(({ lot, parts }) => parts.map((part) => [`${lot.lotId}|${part.partId}`, part] as const)),
  );
  return after.flatMap(({ lot, parts }) =>
    parts.flatMap((part) => {
      const old = was.get(`${lot.lotId}|${part.partId}`);
      const same =
        old?.effectiveAtMs === part.effectiveAtMs &&
        old.ruling?.code === part.ruling?.code &&
        old.forbiddenBy?.code === part.forbiddenBy?.code;
      if (part.kind !== 'part' || same) return [];
      const at = (atMs: number | null | undefined) => (atMs === null || atMs === undefined ? null : utc(atMs));
      return [
        {
          lotId: lot.lotId,
          lotCode: lot.code,
          partId: part.partId,
          computedBefore: at(old?.effectiveAtMs),
          computedAfter: at(part.effectiveAtMs),
          rulingBefore: old?.ruling?.code ?? null,
          rulingAfter: part.ruling?.code ?? null,
          forbiddenAfter: part.forbiddenBy !== null,
        },
      ];
    }),
  );
}

export async function choosePolicy(context: Context<typeof setSitePolicy>): Promise<Reply> {
  const { tx, scope, params, body, factId, nowMs, actor } = context;
  const { siteId } = await getSite(tx, scope, params.siteId);
  const set = findPolicySet(body.policySet);
  if (!set) throw new Refused('rule-broken', `There is no policy set ${body.policySet}.`);
  const codes = set.rules.map((rule) => rule.code);
  const strange = body.confirmed.findIndex((code) => !codes.includes(code));
  if (strange !== -1) {
    const detail = `The rules of ${set.title} are ${codes.join(', ') || 'none'}.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/confirmed/${strange}` }] });
  }
  const last = (await findChoices(tx, [siteId])).get(siteId);
  const lotIds = await listLotsAt(tx, siteId, MOST_LOTS + 1);
  const looked = lotIds.slice(0, MOST_LOTS);
  const policy: SitePolicy = { set, confirmed: [...new Set(body.confirmed)] };
  const before = await computeLots(tx, looked, nowMs);
  const after = await computeLots(tx, looked, nowMs, new Map([[siteId, policy]]));
  const choice: ChoiceRow = {
    siteId,
    choiceId: factId,
    version: (last?.version ?? 0) + 1,
    policySet: set.code,
    confirmed: policy.confirmed,
    confirmedBy: body.confirmedBy,
    note: body.note ?? null,
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await insertChoice(tx, choice);
  await markStock(tx, { siteId });
  await wakeJob(tx, 'recompute-shelf-life');
  const answer = {
    ...policyAnswer(siteId, policy, choice),
    lots: looked.length,
    lotsInAll: lotIds.length <= MOST_LOTS,
    changes: changesOf(before, after).slice(0, MOST_CHANGES),
  };
  return { status: 201, body: answer, siteId, headers: { Location: `/v1/sites/${siteId}/policy` } };
}
