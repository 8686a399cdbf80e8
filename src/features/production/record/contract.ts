/** The record of a batch: all that was written down while it was made, as data or as a page for an inspector. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { date, instant, lotCode, quantity, unit, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { Batch, batchParams } from '../contract.ts';

const name = z.string().nullable().meta({ description: 'Name as it is today; null: not known any more' });

const Input = z
  .object({
    entryId: uuid,
    lotId: uuid,
    lotCode,
    itemName: z.string(),
    quantity,
    unit,
    takenAt: instant,
    takenBy: name,
    recordedAfterwards: z.boolean(),
    origin: z.string().meta({ description: 'received, produced, packed, converted …' }),
    supplierName: z.string().nullable(),
    supplierLotCode: z.string().nullable(),
    documentNumber: z.string().nullable(),
    receivedOn: date.nullable(),
    receivedTemperatureC: z.number().nullable(),
    fromBatch: z
      .object({ batchId: uuid, code: z.string() })
      .nullable()
      .meta({ description: 'The batch it was made in, where it was made here' }),
    forRework: z.boolean().meta({ description: 'It was rejected for rework and went in to be heated through again' }),
    useByDate: date.nullable(),
    allergens: z.array(z.string()),
  })
  .meta({ id: 'BatchRecordInput' });

const Lot = z
  .object({
    lotId: uuid,
    lotCode,
    itemName: z.string(),
    kind: z.enum(['load', 'packs']),
    loadNo: z.int().nullable(),
    packingRunId: uuid.nullable(),
    quantity,
    unit,
    massG: z.number(),
    bornAt: instant,
    cookEndedAt: instant.nullable(),
    useByDate: date.nullable(),
    useByAt: instant.nullable(),
    allergens: z.array(z.string()),
    mayContain: z.array(z.string()),
    undeclared: z.array(z.string()).meta({ description: 'What it holds and its item does not declare' }),
    state: z.enum(['awaiting-release', 'released', 'rejected', 'for-rework']),
    holds: z.array(z.string()).meta({ description: 'Kinds of the holds on it that are open now' }),
  })
  .meta({ id: 'BatchRecordLot' });

const Action = z.object({ action: z.string(), closes: z.boolean(), occurredAt: instant, by: name });

const Check = z
  .object({
    checkId: uuid,
    controlPoint: z.string().nullable(),
    label: z.string(),
    stage: z.string(),
    kind: z.string(),
    about: z.string().meta({ description: 'What it was about, in words' }),
    lotId: uuid.nullable(),
    packingRunId: uuid.nullable(),
    occurredAt: instant,
    recordedAt: instant,
    doneBy: name,
    recordedBy: name,
    instrument: z.string().nullable(),
    machine: z.string().nullable(),
    measured: z.string(),
    limit: z.string(),
    limitSource: z.string(),
    result: z.enum(['passed', 'failed']),
    reasons: z.array(z.string()),
    correctiveActions: z.array(Action),
    deviation: z.enum(['none', 'open', 'closed']),
    documentHref: z.string().nullable(),
    note: z.string().nullable(),
    supersedesCheckId: uuid.nullable(),
    supersededByCheckId: uuid.nullable(),
    correctionReason: z.string().nullable(),
    seriesHref: z.string().nullable().meta({ description: 'Where the points and the picture of its series are' }),
  })
  .meta({ id: 'BatchRecordCheck' });

const Point = z
  .object({
    code: z.string(),
    label: z.string(),
    stage: z.string(),
    limit: z.string(),
    source: z.string(),
    basis: z.string(),
    per: z.enum(['batch', 'load', 'packing-run']),
    requiredFor: z.enum(['release', 'packing']).nullable(),
    critical: z.boolean(),
    confirmed: z.boolean(),
    shown: z
      .object({ passed: z.int(), failed: z.int(), missing: z.int(), deviationOpen: z.int() })
      .meta({ description: 'How many loads, or lots of packs, stand how at this point' }),
  })
  .meta({ id: 'BatchRecordPoint' });

const Run = z
  .object({
    packingRunId: uuid,
    machine: z.string(),
    programme: z.string(),
    programmeFacts: z.array(z.string()).meta({ description: 'What the programme sets, in words' }),
    packer: z.string(),
    startedAt: instant,
    finishedAt: instant,
    recordedAfterwards: z.boolean(),
    packsMade: z.int(),
    packsRejected: z.int(),
    rejects: z.array(z.object({ reason: z.string(), packs: z.int() })),
    faults: z
      .array(z.object({ kind: z.string(), packs: z.int(), siteName: z.string(), occurredAt: instant }))
      .meta({ description: 'Leakers, packs bagged again, complaints that were tied to it later' }),
    cleanedBefore: z
      .object({ occurredAt: instant, by: name })
      .nullable()
      .meta({ description: 'The last full clean-down of the machine before it began' }),
    fills: z.array(z.object({ fromLotCode: lotCode, packLotCode: lotCode, packs: z.int(), changedOverAt: instant })),
    reversed: z.boolean(),
  })
  .meta({ id: 'BatchRecordRun' });

const Decision = z
  .object({
    outcome: z.enum(['released', 'rejected']),
    automatic: z.boolean(),
    disposition: z.string().nullable(),
    lotCodes: z.array(z.string()),
    reason: z.string().nullable(),
    accepted: z.array(z.object({ controlPoint: z.string(), reason: z.string() })),
    decidedAt: instant,
    decidedBy: name,
    asDeputy: z.boolean(),
  })
  .meta({ id: 'BatchRecordDecision' });

const Finding = z
  .object({
    findingId: uuid,
    kind: z.string(),
    label: z.string(),
    lotCode: z.string().nullable(),
    occurredAt: instant,
    status: z.string(),
    settledBy: name,
    settledAt: instant.nullable(),
    note: z.string().nullable(),
  })
  .meta({ id: 'BatchRecordFinding' });

const Record = z
  .object({
    batchId: uuid,
    code: z.string(),
    groupName: z.string(),
    siteId: uuid,
    siteName: z.string(),
    siteAddress: z.string().nullable(),
    jurisdiction: z.string(),
    timeZone: z.string(),
    recipeName: z.string(),
    recipeVersion: z.int(),
    itemName: z.string(),
    steps: z.array(z.string()),
    killStep: z.boolean(),
    state: z.enum(['open', 'completed']),
    standing: z
      .enum(['nothing-made', 'awaiting-release', 'released', 'partly-released', 'rejected', 'for-rework'])
      .meta({ description: 'Of its loads and packs taken together' }),
    openedBy: name,
    startedAt: instant,
    completedAt: instant.nullable(),
    readAt: instant,
    plan: z
      .object({
        version: z.int(),
        release: z.enum(['automatic', 'by-hand']),
        twoPeople: z.boolean(),
        points: z.array(Point),
      })
      .nullable()
      .meta({ description: 'As it was copied when the batch was opened' }),
    inputs: z.array(Input),
    lots: z.array(Lot),
    checks: z.array(Check).meta({ description: 'Of the kitchen that made it, in time order; superseded ones too' }),
    runs: z.array(Run),
    decisions: z.array(Decision),
    findings: z.array(Finding),
    gains: Batch.shape.gains,
    losses: Batch.shape.losses,
    yield: Batch.shape.yield,
    declaredAllergens: z.array(z.string()),
    cautions: z.array(z.string()).meta({ description: 'What whoever relies on the record should know' }),
  })
  .meta({ id: 'BatchRecord', description: 'All that was written down while a batch was made' });

export const getBatchRecord = defineOperation({
  id: 'getBatchRecord',
  method: 'get',
  path: '/v1/batches/{batchId}/record',
  tag: 'production',
  summary: 'The record of a batch: inputs, checks with pictures of their series, packs, people, release',
  description:
    'As JSON, as a page that stands by itself, or as a PDF on A4 (format, or Accept). It shows what was recorded up to now; what was ' +
    'corrected is struck and stays. Checks are those of the kitchen that made it. It does not replace the food-safety plan of the group, nor the judgement of a competent person.',
  permission: 'production.read',
  naming: 'none',
  mode: 'read',
  params: batchParams,
  query: z.strictObject({
    format: z.enum(['json', 'html', 'pdf']).optional().meta({ description: 'As Accept says if left out' }),
  }),
  answers: {
    200: [
      { description: 'The record', schema: Record },
      { description: 'The record as a page', contentType: 'text/html' },
      { description: 'The record on A4', contentType: 'application/pdf' },
    ],
  },
  errors: ['not-found'],
  example: { status: 200, params: { batchId: exampleId('batch/beef-stew') }, query: { format: 'json' } },
});

export type BatchRecord = z.output<typeof Record>;
