/** The tour of README.md, run as it is printed there against a service that was really started. */
import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import os from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { prepareReader, readCodes } from '../../support/barcodes.ts';
import { run, urlOf, type Started } from '../../support/started.ts';

const ROOT = path.resolve(import.meta.dirname, '../../..');
const LIMIT_MS = 600_000;

const readme = readFileSync(path.join(ROOT, 'README.md'), 'utf8');
const tour = [...readme.matchAll(/^```bash tour\n([\s\S]*?)^```$/gm)].map((block) => block[1] ?? '');

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await new Promise((resolve) => server.once('listening', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

let dir: string;
let env: Record<string, string>;
let service: Started;
beforeAll(async () => {
  dir = mkdtempSync(path.join(os.tmpdir(), 'sealtrail-tour-'));
  env = { DATA_DIR: path.join(dir, 'data'), PORT: String(await freePort()), LOG_LEVEL: 'error' };
  service = run('src/main.ts', [], env);
  await urlOf(service);
}, LIMIT_MS);
afterAll(async () => {
  service.child.kill('SIGTERM');
  await service.ended;
  rmSync(dir, { recursive: true, force: true });
}, 60_000);

function bash(script: string): Promise<{ code: number | string; out: string; err: string }> {
  const all = { PATH: process.env['PATH'] ?? '', HOME: process.env['HOME'] ?? dir, TMPDIR: dir, ...env };
  return new Promise((resolve) => {
    execFile('bash', ['-c', script], { cwd: ROOT, env: all, maxBuffer: 1e7 }, (error, out, err) => {
      resolve({ code: error === null ? 0 : (error.code ?? 1), out, err });
    });
  });
}

test('the start shows where to go and gives out tokens', () => {
  expect(service.said()).toContain('Sealtrail is running.');
  expect(service.said()).toMatch(/Demo: day 14 of 14/);
});

test('the tour works as it is printed', { timeout: LIMIT_MS }, async () => {
  expect(tour.length).toBeGreaterThan(5);
  expect(tour.join('').split('\n').length).toBeLessThan(120);
  const { code, out, err } = await bash(
    `set -euo pipefail\n${tour.join('\n')}\nhead -c 5 "$OUT/label.pdf"; head -c 4 "$OUT/trace.svg"; echo; label 1`,
  );
  if (service.child.exitCode !== null) throw new Error(JSON.stringify(await service.ended));
  expect(code, `${out}${err}`).toBe(0);
  const lines = out.split('\n');
  expect(out).toMatch(/^packed as CK-\d{6}-[0-9A-Z]{5}; labels in /m);
  // what another library reads off the picture is what the tour posts in brackets; only the serial has a free length and something behind it
  prepareReader();
  const [symbol] = await readCodes(readFileSync(/the first in (\S+)/.exec(out)?.[1] ?? ''));
  const [, gtin, day, serial, lot] = /^\(01\)(\d{14})\(17\)(\d{6})\(21\)(\d+)\(10\)(\S+)$/m.exec(out) ?? [];
  expect(symbol).toStrictEqual({ text: `01${gtin}17${day}21${serial}\u001d10${lot}`, symbology: ']d2' });
  expect(lines).toContain('bracketed, serial 1, may be used: true');
  // 6.4 kg out of 7.5 kg in: 85.33 %
  for (const line of ['85.3', 'released,released', 'departed', '4 on the shelf', '300 g, opened', 'true', 'discard']) {
    expect(lines).toContain(line);
  }
  expect(lines.filter((line) => line === 'recorded')).toHaveLength(8);
  expect(lines).toContain('recorded damaged-on-arrival');
  for (const line of ['Carrots 2000 balanced', 'Beef stew 6400 balanced', 'Beef stew, pack of 300 g 20 balanced']) {
    expect(lines).toContain(line);
  }
  for (const site of ['ward 3', 'ward 7', 'ward 9', 'Tarn Lane School', 'Brackenfold Care Home'])
    expect(out).toContain(site);
  // of what the trace and the recall say, before the month
  expect(out.split('GBP')[0]).not.toContain('Hotel Selwick');
  expect(out).toMatch(/^Hotel Selwick: GBP \d+\.\d\d wasted$/m);
  expect(out).toMatch(/^\d{4}-\d\d is closed; /m);
  expect(out).toContain('%PDF-');
  expect(out).toMatch(/<svg$/m);
  // five packs left, and were met on arrival one by one
  expect(lines).toContain(['shipping', ...Array<string>(5).fill('receiving')].join());
  expect(out).toMatch(/^\d+ lots-born$/m);
});
