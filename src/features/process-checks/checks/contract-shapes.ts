/** Shapes of checks, sent and answered. */
import { z } from 'zod';
import { ABOUT_KINDS } from '../../../domain/process-checks/consequences.ts';
import { CHECK_KINDS, STAGES } from '../../../domain/process-checks/shapes.ts';
import { factId, instant, line, lotCode, said, text, uuid } from '../../../platform/http/scalars.ts';
import { FindingBrief } from '../../ledger/index.ts';

/** Sent points beyond which a body is not even read on; the series itself takes 50,000, and says so. */
const MOST_SENT_POINTS = 200_000;
export const CHECK_BODY_KB = 16_384;

const stage = z.enum(STAGES);
const kind = z.enum(CHECK_KINDS).meta({
  description:
    'core-temperature, temperature (air, surface, between packs): temperatureC or temperatureF. ph, salt-in-water (percent), water-activity: value. elapsed-time: fromAt and toAt. lethality, cooling: series. seal-test, metal-detection: tested and failed. yes-no: yes.',
});
const about = z
  .strictObject({ kind: z.enum(ABOUT_KINDS), id: uuid })
  .meta({ description: 'A load is a lot, and so are the packs of a packing run' });
const point = z.strictObject({
  minute: z.number().min(-10_000_000).max(10_000_000),
  temperatureC: z.number().optional(),
  temperatureF: z.number().optional(),
});
const documentHref = z
  .string()
  .max(500)
  .regex(/^https:\/\/[A-Za-z0-9.-]+(:\d{1,5})?(\/[\u0021-\u007e]*)?$/, 'an https link')
  .meta({
    description: 'Where a photo or document is; it is linked, not kept',
    example: 'https://files.example/1.jpg',
  });

const sent = {
  siteId: uuid,
  stage,
  kind,
  about,
  controlPoint: z
    .string()
    .regex(/^[a-z0-9][a-z0-9-]{0,39}$/, 'lower case letters, digits and dashes')
    .optional()
    .meta({ description: "Of the batch's process plan; without it the site's limit counts", example: 'chill' }),
  occurredAt: instant.optional().meta({ description: 'Now, if left out; of a series: when it ended' }),
  doneBy: uuid.optional().meta({ description: 'A person; you, if left out' }),
  instrumentId: uuid.optional().meta({ description: 'What it was measured with: a probe or scale at the site' }),
  machineId: uuid.optional().meta({ description: 'The machine that was checked' }),
  value: z.number().optional(),
  temperatureC: z.number().optional(),
  temperatureF: z.number().optional(),
  series: z
    .array(point)
    .max(MOST_SENT_POINTS)
    .optional()
    .meta({ description: 'Times rise from point to point; at most 50,000 points; the unit is the name of the field' }),
  fromAt: instant.optional(),
  toAt: instant.optional(),
  tested: z.int().min(0).max(1_000_000).optional(),
  failed: z.int().min(0).max(1_000_000).optional(),
  yes: z.boolean().optional(),
  correctiveAction: text(1000).optional().meta({ description: 'What was done at once; for a check that fails' }),
  documentHref: documentHref.optional(),
  note: text(1000).optional(),
};

export const NewProcessCheck = z.strictObject({ id: factId, ...sent }).meta({ id: 'NewProcessCheck' });

export const NewCheckCorrection = z
  .strictObject({ id: factId, ...sent, reason: said(500) })
  .meta({ id: 'NewCheckCorrection' });

export const NewCorrectiveAction = z
  .strictObject({
    id: factId,
    action: said(1000),
    closes: z.boolean().optional().meta({
      description:
        'The matter is closed with it. A quality lead says so, or anybody where the check was repeated and passed',
    }),
    occurredAt: instant.optional().meta({ description: 'Now, if left out' }),
  })
  .meta({ id: 'NewCorrectiveAction' });

const measured = z
  .discriminatedUnion('form', [
    z.object({ form: z.literal('value'), value: z.number() }),
    z.object({ form: z.literal('elapsed'), fromAt: instant, toAt: instant, minutes: z.number() }),
    z.object({
      form: z.literal('series'),
      points: z.int(),
      minutes: z.number(),
      firstC: z.number(),
      lastC: z.number(),
      lowestC: z.number(),
      highestC: z.number(),
    }),
    z.object({ form: z.literal('sample'), tested: z.int(), failed: z.int() }),
    z.object({ form: z.literal('answer'), yes: z.boolean() }),
  ])
  .meta({ description: 'Temperatures in °C; the points of a series have an operation of their own' });

const limits = z
  .object({
    from: z.enum(['control-point', 'site']).meta({ description: "A point of the batch's plan, or the site's limit" }),
    label: z.string().nullable(),
    limit: z.record(z.string(), z.unknown()),
    inWords: z.string().meta({ example: 'at most 8 °C' }),
    source: z.object({ source: z.string(), edition: z.string(), basis: z.string() }),
    assumption: z.string().nullable(),
    confirmed: z.boolean(),
    per: z.enum(['batch', 'load', 'packing-run']).nullable(),
    critical: z.boolean().nullable(),
    repeatable: z.boolean().nullable(),
  })
  .meta({ id: 'CheckLimits', description: 'What it was held against, as it was then' });

const CorrectiveAction = z
  .object({
    actionId: uuid,
    action: z.string(),
    closes: z.boolean(),
    occurredAt: instant,
    recordedAt: instant,
    recordedBy: uuid,
    recordedByName: z.string().nullable(),
  })
  .meta({ id: 'CorrectiveAction' });

export const ProcessCheck = z
  .object({
    checkId: uuid,
    siteId: uuid,
    stage,
    kind: z.enum(CHECK_KINDS),
    controlPoint: z.string().nullable(),
    about: z.object({ kind: z.enum(ABOUT_KINDS), id: uuid }),
    batchId: uuid.nullable(),
    batchCode: z.string().nullable(),
    lotId: uuid.nullable(),
    lotCode: lotCode.nullable(),
    packingRunId: uuid.nullable(),
    machineId: uuid.nullable(),
    machineName: z.string().nullable(),
    instrumentId: uuid.nullable(),
    instrumentName: z.string().nullable(),
    occurredAt: instant,
    recordedAt: instant,
    recordedBy: uuid,
    recordedByName: z.string().nullable(),
    doneBy: uuid,
    doneByName: z.string().nullable(),
    measured,
    limits,
    result: z.enum(['passed', 'failed']).meta({ description: 'Decided by the service' }),
    reasons: z.array(z.string()).meta({ description: 'Why it failed, or what was assumed' }),
    numbers: z.record(z.string(), z.unknown()).meta({ description: 'What was reckoned' }),
    deviation: z.enum(['none', 'open', 'closed']),
    documentHref: z.string().nullable(),
    note: z.string().nullable(),
    supersedesCheckId: uuid.nullable(),
    correctionReason: z.string().nullable(),
    supersededByCheckId: uuid.nullable(),
    correctiveActions: z.array(CorrectiveAction),
  })
  .meta({ id: 'ProcessCheck' });

export const TakenProcessCheck = ProcessCheck.extend({
  held: z
    .array(z.object({ holdId: uuid, lotId: uuid, lotCode }))
    .meta({ description: 'Lots that this check put on hold' }),
  released: z
    .array(z.object({ lotId: uuid, lotCode }))
    .meta({ description: 'Lots that waited for nothing else: released by themselves, as their plan allows' }),
  findings: z.array(FindingBrief),
  remarks: z.array(z.string()).meta({ description: 'What whoever reads the check should know' }),
}).meta({ id: 'TakenProcessCheck', description: 'The check, and what came of it' });

export const Deviation = ProcessCheck.extend({
  siteName: line(200),
  lots: z.array(z.object({ lotId: uuid, lotCode, held: z.boolean() })).meta({
    description: 'The lots that it is about; held: a hold for a failed check reaches it now',
  }),
  closedAt: instant.nullable(),
  closedBy: uuid.nullable(),
  openMinutes: z.number().meta({ description: 'From the check to its closing, or to now' }),
}).meta({ id: 'Deviation', description: 'A failed check that stands' });
