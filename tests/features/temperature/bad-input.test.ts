/**
 * Bad input that other files do not send: bodies of a gigabyte, numbers that only look like numbers, a sensor of another group. Expected from the
 * contract: received = stored + duplicates + refused, each bad line named, good ones kept.
 */
import { randomUUID } from 'node:crypto';
import { Readable } from 'node:stream';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createGroup } from '../../../src/features/identity/index.ts';
import { exampleId } from '../../../src/platform/ids.ts';
import { askRaw } from '../../support/raw.ts';
import { ADMIN_PASSWORD, NOON_MS, startService, type Client, type TestService } from '../../support/service.ts';
import { buildWorld, type World } from '../../support/world.ts';

const GIB = 1024 ** 3;
let service: TestService;
let world: World;

beforeAll(async () => {
  service = await startService();
  world = await buildWorld(service);
  await sensorIn(service.as('operations'), world, 'HERE');
});
afterAll(() => service.stop());

async function sensorIn(operations: Client, at: World, code: string): Promise<string> {
  const sensorId = randomUUID();
  const sensor = { id: sensorId, siteId: at.ckId, code, name: code, kind: 'air' };
  expect((await operations.post('/v1/sensors', sensor)).status).toBe(201);
  const where = { id: randomUUID(), from: '2026-11-24T00:00:00Z', placeId: at.ckChillerId };
  expect((await operations.post(`/v1/sensors/${sensorId}/locations`, where)).status).toBe(201);
  return sensorId;
}

const send = (body: string, type: string) =>
  service.as('device', world.ckId).post('/v1/readings', body, { 'content-type': type });

test('a gigabyte that is announced is refused before it is sent', async () => {
  const headers = { 'content-type': 'text/csv', 'content-length': String(GIB) };
  const answer = await askRaw(service, 'POST', '/v1/readings', headers);
  expect([answer.status, answer.body.code], answer.text).toEqual([413, 'body-too-large']);
});

test('a gigabyte that comes piece by piece, unannounced, is refused after a few of them', async () => {
  const piece = Buffer.from('HERE,2026-11-25T11:00:00Z,4.00\n'.repeat(32_768));
  const heading = Buffer.from('sensor,at,temperatureC\n');
  let sent = 0;
  const pieces = new Readable({
    read() {
      this.push(sent === 0 ? heading : sent > GIB ? null : piece);
      sent += piece.length;
    },
  });
  const authorization = service.tokens.sign(
    {
      groupId: service.groupId,
      kind: 'device',
      actorId: exampleId('person/device'),
      grants: [{ role: 'device', siteId: world.ckId }],
    },
    service.clock.nowMs(),
  );
  const request = fetch(`${service.url}/v1/readings`, {
    method: 'POST',
    headers: { 'content-type': 'text/csv', authorization: `Bearer ${authorization}` },
    body: Readable.toWeb(pieces),
    duplex: 'half',
  });
  const status = await request.then(
    (answer) => answer.status,
    () => 'cut off',
  );
  expect([413, 'cut off']).toContain(status);
  // 16 MiB is the limit; what is on its way in sockets and buffers may be more
  expect(sent).toBeLessThan(GIB / 8);
  expect((await send('sensor,at,temperatureC\nHERE,2026-11-25T10:00:00Z,4\n', 'text/csv')).status).toBe(200);
});

test.each(['NaN', 'Infinity', '-Infinity', '1e400', '0x10', '', ' ', '4,5', '4.5.1', '٤', '--4', '4 C', 'null', '"4'])(
  'a line whose temperature is %j is named, and the good ones around it are kept',
  async (temperature) => {
    const hour = randomUUID().replaceAll(/\D/g, '').slice(0, 3).padEnd(3, '7');
    const at = (second: number) => `2026-11-25T09:00:0${second}.${hour}Z`;
    const lines = [`HERE,${at(1)},3.5`, `HERE,${at(2)},${temperature}`, `HERE,${at(3)},3.5`];
    const { status, body, text } = await send(['sensor,at,temperatureC', ...lines, ''].join('\n'), 'text/csv');
    if (status === 422) {
      // an open quote takes the rest of the text with it
      expect([temperature, body.code]).toEqual(['"4', 'csv-unreadable']);
      return;
    }
    expect([status, body.received, body.stored + body.duplicates, body.refused], text).toEqual([200, 3, 2, 1]);
    expect(body.problems).toMatchObject([{ line: 3 }]);
  },
);

test('lines of JSON that are none are named, and the good ones are kept', async () => {
  const good = { sensor: 'HERE', at: '2026-11-25T08:00:00Z', temperatureC: 4 };
  const bad = [
    '{"sensor":"HERE","at":"2026-11-25T08:00:00Z","temperatureC":NaN}',
    '{"sensor":"HERE","at":"2026-11-25T08:00:00Z","temperatureC":1e400}',
    '{"sensor":"HERE","at":1764000000,"temperatureC":4}',
    '[]',
    '{',
  ];
  const lines = [JSON.stringify(good), ...bad, JSON.stringify({ ...good, temperatureC: 5 })];
  const { body, text } = await send(lines.join('\n'), 'application/x-ndjson');
  expect([body.received, body.stored, body.conflicts, body.refused], text).toEqual([7, 2, 1, 5]);
  expect(body.problems.map((one: { line: number }) => one.line)).toEqual([2, 3, 4, 5, 6]);
});

test("another group's sensor is as unknown as one that is nobody's", async () => {
  const admin = { personId: randomUUID(), name: 'Alex Reed', signInName: 'admin', password: ADMIN_PASSWORD };
  const made = await createGroup(service.db, {
    code: 'others',
    name: 'Others',
    currency: 'GBP',
    admin,
    nowMs: NOON_MS,
  });
  const own: TestService = { ...service, as: (role, site = null) => service.as(role, site, made.groupId) };
  const theirs = await sensorIn(own.as('operations'), await buildWorld(own), 'THEIRS');
  const lines = ['THEIRS', theirs, 'NOBODY', randomUUID()].map((sensor) => `${sensor},2026-11-25T11:00:00Z,4`);
  const { body, text } = await send(['sensor,at,temperatureC', ...lines, ''].join('\n'), 'text/csv');
  expect([body.received, body.refused], text).toEqual([4, 4]);
  const told = body.problems.map(({ pointer, code, detail }: Record<string, string>) => `${pointer} ${code} ${detail}`);
  expect(new Set(told).size).toBe(1);
  expect(told[0]).toContain('sensor-unknown');
});
