/**
 * Requests made from the OpenAPI document and its examples: valid ones, valid ones with something changed, and noise, for every operation,
 * against the demo. Whatever comes in, the answer is a declared one (the client checks it) and never the service's own fault; what is
 * recorded stays recorded, so that a fact that spoils later answers shows as well.
 */
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import permissionTable from '../../shared/permissions.json' with { type: 'json' };
import { allOperations, tags } from '../../src/app.ts';
import type { Operation } from '../../src/platform/http/contract.ts';
import { openApiDocument } from '../../src/platform/openapi/document.ts';
import { demoTemplate } from '../support/demo.ts';
import { startService, type TestService } from '../support/service.ts';
import { asAdmin } from '../support/test-server.ts';

/** `npm run prove` asks for more. */
const RUNS = Number(process.env['SEALTRAIL_FUZZ_RUNS'] ?? 30);
const SEED = Number(process.env['SEALTRAIL_FUZZ_SEED'] ?? 42);

interface Schema {
  readonly $ref?: string;
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly anyOf?: readonly Schema[];
  readonly oneOf?: readonly Schema[];
  readonly type?: string | readonly string[];
  readonly pattern?: string;
  readonly format?: string;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly multipleOf?: number;
  readonly minLength?: number;
  readonly maxLength?: number;
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly items?: Schema;
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly required?: readonly string[];
}
interface Described {
  readonly parameters?: readonly { name: string; in: string; required?: boolean; schema: Schema }[];
  readonly requestBody?: { content: Record<string, { schema: Schema }> };
}

const operations = allOperations();
const document = openApiDocument(operations, tags, '0.0.0') as {
  paths: Record<string, Record<string, Described>>;
  components: { schemas: Record<string, Schema> };
};

let service: TestService;
/** operations that a request got through to the end of */
const reached = new Set<string>();
/** ids that exist, by table, so that a request gets further than the first look-up */
const ids = new Map<string, string[]>();
beforeAll(async () => {
  service = await startService({ template: await demoTemplate() });
  await asAdmin(service.databaseUrl, async (owner) => {
    await owner.query('analyze');
    for (const table of new Set(Object.values(TABLES))) {
      const { rows } = await owner.query<{ id: string }>(`select ${table}_id as id from ${table} order by 1 limit 30`);
      ids.set(
        table,
        rows.map((row) => row.id),
      );
    }
  });
}, 180_000);
afterAll(() => service.stop());

/** What a field of that name names. */
const TABLES: Readonly<Record<string, string>> = {
  siteId: 'site',
  fromSiteId: 'site',
  toSiteId: 'site',
  placeId: 'place',
  fromPlaceId: 'place',
  toPlaceId: 'place',
  receivingPlaceId: 'place',
  accountId: 'place',
  lotId: 'lot',
  lotIds: 'lot',
  fromLotId: 'lot',
  itemId: 'item',
  packItemId: 'item',
  supplierId: 'supplier',
  recipeId: 'recipe',
  personId: 'person',
  packerId: 'person',
  equipmentId: 'equipment',
  deviceId: 'device',
  batchId: 'batch',
  dispatchId: 'dispatch',
  entryId: 'entry',
  findingId: 'finding',
  holdId: 'hold',
  goodsReceiptId: 'goods_receipt',
  scanId: 'scan',
  deputyId: 'deputy',
  factId: 'fact',
  requirementId: 'requirement',
  sensorId: 'sensor',
  importId: 'reading_import',
};

const EDGES = [0, 1, -1, 0.5, 1e12, 2 ** 31, 2 ** 53, -(2 ** 53), 1e300];
const TIMES = [
  '2026-11-25T11:00:00Z',
  '2026-11-24T23:30:00+01:00',
  '2099-12-31T23:59:59.999-23:59',
  '0000-01-01T00:00:00Z',
];
const DATES = ['2026-11-25', '2026-11-30', '2026-02-30', '2099-12-31', '0001-01-01', '9999-12-31'];
const WORDS = ['x', "'; drop table lot; --", '${7*7}', '<b>', '__proto__', '-0', '\u202egnp', '👩‍🍳', '1e3', 'null', ' '];

/** Values that fit a schema; ids mostly those that exist. */
function fitting(given: Schema | undefined, name = ''): fc.Arbitrary<unknown> {
  if (given?.$ref !== undefined) return fitting(document.components.schemas[given.$ref.split('/').at(-1) ?? ''], name);
  const schema = given ?? {};
  if (schema.const !== undefined) return fc.constant(schema.const);
  if (schema.enum) return fc.constantFrom(...schema.enum);
  const either = schema.anyOf ?? schema.oneOf;
  if (either) return fc.oneof(...either.map((one) => fitting(one, name)));
  const type = typeof schema.type === 'string' ? schema.type : schema.type?.[0];
  if (type === 'null') return fc.constant(null);
  if (type === 'boolean') return fc.boolean();
  if (type === 'integer' || type === 'number') return numbers(schema, type);
  if (type === 'string') return texts(schema, name);
  if (type === 'array') {
    const maxLength = Math.min(schema.maxItems ?? 3, 3);
    return fc.array(fitting(schema.items, name), { minLength: Math.min(schema.minItems ?? 0, maxLength), maxLength });
  }
  if (type === 'object') {
    const fields = Object.entries(schema.properties ?? {}).map(
      ([field, inner]) => [field, fitting(inner, field)] as const,
    );
    return fc.record(Object.fromEntries(fields), { requiredKeys: [...(schema.required ?? [])] });
  }
  return fc.jsonValue();
}

function numbers({ minimum = -1e6, maximum = 1e6, multipleOf }: Schema, type: string): fc.Arbitrary<number> {
  if (type === 'number')
    return fc
      .integer({ min: Math.ceil(minimum), max: Math.floor(maximum) })
      .map((whole) => (multipleOf ? whole : whole / 8));
  const small = fc.integer({ min: minimum, max: Math.min(maximum, minimum + 10_000) });
  return fc.oneof(small, fc.constantFrom(minimum, maximum), fc.integer({ min: minimum, max: maximum }));
}

function texts({ format, pattern, minLength = 0, maxLength = 40 }: Schema, name: string): fc.Arbitrary<string> {
  if (format === 'uuid') {
    const there = fc.nat().map((n) => {
      const all = ids.get(TABLES[name] ?? '') ?? [];
      return all[n % Math.max(all.length, 1)];
    });
    return fc.tuple(there, fc.uuid(), fc.nat(6)).map(([one, other, turn]) => (turn === 0 ? other : (one ?? other)));
  }
  if (format === 'date-time') return fc.constantFrom(...TIMES);
  if (format === 'date') return fc.constantFrom(...DATES);
  const fits = (text: string) => text.length >= minLength && text.length <= maxLength;
  if (pattern === undefined || /\\ud800/.test(pattern)) {
    return fc.oneof(
      fc.constantFrom(...WORDS),
      fc.string({ unit: 'binary', minLength, maxLength: Math.min(maxLength, 40) }),
    );
  }
  return fc.stringMatching(new RegExp(pattern, 'u'), { size: 'small' }).filter(fits);
}

const noise = fc.oneof(
  fc.jsonValue(),
  fc.constantFrom<unknown>(...EDGES, ...WORDS, ...TIMES, '\ud800', '\u0000', [], {}, null, 'a'.repeat(5_000)),
);

/** With something changed, left out or put in, somewhere inside. */
function spoil(value: unknown, other: unknown, [turn = 0, ...path]: readonly number[]): unknown {
  if (typeof value !== 'object' || value === null || path.length === 0) return other;
  if (Array.isArray(value)) {
    const at = value.length === 0 ? 0 : turn % value.length;
    return value.length === 0
      ? [other]
      : value.map((inner: unknown, index) => (index === at ? spoil(inner, other, path) : inner));
  }
  const fields = { ...(value as Record<string, unknown>) };
  const names = Object.keys(fields);
  const name = names[turn % Math.max(names.length, 1)];
  if (name === undefined || turn % 5 === 0) return { ...fields, unheardOf: other };
  if (turn % 5 === 1) return Object.fromEntries(Object.entries(fields).filter(([each]) => each !== name));
  if (turn % 5 === 2) return { ...fields, [name]: other };
  return { ...fields, [name]: spoil(fields[name], other, path) };
}

const asText = (value: unknown) => (typeof value === 'string' ? value : (JSON.stringify(value) ?? ''));
const LONE = /\p{Surrogate}/u;

interface Made {
  readonly params: Readonly<Record<string, unknown>>;
  readonly query: Readonly<Record<string, unknown>>;
  readonly body: unknown;
}

/** The example under a new name, so that it is a new fact. */
function fromExample({ example }: Operation): fc.Arbitrary<Made> {
  return fc.uuid().map((id) => {
    const renamed = typeof example.body === 'object' && example.body !== null && 'id' in example.body;
    const body = renamed ? { ...example.body, id } : example.body;
    return { params: example.params ?? {}, query: example.query ?? {}, body };
  });
}

function fromDocument(operation: Operation): fc.Arbitrary<Made> {
  const described = document.paths[operation.path]?.[operation.method] ?? {};
  const parametersIn = (place: string) => (described.parameters ?? []).filter((one) => one.in === place);
  const values = (place: string) =>
    Object.fromEntries(parametersIn(place).map(({ name, schema }) => [name, fitting(schema, name)] as const));
  const requiredKeys = parametersIn('query').flatMap(({ name, required }) => (required ? [name] : []));
  const schema = described.requestBody?.content['application/json']?.schema;
  return fc.record({
    params: fc.record(values('path')),
    query: fc.record(values('query'), { requiredKeys }),
    body: schema ? fitting(schema) : fc.constant(undefined),
  });
}

/** With something changed in its body, a parameter or its query. */
function spoilt(made: fc.Arbitrary<Made>): fc.Arbitrary<Made> {
  const turns = fc.array(fc.nat(), { minLength: 4, maxLength: 4 });
  return fc.tuple(made, noise, turns, fc.nat(3)).map(([one, other, path, where]) => {
    const put = (fields: Made['query']) => spoil(fields, other, [2 + (path[0] ?? 0) * 5, ...path]) as Made['query'];
    if (one.body !== undefined && where > 1) return { ...one, body: spoil(one.body, other, path) };
    if (where === 1)
      return { ...one, params: Object.fromEntries(Object.keys(one.params).map((name) => [name, other])) };
    return { ...one, query: put(one.query) };
  });
}

/** As a client would send it. Half a surrogate, and dots that a client takes for a way up, cannot stand in a URL. */
function urlOf(operation: Operation, { params, query }: Made): string {
  const inPath = (name: string) => {
    const text = asText(params[name]);
    return LONE.test(text) || ['', '.', '..'].includes(text) ? 'x' : encodeURIComponent(text);
  };
  const path = operation.path.replaceAll(/\{(\w+)\}/g, (_all, name: string) => inPath(name));
  const fields = Object.entries(query).map(([name, value]) => [name, asText(value)] as [string, string]);
  const search = new URLSearchParams(fields.filter(([, text]) => !LONE.test(text))).toString();
  return search === '' ? path : `${path}?${search}`;
}

function roleFor({ example, permission }: Operation): string {
  const { permissions } = permissionTable as { permissions: Readonly<Record<string, readonly string[]>> };
  return example.role ?? permissions[permission]?.find((role) => role !== 'device') ?? 'kitchen';
}

test.each(operations.map((operation) => [operation.id, operation] as const))('%s', async (_id, operation) => {
  const client = service.as(roleFor(operation));
  const [example, fresh] = [fromExample(operation), fromDocument(operation)];
  const request = fc.oneof(example, fresh, spoilt(example), spoilt(example), spoilt(fresh));
  // Hashing a password is slow on purpose, and signing in is counted.
  const numRuns = operation.permission === 'public' ? Math.min(RUNS, 20) : RUNS;
  await fc.assert(
    fc.asyncProperty(request, async (made) => {
      const headers = operation.conditional ? { 'if-match': '*' } : {};
      const body = made.body === undefined ? undefined : JSON.stringify(made.body);
      const answer = await client.request(operation.method.toUpperCase(), urlOf(operation, made), body, headers);
      expect(answer.status, answer.text).toBeLessThan(500);
      if (answer.status < 300) reached.add(operation.id);
    }),
    // A seed of its own: two facts with one name would only be told so.
    { numRuns, seed: SEED + operations.indexOf(operation) * 1_000 },
  );
});

test('what was recorded spoils no later answer', async () => {
  const reads = operations.filter((one) => one.method === 'get' && one.permission !== 'public');
  for (const operation of reads) {
    const { params = {}, query = {} } = operation.example;
    const answer = await service.as(roleFor(operation)).get(urlOf(operation, { params, query, body: undefined }));
    expect(answer.status, `${operation.id}: ${answer.text}`).toBeLessThan(500);
  }
});

test('requests get through to nearly every operation', () => {
  const missed = operations.filter((operation) => !reached.has(operation.id)).map((operation) => operation.id);
  // The token of a device's example is not its own; and what others did before may stand in an example's way.
  expect(missed.length, missed.join()).toBeLessThanOrEqual(operations.length / 10);
});
