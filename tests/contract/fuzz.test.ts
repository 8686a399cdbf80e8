/**
 * Requests made from the OpenAPI document alone: valid ones, valid ones with one thing changed, and noise, for every operation. Whatever
 * comes in, the answer is a declared one (the client checks it) and never the service's own fault.
 */
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { allOperations, tags } from '../../src/app.ts';
import { openApiDocument } from '../../src/platform/openapi/document.ts';
import { kitchenOf } from '../support/kitchen.ts';
import { startService, type TestService } from '../support/service.ts';
import { buildWorld } from '../support/world.ts';

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
/** ids that exist, so that a request gets further than the first look-up */
const ids: string[] = [];
beforeAll(async () => {
  service = await startService();
  const world = await buildWorld(service);
  const kitchen = kitchenOf(service, world);
  const shin = await kitchen.shin(100_000);
  const { batchId, lotId } = await kitchen.stew(shin, 50_000, 40_000);
  ids.push(...Object.values(world as unknown as Record<string, string>), shin, batchId, lotId);
  ids.push(await kitchen.pack(batchId, lotId, 6_000, 20));
  await kitchen.release(batchId);
});
afterAll(() => service.stop());

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
function fitting(given: Schema | undefined): fc.Arbitrary<unknown> {
  if (given?.$ref !== undefined) return fitting(document.components.schemas[given.$ref.split('/').at(-1) ?? '']);
  const schema = given ?? {};
  if (schema.const !== undefined) return fc.constant(schema.const);
  if (schema.enum) return fc.constantFrom(...schema.enum);
  const either = schema.anyOf ?? schema.oneOf;
  if (either) return fc.oneof(...either.map(fitting));
  const type = typeof schema.type === 'string' ? schema.type : schema.type?.[0];
  if (type === 'null') return fc.constant(null);
  if (type === 'boolean') return fc.boolean();
  if (type === 'integer' || type === 'number') return numbers(schema, type);
  if (type === 'string') return texts(schema);
  if (type === 'array') {
    const maxLength = Math.min(schema.maxItems ?? 3, 3);
    return fc.array(fitting(schema.items), { minLength: Math.min(schema.minItems ?? 0, maxLength), maxLength });
  }
  if (type === 'object') {
    const fields = Object.entries(schema.properties ?? {}).map(([name, inner]) => [name, fitting(inner)] as const);
    return fc.record(Object.fromEntries(fields), { requiredKeys: [...(schema.required ?? [])] });
  }
  return fc.jsonValue();
}

function numbers({ minimum = -1e6, maximum = 1e6, multipleOf }: Schema, type: string): fc.Arbitrary<number> {
  if (type === 'number')
    return fc.integer({ min: minimum, max: maximum }).map((whole) => (multipleOf ? whole : whole / 8));
  const small = fc.integer({ min: minimum, max: Math.min(maximum, minimum + 10_000) });
  return fc.oneof(small, fc.constantFrom(minimum, maximum), fc.integer({ min: minimum, max: maximum }));
}

function texts({ format, pattern, minLength = 0, maxLength = 40 }: Schema): fc.Arbitrary<string> {
  if (format === 'uuid')
    return fc.oneof({ weight: 6, arbitrary: fc.nat().map((n) => ids[n % ids.length] ?? '') }, fc.uuid());
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

/** A fitting value with something changed, somewhere in it. */
function spoilt(schema: Schema): fc.Arbitrary<unknown> {
  return fc
    .tuple(fitting(schema), noise, fc.array(fc.nat(), { minLength: 4, maxLength: 4 }))
    .map(([value, other, path]) => spoil(value, other, path));
}

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

const asText = (value: unknown) => (typeof value === 'string' ? value : JSON.stringify(value));
/** What cannot stand in a URL at all is not sent: half a surrogate, and dots that the client takes for a way up. */
const LONE = /\p{Surrogate}/u;
const sendable = (text: string) => !LONE.test(text) && text !== '' && text !== '.' && text !== '..';

describe.each(operations.map((operation) => [operation.id, operation] as const))('%s', (_id, operation) => {
  const described = document.paths[operation.path]?.[operation.method] ?? {};
  const parameters = described.parameters ?? [];
  const path = parameters.filter((one) => one.in === 'path');
  const query = parameters.filter((one) => one.in === 'query');
  const schema = described.requestBody?.content['application/json']?.schema;
  const inPath = fc.record(
    Object.fromEntries(
      path.map((one) => [
        one.name,
        fc
          .oneof({ weight: 5, arbitrary: fitting(one.schema) }, noise)
          .map(asText)
          .filter(sendable),
      ]),
    ),
  );
  const inQuery = fc.record(
    Object.fromEntries(
      query.map((one) => [one.name, fc.oneof({ weight: 5, arbitrary: fitting(one.schema) }, noise).map(asText)]),
    ),
    { requiredKeys: query.filter((one) => one.required).map((one) => one.name) },
  );
  const body = schema
    ? fc.oneof({ weight: 4, arbitrary: fitting(schema) }, { weight: 4, arbitrary: spoilt(schema) }, noise)
    : fc.constant(undefined);
  // Hashing a password is slow on purpose, and signing in is counted.
  const numRuns = operation.permission === 'public' ? Math.min(RUNS, 20) : RUNS;

  test('is never at a loss', async () => {
    const statuses = new Set<number>();
    const client = service.as(operation.permission === 'release.write' ? 'quality' : roleFor(operation.permission));
    await fc.assert(
      fc.asyncProperty(inPath, inQuery, body, async (params, queries, content) => {
        const at = operation.path.replaceAll(/\{(\w+)\}/g, (_all, name: string) =>
          encodeURIComponent(params[name] ?? ''),
        );
        const search = new URLSearchParams(Object.entries(queries).filter(([, text]) => !LONE.test(text))).toString();
        const headers = operation.conditional ? { 'if-match': '*' } : {};
        const sent = schema === undefined ? undefined : JSON.stringify(content);
        const answer = await client.request(
          operation.method.toUpperCase(),
          `${at}${search && `?${search}`}`,
          sent,
          headers,
        );
        expect(answer.status, answer.text).toBeLessThan(500);
        statuses.add(answer.status);
      }),
      { numRuns, seed: SEED, endOnFailure: RUNS <= 30 },
    );
    expect(statuses.size).toBeGreaterThan(0);
  });
});

function roleFor(permission: string): string {
  return { 'release.write': 'quality', 'people.manage': 'admin' }[permission] ?? 'operations';
}
