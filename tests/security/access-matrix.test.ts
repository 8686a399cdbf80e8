/**
 * Who may do what where: every operation of the contract, as every role, at its own site, at another, in another group, and as nobody.
 * Every request runs to its end against one copy of the demo and is then taken back, so that allowed and denied stand in one matrix.
 */
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import express from 'express';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { z } from 'zod';
import permissionTable from '../../shared/permissions.json' with { type: 'json' };
import { allOperations } from '../../src/app.ts';
import { notFound, Refused } from '../../src/domain/errors.ts';
import { createGroup } from '../../src/features/identity/index.ts';
import { bind, defineOperation, type BoundOperation, type Context } from '../../src/platform/http/contract.ts';
import { buildRouter } from '../../src/platform/http/router.ts';
import { exampleId, randomIds } from '../../src/platform/ids.ts';
import { createLog } from '../../src/platform/log.ts';
import { dryRun } from '../support/access/dry-run.ts';
import { buildElsewhere } from '../support/access/elsewhere.ts';
import { requestOf, type ExampleRequest } from '../support/access/examples.ts';
import { complaintsOf, differencesOf, type Grounds, type Seen, type Who } from '../support/access/matrix.ts';
import { namedOperations, reachOf } from '../support/access/reach.ts';
import { expectPromised } from '../support/contract.ts';
import { demoTemplate } from '../support/demo.ts';
import { startService, type TestService } from '../support/service.ts';
import { asAdmin } from '../support/test-server.ts';

const operations = allOperations();
const dry = dryRun();
let template: string;
let service: TestService;
let grounds: Grounds;

beforeAll(async () => {
  template = await demoTemplate();
  service = await startService({ template, around: dry.around });
  const admin = {
    personId: randomIds.newId(),
    name: 'Ash Lane',
    signInName: 'admin',
    password: 'nobody-guesses-this-one',
  };
  const other = { code: 'elsewhere', name: 'Another group', currency: 'EUR', admin, nowMs: service.clock.nowMs() };
  const { groupId: otherGroupId } = await createGroup(service.db, other);
  const { groupId } = service;
  const { siteBound, groupBound } = await idsOf(groupId);
  const elsewhere = await buildElsewhere(service, groupId);
  const abroad = await buildElsewhere(service, otherGroupId);
  grounds = { ask: asker(service.url), groupId, otherGroupId, elsewhere, abroad, siteBound, groupBound };
  dry.set(true);
}, 180_000);
afterAll(() => service.stop());

/** Ids of the rows of a group, by table: `lot_id` of lot, `place_id` of place … */
async function idsOf(groupId: string): Promise<Pick<Grounds, 'siteBound' | 'groupBound'>> {
  return asAdmin(service.databaseUrl, async (owner) => {
    const { rows: tables } = await owner.query<{ name: string }>(
      `select c.table_name as name from information_schema.columns c
         join information_schema.tables t on t.table_schema = c.table_schema and t.table_name = c.table_name
        where c.table_schema = 'public' and t.table_type = 'BASE TABLE' and c.data_type = 'uuid'
          and c.column_name = c.table_name || '_id'`,
    );
    const [siteBound, groupBound] = [new Set<string>(), new Set<string>()];
    // The people of the roles stand in every token, also in those for another group.
    const actors = new Set(permissionTable.roles.map((role) => exampleId(`person/${role}`)));
    for (const { name } of tables) {
      const { rows } = await owner.query<{ id: string; sited: boolean }>(
        `select ${name}_id as id, coalesce(to_jsonb(t) ->> 'site_id', to_jsonb(t) ->> 'from_site_id') is not null as sited
           from ${name} t where group_id = $1`,
        [groupId],
      );
      for (const { id, sited } of rows) {
        if (!actors.has(id)) groupBound.add(id);
        if (sited) siteBound.add(id);
      }
    }
    return { siteBound, groupBound };
  });
}

function asker(url: string) {
  return async (who: Who | null, request: ExampleRequest): Promise<Seen> => {
    const token = who && service.tokens.sign(actorOf(who), service.clock.nowMs());
    dry.takeStatements();
    const response = await fetch(`${url}${request.path}${request.query}`, {
      method: request.method,
      headers: {
        ...request.headers,
        ...(token && { authorization: `Bearer ${token}` }),
        ...(request.body !== undefined && { 'content-type': 'application/json' }),
      },
      ...(request.body !== undefined && { body: JSON.stringify(request.body) }),
    });
    const statements = dry.takeStatements();
    const text = await response.text();
    const headers = Object.fromEntries(response.headers);
    const isJson = /json/.test(headers['content-type'] ?? '');
    expectPromised({
      method: request.method,
      path: request.path,
      status: response.status,
      headers,
      body: isJson ? JSON.parse(text) : undefined,
    });
    const said = ['etag', 'location', 'link'].flatMap((name) => headers[name] ?? []).join(' ');
    const status = response.status === 207 ? statusOfAll(text) : response.status;
    return { status, text: isJson ? text : '', headers: said, statements };
  };
}

/** A call of many lines of which none was recorded says by each line what a call of one says by its status. */
function statusOfAll(text: string): number {
  const answer = JSON.parse(text) as { recorded: number; results: { problem: { status: number } | null }[] };
  return answer.recorded === 0 ? (answer.results[0]?.problem?.status ?? 207) : 207;
}

function actorOf({ role, groupId, siteId }: Who) {
  const kind = role === 'device' ? ('device' as const) : ('person' as const);
  return { groupId, kind, actorId: exampleId(`person/${role}`), grants: [{ role, siteId }] };
}

describe('as everybody, from everywhere', () => {
  test.each(operations.map((operation) => [operation.id, operation] as const))('%s', async (_id, operation) => {
    expect(await complaintsOf(operation, grounds)).toEqual([]);
  });
});

describe('unknown, of another site, of another group: told apart by nothing', () => {
  test.each(operations.map((operation) => [operation.id, operation] as const))('%s', async (_id, operation) => {
    expect(await differencesOf(operation, grounds)).toEqual([]);
  });
});

describe('for good, each with its own example', () => {
  const writes = operations.filter((operation) => operation.mode !== 'read');

  test.each(writes.map((operation) => [operation.id, operation] as const))('%s', async (_id, operation) => {
    const fresh = await startService({ template });
    try {
      const role = operation.example.role ?? rolesFor(operation.permission);
      const { method, path, query, body, headers } = requestOf(operation);
      const client = operation.permission === 'public' ? fresh.anonymous : fresh.as(role);
      const answer = await client.request(method, `${path}${query}`, body, headers);
      expect(answer.status, answer.text).toBe(operation.example.status);
      if (operation.naming !== 'fact') return;
      const again = await client.request(method, `${path}${query}`, body, headers);
      expect([again.status, again.body]).toEqual([answer.status, answer.body]);
    } finally {
      await fresh.stop();
    }
  });

  test.each(operations.filter((one) => one.mode === 'read').map((one) => [one.id, one] as const))(
    '%s',
    async (_id, operation) => {
      const who = { role: rolesFor(operation.permission), groupId: grounds.groupId, siteId: null };
      const seen = await grounds.ask(operation.permission === 'public' ? null : who, requestOf(operation));
      expect(seen.status, seen.text).toBe(operation.example.status);
    },
  );
});

function rolesFor(permission: string): string {
  const { permissions } = permissionTable as { permissions: Readonly<Record<string, readonly string[]>> };
  return permissions[permission]?.find((role) => role !== 'device') ?? 'kitchen';
}

describe('the matrix itself', () => {
  test('names no operation that is not there, and gives each a reach', () => {
    const ids = operations.map((operation) => operation.id);
    expect(new Set(ids).size).toBe(ids.length);
    expect(namedOperations().filter((id) => !ids.includes(id))).toEqual([]);
    const open = operations.filter((operation) => reachOf(operation).kind === 'public');
    expect(open.map((one) => one.id)).toEqual(
      operations.filter((one) => one.permission === 'public').map((one) => one.id),
    );
  });

  test('asks for every permission there is', () => {
    const asked = operations.flatMap((operation) => (operation.permission === 'public' ? [] : [operation.permission]));
    expect([...new Set<string>(asked)].sort()).toEqual(Object.keys(permissionTable.permissions).sort());
  });

  test('leaves nothing behind', async () => {
    const name = 'Only for a moment';
    const created = operations.find((operation) => operation.id === 'createSupplier');
    const { method, path, headers } = requestOf(created as (typeof operations)[number]);
    const body = { id: randomIds.newId(), code: 'MOMENT', name };
    expect((await service.as('operations').request(method, path, body, headers)).status).toBe(201);
    expect((await service.as('operations').get('/v1/suppliers?limit=500')).text).not.toContain(name);
  });
});

/** The place of an id, as an operation that somebody wrote carelessly would give it. */
const planted = (id: string, path: string) =>
  defineOperation({
    id,
    method: 'get',
    path,
    tag: 'none',
    summary: 'One place',
    permission: 'catalogue.read',
    naming: 'none',
    mode: 'read',
    params: z.strictObject({ placeId: z.string() }),
    answers: { 200: { description: 'The place', schema: z.object({ placeId: z.string() }) } },
    errors: ['not-found'],
    example: { params: { placeId: exampleId('place/ck-chiller') }, status: 200 },
  });

type PlantedContext = Context<ReturnType<typeof planted>>;

async function siteOf({ tx, params }: PlantedContext): Promise<string | null> {
  const rows = await tx.query<{ siteId: string }>(
    `select site_id as "siteId" from place where group_id = $1::uuid and place_id = $2::uuid`,
    [tx.groupId, params.placeId],
  );
  return rows[0]?.siteId ?? null;
}

const answerWith = ({ params }: PlantedContext) => ({ status: 200, body: { placeId: params.placeId } });
const plants: Readonly<Record<string, (context: PlantedContext) => ReturnType<BoundOperation['handle']>>> = {
  sound: async (context) => {
    const siteId = await siteOf(context);
    if (siteId === null || !context.scope.includes(siteId)) throw notFound('place');
    return answerWith(context);
  },
  'without a check of the site': async (context) => {
    if ((await siteOf(context)) === null) throw notFound('place');
    return answerWith(context);
  },
  'with other words for what is of another site': async (context) => {
    const siteId = await siteOf(context);
    if (siteId === null) throw notFound('place');
    if (!context.scope.includes(siteId)) throw new Refused('not-found', 'That place is at another site.');
    return answerWith(context);
  },
  'with one more statement for what is there': async (context) => {
    const siteId = await siteOf(context);
    if (siteId === null) throw notFound('place');
    await siteOf(context);
    if (!context.scope.includes(siteId)) throw notFound('place');
    return answerWith(context);
  },
};

describe('shown a careless operation, the matrix sees it', () => {
  let server: Server;
  const bound = Object.entries(plants).map(([name, handle], at) =>
    bind(planted(name, `/planted-${at}/{placeId}`), handle),
  );
  beforeAll(async () => {
    const app = express();
    app.use((_req, res, next) => {
      res.locals.requestId = randomIds.newId();
      next();
    });
    const { db, clock, tokens } = service;
    app.use(buildRouter({ db, clock, tokens, ids: randomIds, log: createLog('error') }, bound));
    server = createServer(app);
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  });
  afterAll(async () => {
    server.closeAllConnections();
    await new Promise((resolve) => server.close(resolve));
  });

  test.each(bound.map((one) => [one.operation.id, one] as const))('%s', async (id, { operation }) => {
    const ask = asker(`http://127.0.0.1:${(server.address() as AddressInfo).port}`);
    const found = [
      ...(await complaintsOf(operation, { ...grounds, ask })),
      ...(await differencesOf(operation, { ...grounds, ask })),
    ];
    if (id === 'sound') expect(found).toEqual([]);
    else expect(found.length).toBeGreaterThan(0);
  });
});
