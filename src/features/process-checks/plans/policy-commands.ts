/** A site's process policy. Refusals: `not-found`, `rule-broken`. */
import { notFound } from '../../../domain/errors.ts';
import { defaultLimit, listDefaults, type SourcedLimit } from '../../../domain/process-checks/defaults.ts';
import { COMPETENT, isLooser } from '../../../domain/process-checks/plan-cautions.ts';
import { siteLimitsOf } from '../../../domain/process-checks/plan-drafts.ts';
import type { SiteLimit } from '../../../domain/process-checks/plans.ts';
import type { CheckKind, Stage } from '../../../domain/process-checks/shapes.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findSites, lockSite, type SiteRow } from '../../catalogue/index.ts';
import { separationOf } from './at-site.ts';
import type * as contract from './policy-contract.ts';
import { findPolicy, insertPolicy, type PolicyRow } from './policy-store.ts';

interface AnsweredLimit extends SourcedLimit {
  readonly stage: Stage | null;
  readonly kind: CheckKind;
  readonly own: boolean;
  readonly looser: boolean;
}

/** The site's own limits, then its jurisdiction's where the site has none of the same stage and kind. */
function limitsOf(jurisdiction: string, own: readonly SiteLimit[]): AnsweredLimit[] {
  const said = own.map(({ stage, kind, atLeast, atMost, source }): AnsweredLimit => {
    const limit = { form: 'value', atLeast, atMost } as const;
    const usual = defaultLimit(jurisdiction, stage, kind);
    return {
      stage,
      kind,
      limit,
      source,
      assumption: null,
      own: true,
      looser: usual !== null && isLooser(limit, usual.limit),
    };
  });
  const isSaid = (stage: Stage | null, kind: CheckKind) => said.some((one) => one.stage === stage && one.kind === kind);
  const rest = listDefaults(jurisdiction).filter(({ stage, kind }) => !isSaid(stage, kind));
  return [...said, ...rest.map((one) => ({ ...one, own: false, looser: false }))];
}

function policyAnswer(site: SiteRow, policy: PolicyRow | null) {
  const { siteId, jurisdiction } = site;
  const limits = limitsOf(jurisdiction, policy?.content.limits ?? []);
  const looser = limits.filter((limit) => limit.looser);
  const fromMemory = limits.filter(({ source }) => source.basis === 'from-memory').length;
  return {
    siteId,
    jurisdiction,
    ...separationOf({ jurisdiction, policy }),
    limits,
    policy: policy && {
      policyId: policy.policyId,
      version: policy.version,
      confirmedBy: policy.confirmedBy,
      note: policy.note,
      recordedAt: policy.recordedAt.toISOString(),
      recordedBy: policy.recordedBy,
    },
    cautions: [
      ...looser.map(
        ({ kind, stage }) =>
          `The site's own limit for ${kind} at the stage ${stage} asks less than the default of ${jurisdiction}.`,
      ),
      ...(fromMemory > 0
        ? [`${fromMemory} of the limits rest on numbers from memory: a competent person confirms them or sets others.`]
        : []),
      COMPETENT,
    ],
  };
}

export async function readProcessPolicy(context: Context<typeof contract.getSiteProcessPolicy>): Promise<Reply> {
  const { tx, scope, params } = context;
  const site = (await findSites(tx, [params.siteId])).get(params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  return { status: 200, body: policyAnswer(site, await findPolicy(tx, site.siteId)) };
}

export async function createProcessPolicy(context: Context<typeof contract.createSiteProcessPolicy>): Promise<Reply> {
  const { tx, scope, params, body, factId, nowMs, actor } = context;
  // Locked, so that two versions written at one time get two numbers.
  const site = await lockSite(tx, params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const { siteId } = site;
  const version = ((await findPolicy(tx, siteId))?.version ?? 0) + 1;
  const limits = siteLimitsOf(body.limits ?? [], `site policy ${version}`);
  const { rawOnPacker, allergenChangeover, twoPeople } = body;
  const row: PolicyRow = {
    policyId: factId,
    siteId,
    version,
    content: { rawOnPacker, allergenChangeover, twoPeople, limits },
    confirmedBy: body.confirmedBy,
    note: body.note ?? null,
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await insertPolicy(tx, row);
  const headers = { Location: `/v1/sites/${siteId}/process-policy` };
  return { status: 201, body: policyAnswer(site, row), siteId, headers };
}
