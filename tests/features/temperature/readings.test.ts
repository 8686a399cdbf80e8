/** Readings in bulk: what is kept, what is refused line by line, and that the counts are exact. */
import { randomUUID } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { asAdmin } from '../../support/test-server.ts';
import { startService, type Answer, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

let service: TestService;
let world: World;
const HOUR = '2026-11-25T1';

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
});
afterAll(() => service.stop());

const codes = new Map<string, string>();
/** A sensor of its own for each test, in the kitchen's chiller from the day before. */
async function sensor(more: object = {}, from = '2026-11-24T00:00:00Z'): Promise<string> {
  const code = `S-${codes.size}`;
  const sensorId = randomUUID();
  codes.set(code, sensorId);
  const body = { id: sensorId, siteId: world.ckId, code, name: 'A sensor', kind: 'air', ...more };
  expect((await service.as('operations').post('/v1/sensors', body)).status).toBe(201);
  const where = { id: randomUUID(), from, placeId: world.ckChillerId };
  const there = await service.as('operations').post(`/v1/sensors/${sensorId}/locations`, where);
  expect(there.status, there.text).toBe(201);
  return code;
}

const csv = (lines: readonly string[], heading = 'sensor,at,temperatureC') => `${[heading, ...lines].join('\n')}\n`;
async function send(
  body: string | Buffer | object,
  type = 'text/csv',
  more: Record<string, string> = {},
): Promise<Answer> {
  return service.as('device', world.ckId).post('/v1/readings', body, { 'content-type': type, ...more });
}
async function kept(code: string): Promise<string[]> {
  const path = `/v1/readings?sensorId=${codes.get(code)}&from=2025-01-01T00:00:00Z&to=2027-01-01T00:00:00Z&format=csv`;
  const answer = await service.as('quality').get(path);
  expect(answer.status, answer.text).toBe(200);
  return answer.text.trimEnd().split('\n').slice(1);
}
const countsOf = ({ body }: Answer) => [body.received, body.stored, body.duplicates, body.conflicts, body.refused];

describe('a reading', () => {
  // Hundredths: Fahrenheit by its definition, (F - 32) x 5/9.
  test.each([
    ['3.25', 'temperatureC', '3.25'],
    ['-18', 'temperatureC', '-18.00'],
    ['3.4375', 'temperatureC', '3.44'],
    ['41', 'temperatureF', '5.00'],
    ['50.5', 'temperatureF', '10.28'],
    ['-40', 'temperatureF', '-40.00'],
  ])('of %s %s is kept as %s °C', async (given, field, wanted) => {
    const code = await sensor();
    const answer = await send(csv([`${code},${HOUR}1:00:00+00:00,${given}`], `sensor,at,${field}`));
    expect(countsOf(answer), answer.text).toEqual([1, 1, 0, 0, 0]);
    expect(await kept(code)).toEqual([`${code},2026-11-25T11:00:00.000Z,${wanted}`]);
  });

  test('is the same in JSON, in lines of JSON, in CSV, by code and by id, and packed', async () => {
    const code = await sensor();
    const one = { sensor: code, at: '2026-11-25T12:00:00+01:00', temperatureC: 4.5 };
    const lines = `${JSON.stringify(one)}\r\n\r\n${JSON.stringify({ ...one, sensor: codes.get(code) })}`;
    expect(countsOf(await send({ readings: [one] }, 'application/json'))).toEqual([1, 1, 0, 0, 0]);
    expect(countsOf(await send(lines, 'application/x-ndjson; charset=utf-8'))).toEqual([2, 0, 2, 0, 0]);
    const packed = gzipSync(`\ufeff"at","temperatureC","sensor"\n"2026-11-25T11:00:00.000Z","4.50","${code}"`);
    const answer = await send(packed, 'text/csv', { 'content-encoding': 'gzip' });
    expect(countsOf(answer), answer.text).toEqual([1, 0, 1, 0, 0]);
    expect(await kept(code)).toEqual([`${code},2026-11-25T11:00:00.000Z,4.50`]);
  });

  test('that contradicts another is kept beside it, and counted once whatever the order', async () => {
    const code = await sensor();
    const at = (t: string) => `${code},${HOUR}0:00:00Z,${t}`;
    expect(countsOf(await send(csv([at('3'), at('9'), at('3')])))).toEqual([3, 2, 1, 1, 0]);
    expect(countsOf(await send(csv([at('5'), at('9')])))).toEqual([2, 1, 1, 1, 0]);
    expect(await kept(code)).toHaveLength(3);
  });

  test('marks the place-day that it belongs to, and a repeat marks nothing', async () => {
    const code = await sensor({}, '2026-11-25T06:00:00Z');
    const lines = csv([`${code},2026-11-24T23:59:59.999Z,4`, `${code},2026-11-25T00:00:00Z,4`]);
    await asAdmin(service.databaseUrl, (owner) => owner.query('delete from place_day_dirty'));
    expect((await send(lines)).body.placeDays).toBe(1);
    const dirty = await asAdmin(service.databaseUrl, (owner) =>
      owner.query(`select subject, day::text from place_day_dirty`).then((result) => result.rows as unknown[]),
    );
    expect(dirty).toEqual([{ subject: `place:${world.ckChillerId}`, day: '2026-11-25' }]);
    expect((await send(lines)).body).toMatchObject({ duplicates: 2, placeDays: 0 });
  });

  test("is in doubt until somebody's clock has shown that its time is right", async () => {
    const code = await sensor();
    const doubts = async () => {
      const path = `/v1/readings?sensorId=${codes.get(code)}&from=2026-11-25T00:00:00Z&to=2026-11-26T00:00:00Z`;
      const { body } = await service.as('quality').get(path);
      return (body.items as { timeInDoubt: boolean }[]).map((one) => one.timeInDoubt);
    };
    const [old, fresh] = [`${code},${HOUR}0:00:00Z,4`, `${code},${HOUR}1:55:00Z,4`];
    await send(csv([old, fresh]));
    expect(await doubts()).toEqual([true, false]);
    const by = (deviceTime: string) =>
      service
        .as('device', world.ckId)
        .post(`/v1/readings?deviceTime=${deviceTime}`, csv([old, fresh]), { 'content-type': 'text/csv' });
    expect((await by('2026-11-25T11:40:00Z')).status).toBe(200);
    expect(await doubts()).toEqual([true, false]);
    expect((await by('2026-11-25T11:58:00Z')).body).toMatchObject({ duplicates: 2, placeDays: 1 });
    expect(await doubts()).toEqual([false, false]);
  });
});

describe('bad input', () => {
  test('is named line by line; good lines are kept and the counts are exact', async () => {
    const code = await sensor();
    const elsewhere = await sensor({ siteId: world.w3Id });
    const others = await sensor({ deviceId: await deviceAt(world.ckId) });
    const answer = await send(
      csv([
        `${code},${HOUR}1:00:00Z,4`,
        `${code},2026-11-25T11:01:00,4`,
        `${code},2026-11-25T12:10:01Z,4`,
        `${code},2026-11-25T12:10:00Z,4`,
        `${code},${HOUR}1:02:00Z,-60.01`,
        `${code},${HOUR}1:02:00Z,150.01`,
        `${code},${HOUR}1:03:00Z,-60`,
        `${code},${HOUR}1:04:00Z,150`,
        `${code},${HOUR}1:05:00Z,NaN`,
        `${code},${HOUR}1:05:00Z,39F`,
        `nobody,${HOUR}1:05:00Z,4`,
        `${elsewhere},${HOUR}1:05:00Z,4`,
        `${others},${HOUR}1:05:00Z,4`,
        `${code},2026-02-30T11:05:00Z,4`,
        `${code},2025-10-01T11:05:00Z,4`,
        `${code},${HOUR}1:06:00Z`,
        '',
        `${code},${HOUR}1:00:00Z,4`,
      ]),
    );
    expect(countsOf(answer), answer.text).toEqual([17, 4, 1, 0, 12]);
    expect(
      answer.body.problems.map(
        (one: { line: number; pointer: string; code: string }) => `${one.line} ${one.pointer} ${one.code}`,
      ),
    ).toEqual([
      '3 /at time-without-offset',
      '4 /at time-in-future',
      '6 /temperatureC temperature-out-of-range',
      '7 /temperatureC temperature-out-of-range',
      '10 /temperatureC temperature-unreadable',
      '11 /temperatureC temperature-unreadable',
      '12 /sensor sensor-unknown',
      '13 /sensor sensor-unknown',
      '14 /sensor sensor-unknown',
      '15 /at time-unreadable',
      '16 /at time-too-old',
      '17  line-unreadable',
    ]);
    expect(await kept(code)).toHaveLength(4);
    expect([await kept(elsewhere), await kept(others)]).toEqual([[], []]);
  });

  async function deviceAt(siteId: string): Promise<string> {
    const id = randomUUID();
    expect((await service.as('admin').post('/v1/devices', { id, name: 'Another logger', siteId })).status).toBe(201);
    return id;
  }

  test('in JSON is pointed at in the body', async () => {
    const code = await sensor();
    const at = `${HOUR}1:00:00Z`;
    const readings = [
      { sensor: code, at, temperature: 38 },
      { sensor: code, at, temperatureC: 3, temperatureF: 38 },
      { sensor: code, at, temperatureC: null },
      { sensor: 'nobody', at, temperatureC: 4 },
      7,
      { sensor: code, at, temperatureC: 4 },
    ];
    const answer = await send({ readings }, 'application/json');
    expect(countsOf(answer), answer.text).toEqual([6, 1, 0, 0, 5]);
    expect(answer.body.problems.map((one: { pointer: string; code: string }) => `${one.pointer} ${one.code}`)).toEqual([
      '/readings/0/temperature unit-missing',
      '/readings/1 unit-missing',
      '/readings/2/temperatureC temperature-unreadable',
      '/readings/3/sensor sensor-unknown',
      '/readings/4 line-unreadable',
    ]);
  });

  test('beyond a hundred problems is counted and not listed', async () => {
    const code = await sensor();
    const lines = Array.from(
      { length: 250 },
      (_, at) => `${at % 2 ? code : 'nobody'},${HOUR}1:00:00Z,${at % 2 ? 'x' : '4'}`,
    );
    const answer = await send(csv(lines));
    expect(countsOf(answer)).toEqual([250, 0, 0, 0, 250]);
    expect(answer.body.problems.map((one: { line: number }) => one.line)).toEqual(
      Array.from({ length: 100 }, (_, at) => at + 2),
    );
  });

  test.each([
    ['sensor,at,temperature', 422, 'csv-unreadable'],
    ['sensor,at,temperatureC,note', 422, 'csv-unreadable'],
    ['S-0,2026-11-25T11:00:00Z,4', 422, 'csv-unreadable'],
  ])('a heading %s stops the call', async (heading, status, code) => {
    const answer = await send(csv(['S-0,2026-11-25T11:00:00Z,44'], heading));
    expect([answer.status, answer.body.code]).toEqual([status, code]);
  });

  test('a gzip stream that is cut, broken or no gzip leaves nothing behind', async () => {
    const code = await sensor();
    const lines = Array.from(
      { length: 20_000 },
      (_, at) => `${code},2026-11-2${at % 5}T10:${10 + (at % 50)}:00Z,${at % 90}.${at % 10}`,
    );
    const whole = gzipSync(csv(lines));
    const broken = Buffer.from(whole);
    broken.writeUInt32LE(0, broken.length - 8); // the checksum (RFC 1952, section 2.3.1)
    for (const body of [whole.subarray(0, -20), broken, Buffer.from(csv(lines.slice(0, 9)))]) {
      const answer = await send(body, 'text/csv', { 'content-encoding': 'gzip' });
      expect([answer.status, answer.body.code], answer.text).toEqual([400, 'body-unreadable']);
    }
    expect(await kept(code)).toEqual([]);
  });

  test('too many lines, too large a body, announced, sent or packed: refused, and nothing is kept', async () => {
    const code = await sensor();
    const lines = Array.from({ length: 50_001 }, () => `${code},${HOUR}1:00:00Z,4`);
    expect((await send(csv(lines))).body.code).toBe('body-too-large');
    const bomb = gzipSync(
      Buffer.concat([Buffer.from('sensor,at,temperatureC\n'), Buffer.alloc(200 * 1024 * 1024, ' \n')]),
    );
    expect(bomb.length).toBeLessThan(1024 * 1024);
    expect((await send(bomb, 'text/csv', { 'content-encoding': 'gzip' })).body.code).toBe('body-too-large');
    expect(await kept(code)).toEqual([]);
    expect(countsOf(await send(csv(lines.slice(1))))).toEqual([50_000, 1, 49_999, 0, 0]);
  });

  test('other types and encodings are refused', async () => {
    expect((await send('a', 'text/plain')).body.code).toBe('unsupported-media-type');
    expect((await send('a', 'text/csv', { 'content-encoding': 'br' })).status).toBe(415);
    expect((await send('{"readings":[', 'application/json')).body.code).toBe('malformed-json');
    expect((await send({ readings: [], more: 1 }, 'application/json')).body.code).toBe('invalid-request');
  });
});
