/** Killing the service and starting it again loses nothing that was acknowledged, and nothing is there twice. */
import { randomUUID } from 'node:crypto';
import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Json } from '../support/kitchen.ts';
import { run, urlOf, type Started } from '../support/started.ts';

const PASSWORD = 'kettle-by-the-window-9';
const WRITERS = 4;
const ROUNDS = 2;

describe('a crash', () => {
  const dir = mkdtempSync(path.join(tmpdir(), 'st-crash-'));
  const env = {
    DATA_DIR: dir,
    DEMO: 'no',
    PORT: '0',
    LOG_LEVEL: 'silent',
    TOKEN_SECRET: 'crash-test-secret-crash-test-secret',
  };
  let service: Started;
  let url = '';
  let token = '';

  async function call(method: string, at: string, body?: object): Promise<{ status: number; body: Json }> {
    const headers = { authorization: `Bearer ${token}`, 'content-type': 'application/json' };
    const answer = await fetch(`${url}${at}`, { method, headers, ...(body && { body: JSON.stringify(body) }) });
    return { status: answer.status, body: (await answer.json()) as Json };
  }
  async function start(): Promise<void> {
    service = run('src/main.ts', [], env);
    url = await urlOf(service);
    const signIn = await call('POST', '/v1/sign-ins', { group: 'crash', signInName: 'ada', password: PASSWORD });
    token = signIn.body.accessToken as string;
  }
  async function must(at: string, body: object): Promise<Json> {
    const answer = await call('POST', at, { id: randomUUID(), ...body });
    if (answer.status !== 201) throw new Error(`${at}: ${JSON.stringify(answer.body)}`);
    return answer.body;
  }

  beforeAll(async () => {
    chmodSync(dir, 0o755);
    const args = ['--code', 'crash', '--name', 'Crash', '--currency', 'GBP', '--admin-name', 'Ada', '--sign-in', 'ada'];
    const made = await run('scripts/db-group.ts', args, env, `${PASSWORD}\n`).ended;
    if (made.code !== 0) throw new Error(made.stderr);
    await start();
    // the first administrator gives themselves nothing: another person does the work
    const grants = ['operations', 'kitchen'].map((role) => ({ role, siteId: null }));
    await must('/v1/people', { name: 'Bo', signInName: 'bo', password: PASSWORD, grants });
  });
  afterAll(async () => {
    service.child.kill('SIGTERM');
    await service.ended;
    rmSync(dir, { recursive: true, force: true });
  });

  test('loses nothing acknowledged under writers, twice', async () => {
    const signIn = async () => {
      token = (await call('POST', '/v1/sign-ins', { group: 'crash', signInName: 'bo', password: PASSWORD })).body
        .accessToken as string;
    };
    await signIn();
    const site = await must('/v1/sites', {
      code: 'CK',
      name: 'Kitchen',
      kind: 'central-kitchen',
      timeZone: 'Etc/UTC',
      jurisdiction: 'GB-ENG',
    });
    const supplier = await must('/v1/suppliers', { code: 'S', name: 'Supplier' });
    const item = await must('/v1/items', {
      code: 'OATS',
      name: 'Oats',
      kind: 'ingredient',
      unit: 'g',
      allergens: [],
      handling: 'raw',
      storageInstruction: 'Dry',
    });
    const occurredAt = new Date().toISOString();
    const line = { itemId: item.itemId as string, quantity: 1_000_000, unit: 'g' };
    const receipt = await must('/v1/goods-receipts', {
      siteId: site.siteId,
      supplierId: supplier.supplierId,
      occurredAt,
      lines: [line],
    });
    const { lotId, placeId } = receipt.lines[0] as { lotId: string; placeId: string };
    const use = (id: string) => call('POST', '/v1/uses', { id, lotId, placeId, quantity: 1, unit: 'g', occurredAt });

    const acknowledged = new Set<string>();
    const sent = new Set<string>();
    for (let round = 0; round < ROUNDS; round += 1) {
      let down = false;
      const writers = Array.from({ length: WRITERS }, async () => {
        while (!down) {
          const id = randomUUID();
          sent.add(id);
          try {
            if ((await use(id)).status === 201) acknowledged.add(id);
          } catch {
            return; // the service is gone: whether this one was kept is not known, which is what its id is for
          }
        }
      });
      const enough = acknowledged.size + 60;
      while (acknowledged.size < enough) await new Promise((resolve) => setTimeout(resolve, 20));
      service.child.kill('SIGKILL');
      await service.ended;
      down = true;
      await Promise.all(writers);
      await start();
      await signIn();
    }
    for (const id of acknowledged) expect((await call('GET', `/v1/entries/${id}`)).status).toBe(200);
    // Sending everything again books each gram once, whether or not its answer was lost.
    for (const id of sent) expect((await use(id)).status).toBe(201);
    const stock = await call('GET', `/v1/stock?placeId=${placeId}`);
    expect(stock.body.items).toMatchObject([{ quantity: 1_000_000 - sent.size }]);
  });
});
