/**
 * Sends a logger's file of readings to a running service, and shows how far it is:
 *
 *   npm run -s readings:import -- FILE.csv --token TOKEN [--url URL] [--sensor CODE] [--clock-checked]
 *
 * The file is CSV with the heading sensor,at,temperatureC (or temperatureF); with --sensor it may be without the sensor's column. Times
 * carry their offset. --clock-checked: you have looked at the logger's clock just now and it is right; without it the times of its readings
 * stay in doubt, and excursions that rest on them are suspected ones. The token may also stand in SEALTRAIL_TOKEN.
 *
 * The same file is the same import, however often it is sent. Ends with 0 when every line was taken, 1 when some were refused (they are
 * listed), 2 when it could not be sent.
 */
import { createHash } from 'node:crypto';
import { createReadStream, statSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { Readable } from 'node:stream';
import { parseArgs } from 'node:util';
import { createGzip } from 'node:zlib';
import { derivedId } from '../src/platform/ids.ts';
import { wordsOf } from '../src/start/refused.ts';
import { showBar, type Bar } from './readings/bar.ts';
import { followImport, type ImportState } from './readings/events.ts';

const USAGE =
  'usage: npm run -s readings:import -- FILE.csv --token TOKEN [--url URL] [--sensor CODE] [--clock-checked]';

interface Wanted {
  readonly file: string;
  readonly url: string;
  readonly token: string;
  readonly sensor: string | null;
  readonly clockChecked: boolean;
}

function readArguments(): Wanted {
  const option = { type: 'string' } as const;
  const { values, positionals } = parseArgs({
    options: { token: option, url: option, sensor: option, 'clock-checked': { type: 'boolean' } },
    allowPositionals: true,
  });
  const [file, ...more] = positionals;
  const token = values.token ?? process.env['SEALTRAIL_TOKEN'];
  if (file === undefined || more.length > 0) throw new Error(`Name one file.\n${USAGE}`);
  if (token === undefined) throw new Error(`--token is missing.\n${USAGE}`);
  const url = (values.url ?? 'http://127.0.0.1:3000').replace(/\/$/, '');
  return { file, url, token, sensor: values.sensor ?? null, clockChecked: values['clock-checked'] ?? false };
}

/** The file as it is, or with the sensor's column in front. */
async function* textOf({ file, sensor }: Wanted, read: (bytes: number) => void): AsyncGenerator<Buffer> {
  const source = createReadStream(file).on('data', (chunk) => read(chunk.length));
  if (sensor === null) {
    yield* source as AsyncIterable<Buffer>;
    return;
  }
  let first = true;
  for await (const line of createInterface({ input: source })) {
    if (line.trim() === '') continue;
    yield Buffer.from(`${first ? 'sensor' : sensor},${line.replace(/^\ufeff/, '')}\n`);
    first = false;
  }
}

async function nameOf(wanted: Wanted): Promise<string> {
  const hash = createHash('sha256').update(wanted.url);
  for await (const piece of textOf(wanted, () => undefined)) hash.update(piece);
  return derivedId('logger-file', hash.digest('hex'));
}

/** Before a long file is sent: a token that is no good would only show as a broken connection half-way. */
async function signedIn({ url, token }: Wanted): Promise<void> {
  const answer = await fetch(`${url}/v1/me`, { headers: { authorization: `Bearer ${token}` } });
  if (answer.status === 200) return;
  throw new Error(`the service answered ${answer.status}: ${(await answer.text()).slice(0, 1000)}`);
}

async function send(wanted: Wanted, bar: Bar): Promise<ImportState> {
  const size = statSync(wanted.file).size;
  let sent = 0;
  const body = Readable.from(
    textOf(wanted, (bytes) => {
      sent += bytes;
      bar.show('sending', (100 * sent) / size);
    }),
  ).pipe(createGzip());
  const clock = wanted.clockChecked ? `?deviceTime=${encodeURIComponent(new Date().toISOString())}` : '';
  const answer = await fetch(`${wanted.url}/v1/reading-imports${clock}`, {
    method: 'POST',
    headers: {
      authorization: `Bearer ${wanted.token}`,
      'content-type': 'text/csv',
      'content-encoding': 'gzip',
      'idempotency-key': await nameOf(wanted),
    },
    body: Readable.toWeb(body),
    duplex: 'half',
  });
  const text = await answer.text();
  if (answer.status !== 202) throw new Error(`the service answered ${answer.status}: ${text.slice(0, 1000)}`);
  return JSON.parse(text) as ImportState;
}

async function main(): Promise<void> {
  const wanted = readArguments();
  await signedIn(wanted);
  const bar = showBar(process.stderr);
  const { readingImportId } = await send(wanted, bar);
  const path = `${wanted.url}/v1/reading-imports/${readingImportId}/events`;
  const done = await followImport(path, wanted.token, (state) => bar.show('reading in', state.percent));
  bar.end();
  const { received, stored, duplicates, conflicts, refused, problems } = done;
  process.stdout.write(
    `${received} lines: ${stored} new, ${duplicates} known already, ${refused} refused; ${conflicts} contradict another reading\n`,
  );
  for (const { line, code, detail } of problems) process.stdout.write(`line ${line}: ${code}: ${detail}\n`);
  if (refused > problems.length) process.stdout.write(`and ${refused - problems.length} more\n`);
  if (refused > 0) process.exitCode = 1;
}

await main().catch((error: unknown) => {
  const cause = error instanceof Error && error.cause ? ` (${wordsOf(error.cause)})` : '';
  process.stderr.write(`${wordsOf(error)}${cause}\n`);
  process.exitCode = 2;
});
