/** The guard that every test over HTTP stands on: it must fail on what no contract promised. */
import { expect, test } from 'vitest';
import { exampleId } from '../../src/platform/ids.ts';
import { expectPromised, operationOf } from '../support/contract.ts';

const supplier = {
  supplierId: exampleId('x'),
  code: 'X',
  name: 'X',
  address: null,
  gln: null,
  active: true,
  version: 1,
};
const seen = {
  method: 'GET',
  path: `/v1/suppliers/${supplier.supplierId}`,
  status: 200,
  headers: { 'content-type': 'application/json; charset=utf-8', etag: '"v1"' },
  body: supplier as unknown,
};
const asProblem = { headers: { 'content-type': 'application/problem+json' } };
const problem = {
  type: '/problems/not-found',
  title: 'T',
  status: 404,
  detail: 'D',
  code: 'not-found',
  advice: 'A',
  instance: 'urn:request:1',
};

test('what was promised passes', () => {
  expectPromised(seen);
  expectPromised({ ...seen, ...asProblem, status: 404, body: problem });
  expectPromised({ ...seen, ...asProblem, path: '/v1/nowhere', status: 404, body: problem });
});

test.each<[string, object]>([
  ['a field too many', { body: { ...supplier, passwordHash: 'x' } }],
  ['a field too few', { body: { ...supplier, name: undefined } }],
  ['a field of another type', { body: { ...supplier, version: '1' } }],
  ['a status that is not declared', { status: 202 }],
  ['a content type that is not declared', { headers: { 'content-type': 'text/html' } }],
  ['a header that is not declared', { headers: { ...seen.headers, location: '/v1/elsewhere' } }],
  ['a problem without its code', { ...asProblem, status: 404, body: { ...problem, code: undefined } }],
  ['an operation that does not exist', { path: '/v1/nowhere' }],
])('%s fails', (_what, more) => {
  expect(() => expectPromised({ ...seen, ...more })).toThrow();
});

test('a path is matched whole, with or without a query', () => {
  expect(operationOf('GET', '/v1/suppliers?limit=1')?.id).toBe('listSuppliers');
  expect(operationOf('GET', `/v1/suppliers/${supplier.supplierId}`)?.id).toBe('getSupplier');
  expect(operationOf('PATCH', '/v1/suppliers')).toBeNull();
  expect(operationOf('GET', '/v1/suppliers/a/b')).toBeNull();
});
