/**
 * Every answer that a test gets is held against the OpenAPI document of the service as it is now: a status, content type, header or
 * field that is not declared fails the test.
 */
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { allOperations, tags } from '../../src/app.ts';
import type { Operation } from '../../src/platform/http/contract.ts';
import { openApiDocument } from '../../src/platform/openapi/document.ts';

export interface Seen {
  readonly method: string;
  /** as requested, with or without query */
  readonly path: string;
  readonly status: number;
  readonly headers: Readonly<Record<string, string>>;
  /** parsed where the content type is JSON */
  readonly body: unknown;
}

const document = openApiDocument(allOperations(), tags, '0.0.0') as {
  paths: Record<string, Record<string, { responses: Record<string, { headers?: Record<string, unknown> }> }>>;
};
const operations = allOperations().map((operation) => ({ operation, pattern: patternOf(operation.path) }));
const ajv = new Ajv2020({ strict: false, allErrors: true });
// ajv-formats is CommonJS: under NodeNext its types do not show that the default export is the function.
(addFormats as unknown as (target: Ajv2020) => void)(ajv);
ajv.addSchema(document, 'api');
const validators = new Map<string, ValidateFunction | null>();

function patternOf(path: string): RegExp {
  return new RegExp(`^${path.replaceAll(/[.*+?^$()|[\]\\]/g, '\\$&').replaceAll(/\{\w+\}/g, '[^/]+')}$`);
}

function validatorAt(pointer: string): ValidateFunction | null {
  const known = validators.get(pointer);
  if (known !== undefined) return known;
  const made = ajv.getSchema(`api#${pointer}`) ?? null;
  validators.set(pointer, made);
  return made;
}

const escape = (text: string) => encodeURIComponent(text.replaceAll('~', '~0').replaceAll('/', '~1'));

/** Paths without parameters come first: `/v1/lots/expiring` is not a lot. */
export function operationOf(method: string, path: string): Operation | null {
  const bare = path.split('?')[0] ?? path;
  const wanted = method === 'HEAD' ? 'get' : method.toLowerCase();
  const fits = operations.filter(({ operation, pattern }) => operation.method === wanted && pattern.test(bare));
  fits.sort((a, b) => a.operation.path.split('{').length - b.operation.path.split('{').length);
  return fits[0]?.operation ?? null;
}

/** Only `/v1` belongs to the contract. Throws on whatever was not promised. */
export function expectPromised(seen: Seen): void {
  if (!seen.path.startsWith('/v1')) return;
  const said = `${seen.method} ${seen.path} answered ${seen.status}`;
  const contentType = (seen.headers['content-type'] ?? '').split(';')[0] ?? '';
  const operation = operationOf(seen.method, seen.path);
  if (operation === null) {
    // No such path, or not with that method: still a problem document.
    const promised = validatorAt('/components/schemas/Problem');
    if ((seen.status !== 404 && seen.status !== 405) || contentType !== 'application/problem+json') {
      throw new Error(`${said}, but there is no such operation`);
    }
    if (!promised?.(seen.body)) throw new Error(`${said}: ${ajv.errorsText(promised?.errors)}`);
    return;
  }
  if (seen.status === 304) return;
  const at = `/paths/${escape(operation.path)}/${operation.method}/responses/${seen.status}`;
  const response = document.paths[operation.path]?.[operation.method]?.responses[String(seen.status)];
  if (!response) throw new Error(`${said}, which ${operation.id} does not declare: ${JSON.stringify(seen.body)}`);
  if (seen.method === 'HEAD') return;
  const promised = validatorAt(`${at}/content/${escape(contentType)}/schema`);
  if (!promised) throw new Error(`${said} with ${contentType}, which ${operation.id} does not declare`);
  const isJson = /[/+]json$/.test(contentType);
  if (isJson && !promised(seen.body)) {
    throw new Error(`${said}: ${ajv.errorsText(promised.errors)}: ${JSON.stringify(seen.body)}`);
  }
  for (const name of ['location', 'etag', 'link']) {
    const declared = Object.keys(response.headers ?? {}).some((header) => header.toLowerCase() === name);
    // A refused change says the current ETag; a replay links to the state now.
    const allowed = declared || seen.status === 412 || (name === 'link' && operation.naming === 'fact');
    if (seen.headers[name] !== undefined && !allowed)
      throw new Error(`${said} with ${name}, which ${operation.id} does not declare`);
  }
}
