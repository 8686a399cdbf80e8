/** What HTTP itself asks of a service: methods, HEAD, conditional reads, names given by header, encodings (RFC 9110, RFC 8941). */
import { randomUUID } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { askRaw } from '../support/raw.ts';
import { startService, type TestService } from '../support/service.ts';

let service: TestService;
const known = { id: randomUUID(), code: 'KNOWN', name: 'Known already' };
beforeAll(async () => {
  service = await startService();
  expect((await operations().post('/v1/suppliers', known)).status).toBe(201);
  const other = { id: randomUUID(), code: 'OTHER-ONE', name: 'Another' };
  expect((await operations().post('/v1/suppliers', other)).status).toBe(201);
});
afterAll(() => service.stop());

const cook = () => service.as('kitchen');
const operations = () => service.as('operations');
const raw = (method: string, path: string) => askRaw(service, method, path);
const post = (body: string | Buffer, headers: Record<string, string> = {}) =>
  operations().post('/v1/suppliers', body, headers);
const list = (query: string) => cook().get(`/v1/suppliers?${query}`);

describe('methods', () => {
  test.each<[string, string, string]>([
    ['PUT', '/v1/suppliers', 'POST, GET, HEAD'],
    ['DELETE', '/v1/suppliers', 'POST, GET, HEAD'],
    ['POST', '/v1/me', 'GET, HEAD'],
    ['GET', '/v1/sign-ins', 'POST'],
    ['DELETE', '/v1/suppliers/{known}', 'GET, PATCH, HEAD'],
  ])('%s %s is refused and told what is taken', async (method, path, allow) => {
    const answer = await raw(method, path.replace('{known}', known.id));
    expect(answer.body).toMatchObject({ code: 'method-not-allowed' });
    expect(answer.headers['allow']).toBe(allow);
  });

  test('HEAD is GET without the body', async () => {
    const path = `/v1/suppliers/${known.id}`;
    const [got, head] = [await raw('GET', path), await raw('HEAD', path)];
    expect([head.status, head.text]).toEqual([200, '']);
    for (const name of ['etag', 'content-type', 'content-length', 'vary', 'cache-control']) {
      expect(head.headers[name], name).toBe(got.headers[name]);
    }
    expect(got.headers['content-length']).toBe(String(got.raw.length));
    expect((await raw('HEAD', `/v1/suppliers/${randomUUID()}`)).status).toBe(404);
  });
});

describe('what is not wrong', () => {
  const path = () => `/v1/suppliers/${known.id}`;

  test('If-None-Match: nothing new, nothing sent', async () => {
    for (const tag of ['"v1"', '*', '"v0", "v1"']) {
      const answer = await cook().get(path(), { 'if-none-match': tag });
      expect([answer.status, answer.text, answer.headers['etag']]).toEqual([304, '', '"v1"']);
    }
    expect((await cook().get(path(), { 'if-none-match': '"v2"' })).status).toBe(200);
  });

  test('Idempotency-Key, quoted, bare or in capitals, names the same fact', async () => {
    const { id, ...content } = known;
    const first = await operations().post('/v1/suppliers', known);
    expect(first.status).toBe(201);
    for (const key of [id, `"${id}"`, id.toUpperCase(), ` "${id}" `]) {
      const again = await operations().post('/v1/suppliers', content, { 'idempotency-key': key });
      expect([again.status, again.body]).toEqual([first.status, first.body]);
    }
    const other = await operations().post('/v1/suppliers', { ...known, name: 'Other', code: 'OTHER' });
    expect(other.body).toMatchObject({ code: 'id-used-with-other-content', differences: ['#/code', '#/name'] });
  });

  test('a body may come as gzip, and say its charset', async () => {
    const zipped = gzipSync(JSON.stringify(known));
    expect((await post(zipped, { 'content-encoding': 'gzip' })).status).toBe(201);
    const typed = await post(JSON.stringify(known), { 'content-type': 'Application/JSON; charset=utf-8' });
    expect(typed.status).toBe(201);
  });

  test('SQL where any text may stand finds nothing and does nothing', async () => {
    const answer = await cook().get(`/v1/lots?supplierLotCode=${encodeURIComponent("x'; drop table lot; --")}`);
    expect([answer.status, answer.body.items]).toEqual([200, []]);
  });

  test('the largest and the smallest limit', async () => {
    expect((await list('limit=500')).body.items).toHaveLength(2);
    expect((await list('limit=1')).body.items).toHaveLength(1);
  });
});
