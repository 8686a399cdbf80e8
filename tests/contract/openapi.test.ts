/**
 * The document that clients are built from: as committed it is what the contracts say, it passes a linter that is not ours, and each
 * operation says all that it owes its reader.
 */
import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { promisify } from 'node:util';
import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { afterAll, describe, expect, test } from 'vitest';
import errorTable from '../../shared/error-codes.json' with { type: 'json' };
import permissionTable from '../../shared/permissions.json' with { type: 'json' };
import { allOperations, tags } from '../../src/app.ts';
import { commonErrors } from '../../src/platform/http/problem.ts';
import { openApiDocument } from '../../src/platform/openapi/document.ts';

const root = path.resolve(import.meta.dirname, '../..');
const committed = readFileSync(path.join(root, 'openapi/openapi.json'), 'utf8');
const { version } = JSON.parse(readFileSync(path.join(root, 'package.json'), 'utf8')) as { version: string };
const folder = mkdtempSync(path.join(os.tmpdir(), 'sealtrail-openapi-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

type Schema = Record<string, unknown>;
interface Described {
  readonly operationId: string;
  readonly summary: string;
  readonly description: string;
  readonly tags: readonly string[];
  readonly 'x-permission': string;
  readonly security?: readonly unknown[];
  readonly parameters?: readonly { name: string; in: string; required?: boolean; schema: Schema; example?: unknown }[];
  readonly requestBody?: { content: Record<string, { schema: Schema; example?: unknown }> };
  readonly responses: Record<string, { description: string; content?: Record<string, { schema: Schema }> }>;
}
interface Document {
  readonly paths: Record<string, Record<string, Described>>;
  readonly tags: readonly { name: string; description: string }[];
  readonly components: { schemas: Record<string, Schema> };
}

const document = JSON.parse(committed) as Document;
const described = Object.entries(document.paths).flatMap(([at, methods]) =>
  Object.entries(methods).map(([method, operation]) => ({ at, method, operation, key: `${method} ${at}` })),
);
const operations = allOperations();
const byId = new Map(operations.map((operation) => [operation.id, operation]));
const ajv = new Ajv2020({ strict: false });
// ajv-formats is CommonJS: under NodeNext its types do not show that the default export is the function.
(addFormats as unknown as (target: Ajv2020) => void)(ajv);
ajv.addSchema(document, 'api');

/** What redocly finds wrong; it runs offline, in a folder of its own, so that no configuration is picked up. */
async function lint(text: string): Promise<{ errors: number; messages: string[] }> {
  const file = path.join(folder, 'openapi.json');
  writeFileSync(file, text);
  const cli = path.join(root, 'node_modules/@redocly/cli/bin/cli.js');
  const args = [cli, 'lint', file, '--extends=recommended-strict', '--format=json'];
  const env = { ...process.env, REDOCLY_TELEMETRY: 'off', REDOCLY_SUPPRESS_UPDATE_NOTICE: 'true', CI: 'true' };
  const run = promisify(execFile)(process.execPath, args, { cwd: folder, env, maxBuffer: 64 * 1024 * 1024 });
  const { stdout } = await run.catch((error: { stdout?: string }) => ({ stdout: error.stdout ?? '' }));
  const report = JSON.parse(stdout.slice(stdout.indexOf('{'))) as {
    totals: { errors: number };
    problems: { severity: string; message: string; ruleId: string }[];
  };
  const messages = report.problems
    .filter((one) => one.severity === 'error')
    .map((one) => `${one.ruleId}: ${one.message}`);
  return { errors: report.totals.errors, messages };
}

describe('the document', () => {
  test('as committed is what the contracts say', () => {
    expect(committed).toBe(`${JSON.stringify(openApiDocument(operations, tags, version), null, 2)}\n`);
  });

  test('passes the linter, which does see a fault', async () => {
    expect(await lint(committed)).toEqual({ errors: 0, messages: [] });
    const broken = committed
      .replace('"operationId": "getMe"', '"operationId": "signIn"')
      .replace('"/v1/me"', '"/v1/{me}"');
    expect((await lint(broken)).errors).toBeGreaterThan(0);
  });

  test('has each operation once, under its own path and method', () => {
    expect(described.map(({ operation }) => operation.operationId).sort()).toEqual([...byId.keys()].sort());
    for (const { at, method, operation } of described) {
      expect(byId.get(operation.operationId)).toMatchObject({ path: at, method });
    }
  });

  test('has every schema compile', () => {
    for (const name of Object.keys(document.components.schemas)) {
      expect(() => ajv.getSchema(`api#/components/schemas/${name}`), name).not.toThrow();
    }
  });

  test('describes its chapters, each of them used', () => {
    const used = new Set(described.flatMap(({ operation }) => operation.tags));
    expect(document.tags.map((tag) => tag.name).sort()).toEqual([...used].sort());
    for (const tag of document.tags) expect(tag.description).not.toBe('');
  });
});

const pointer = (text: string) => encodeURIComponent(text.replaceAll('~', '~0').replaceAll('/', '~1'));

describe.each(described)('$key', ({ at, method, operation }) => {
  const contract = byId.get(operation.operationId);
  if (!contract) throw new Error(`${operation.operationId} is in the document only`);

  test('says what it does and who may', () => {
    expect(operation.summary).toMatch(/^[A-Z].{5,}[^.]$/);
    expect(operation.tags).toHaveLength(1);
    const permission = operation['x-permission'];
    if (permission === 'public') expect(operation.security).toEqual([]);
    else expect(permissionTable.permissions).toHaveProperty([permission]);
    if (permission !== 'public') expect(operation.security).toBeUndefined();
  });

  test('declares every answer that it can give', () => {
    const codes = [...commonErrors(contract), ...contract.errors];
    const wanted = [...Object.keys(contract.answers), ...codes.map((code) => String(errorTable[code].status))];
    expect(Object.keys(operation.responses).sort()).toEqual([...new Set(wanted)].sort());
    for (const code of codes) {
      const response = operation.responses[String(errorTable[code].status)];
      expect(response?.description).toContain(`\`${code}\``);
      expect(Object.keys(response?.content ?? {})).toEqual(['application/problem+json']);
    }
    for (const response of Object.values(operation.responses)) expect(response.description).not.toBe('');
  });

  test('has an example that fits its own schemas', () => {
    const { example } = contract;
    const declared = [
      ...Object.keys(contract.answers),
      ...contract.errors.map((code) => String(errorTable[code].status)),
    ];
    expect(declared).toContain(String(example.status));
    const body = operation.requestBody?.content['application/json'];
    expect(body?.example).toEqual(example.body);
    if (body) {
      const check = ajv.getSchema(`api#/paths/${pointer(at)}/${method}/requestBody/content/application~1json/schema`);
      expect(check?.(example.body), JSON.stringify(check?.errors)).toBe(true);
    }
    const given = { ...example.params, ...example.query };
    for (const parameter of operation.parameters ?? []) {
      if (parameter.in === 'header') continue;
      const value = given[parameter.name];
      if (parameter.required) expect(value, parameter.name).toBeDefined();
      if (value !== undefined) expect(ajv.validate({ ...parameter.schema }, value), parameter.name).toBe(true);
    }
    const names = (operation.parameters ?? []).map((parameter) => parameter.name);
    expect(names).toEqual(expect.arrayContaining(Object.keys(given)));
  });

  test('asks for the headers that it needs', () => {
    const headers = (operation.parameters ?? []).filter((parameter) => parameter.in === 'header');
    const wanted = [
      ...(contract.naming !== 'none' ? [{ name: 'idempotency-key', required: false }] : []),
      ...(contract.conditional ? [{ name: 'if-match', required: true }] : []),
      // Those of a standard that the operation follows; none of them has to be sent.
      ...Object.keys(contract.headers?.shape ?? {}).map((name) => ({ name, required: false })),
    ];
    const asked = headers.map(({ name, required }) => ({ name, required: required ?? false }));
    const byName = (one: { name: string }, other: { name: string }) => one.name.localeCompare(other.name);
    expect(asked.sort(byName)).toEqual(wanted.sort(byName));
  });
});

describe('the problem document (RFC 9457 §3.1)', () => {
  // The five members by their type in §3.1; the rest is what this service adds to each.
  const good = {
    type: '/problems/not-found',
    title: 'There is no such thing here',
    status: 404,
    detail: 'No lot with that id is known here.',
    instance: 'urn:request:01890a5d-ac96-774b-bcce-b302099a8057',
    code: 'not-found',
    advice: 'Check the id.',
  };
  const check = (value: unknown) => ajv.getSchema('api#/components/schemas/Problem')?.(value);

  test('takes a good one, also with members of its own', () => {
    expect(check(good)).toBe(true);
    expect(check({ ...good, errors: [{ detail: 'd', pointer: '#/a' }], available: 3 })).toBe(true);
  });

  test.each(Object.keys(good))('needs %s', (member) => {
    expect(check(Object.fromEntries(Object.entries(good).filter(([name]) => name !== member)))).toBe(false);
  });

  test.each<[string, unknown]>([
    ['type', 1],
    ['title', null],
    ['status', '404'],
    ['status', 404.5],
    ['detail', {}],
    ['instance', 7],
    ['errors', [{ detail: 'd' }]],
    ['errors', Array.from({ length: 21 }, () => ({ detail: 'd', pointer: '#' }))],
  ])('does not take %s of %j', (member, value) => {
    expect(check({ ...good, [member]: value })).toBe(false);
  });
});

test('every refusal that the service knows is declared by an operation', () => {
  const declared = new Set(operations.flatMap((operation) => [...commonErrors(operation), ...operation.errors]));
  expect([...declared].sort()).toEqual(Object.keys(errorTable).sort());
});
