/** The only reader of process.env. A wrong or missing value stops the start with a clear refusal. */
import { z } from 'zod';

const Environment = z.object({
  NODE_ENV: z.enum(['development', 'production', 'test']).default('development'),
  PORT: z
    .string()
    .regex(/^\d{1,5}$/, 'a port number')
    .default('3000'),
  HOST: z.string().min(1).default('127.0.0.1'),
  DATABASE_URL: z
    .string()
    .regex(/^(postgres|postgresql|socket):/, 'a postgres:// URL')
    .optional(),
  DATABASE_POOL_SIZE: z
    .string()
    .regex(/^[1-9]\d?$/, 'a number from 1 to 99')
    .default('10'),
  PREPARED_STATEMENTS: z.enum(['yes', 'no']).optional(),
  DATA_DIR: z.string().min(1).optional(),
  DEMO: z.enum(['yes', 'no']).optional(),
  TOKEN_SECRET: z.string().min(32, 'at least 32 characters').optional(),
  TOKEN_ISSUER: z.string().min(1).default('sealtrail'),
  EXTERNAL_ISSUER: z.string().min(1).optional(),
  EXTERNAL_AUDIENCE: z.string().min(1).optional(),
  EXTERNAL_JWKS_FILE: z.string().min(1).optional(),
  EXTERNAL_JWKS_URL: z
    .string()
    .regex(/^(https:\/\/|http:\/\/(127\.0\.0\.1|localhost)[:/])/, 'an https:// URL')
    .optional(),
  READINGS_KEEP_DAYS: z
    .string()
    .regex(/^\d{3,5}$/, 'a number of days')
    .optional(),
  WEBHOOK_ALLOW_PRIVATE: z.enum(['yes', 'no']).optional(),
  LOG_LEVEL: z.enum(['trace', 'debug', 'info', 'warn', 'error', 'silent']).default('info'),
});

export interface Config {
  readonly production: boolean;
  readonly port: number;
  readonly host: string;
  /** null: the service starts its own embedded Postgres */
  readonly databaseUrl: string | null;
  readonly databasePoolSize: number;
  /** by default with the embedded Postgres only: a pooler in transaction mode may not know them */
  readonly preparedStatements: boolean;
  readonly dataDir: string;
  readonly demo: boolean;
  /** null: one is made and kept in the data folder */
  readonly tokenSecret: string | null;
  readonly tokenIssuer: string;
  readonly external: {
    readonly issuer: string;
    readonly audience: string;
    readonly jwks: { file: string } | { url: string };
  } | null;
  /** null: readings are kept for ever; otherwise a month of them is dropped when it ended so long ago and has been summed up */
  readonly readingsKeepDays: number | null;
  /** webhooks may go to http and inside addresses: for trying out, and where receivers are in the same network */
  readonly webhookAllowPrivate: boolean;
  readonly logLevel: string;
}

const LEAST_READINGS_KEEP_DAYS = 432;

export class ConfigRefused extends Error {}

export function readConfig(env: Readonly<Record<string, string | undefined>>, root: string): Config {
  const given = Object.fromEntries(Object.entries(env).filter(([, value]) => value !== undefined && value !== ''));
  const parsed = Environment.safeParse(given);
  if (!parsed.success) {
    const lines = parsed.error.issues.map((issue) => `  ${issue.path.join('.')}: ${issue.message}`);
    throw new ConfigRefused(`The environment does not fit:\n${lines.join('\n')}`);
  }
  const e = parsed.data;
  const port = Number(e.PORT);
  if (port > 65535) throw new ConfigRefused('The environment does not fit:\n  PORT: at most 65535');
  const production = e.NODE_ENV === 'production';
  if (production && !e.TOKEN_SECRET)
    throw new ConfigRefused('TOKEN_SECRET is required in production (32 characters or more).');
  if (production && !e.DATABASE_URL)
    throw new ConfigRefused('DATABASE_URL is required in production: the embedded Postgres is for trying out.');
  const readingsKeepDays = e.READINGS_KEEP_DAYS === undefined ? null : Number(e.READINGS_KEEP_DAYS);
  if (readingsKeepDays !== null && readingsKeepDays < LEAST_READINGS_KEEP_DAYS)
    throw new ConfigRefused(
      `READINGS_KEEP_DAYS is at least ${LEAST_READINGS_KEEP_DAYS}: readings are taken for 400 days, and dropped by the month.`,
    );
  const { EXTERNAL_ISSUER: issuer, EXTERNAL_AUDIENCE: audience, EXTERNAL_JWKS_FILE: file, EXTERNAL_JWKS_URL: url } = e;
  if (file && url) throw new ConfigRefused('Give EXTERNAL_JWKS_FILE or EXTERNAL_JWKS_URL, not both.');
  const externals = [issuer, audience, file ?? url];
  if (externals.some(Boolean) && !externals.every(Boolean)) {
    throw new ConfigRefused(
      'EXTERNAL_ISSUER, EXTERNAL_AUDIENCE and EXTERNAL_JWKS_FILE or EXTERNAL_JWKS_URL go together.',
    );
  }
  const jwks = file ? { file } : url ? { url } : null;
  return Object.freeze({
    production,
    port,
    host: e.HOST,
    databaseUrl: e.DATABASE_URL ?? null,
    databasePoolSize: Number(e.DATABASE_POOL_SIZE),
    preparedStatements: e.PREPARED_STATEMENTS === undefined ? !e.DATABASE_URL : e.PREPARED_STATEMENTS === 'yes',
    dataDir: e.DATA_DIR ?? `${root}/.data`,
    demo: e.DEMO === undefined ? !e.DATABASE_URL : e.DEMO === 'yes',
    tokenSecret: e.TOKEN_SECRET ?? null,
    tokenIssuer: e.TOKEN_ISSUER,
    external: issuer && audience && jwks ? { issuer, audience, jwks } : null,
    readingsKeepDays,
    webhookAllowPrivate: e.WEBHOOK_ALLOW_PRIVATE === 'yes',
    logLevel: e.LOG_LEVEL,
  });
}
