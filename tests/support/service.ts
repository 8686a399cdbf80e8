/** The whole service over HTTP, on a database of its own and with a clock that the test sets. */
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { createApp } from '../../src/app.ts';
import { createGroup } from '../../src/features/identity/index.ts';
import { createTokens, type ExternalIssuer, type Tokens } from '../../src/platform/auth/tokens.ts';
import type { Clock } from '../../src/platform/clock.ts';
import { createDb, type Db } from '../../src/platform/db/db.ts';
import { exampleId, randomIds } from '../../src/platform/ids.ts';
import { createLog } from '../../src/platform/log.ts';
import { expectPromised } from './contract.ts';
import { freshDatabase } from './database.ts';

export const TOKEN_SECRET = 'a secret for tests, of no other use';
export const TOKEN_ISSUER = 'sealtrail-tests';
export const ADMIN_PASSWORD = 'ladle-behind-the-door';
/** 25 November 2026, noon UTC */
export const NOON_MS = Date.UTC(2026, 10, 25, 12);

export interface Answer {
  readonly status: number;
  /** parsed JSON; undefined for anything else */
  readonly body: Body;
  readonly headers: Readonly<Record<string, string>>;
  readonly text: string;
  readonly raw: Buffer;
}

/** Response bodies are checked against the contract at run time and read as loose JSON. */
type Body = ReturnType<typeof JSON.parse>;
type Headers = Readonly<Record<string, string>>;

export interface Client {
  get(path: string, headers?: Headers): Promise<Answer>;
  /** A string or Buffer goes out as it is, anything else as JSON. */
  post(path: string, body?: unknown, headers?: Headers): Promise<Answer>;
  patch(path: string, body?: unknown, headers?: Headers): Promise<Answer>;
  request(method: string, path: string, body?: unknown, headers?: Headers): Promise<Answer>;
}

export interface TestService {
  readonly url: string;
  /** as the owner, who is not bound by row security if a superuser */
  readonly databaseUrl: string;
  readonly db: Db;
  readonly tokens: Tokens;
  readonly clock: Clock & { set(ms: number): void };
  /** the group ostermere, with its administrator `person/admin` (sign-in name `admin`) */
  readonly groupId: string;
  readonly anonymous: Client;
  /** A client whose token is made anew for each request. Its actor is `person/<role>`, of kind device for that role. */
  as(role: string, siteId?: string | null, groupId?: string): Client;
  /** A client with this very token. */
  bearer(token: string): Client;
  stop(): Promise<void>;
}

export interface ServiceOptions {
  readonly nowMs?: number;
  /** of freshDatabase */
  readonly template?: string;
  readonly external?: ExternalIssuer;
  readonly webhookAllowPrivate?: boolean;
  /** puts something between the service and its database, to watch it or to take back what it did */
  readonly around?: (db: Db) => Db;
}

export async function startService(options: ServiceOptions = {}): Promise<TestService> {
  const database = await freshDatabase(options.template);
  const { webhookAllowPrivate = false } = options;
  let nowMs = options.nowMs ?? NOON_MS;
  const clock = { nowMs: () => nowMs, set: (ms: number) => void (nowMs = ms) };
  const log = createLog('error');
  const plain = createDb({ url: database.url, poolSize: 6, preparedStatements: true, log });
  const db = options.around?.(plain) ?? plain;
  const tokens = createTokens({ secret: TOKEN_SECRET, issuer: TOKEN_ISSUER, external: options.external ?? null });
  const admin = {
    personId: exampleId('person/admin'),
    name: 'Alex Reed',
    signInName: 'admin',
    password: ADMIN_PASSWORD,
  };
  const { groupId } = await createGroup(db, {
    code: 'ostermere',
    name: 'Ostermere Catering',
    currency: 'GBP',
    admin,
    nowMs,
  });
  const server = createServer(createApp({ db, clock, ids: randomIds, tokens, log, webhookAllowPrivate }));
  const url = await listen(server);
  const clientWith = (authorization: () => string | null) => clientOf(url, authorization);
  return {
    url,
    databaseUrl: database.url,
    db,
    tokens,
    clock,
    groupId,
    anonymous: clientWith(() => null),
    bearer: (token) => clientWith(() => `Bearer ${token}`),
    as: (role, siteId = null, ofGroup = groupId) =>
      clientWith(() => {
        const actor = {
          groupId: ofGroup,
          kind: role === 'device' ? ('device' as const) : ('person' as const),
          actorId: exampleId(`person/${role}`),
          grants: [{ role, siteId }],
        };
        return `Bearer ${tokens.sign(actor, nowMs)}`;
      }),
    async stop() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
      await db.end();
      await database.drop();
    },
  };
}

async function listen(server: Server): Promise<string> {
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
}

function clientOf(url: string, authorization: () => string | null): Client {
  async function request(method: string, path: string, body?: unknown, headers: Headers = {}): Promise<Answer> {
    const bearer = authorization();
    const asIs = typeof body === 'string' || Buffer.isBuffer(body);
    const response = await fetch(url + path, {
      method,
      redirect: 'manual',
      headers: {
        ...(body !== undefined && { 'content-type': 'application/json' }),
        ...(bearer !== null && { authorization: bearer }),
        ...headers,
      },
      ...(body !== undefined && { body: asIs ? (body as string | Buffer<ArrayBuffer>) : JSON.stringify(body) }),
    });
    const raw = Buffer.from(await response.arrayBuffer());
    const text = raw.toString('utf8');
    const isJson = /^application\/([a-z]+\+)?json\b/.test(response.headers.get('content-type') ?? '');
    const answer: Answer = {
      status: response.status,
      headers: Object.fromEntries(response.headers),
      body: isJson && text !== '' ? JSON.parse(text) : undefined,
      text,
      raw,
    };
    expectPromised({ method, path, ...answer });
    return answer;
  }
  return {
    request,
    get: (path, headers) => request('GET', path, undefined, headers),
    post: (path, body, headers) => request('POST', path, body, headers),
    patch: (path, body, headers) => request('PATCH', path, body, headers),
  };
}
