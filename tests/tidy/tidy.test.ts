/**
 * The rules of the house that no linter knows, read from the source text itself. Each rule is a function from a file to what breaks it;
 * each is first shown something that does break it, so that a rule which sees nothing cannot pass unnoticed.
 */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, test } from 'vitest';
import permissionTable from '../../shared/permissions.json' with { type: 'json' };
import { allOperations } from '../../src/app.ts';

const root = path.resolve(import.meta.dirname, '../..');
const MOST_LINES = 320;

interface SourceFile {
  /** from the root, with forward slashes */
  readonly name: string;
  readonly text: string;
}

type Rule = (file: SourceFile) => string[];

function filesIn(folder: string, ending: RegExp): SourceFile[] {
  return readdirSync(path.join(root, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && ending.test(entry.name))
    .map((entry) => {
      const full = path.join(entry.parentPath, entry.name);
      return { name: path.relative(root, full).replaceAll(path.sep, '/'), text: readFileSync(full, 'utf8') };
    });
}

/** Every line that the pattern is found in, unless the file may. */
function noLine(pattern: RegExp, mayHere: (file: string, line: string) => boolean = () => false): Rule {
  return ({ name, text }) =>
    text.split('\n').flatMap((line, at) => {
      const breaks = pattern.test(line) && !mayHere(name, line);
      return breaks ? [`${name}:${at + 1}: ${line.trim()}`] : [];
    });
}

/** Words that mark something as unfinished or switched off; put together here, so that this file does not name them itself. */
const UNFINISHED = new RegExp(
  [
    'TO' + 'DO',
    'FIX' + 'ME',
    'not imple' + 'mented',
    '@ts-' + 'ignore',
    '@ts-' + 'nocheck',
    'eslint-' + 'disable',
  ].join('|'),
  'i',
);
const SWITCHED_OFF = new RegExp(
  `\\b(test|it|describe)[.](${['on' + 'ly', 'sk' + 'ip', 'to' + 'do', 'fa' + 'ils'].join('|')})\\b`,
);

/** main hands the environment to config, which alone reads it. */
const environment = noLine(
  /process\.env\b/,
  (file, line) => file === 'src/config.ts' || (file === 'src/main.ts' && /readConfig\(process\.env\b/.test(line)),
);
const clock = noLine(
  /Date\.now\(|new Date\(\)|performance\.now|hrtime|DateTime\.(now|local\(\)|utc\(\))/,
  (file) => file === 'src/platform/clock.ts',
);
/** ids.ts makes ids and secrets; a password's salt is made beside its hash. */
const chance = noLine(
  /Math\.random|randomUUID|randomBytes|randomInt|getRandomValues|from 'uuid'/,
  (file, line) =>
    file === 'src/platform/ids.ts' || (file === 'src/platform/auth/passwords.ts' && /\brandomBytes\b/.test(line)),
);
const short: Rule = ({ name, text }) => {
  const lines = text.trimEnd().split('\n').length;
  return lines > MOST_LINES ? [`${name}: ${lines} lines`] : [];
};
const finished = noLine(UNFINISHED);
const switchedOn = noLine(SWITCHED_OFF);
/** What a contract computes is not in the OpenAPI document. */
const plainContract = noLine(
  /\.(transform|refine|superRefine|check|overwrite|preprocess|pipe|catch)\(|z\.(preprocess|coerce|codec)\b/,
);
const protectedTables: Rule = ({ name, text }) =>
  [...text.matchAll(/^create (?:unlogged )?table (?:if not exists )?(\w+)/gim)]
    .map(([, table]) => table ?? '')
    .filter(
      (table) =>
        !text.includes(`select protect_group_table('${table}');`) &&
        !text.includes(`select protect_group_no_table('${table}');`),
    )
    .map((table) => `${name}: ${table} is not bound to its group`);

/** Names of migrations: flat, 0001-…, none left out. */
function gapsIn(names: readonly string[]): string[] {
  const wrong = names.filter((name) => !/^\d{4}-[a-z0-9-]+\.sql$/.test(name));
  const numbers = names.map((name) => Number(name.slice(0, 4))).sort((a, b) => a - b);
  return [...wrong, ...numbers.flatMap((number, at) => (number === at + 1 ? [] : [`${at + 1} is missing`]))];
}

const inSrc = filesIn('src', /\.ts$/);
const inTests = filesIn('tests', /\.ts$/);
const inScripts = filesIn('scripts', /\.ts$/);
const contracts = inSrc.filter((file) => /\/([a-z]+-)?contract(-[a-z]+)?\.ts$/.test(file.name));
const migrations = filesIn('migrations', /^\d.*\.sql$/);
const everything = [...inSrc, ...inTests, ...inScripts, ...migrations];

interface Guard {
  readonly name: string;
  readonly rule: Rule;
  readonly files: readonly SourceFile[];
  /** one line or text that breaks the rule, and the file that it would stand in */
  readonly breaking: readonly (readonly [file: string, text: string])[];
  readonly fine: readonly (readonly [file: string, text: string])[];
}

const guards: readonly Guard[] = [
  {
    name: 'only config.ts reads the environment',
    rule: environment,
    files: inSrc,
    breaking: [
      ['src/app.ts', 'const port = process.env.PORT;'],
      ['src/main.ts', "if (process.env['DEMO']) demo();"],
    ],
    fine: [
      ['src/config.ts', 'export const port = process.env.PORT;'],
      ['src/main.ts', 'const config = readConfig(process.env, ROOT);'],
    ],
  },
  {
    name: 'only clock.ts reads the time',
    rule: clock,
    files: inSrc,
    breaking: [
      ['src/domain/time.ts', 'const now = Date.now();'],
      ['src/domain/time.ts', 'const now = new Date();'],
      ['src/domain/time.ts', 'const now = performance.now();'],
      ['src/domain/time.ts', 'const now = DateTime.now();'],
    ],
    fine: [
      ['src/platform/clock.ts', 'nowMs: () => Date.now()'],
      ['src/domain/time.ts', 'const then = new Date(text);'],
    ],
  },
  {
    name: 'only ids.ts makes ids and secrets',
    rule: chance,
    files: inSrc,
    breaking: [
      ['src/app.ts', 'const id = randomUUID();'],
      ['src/app.ts', 'if (Math.random() < 0.1) sample();'],
      ['src/app.ts', "import { v4 } from 'uuid';"],
      ['src/features/identity/device-tokens.ts', 'const secret = randomBytes(32);'],
      ['src/platform/auth/passwords.ts', 'const salt = randomUUID();'],
    ],
    fine: [
      ['src/platform/ids.ts', "import { v5, v7 } from 'uuid';"],
      ['src/platform/auth/passwords.ts', 'const salt = randomBytes(16);'],
    ],
  },
  {
    name: `no file of the source is longer than ${MOST_LINES} lines`,
    rule: short,
    files: inSrc,
    breaking: [['src/app.ts', 'x;\n'.repeat(MOST_LINES + 1)]],
    fine: [['src/app.ts', 'x;\n'.repeat(MOST_LINES)]],
  },
  {
    name: 'nothing is marked as unfinished, and no checker is silenced',
    rule: finished,
    files: everything,
    breaking: [
      ['src/app.ts', '// to' + 'do: later'],
      ['src/app.ts', "throw new Error('Not imple" + "mented');"],
      ['src/app.ts', '// @ts-' + 'ignore'],
      ['src/app.ts', '// eslint-' + 'disable-next-line'],
    ],
    fine: [['src/app.ts', '// everything is done']],
  },
  {
    name: 'no test is left out, and none stands alone',
    rule: switchedOn,
    files: inTests,
    breaking: [
      ['tests/x.test.ts', 'test.on' + "ly('x', run);"],
      ['tests/x.test.ts', 'it.sk' + "ip('x', run);"],
      ['tests/x.test.ts', 'describe.on' + "ly('x', run);"],
    ],
    fine: [['tests/x.test.ts', "test.each([1])('x', run);"]],
  },
  {
    name: 'contracts say all that they check',
    rule: plainContract,
    files: [...contracts, ...inSrc.filter((file) => file.name === 'src/platform/http/scalars.ts')],
    breaking: [
      ['src/features/x/contract.ts', 'const a = z.string().transform(Number);'],
      ['src/features/x/contract.ts', 'const a = z.string().refine(isGood);'],
      ['src/features/x/contract.ts', 'const a = z.coerce.number();'],
    ],
    fine: [['src/features/x/contract.ts', "const a = z.string().min(1).meta({ description: 'x' });"]],
  },
  {
    name: 'every table is bound to its group by row security',
    rule: protectedTables,
    files: migrations,
    breaking: [['migrations/0009-x.sql', 'create table loose (\n  group_id uuid\n);\n']],
    fine: [
      ['migrations/0009-x.sql', "create table tight (\n  group_id uuid\n);\nselect protect_group_table('tight');\n"],
    ],
  },
];

describe.each(guards)('$name', ({ rule, files, breaking, fine }) => {
  test('the rule sees what breaks it', () => {
    for (const [name, text] of breaking) expect(rule({ name, text }), text).not.toEqual([]);
    for (const [name, text] of fine) expect(rule({ name, text }), text).toEqual([]);
  });
  test('it is kept', () => {
    expect(files.length).toBeGreaterThan(0);
    expect(files.flatMap(rule)).toEqual([]);
  });
});

test('migrations are flat and numbered without a gap', () => {
  expect(gapsIn(['0001-a.sql', '0003-c.sql'])).not.toEqual([]);
  expect(gapsIn(['0001-a.sql', '2-b.sql'])).not.toEqual([]);
  expect(gapsIn(['0001-a.sql', '0001-b.sql'])).not.toEqual([]);
  const entries = readdirSync(path.join(root, 'migrations'), { withFileTypes: true });
  expect(entries.filter((entry) => entry.isDirectory())).toEqual([]);
  expect(gapsIn(migrations.map((file) => path.basename(file.name)))).toEqual([]);
});

test('every permission is asked for by an operation, and every operation asks for one of them', () => {
  const asked = new Set(allOperations().map((operation) => operation.permission));
  asked.delete('public');
  expect([...asked].sort()).toEqual(Object.keys(permissionTable.permissions).sort());
});

test('every feature puts its contracts where these rules look', () => {
  const defining = inSrc.filter(
    (file) => file.text.includes('= defineOperation({') && !file.name.startsWith('src/platform/'),
  );
  expect(defining.map((file) => file.name).filter((name) => !contracts.some((file) => file.name === name))).toEqual([]);
});
