/** Shapes of a month's checks and of a close, as they are answered. */
import { z } from 'zod';
import { instant, line, month, signedQuantity, unit, uuid } from '../../../platform/http/scalars.ts';

export const CHECKS = [
  'open-batches',
  'unreceived-dispatches',
  'negative-balances',
  'uncosted-lots',
  'unexplained',
  'place-presumed',
] as const;
export type CheckName = (typeof CHECKS)[number];

export const FILE_KINDS = ['json', 'csv', 'xlsx', 'html', 'pdf'] as const;
export type FileKind = (typeof FILE_KINDS)[number];

/** Media types of the files, with the parameters that belong to them. */
export const CONTENT_TYPES: Readonly<Record<FileKind, string>> = {
  json: 'application/json; charset=utf-8',
  csv: 'text/csv; charset=utf-8; header=present',
  xlsx: 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet',
  html: 'text/html; charset=utf-8',
  pdf: 'application/pdf',
};

/** Of what a check lists, this many at most. */
export const MOST_LISTED = 50;

const MonthCheck = z
  .object({
    check: z.enum(CHECKS),
    count: z.int(),
    blocking: z
      .boolean()
      .meta({ description: 'It has to be accepted by name, with a reason, for the month to be closed' }),
    text: z.string(),
    list: z
      .array(
        z.object({
          text: z.string(),
          siteId: uuid.nullable(),
          siteName: z.string().nullable(),
          quantity: signedQuantity.nullable(),
          unit: unit.nullable(),
          since: instant.nullable(),
          href: z.string().nullable().meta({ description: 'Where it can be looked at, and settled' }),
        }),
      )
      .meta({ description: `Up to ${MOST_LISTED}` }),
  })
  .meta({ id: 'MonthCheck' });
export type MonthCheckAnswer = z.output<typeof MonthCheck>;

const cutShape = z.object({
  seq: z.int().meta({ description: 'Entries up to and with this one' }),
  moneyNo: z.int().meta({ description: 'Money facts up to and with this one' }),
  recordedAt: instant.nullable(),
});

export const MonthChecks = z
  .object({
    month,
    state: z.enum(['running', 'open', 'closed']).meta({ description: 'running: it has not ended at every site' }),
    closeId: uuid.nullable().meta({ description: 'The close that counts; null as long as there is none' }),
    next: month.nullable().meta({ description: 'The month that has to be closed next; null: any that has facts' }),
    checks: z.array(MonthCheck).meta({ description: 'As of now, also when the month is closed' }),
  })
  .meta({ id: 'MonthChecks' });
export type MonthChecksAnswer = z.output<typeof MonthChecks>;

const sha256 = z
  .string()
  .regex(/^[0-9a-f]{64}$/)
  .meta({ description: 'SHA-256 in lower-case hex' });

const Reopening = z
  .object({
    reopeningId: uuid,
    closeId: uuid,
    month,
    state: z.enum(['asked', 'confirmed']).meta({ description: 'asked: another person has to confirm it' }),
    reason: z.string(),
    askedBy: uuid,
    askedAt: instant,
    confirmedBy: uuid.nullable(),
    confirmedAt: instant.nullable(),
  })
  .meta({ id: 'MonthReopening' });
export { Reopening as MonthReopening };
export type ReopeningAnswer = z.output<typeof Reopening>;

export const acceptedCheck = z.strictObject({ check: z.enum(CHECKS), reason: line(500) });

export const MonthClose = z
  .object({
    closeId: uuid,
    month,
    version: z.int().meta({ description: '2 and on: closed again after it was reopened' }),
    counts: z.boolean().meta({ description: 'False once it was reopened' }),
    state: z.enum(['making', 'ready', 'failed']).meta({
      description:
        'Of the files. failed: the last try broke off; it is tried again every minute and goes on where it stopped',
    }),
    progress: z.object({
      done: z.int(),
      of: z.int(),
      step: z.string().nullable().meta({ description: 'What is made now; null when all is done' }),
    }),
    failure: z.string().nullable(),
    cut: cutShape,
    checks: z.array(MonthCheck).meta({ description: 'As they were when it was closed' }),
    accepted: z.array(z.object({ check: z.string(), reason: z.string() })),
    signature: z
      .object({
        algorithm: z.literal('sha-256'),
        hash: sha256,
        reportSha256: sha256,
        previousHash: sha256.nullable().meta({ description: 'Of the close before; null for the first' }),
      })
      .nullable()
      .meta({
        description:
          'hash is taken of the RFC 8785 form of {month, cut: {seq, moneyNo}, reportSha256, checks, accepted, previousHash}; ' +
          'null until the report is made',
      }),
    files: z.array(
      z.object({
        kind: z.enum(FILE_KINDS),
        contentType: z.string(),
        bytes: z.int(),
        sha256,
        href: z.string(),
      }),
    ),
    closedBy: uuid,
    closedAt: instant,
    reopening: Reopening.nullable().meta({ description: 'The one that was confirmed, or the last one asked for' }),
    note: z.string().nullable(),
  })
  .meta({ id: 'MonthClose' });
export type MonthCloseAnswer = z.output<typeof MonthClose>;
