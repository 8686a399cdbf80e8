/**
 * Makes a group with its first administrator, in the database of DATABASE_URL or of the data folder (then the service must not be
 * running). The password comes from standard input, so that it is in no list of processes and no shell history:
 *
 *   npm run -s db:group -- --code northgate --name "Northgate Catering" --currency GBP --admin-name "Ada Marsh" --sign-in ada < password.txt
 *
 * Where the business is that answers for the food (records of food law name it): --business-name --phone --street --city --region
 * --postal-code --country. Run again with the same code and name it changes nothing but the address, where one is given.
 */
import path from 'node:path';
import { text } from 'node:stream/consumers';
import { parseArgs } from 'node:util';
import { readConfig } from '../src/config.ts';
import { createGroup } from '../src/features/identity/index.ts';
import { systemClock } from '../src/platform/clock.ts';
import { createDb } from '../src/platform/db/db.ts';
import { address as addressSchema, type Address } from '../src/platform/http/address.ts';
import { randomIds } from '../src/platform/ids.ts';
import { createLog } from '../src/platform/log.ts';
import { dataFolderOf, openDatabase, prepareDatabase } from '../src/start/database.ts';
import { explain, StartRefused, wordsOf } from '../src/start/refused.ts';

const USAGE =
  'usage: npm run -s db:group -- --code CODE --name NAME --currency GBP --admin-name NAME --sign-in NAME < password.txt';

interface Wanted {
  readonly code: string;
  readonly name: string;
  readonly currency: string;
  readonly adminName: string;
  readonly signInName: string;
  readonly address: Address | undefined;
}

const ADDRESS = {
  'business-name': 'businessName',
  phone: 'phone',
  street: 'street',
  city: 'city',
  region: 'region',
  'postal-code': 'postalCode',
  country: 'country',
} as const;

type Options = Readonly<Record<string, string | undefined>>;

/** undefined when no part is given */
function addressOf(values: Options): Address | undefined {
  const parts = Object.entries(ADDRESS).flatMap(([option, field]) => {
    const value = values[option];
    return value === undefined ? [] : [[field, value] as const];
  });
  if (parts.length === 0) return undefined;
  const read = addressSchema.safeParse(Object.fromEntries(parts));
  if (!read.success) throw new Error(`the address: ${read.error.issues[0]?.message}`);
  return read.data;
}

function readArguments(): Wanted {
  const option = { type: 'string' } as const;
  try {
    const { values } = parseArgs({
      options: {
        ...{ code: option, name: option, currency: option, 'admin-name': option, 'sign-in': option },
        ...Object.fromEntries(Object.keys(ADDRESS).map((name) => [name, option])),
      },
    });
    const { code, name, currency, 'admin-name': adminName, 'sign-in': signInName } = values;
    if (!code || !name || !currency || !adminName || !signInName) throw new Error('an argument is missing');
    if (!/^[a-z0-9]+(-[a-z0-9]+)*$/.test(code)) throw new Error('--code: lower-case letters, digits and hyphens');
    if (!/^[A-Z]{3}$/.test(currency)) throw new Error('--currency: three letters of ISO 4217');
    return { code, name, currency, adminName, signInName, address: addressOf(values) };
  } catch (error) {
    throw new StartRefused(`${wordsOf(error)}\n${USAGE}`);
  }
}

async function main(): Promise<void> {
  const { code, name, currency, adminName, signInName, address } = readArguments();
  if (process.stdin.isTTY)
    throw new StartRefused(`The administrator's password is read from standard input.\n${USAGE}`);
  const password = (await text(process.stdin)).replace(/\r?\n$/, '');
  const config = readConfig(process.env, path.resolve(import.meta.dirname, '..'));
  const log = createLog('warn');
  const database = await openDatabase(config, dataFolderOf(config), log);
  try {
    await prepareDatabase(database.url, log);
    const db = createDb({ url: database.url, poolSize: 1, log });
    try {
      const admin = { personId: randomIds.newId(), name: adminName, signInName, password };
      const group = { code, name, currency, admin, ...(address && { address }), nowMs: systemClock.nowMs() };
      const { groupId } = await createGroup(db, group).catch((error: unknown) => {
        throw new StartRefused(wordsOf(error));
      });
      process.stdout.write(`${groupId}\n`);
    } finally {
      await db.end();
    }
  } finally {
    await database.stop();
  }
}

await main().catch((error: unknown) => {
  const { text: message, code } = explain(error);
  process.stderr.write(`${message}\n`);
  process.exitCode = code;
});
