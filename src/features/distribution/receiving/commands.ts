/** Receiving policies, and the list that a device takes along. Refusals: `not-found`. */
import { createHash } from 'node:crypto';
import { notFound } from '../../../domain/errors.ts';
import { utc } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { etagOf } from '../../../platform/http/etags.ts';
import type { Signer } from '../../../platform/auth/signing.ts';
import { findSites, lockSite, type SiteRow } from '../../catalogue/index.ts';
import type * as contract from './contract.ts';
import { listOf } from './list.ts';
import { insertPolicy, listPolicies, type PolicyRow } from './store.ts';

async function getSite(tx: Tx, scope: SiteScope, siteId: string): Promise<SiteRow> {
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  return site;
}

const NOTHING = { version: 0, closesWhenComplete: false, closesAfterH: null, note: null, recordedBy: null };

function policyAnswer(siteId: string, row: PolicyRow | undefined) {
  if (!row) return { siteId, ...NOTHING, recordedAt: null };
  return { ...row, recordedAt: row.recordedAt.toISOString() };
}

export async function readPolicy(context: Context<typeof contract.getReceivingPolicy>): Promise<Reply> {
  const { tx, scope, params } = context;
  const site = await getSite(tx, scope, params.siteId);
  const [newest] = await listPolicies(tx, [site.siteId]);
  return {
    status: 200,
    body: policyAnswer(site.siteId, newest),
    headers: { ETag: etagOf(newest?.version ?? 0) },
  };
}

export async function choosePolicy(context: Context<typeof contract.setReceivingPolicy>): Promise<Reply> {
  const { tx, scope, params, body, nowMs, actor } = context;
  await getSite(tx, scope, params.siteId);
  // two who speak at once get two versions
  await lockSite(tx, params.siteId);
  const [before] = await listPolicies(tx, [params.siteId]);
  const row = {
    siteId: params.siteId,
    version: (before?.version ?? 0) + 1,
    closesWhenComplete: body.closesWhenComplete,
    closesAfterH: body.closesAfterH,
    note: body.note ?? null,
    recordedBy: actor.actorId,
  };
  // From here on only success.
  await insertPolicy(tx, { ...row, recordedAtMs: nowMs });
  return {
    status: 201,
    body: policyAnswer(params.siteId, { ...row, recordedAt: new Date(nowMs) }),
    siteId: params.siteId,
    headers: { Location: `/v1/sites/${params.siteId}/receiving-policy`, ETag: etagOf(row.version) },
  };
}

/** A signed statement says how fresh it is; within this time the same facts are the same statement, byte for byte. */
const STEP_MS = 5 * 60_000;

export async function readList(context: Context<typeof contract.getReceivingList>, signer: Signer): Promise<Reply> {
  const { tx, scope, params, nowMs } = context;
  const site = await getSite(tx, scope, params.siteId);
  const list = await listOf(tx, site, nowMs, utc(Math.floor(nowMs / STEP_MS) * STEP_MS));
  const body = { list, signature: signer.sign(list) };
  const etag = createHash('sha256').update(body.signature).digest('base64url').slice(0, 32);
  return { status: 200, body, headers: { ETag: `"${etag}"` } };
}

export function readKeys(signer: Signer): Promise<Reply> {
  return Promise.resolve({ status: 200, body: { keys: [signer.key] } });
}
