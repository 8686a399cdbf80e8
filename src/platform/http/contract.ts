/**
 * One object per operation. It feeds the router, the validator and the OpenAPI document; nothing is written twice.
 */
import type { z } from 'zod';
import type { ErrorCode, Refused } from '../../domain/errors.ts';
import type { Actor, Permission, SiteScope } from '../auth/actor.ts';
import type { Clock } from '../clock.ts';
import type { Tx, TxMode } from '../db/db.ts';
import type { Ids } from '../ids.ts';
import type { Log } from '../log.ts';
import type { RawBody, RawBodyKinds } from './raw-body.ts';
import type { StreamReply } from './streams.ts';

export type { SiteScope };

type Method = 'get' | 'post' | 'patch';

/** By our code: the `type` of the problem document where a standard has a name for it. */
export type ProblemTypes = Readonly<Partial<Record<ErrorCode, string>>>;

/**
 * `fact`: creates something that the client names; replays answer the first answer. `offered`: the client may name it by Idempotency-Key,
 * and the operation itself answers a second sending.
 */
type Naming = 'fact' | 'offered' | 'none';

export interface AnswerShape {
  readonly description: string;
  readonly schema?: z.ZodType;
  /** for anything that is not application/json */
  readonly contentType?: string;
  readonly headers?: readonly ('Location' | 'ETag' | 'Link')[];
  /** further headers that it may carry, such as those of a standard */
  readonly otherHeaders?: Readonly<Record<string, z.ZodType>>;
}

interface OperationExample {
  readonly params?: Readonly<Record<string, string>>;
  readonly query?: Readonly<Record<string, string>>;
  readonly body?: unknown;
  /** If-Match to send, for changes */
  readonly ifMatch?: string;
  /** the role that the example is meant for; any role with the permission will do if left out */
  readonly role?: string;
  /** status that the example ends in */
  readonly status: number;
}

export interface Operation {
  readonly id: string;
  readonly method: Method;
  readonly path: string;
  readonly tag: string;
  readonly summary: string;
  readonly description?: string;
  readonly permission: Permission;
  readonly naming: Naming;
  readonly mode: TxMode;
  /** public operations only: the group that the body names */
  readonly groupOf?: (body: unknown) => string;
  readonly params?: z.ZodObject;
  readonly query?: z.ZodObject;
  /** request headers that the operation itself reads, named in lower case; whatever else is sent is not looked at */
  readonly headers?: z.ZodObject;
  readonly body?: z.ZodType;
  /** in place of `body`: read as it comes; see bindRaw. */
  readonly rawBody?: RawBodyKinds;
  /** demands If-Match */
  readonly conditional?: boolean;
  /** fields of the body that are never stored, not even hashed; a fact's content has '[secret]' in their place */
  readonly secretFields?: readonly string[];
  /** default 256 */
  readonly bodyLimitKb?: number;
  readonly answers: Readonly<Record<number, AnswerShape | readonly AnswerShape[]>>;
  /** what this operation can refuse, beyond what every operation of its kind can */
  readonly errors: readonly ErrorCode[];
  /** problem types of a standard that the operation follows, in place of our own */
  readonly problemTypes?: ProblemTypes;
  readonly example: OperationExample;
}

export function defineOperation<const O extends Operation>(operation: O): O {
  return operation;
}

type Output<T> = T extends z.ZodType ? z.output<T> : undefined;

export interface Reply {
  readonly status: number;
  readonly body?: unknown;
  readonly raw?: { readonly contentType: string; readonly data: Buffer | string };
  /** an answer too large to hold, sent inside the transaction; for operations of mode read only */
  readonly stream?: StreamReply;
  /** an answer that goes on after this transaction has ended, such as events; what it still reads, it reads by `readAgain` */
  readonly live?: StreamReply;
  readonly headers?: Readonly<Record<string, string>>;
  /** the site that a fact belongs to; a replay is answered only to those who may act there */
  readonly siteId?: string | null;
  /** sent in place of this reply after the transaction has committed: a refusal that itself had to be counted */
  readonly refused?: Refused;
}

export interface Context<O extends Operation = Operation> {
  readonly tx: Tx;
  readonly actor: Actor;
  readonly scope: SiteScope;
  readonly params: Output<O['params']>;
  readonly query: Output<O['query']>;
  readonly headers: Output<O['headers']>;
  readonly body: Output<O['body']>;
  /** the fact's id, from the body or Idempotency-Key; a fresh one where the operation names nothing */
  readonly factId: string;
  /** sha256 of the fields as sent, RFC 8785 */
  readonly contentHash: Buffer;
  readonly ifMatch: string | null;
  readonly accept: (types: readonly string[]) => string;
  readonly nowMs: number;
  /** a short reading transaction of its own, for an answer that goes on after this one */
  readonly readAgain: <T>(fn: (tx: Tx) => Promise<T>) => Promise<T>;
  /** the same, writing: for an answer that goes on and has to keep what it comes to know */
  readonly writeAgain: <T>(fn: (tx: Tx) => Promise<T>) => Promise<T>;
  /** where a reader of events that connects again stopped; see the HTML standard, server-sent events */
  readonly lastEventId: string | null;
  readonly clock: Clock;
  readonly ids: Ids;
  readonly log: Log;
  readonly requestId: string;
  readonly path: string;
}

/** What is known of a raw body's sender while it is read. */
export interface Arrival<O extends Operation = Operation> {
  readonly actor: Actor;
  readonly scope: SiteScope;
  readonly query: Output<O['query']>;
  readonly factId: string;
  readonly requestId: string;
  readonly nowMs: number;
  /** a short transaction of its own, for what is too large to keep in memory until the handler's begins */
  readonly write: <T>(fn: (tx: Tx) => Promise<T>) => Promise<T>;
}

export interface BoundOperation {
  readonly operation: Operation;
  /** takes in a raw body, before the transaction begins; `handle` gets what it answers */
  readonly receive?: (body: RawBody, arrival: Arrival) => Promise<unknown>;
  readonly handle: (context: Context, received?: unknown) => Promise<Reply>;
}

export function bind<const O extends Operation>(
  operation: O,
  handle: (context: Context<O>) => Promise<Reply>,
): BoundOperation {
  return { operation, handle: handle };
}

/** For operations with a `rawBody`. `receive` may run once and `handle` more than once, as every transaction may. */
export function bindRaw<const O extends Operation, Received>(
  operation: O,
  receive: (body: RawBody, arrival: Arrival<O>) => Promise<Received>,
  handle: (context: Context<O>, received: Received) => Promise<Reply>,
): BoundOperation {
  return {
    operation,
    receive: receive,
    handle: handle as BoundOperation['handle'],
  };
}
