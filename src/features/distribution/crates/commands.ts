/**
 * Crates. Refusals: `not-found`, `no-company-prefix`, `sscc-used-up`, `code-taken`, `crate-in-itself`, `rule-broken`, `time-in-future`.
 */
import { checkPlacement } from '../../../domain/crate-nesting.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { allocateSsccs, type Allocation } from '../../../domain/sscc-ranges.ts';
import { fromInstant } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findSites } from '../../catalogue/index.ts';
import { requirePast } from '../../ledger/index.ts';
import { findBoxTypes } from '../boxes/store.ts';
import { crateAnswer, crateHead, placementAnswer, whereIs } from './answer.ts';
import type * as contract from './contract.ts';
import { listCrateLoads } from './loads.ts';
import { crateIdOf } from './names.ts';
import { listInside, listOuterCrates } from './nesting.ts';
import { lockGroup, lockRanges, setLastSerials } from './store-ranges.ts';
import {
  findCrates,
  findCratesByCode,
  findVisibleCrates,
  insertCrates,
  insertPlacement,
  listCrateRows,
  type NewCrate,
} from './store.ts';

const broken = (detail: string, pointer: string) =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

/** Eighteen digits are an SSCC, which somebody gives out; a code of one's own must not look like one. */
const LIKE_AN_SSCC = /^[0-9]{18}$/;

export async function makeCrates(context: Context<typeof contract.createCrates>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs, actor } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const boxType = body.boxTypeId ? (await findBoxTypes(tx, [body.boxTypeId])).get(body.boxTypeId) : null;
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  if (boxType === undefined) throw notFound('box type');
  if ((body.count === undefined) === (body.codes === undefined))
    throw broken('Say how many, or the codes of your own: one of the two.', '#/count');
  const own = body.codes ?? [];
  const like = own.findIndex((code, at) => LIKE_AN_SSCC.test(code) || own.indexOf(code) !== at);
  if (like !== -1) throw broken('Each code once, and none of eighteen digits.', `#/codes/${like}`);
  const known = await findCratesByCode(tx, own);
  const taken = own.find((code) => known.has(code));
  if (taken !== undefined) throw new Refused('code-taken', `Another crate of the group has the code ${taken}.`);
  const given: Allocation | null = body.count === undefined ? null : allocateSsccs(await lockRanges(tx), body.count);
  const labels = given ? given.ssccs.map((sscc) => ({ code: sscc, sscc })) : own.map((code) => ({ code, sscc: null }));
  const crates = labels.map((label, at): NewCrate => ({ ...label, crateId: crateIdOf(factId, at + 1) }));
  const order = { orderId: factId, kind: body.kind ?? 'crate', boxTypeId: boxType?.boxTypeId ?? null };
  // From here on only success.
  if (given) await setLastSerials(tx, given.ranges);
  await insertCrates(tx, { ...order, siteId: site.siteId, madeBy: actor.actorId }, crates, nowMs);
  const rows = await findCrates(
    tx,
    crates.map((crate) => crate.crateId),
  );
  return {
    status: 201,
    body: { items: crates.flatMap(({ crateId }) => rows.get(crateId) ?? []).map(crateHead) },
    siteId: site.siteId,
    headers: { Location: `/v1/crates/${crateIdOf(factId, 1)}` },
  };
}

export async function readCrates(context: Context<typeof contract.listCrates>): Promise<Reply> {
  const { tx, scope, query } = context;
  const page = pageOf(query, ['uuid']);
  // both: a crate that is called by both
  const codes = [query.code, query.sscc].flatMap((code) => code ?? []);
  const filter = { siteId: query.siteId ?? null, dispatchId: query.dispatchId ?? null, code: codes[0] ?? null };
  const nobody = codes.length === 2 && codes[0] !== codes[1];
  const rows = nobody ? [] : await listCrateRows(tx, scope, filter, page);
  return pageReply(context.path, query, page, rows.map(crateHead), (row) => [row.crateId]);
}

export async function readCrate(context: Context<typeof contract.getCrate>): Promise<Reply> {
  const { tx, scope, params, nowMs } = context;
  const crate = (await findVisibleCrates(tx, scope, [params.crateId])).get(params.crateId);
  if (!crate) throw notFound('crate');
  return { status: 200, body: await crateAnswer(tx, scope, crate, nowMs) };
}

/** Refused for a ring at the time that it is said for, and for one now: what is recorded late may have been overtaken. */
export async function place(context: Context<typeof contract.createCratePlacement>): Promise<Reply> {
  const { body, tx, scope, params, factId, nowMs, actor } = context;
  await lockGroup(tx);
  const wanted = [params.crateId, ...(body.intoCrateId === null ? [] : [body.intoCrateId])];
  const crates = await findVisibleCrates(tx, scope, wanted);
  const site = body.siteId === undefined ? null : (await findSites(tx, [body.siteId])).get(body.siteId);
  const crate = crates.get(params.crateId);
  const into = body.intoCrateId === null ? null : crates.get(body.intoCrateId);
  if (!crate || into === undefined) throw notFound('crate');
  if (site === undefined || (site && !scope.includes(site.siteId))) throw notFound('site');
  const occurredAtMs = body.occurredAt === undefined ? nowMs : fromInstant(body.occurredAt);
  requirePast(occurredAtMs, nowMs);
  const siteId = site?.siteId ?? whereIs(crate, await listCrateLoads(tx, [crate.code])).toSiteId;
  if (into) {
    for (const atMs of new Set([occurredAtMs, nowMs])) {
      const outside = await listOuterCrates(tx, [{ code: into.code, atMs }]);
      const inside = await listInside(tx, crate.crateId, atMs);
      const levelsInside = inside.reduce((most, row) => Math.max(most, row.level), 0);
      checkPlacement({ ...crate, into, outside: outside.map((row) => row.outerCrateId), levelsInside });
    }
  }
  const row = { placementId: factId, crateId: crate.crateId, intoCrateId: into?.crateId ?? null, siteId };
  // From here on only success.
  await insertPlacement(tx, { ...row, occurredAtMs, recordedBy: actor.actorId }, nowMs);
  const answer = placementAnswer({
    ...row,
    crateCode: crate.code,
    intoCrateCode: into?.code ?? null,
    occurredAt: new Date(occurredAtMs),
    recordedAt: new Date(nowMs),
  });
  return { status: 201, body: answer, siteId, headers: { Location: `/v1/crates/${crate.crateId}` } };
}
