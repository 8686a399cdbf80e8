/**
 * Appointing deputies, and ending it. Refusals: `forbidden` (a right held as a deputy is not passed on), `not-found`, `rule-broken` (the
 * period; oneself; somebody who is let in no more), `wrong-state` (over already).
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { fromInstant } from '../../domain/time.ts';
import { ownScopeOf } from '../../platform/auth/actor.ts';
import type { Context, Reply, SiteScope } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import type * as contract from './deputies-contract.ts';
import * as store from './deputies-store.ts';
import { findPeople, findSiteIds } from './store.ts';

/** A named time, not a second post: common practice. */
const LONGEST_MS = 31 * 24 * 3_600_000;
/** A tablet's clock may be a little behind when somebody is appointed from now on. */
const CLOCK_SLACK_MS = 5 * 60_000;

/** Where the actor may appoint by a right of their own. */
function ownScope({ actor }: Pick<Context, 'actor'>): SiteScope {
  const scope = ownScopeOf(actor, 'deputies.write');
  if (!scope) throw new Refused('forbidden', 'A deputy appoints no deputies and ends no appointments.');
  return scope;
}

const reaches = (scope: SiteScope, siteId: string | null) => (siteId === null ? scope.all : scope.includes(siteId));

function broken(detail: string, field: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer: `#/${field}` }] });
}

function requirePeriod(fromMs: number, toMs: number, nowMs: number): void {
  if (toMs <= fromMs) throw broken('It ends before it begins.', 'to');
  if (toMs - fromMs > LONGEST_MS) throw broken('A deputy is appointed for at most 31 days.', 'to');
  if (fromMs < nowMs - CLOCK_SLACK_MS || toMs <= nowMs) throw broken('It begins in the past.', 'from');
}

function answerOf(row: store.DeputyRow) {
  return {
    ...row,
    from: row.from.toISOString(),
    to: row.to.toISOString(),
    appointedAt: row.appointedAt.toISOString(),
    endedAt: row.endedAt?.toISOString() ?? null,
  };
}

function writtenReply(row: store.DeputyRow | null): Reply {
  if (!row) throw new Error('the appointment cannot be read back');
  const headers = { Location: `/v1/deputies/${row.deputyId}` };
  return { status: 201, body: answerOf(row), siteId: row.siteId, headers };
}

export async function createDeputyCommand(context: Context<typeof contract.createDeputy>): Promise<Reply> {
  const { tx, body, actor, factId, nowMs } = context;
  const { personId, role, siteId, reason } = body;
  const scope = ownScope(context);
  const known = await findSiteIds(tx, siteId === null ? [] : [siteId]);
  const person = (await findPeople(tx, [personId])).get(personId);
  if (siteId !== null && !(known.has(siteId) && scope.includes(siteId))) throw notFound('site');
  if (!person) throw notFound('person');
  if (siteId === null && !scope.all) throw broken('Name one of your sites.', 'siteId');
  if (personId === actor.actorId) throw broken('Somebody else appoints you.', 'personId');
  if (!person.active) throw broken('That person is let in no more.', 'personId');
  const [fromMs, toMs] = [fromInstant(body.from), fromInstant(body.to)];
  requirePeriod(fromMs, toMs, nowMs);
  // From here on only success.
  const deputy = { deputyId: factId, personId, role, siteId, reason, appointedBy: actor.actorId };
  await store.insertDeputy(tx, deputy, fromMs, toMs, nowMs);
  return writtenReply(await store.findDeputy(tx, factId));
}

export async function endDeputyCommand(context: Context<typeof contract.createDeputyEnd>): Promise<Reply> {
  const { tx, params, actor, nowMs } = context;
  const scope = ownScope(context);
  const deputy = await store.lockDeputy(tx, params.deputyId);
  if (!deputy || !reaches(scope, deputy.siteId)) throw notFound('deputy');
  if (deputy.endedAt || deputy.to.getTime() <= nowMs) throw new Refused('wrong-state', 'It is over already.');
  // From here on only success.
  await store.endDeputy(tx, deputy.deputyId, actor.actorId, nowMs);
  return writtenReply(await store.findDeputy(tx, deputy.deputyId));
}

export async function getDeputyQuery({ tx, params, scope }: Context<typeof contract.getDeputy>): Promise<Reply> {
  const deputy = await store.findDeputy(tx, params.deputyId);
  if (!deputy || (deputy.siteId !== null && !scope.includes(deputy.siteId))) throw notFound('deputy');
  return { status: 200, body: answerOf(deputy) };
}

export async function listDeputiesQuery(context: Context<typeof contract.listDeputies>): Promise<Reply> {
  const { tx, query, scope, path, nowMs } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const filter = {
    siteId: query.siteId ?? null,
    personId: query.personId ?? null,
    open: query.open === undefined ? null : query.open === 'true',
  };
  const rows = (await store.listDeputies(tx, scope, filter, nowMs, page)).map(answerOf);
  return pageReply(path, query, page, rows, (row) => [row.from, row.deputyId]);
}
