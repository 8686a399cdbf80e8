/**
 * The router is built from the contracts. Every request goes the same way:
 * parse → authenticate → permit → load → decide → write → reply; the last four belong to the handler, inside one
 * transaction that this file opens and ends.
 */
import express, { type NextFunction, type Request, type Response, type Router } from 'express';
import { Refused } from '../../domain/errors.ts';
import { scopeOf, type Actor } from '../auth/actor.ts';
import type { Tokens } from '../auth/tokens.ts';
import type { Clock } from '../clock.ts';
import { brokenConstraint, isUnavailable, ReadTooEarly, type Db, type Tx, type TxMode } from '../db/db.ts';
import type { Ids } from '../ids.ts';
import type { Log } from '../log.ts';
import { checkReply, contentTypesOf, declares } from './answers.ts';
import { readJson } from './body.ts';
import type { BoundOperation, Context, Operation, Reply, SiteScope } from './contract.ts';
import { etagOf, matches } from './etags.ts';
import { contentHashOf, contentOf, factIdFrom, findFacts, insertFacts, isReplay, signatureOf } from './facts.ts';
import { headersOf, parse } from './parse.ts';
import { problemOf, sendProblem } from './problem.ts';
import { openRawBody } from './raw-body.ts';
import { FailedHalfWay, ReaderGone, sendStream } from './streams.ts';

export interface RouterParts {
  readonly db: Db;
  readonly clock: Clock;
  readonly ids: Ids;
  readonly tokens: Tokens;
  readonly log: Log;
  /** how long a streamed answer waits for a reader who takes nothing */
  readonly stallMs?: number;
  /** told of every finished request; metrics hang here */
  readonly onDone?: (operation: Operation, res: Response) => void;
}

export function requestIdOf(res: Response): string {
  return String(res.locals.requestId);
}

export function buildRouter(parts: RouterParts, bound: readonly BoundOperation[]): Router {
  const router = express.Router({ caseSensitive: true, strict: true });
  const byPath = new Map<string, BoundOperation[]>();
  for (const one of bound) byPath.set(one.operation.path, [...(byPath.get(one.operation.path) ?? []), one]);
  for (const [path, group] of byPath) {
    const allow = group.map((one) => one.operation.method.toUpperCase());
    if (allow.includes('GET')) allow.push('HEAD');
    const route = router.route(path.replaceAll(/\{(\w+)\}/g, ':$1'));
    for (const one of group) {
      route[one.operation.method]((req: Request, res: Response, next: NextFunction) => {
        answer(parts, one, req, res).then(() => parts.onDone?.(one.operation, res), next);
      });
    }
    route.all((req, res) => {
      const detail = `${req.method} is not one of ${allow.join(', ')}.`;
      sendProblem(
        res,
        new Refused('method-not-allowed', detail, { headers: { Allow: allow.join(', ') } }),
        requestIdOf(res),
      );
    });
  }
  return router;
}

async function answer(parts: RouterParts, bound: BoundOperation, req: Request, res: Response): Promise<void> {
  const requestId = requestIdOf(res);
  try {
    const reply = await run(parts, bound, req, res);
    if (reply.live) await sendPieces(parts, bound.operation, req, res, reply, reply.live);
    else if (!reply.stream || isKnown(req, reply)) send(req, res, reply);
  } catch (error) {
    if (error instanceof ReaderGone) {
      parts.log.info({ requestId, operation: bound.operation.id }, 'the reader went before all was sent');
      return;
    }
    if (error instanceof FailedHalfWay) {
      parts.log.error({ err: error.cause, requestId, operation: bound.operation.id }, 'failed half-way');
      return;
    }
    // What was not read of a large body is not waited for.
    if (bound.operation.rawBody && !req.complete) res.setHeader('Connection', 'close');
    const refused = refusalOf(error);
    if (refused.code === 'internal-error') parts.log.error({ err: error, requestId, operation: bound.operation.id });
    else if (refused.code === 'unavailable') parts.log.warn({ err: error, requestId }, 'database unavailable');
    sendProblem(res, refused, requestId, bound.operation.problemTypes);
  }
}

/** Any error as a refusal; what is not known is an internal error without words of its own. */
export function refusalOf(error: unknown): Refused {
  if (error instanceof Refused) return error;
  const constraint = brokenConstraint(error);
  if (constraint?.endsWith('_code_key')) return new Refused('code-taken', 'Another one of the group has that code.');
  // Not named by a fact, but there: made with the group, or together with another row.
  if (constraint?.endsWith('_pkey'))
    return new Refused('id-used-with-other-content', 'That id already names something else.');
  if (isUnavailable(error)) return new Refused('unavailable', 'The database did not answer.');
  return new Refused('internal-error', 'The request was not carried out.');
}

async function run(
  parts: RouterParts,
  { operation, receive, handle }: BoundOperation,
  req: Request,
  res: Response,
): Promise<Reply> {
  // parse
  const offered = contentTypesOf(operation);
  if (req.accepts([...offered, 'application/problem+json']) === false) {
    throw new Refused('not-acceptable', `This operation answers ${offered.join(', ')}.`);
  }
  const params = parse(operation.params, { ...req.params }, 'path');
  const query = parse(operation.query, { ...req.query }, 'query', true);
  const headers = parse(operation.headers, headersOf(operation, req), 'header');
  const json = operation.body ? await readJson(req, (operation.bodyLimitKb ?? 256) * 1024) : undefined;
  const body = operation.body ? parse(operation.body, json, 'body') : undefined;
  const raw = operation.rawBody && openRawBody(req, operation.rawBody);
  const key = req.get('idempotency-key');
  const factId =
    operation.naming === 'fact'
      ? factIdFrom((body as { id?: unknown }).id, key)
      : operation.naming === 'offered' && key !== undefined
        ? factIdFrom(undefined, key)
        : parts.ids.newId();
  const ifMatch = req.get('if-match') ?? null;
  if (operation.conditional && ifMatch === null) {
    throw new Refused('precondition-required', 'If-Match is missing.');
  }

  // authenticate, permit
  const nowMs = parts.clock.nowMs();
  const { actor, scope } =
    operation.permission === 'public' ? anyone(operation, body) : permit(parts, operation, req, nowMs);
  const { groupId, actorId, deviceId } = actor;
  res.locals.actor = { groupId, actorId, ...(deviceId !== undefined && { deviceId }) };

  const inGroup = <T>(mode: TxMode, fn: (tx: Tx) => Promise<T>) => parts.db.inGroup(groupId, mode, fn);
  const arrival = { actor, scope, query: query as never, factId, nowMs, requestId: requestIdOf(res) };
  const received = raw && (await receive?.(raw, { ...arrival, write: (fn) => inGroup('write', fn) }));

  // load, decide, write: the handler, in one transaction
  const named = operation.naming === 'fact';
  const content = named ? contentOf(json, req.params, operation.secretFields ?? []) : undefined;
  const contentHash = named ? contentHashOf(content) : Buffer.alloc(0);
  const answered = await inGroup(operation.mode, async (tx) => {
    const context: Context = {
      tx: named ? { ...tx, factId } : tx,
      actor,
      scope,
      factId,
      contentHash,
      ifMatch,
      nowMs,
      readAgain: (fn) => inGroup('read', fn),
      writeAgain: (fn) => inGroup('write', fn),
      lastEventId: req.get('last-event-id') ?? null,
      params: params as never,
      query: query as never,
      headers: headers as never,
      body: body,
      accept: (types) => req.accepts([...types]) || (types[0] ?? 'application/json'),
      clock: parts.clock,
      ids: parts.ids,
      log: parts.log,
      requestId: requestIdOf(res),
      path: req.path,
    };
    if (named) {
      const first = await firstAnswer(tx, operation, context, content);
      if (first) return first;
    }
    const reply = named ? await unlessItsOwnDoing(context, () => handle(context)) : await handle(context, received);
    if (reply.refused) return reply;
    checkReply(operation, reply);
    if (named) await remember(tx, operation, context, content, reply);
    if (reply.stream && !isKnown(req, reply)) await sendPieces(parts, operation, req, res, reply, reply.stream);
    return reply;
  });
  if (answered.refused) throw answered.refused;
  return answered;
}

function permit(
  parts: RouterParts,
  operation: Operation,
  req: Request,
  nowMs: number,
): { actor: Actor; scope: SiteScope } {
  const token = /^Bearer ([A-Za-z0-9._~+/=-]{1,8192})$/.exec(req.get('authorization') ?? '')?.[1];
  const actor = token === undefined ? null : parts.tokens.verify(token, nowMs);
  if (!actor) throw new Refused('unauthenticated', 'The token is missing, not valid or has expired.');
  const scope = scopeOf(actor, operation.permission);
  if (!scope) throw new Refused('forbidden', `None of your roles has the permission ${operation.permission}.`);
  return { actor, scope };
}

const NOBODY = '00000000-0000-0000-0000-000000000000';

/** A public operation that touches the database names its group in the body; there is no look-up without one. */
function anyone(operation: Operation, body: unknown): { actor: Actor; scope: SiteScope } {
  const groupId = operation.groupOf?.(body) ?? NOBODY;
  const actor: Actor = { groupId, kind: 'person', actorId: NOBODY, grants: [] };
  return { actor, scope: { all: false, siteIds: [], includes: () => false } };
}

async function firstAnswer(tx: Tx, operation: Operation, context: Context, content: unknown): Promise<Reply | null> {
  const stored = (await findFacts(tx, [context.factId])).get(context.factId);
  if (!stored) return null;
  // A fact of another site is not told apart from other content: its id is simply taken.
  isReplay(stored, operation.id, content, context.contentHash);
  if (stored.siteId !== null && !context.scope.includes(stored.siteId)) {
    throw new Refused('not-found', 'No fact with that id is known here.');
  }
  const version = declares(operation, stored.status, 'ETag')
    ? (stored.answer as { version?: unknown } | null)?.version
    : undefined;
  return {
    status: stored.status,
    body: stored.answer,
    headers: {
      ...(stored.location && { Location: stored.location, Link: `<${stored.location}>; rel="latest-version"` }),
      ...(typeof version === 'number' && { ETag: etagOf(version) }),
    },
  };
}

/**
 * Two first sendings of one fact at once: the second waits for a lock of the first, and is then refused because of what it
 * says itself (the stock is gone, the code is taken, the dispatch has departed). It starts again and finds the first answer.
 */
async function unlessItsOwnDoing(context: Context, handle: () => Promise<Reply>): Promise<Reply> {
  try {
    return await handle();
  } catch (error) {
    if (error instanceof Refused && (await findFacts(context.tx, [context.factId])).size > 0) throw new ReadTooEarly();
    throw error;
  }
}

async function remember(tx: Tx, operation: Operation, context: Context, content: unknown, reply: Reply): Promise<void> {
  const siteId = reply.siteId ?? null;
  const fact = {
    factId: context.factId,
    operation: operation.id,
    content,
    contentHash: context.contentHash,
    siteId,
    status: reply.status,
    answer: reply.body ?? null,
    location: reply.headers?.Location ?? null,
    ...signatureOf(context.actor, operation.permission, siteId),
  };
  await insertFacts(tx, [fact], context.nowMs);
}

function setHeaders(res: Response, reply: Reply): void {
  for (const [name, value] of Object.entries(reply.headers ?? {})) res.setHeader(name, value);
  res.setHeader('Cache-Control', 'no-store');
  res.setHeader('Vary', 'Accept, Authorization');
}

function sendPieces(
  parts: RouterParts,
  operation: Operation,
  req: Request,
  res: Response,
  reply: Reply,
  stream: NonNullable<Reply['stream']>,
): Promise<void> {
  return sendStream(req, res, stream, {
    stallMs: parts.stallMs,
    problemOf: (error) => problemOf(refusalOf(error), requestIdOf(res), operation.problemTypes),
    head() {
      setHeaders(res, reply);
      res.status(reply.status).setHeader('Content-Type', stream.contentType);
    },
  });
}

/** The client has it already, and asks only whether it is still the same. */
function isKnown(req: Request, reply: Reply): boolean {
  const etag = reply.headers?.ETag;
  return etag !== undefined && req.method === 'GET' && matches(req.get('if-none-match'), etag);
}

function send(req: Request, res: Response, reply: Reply): void {
  if (isKnown(req, reply)) {
    const { 'Content-Length': _length, ...headers } = reply.headers ?? {};
    setHeaders(res, { ...reply, headers });
    res.status(304).end();
    return;
  }
  setHeaders(res, reply);
  const data = reply.raw ? reply.raw.data : JSON.stringify(reply.body);
  res.status(reply.status).setHeader('Content-Type', reply.raw?.contentType ?? 'application/json; charset=utf-8');
  res.setHeader('Content-Length', Buffer.byteLength(data));
  res.end(req.method === 'HEAD' ? undefined : data);
}
