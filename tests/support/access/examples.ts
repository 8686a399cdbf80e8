/** Requests made from an operation's own example, and the places in it where an id stands. */
import type { Operation } from '../../../src/platform/http/contract.ts';

export interface ExampleRequest {
  readonly method: string;
  readonly path: string;
  readonly query: string;
  readonly body: unknown;
  readonly headers: Readonly<Record<string, string>>;
}

type Path = readonly (string | number)[];

/** Where in the example an id stands that names something else; the request's own name is none. */
export interface IdPlace {
  /** for people: `params/lotId`, `body/lines/0/itemId` */
  readonly name: string;
  /** `lotId`, `siteId` … */
  readonly field: string;
  readonly path: Path;
}

interface Given {
  readonly params: Readonly<Record<string, string>>;
  readonly query: Readonly<Record<string, string>>;
  readonly body: unknown;
}

const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;

function givenBy({ example }: Operation): Given {
  return { params: example.params ?? {}, query: example.query ?? {}, body: example.body };
}

function walk(value: unknown, path: Path): IdPlace[] {
  if (typeof value === 'string') {
    const field = path.filter((part) => typeof part === 'string').at(-1) ?? '';
    return UUID.test(value) && field !== 'id' ? [{ name: path.join('/'), field, path }] : [];
  }
  if (typeof value !== 'object' || value === null) return [];
  const entries: [string | number, unknown][] = Array.isArray(value) ? [...value.entries()] : Object.entries(value);
  return entries.flatMap(([key, inner]) => walk(inner, [...path, key]));
}

export function idPlaces(operation: Operation): IdPlace[] {
  return walk(givenBy(operation), []);
}

function put(value: unknown, [key, ...rest]: Path, wanted: string): unknown {
  if (key === undefined) return wanted;
  if (Array.isArray(value)) return value.map((inner, at) => (at === key ? put(inner, rest, wanted) : inner));
  const fields = value as Record<string, unknown>;
  return { ...fields, [key]: put(fields[key], rest, wanted) };
}

/** The example as a request, with other ids at some places. */
export function requestOf(operation: Operation, instead: readonly (readonly [IdPlace, string])[] = []): ExampleRequest {
  let given: unknown = givenBy(operation);
  for (const [place, id] of instead) given = put(given, place.path, id);
  const { params, query, body } = given as Given;
  const search = new URLSearchParams(query).toString();
  return {
    method: operation.method.toUpperCase(),
    path: operation.path.replaceAll(/\{(\w+)\}/g, (_all, name: string) => encodeURIComponent(params[name] ?? '')),
    query: search === '' ? '' : `?${search}`,
    body,
    headers: operation.example.ifMatch === undefined ? {} : { 'if-match': operation.example.ifMatch },
  };
}
