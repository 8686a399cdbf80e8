/**
 * What comes in wrong: refused with the code that says why, by every door it can come through, and nothing is changed or lost by it. The
 * tables are compared before and after the whole battery.
 */
import { randomUUID } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { askRaw } from '../support/raw.ts';
import { contentOfTables } from '../support/tables.ts';
import { startService, type Answer, type TestService } from '../support/service.ts';
import { buildWorld, type World } from '../support/world.ts';

let service: TestService;
let world: World;
let before: ReadonlyMap<string, string>;
const known = { id: randomUUID(), code: 'KNOWN', name: 'Known already' };

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  expect((await operations().post('/v1/suppliers', known)).status).toBe(201);
  expect((await cook().post('/v1/goods-receipts', receipt())).status).toBe(201);
  expect((await cook().post('/v1/goods-receipts', receipt())).status).toBe(201);
  before = await contentOfTables(service.databaseUrl);
});
afterAll(() => service.stop());

const cook = () => service.as('kitchen');
const operations = () => service.as('operations');
const supplier = (more: object = {}) => ({ id: randomUUID(), code: 'NEW', name: 'Somebody', ...more });
const line = (more: object = {}) => ({
  itemId: world.beefShinId,
  placeId: world.ckChillerId,
  quantity: 5_000,
  unit: 'g',
  ...more,
});
const receipt = (more: object = {}) => ({
  id: randomUUID(),
  siteId: world.ckId,
  supplierId: world.supplierId,
  occurredAt: '2026-11-25T06:10:00+00:00',
  lines: [line()],
  ...more,
});
const take = (more: object) => cook().post('/v1/goods-receipts', receipt(more));
const takeLine = (more: object) => take({ lines: [line(more)] });
/** The receipt with one JSON value put in as it is written. */
const takeRaw = (field: string, json: string) =>
  cook().post(
    '/v1/goods-receipts',
    JSON.stringify(receipt({ lines: [line({ [field]: '@@' })] })).replace('"@@"', json),
  );

/** As written, as operations. */
const raw = (method: string, path: string, headers: Record<string, string> = {}, body?: string | Buffer) =>
  askRaw(service, method, path, headers, body);

type Case = readonly [what: string, send: () => Promise<Answer>, code: string, pointer?: string];

async function expectRefused([, send, code, pointer]: Case): Promise<void> {
  const answer = await send();
  expect(answer.body, answer.text).toMatchObject({ code });
  if (pointer === undefined) return;
  expect(answer.body.errors.map((error: { pointer: string }) => error.pointer)).toContain(pointer);
}

const q = '#/lines/0/quantity';
const fields: readonly Case[] = [
  ['an unknown field', () => take({ colour: 'red' }), 'invalid-request', '#/colour'],
  ['an unknown field further in', () => takeLine({ 'co/lo~ur': 'red' }), 'invalid-request', '#/lines/0/co~1lo~0ur'],
  ['a field that is missing', () => take({ siteId: undefined }), 'invalid-request', '#/siteId'],
  ['a unit that there is not', () => takeLine({ unit: 'kg' }), 'invalid-request', '#/lines/0/unit'],
  ['a unit that is not the item’s', () => takeLine({ unit: 'piece' }), 'unit-mismatch', '#/lines/0/unit'],
  ['no quantity', () => takeLine({ quantity: null }), 'invalid-request', q],
  ['a quantity of nothing', () => takeLine({ quantity: 0 }), 'rule-broken', q],
  ['a negative quantity', () => takeLine({ quantity: -1 }), 'invalid-request', q],
  ['a broken quantity', () => takeLine({ quantity: 0.5 }), 'invalid-request', q],
  ['a huge quantity', () => takeLine({ quantity: 1e13 }), 'invalid-request', q],
  ['a quantity beyond all numbers', () => takeRaw('quantity', '1e999'), 'invalid-request', q],
  ['minus zero', () => takeRaw('quantity', '-0'), 'malformed-json'],
  ['minus zero with a point', () => takeRaw('temperatureC', '-0.0'), 'malformed-json'],
  ['no number at all', () => takeRaw('quantity', 'NaN'), 'malformed-json'],
  ['a quantity as text', () => takeLine({ quantity: '5000' }), 'invalid-request', q],
  ['a quantity that is true', () => takeLine({ quantity: true }), 'invalid-request', q],
  [
    'a mass that no number holds',
    () => takeLine({ massG: Number.MAX_SAFE_INTEGER }),
    'invalid-request',
    '#/lines/0/massG',
  ],
  [
    'pieces that weigh more than can be said',
    () => takeLine({ itemId: world.beefStewPackId, quantity: 1e12, unit: 'piece' }),
    'rule-broken',
  ],
  ['a temperature too fine', () => takeLine({ temperatureC: 2.345 }), 'invalid-request', '#/lines/0/temperatureC'],
  ['a time without a zone', () => take({ occurredAt: '2026-11-25T06:10:00' }), 'invalid-request', '#/occurredAt'],
  ['a time with a blank', () => take({ occurredAt: '2026-11-25 06:10:00Z' }), 'invalid-request', '#/occurredAt'],
  ['the 24th hour', () => take({ occurredAt: '2026-11-25T24:00:00Z' }), 'invalid-request', '#/occurredAt'],
  ['a time on 30 February', () => take({ occurredAt: '2026-02-30T06:10:00Z' }), 'invalid-request'],
  ['a time in the year 1', () => take({ occurredAt: '0001-01-01T00:00:00Z' }), 'invalid-request'],
  ['the end of all years', () => take({ occurredAt: '9999-12-31T23:59:59-23:59' }), 'invalid-request'],
  ['a word for a time', () => take({ occurredAt: 'yesterday' }), 'invalid-request', '#/occurredAt'],
  ['30 February', () => takeLine({ useByDate: '2026-02-30' }), 'rule-broken', '#/lines/0/useByDate'],
  ['29 February of no leap year', () => takeLine({ useByDate: '2027-02-29' }), 'rule-broken', '#/lines/0/useByDate'],
  ['the last date of all', () => takeLine({ useByDate: '9999-12-31' }), 'rule-broken', '#/lines/0/useByDate'],
  ['a date the other way round', () => takeLine({ useByDate: '30-11-2026' }), 'invalid-request', '#/lines/0/useByDate'],
  ['a site that nobody knows', () => take({ siteId: randomUUID() }), 'not-found'],
  ['a supplier that nobody knows', () => take({ supplierId: randomUUID() }), 'not-found'],
  ['an item that nobody knows', () => takeLine({ itemId: randomUUID() }), 'not-found'],
  ['a place of another site', () => takeLine({ placeId: world.w3ChillerId }), 'not-found'],
  ['an id in capitals', () => take({ siteId: world.ckId.toUpperCase() }), 'invalid-request', '#/siteId'],
  ['an id in braces', () => take({ siteId: `{${world.ckId}}` }), 'invalid-request', '#/siteId'],
  ['NUL in a text', () => take({ documentNumber: 'DN\u0000' }), 'invalid-request', '#/documentNumber'],
  ['half a surrogate', () => take({ documentNumber: 'DN\ud800' }), 'invalid-request', '#/documentNumber'],
  ['the other half', () => take({ documentNumber: '\udc00DN' }), 'invalid-request', '#/documentNumber'],
  [
    'a line break in a line',
    () => take({ documentNumber: 'DN\r\nSet-Cookie: a=b' }),
    'invalid-request',
    '#/documentNumber',
  ],
  ['a text of nothing', () => take({ documentNumber: '' }), 'invalid-request', '#/documentNumber'],
  ['a text too long', () => take({ documentNumber: 'x'.repeat(61) }), 'invalid-request', '#/documentNumber'],
  ['a lot code that no label holds', () => takeLine({ lotCode: 'A/1' }), 'invalid-request', '#/lines/0/lotCode'],
  ['an allergen that there is not', () => takeLine({ allergens: ['moonlight'] }), 'allergen-unknown'],
  ['no lines', () => take({ lines: [] }), 'invalid-request', '#/lines'],
  ['too many lines', () => take({ lines: Array.from({ length: 201 }, () => line()) }), 'invalid-request', '#/lines'],
  ['one lot code twice', () => take({ lines: [line({ lotCode: 'TWICE' }), line({ lotCode: 'TWICE' })] }), 'code-taken'],
  [
    'SQL for a code',
    () => operations().post('/v1/suppliers', supplier({ code: "'; drop table lot;--" })),
    'invalid-request',
    '#/code',
  ],
];

const nested = (depth: number) => `${'{"a":'.repeat(depth)}1${'}'.repeat(depth)}`;
const post = (body: string | Buffer, headers: Record<string, string> = {}) =>
  operations().post('/v1/suppliers', body, headers);
const wrapped = (key: string) => `{"id":"${randomUUID()}","code":"NEW","name":"N","${key}":{"admin":true}}`;
const asGzip = { 'content-encoding': 'gzip' };
const bodies: readonly Case[] = [
  ['nothing', () => post(''), 'malformed-json'],
  ['half of it', () => post('{"code":'), 'malformed-json'],
  ['two of them', () => post('{}{}'), 'malformed-json'],
  ['single quotes', () => post("{'code':'A'}"), 'malformed-json'],
  ['what is not UTF-8', () => post(Buffer.from([0x22, 0xff, 0x22])), 'malformed-json'],
  ['__proto__', () => post(wrapped('__proto__')), 'malformed-json'],
  ['__proto__ spelled otherwise', () => post(wrapped('__pr\\u006fto__')), 'malformed-json'],
  ['constructor', () => post(wrapped('constructor')), 'malformed-json'],
  ['prototype', () => post(wrapped('prototype')), 'malformed-json'],
  ['13 levels', () => post(nested(13)), 'malformed-json'],
  ['20 000 levels', () => post(nested(20_000)), 'malformed-json'],
  ['a list', () => post('[]'), 'invalid-request'],
  ['a text', () => post('"supplier"'), 'invalid-request'],
  ['null', () => post('null'), 'invalid-request'],
  ['more than the limit', () => post(JSON.stringify(supplier({ name: 'x'.repeat(256 * 1024) }))), 'body-too-large'],
  [
    'more than the limit, length not said',
    () =>
      raw(
        'POST',
        '/v1/suppliers',
        { 'content-type': 'application/json', 'transfer-encoding': 'chunked' },
        Buffer.alloc(300 * 1024, 0x20),
      ),
    'body-too-large',
  ],
  ['10 MB in 10 kB', () => post(gzipSync(Buffer.alloc(10_000_000, 0x20)), asGzip), 'body-too-large'],
  ['gzip that is none', () => post('{"code":"A"}', asGzip), 'malformed-json'],
  ['another encoding', () => post('{}', { 'content-encoding': 'br' }), 'unsupported-media-type'],
  ['plain text', () => post('code=A', { 'content-type': 'text/plain' }), 'unsupported-media-type'],
  ['a form', () => post('code=A', { 'content-type': 'application/x-www-form-urlencoded' }), 'unsupported-media-type'],
  ['what does not say what it is', () => raw('POST', '/v1/suppliers', {}, '{}'), 'unsupported-media-type'],
  ['a code that is taken', () => operations().post('/v1/suppliers', supplier({ code: known.code })), 'code-taken'],
];

const list = (query: string) => cook().get(`/v1/suppliers?${query}`);
const cursorOf = (parts: unknown) => Buffer.from(JSON.stringify(parts)).toString('base64url');
const queries: readonly Case[] = [
  ['a parameter that there is not', () => list('colour=red'), 'invalid-request', '#/query/colour'],
  ['one twice', () => list('code=A&code=B'), 'invalid-request', '#/query/code'],
  ['one as a list', () => list('code[]=A'), 'invalid-request', '#/query/code[]'],
  ['__proto__', () => list('__proto__=1'), 'invalid-request'],
  ['a limit of nothing', () => list('limit=0'), 'invalid-request', '#/query/limit'],
  ['a limit too high', () => list('limit=501'), 'invalid-request', '#/query/limit'],
  ['a limit below nothing', () => list('limit=-1'), 'invalid-request', '#/query/limit'],
  ['half a limit', () => list('limit=1.5'), 'invalid-request', '#/query/limit'],
  ['a limit in words', () => list('limit=all'), 'invalid-request', '#/query/limit'],
  ['an empty limit', () => list('limit='), 'invalid-request', '#/query/limit'],
  ['a cursor with signs that none has', () => list('cursor=%25'), 'invalid-request', '#/query/cursor'],
  ['a cursor of noise', () => list('cursor=abcdef'), 'bad-cursor'],
  ['a cursor of too few parts', () => list(`cursor=${cursorOf(['A'])}`), 'bad-cursor'],
  ['a cursor of numbers', () => list(`cursor=${cursorOf([1, 2])}`), 'bad-cursor'],
  ['a cursor with NUL', () => list(`cursor=${cursorOf(['\u0000', randomUUID()])}`), 'bad-cursor'],
  ['a cursor that ends an SQL text', () => list(`cursor=${cursorOf(["'; --", 'x'])}`), 'bad-cursor'],
  [
    'a cursor of another list',
    async () => {
      const { nextCursor } = (await cook().get('/v1/goods-receipts?limit=1')).body;
      expect(nextCursor).toEqual(expect.any(String));
      return list(`cursor=${nextCursor}`);
    },
    'bad-cursor',
  ],
  ['SQL for a code', () => list(`code=${encodeURIComponent("' or 1=1 --")}`), 'invalid-request', '#/query/code'],
  ['a line break', () => list('code=A%0d%0aX-Admin:1'), 'invalid-request', '#/query/code'],
  ['NUL', () => cook().get('/v1/lots?supplierLotCode=%00'), 'invalid-request', '#/query/supplierLotCode'],
  ['an id that is none', () => cook().get('/v1/stock?siteId=1%20or%201=1'), 'invalid-request', '#/query/siteId'],
  ['where none is taken', () => cook().get('/v1/me?verbose=1'), 'invalid-request', '#/query/verbose'],
  [
    'a month that is none',
    () => service.as('finance').get('/v1/reports/waste-and-yield?month=2026-13'),
    'invalid-request',
    '#/query/month',
  ],
];

const paths: readonly Case[] = [
  ['in capitals', () => raw('GET', '/V1/suppliers'), 'not-found'],
  ['with a capital', () => raw('GET', '/v1/Suppliers'), 'not-found'],
  ['with a slash at the end', () => raw('GET', '/v1/suppliers/'), 'not-found'],
  ['with two slashes', () => raw('GET', '//v1/suppliers'), 'not-found'],
  ['that cannot be decoded', () => raw('GET', '/v1/suppliers/%zz'), 'not-found'],
  ['that is not UTF-8', () => raw('GET', '/v1/suppliers/%ff'), 'not-found'],
  ['with NUL', () => raw('GET', '/v1/suppliers/%00'), 'invalid-request'],
  ['with a slash inside', () => raw('GET', `/v1/suppliers/..%2f${known.id}`), 'invalid-request'],
  ['with dots', () => raw('GET', '/v1/suppliers/../me'), 'not-found'],
  ['with an id that is none', () => raw('GET', '/v1/suppliers/1'), 'invalid-request'],
  ['with an id in capitals', () => raw('GET', `/v1/suppliers/${known.id.toUpperCase()}`), 'invalid-request'],
  ['that leads nowhere', () => raw('GET', '/v1/nowhere'), 'not-found'],
  ['__proto__', () => raw('GET', '/v1/suppliers/__proto__'), 'invalid-request'],
];

const change = (headers: Record<string, string>) =>
  operations().patch(`/v1/suppliers/${known.id}`, { name: 'Other' }, headers);
const named = (headers: Record<string, string>, more: object = {}) =>
  operations().post('/v1/suppliers', { ...supplier(), ...more }, headers);
const headers: readonly Case[] = [
  ['no If-Match', () => change({}), 'precondition-required'],
  ['If-Match of another version', () => change({ 'if-match': '"v2"' }), 'version-mismatch'],
  ['If-Match without quotes', () => change({ 'if-match': 'v1' }), 'version-mismatch'],
  ['If-Match that is weak', () => change({ 'if-match': 'W/"v1"' }), 'version-mismatch'],
  ['a key that is none', () => named({ 'idempotency-key': 'again' }, { id: undefined }), 'fact-id-missing'],
  ['no name at all', () => named({}, { id: undefined }), 'fact-id-missing'],
  ['two names', () => named({ 'idempotency-key': randomUUID() }), 'fact-id-conflict'],
  ['a name that is taken', () => named({}, { id: known.id }), 'id-used-with-other-content'],
  ['a name that another operation took', () => named({}, { id: world.beefShinId }), 'id-used-with-other-content'],
  ['a type that is not offered', () => cook().get('/v1/suppliers', { accept: 'text/html' }), 'not-acceptable'],
  [
    'a type asked for with no weight',
    () => cook().get('/v1/suppliers', { accept: 'application/json;q=0, application/problem+json;q=0' }),
    'not-acceptable',
  ],
  [
    'a token of another kind',
    () => cook().get('/v1/me', { authorization: 'Basic YWRtaW46YWRtaW4=' }),
    'unauthenticated',
  ],
  ['a token that is none', () => service.bearer('a.b.c').get('/v1/me'), 'unauthenticated'],
];

describe.each<[string, readonly Case[]]>([
  ['in a field', fields],
  ['as a body', bodies],
  ['in a query', queries],
  ['as a path', paths],
  ['in a header', headers],
])('%s', (_door, cases) => {
  test.each(cases.map((one) => [one[0], one] as const))('%s', async (_what, one) => expectRefused(one));
});

describe('after all of it', () => {
  test('the comparison of tables sees one row more', async () => {
    const second = await startService();
    try {
      const empty = await contentOfTables(second.databaseUrl);
      expect((await second.as('operations').post('/v1/suppliers', supplier())).status).toBe(201);
      const after = await contentOfTables(second.databaseUrl);
      const changed = [...after].filter(([table, content]) => empty.get(table) !== content).map(([table]) => table);
      expect(changed.sort()).toEqual(['catalogue_version', 'fact', 'supplier']);
    } finally {
      await second.stop();
    }
  });

  test('nothing has changed and nothing is lost', async () => {
    expect(before.size).toBeGreaterThan(30);
    expect(await contentOfTables(service.databaseUrl)).toEqual(before);
  });
});
