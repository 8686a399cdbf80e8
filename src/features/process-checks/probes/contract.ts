/** Calibrations of thermometers, and the register of probes. */
import { z } from 'zod';
import { CALIBRATION_METHODS } from '../../../domain/process-checks/probes.ts';
import { CHECK_KINDS, STAGES } from '../../../domain/process-checks/shapes.ts';
import { defineOperation } from '../../../platform/http/contract.ts';
import { pageSchema } from '../../../platform/http/paging.ts';
import {
  date,
  factId,
  instant,
  lotCode,
  pageQuery,
  quantityOrZero,
  text,
  unit,
  uuid,
} from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';

const tag = 'process-checks';
const ofEquipment = z.strictObject({ equipmentId: uuid });
export const ofCalibration = z.strictObject({ calibrationId: uuid });
const method = z.enum(CALIBRATION_METHODS).meta({
  description:
    'ice-point, boiling-point: what it should read is worked out. reference-thermometer, laboratory: say what the reference read',
});
const result = z.enum(['passed', 'failed']);
const celsius = z.number().min(-80).max(300);
const fahrenheit = z.number().min(-112).max(572);
const source = z.object({ source: z.string(), edition: z.string(), basis: z.string() });

const Calibration = z
  .object({
    calibrationId: uuid,
    equipmentId: uuid,
    siteId: uuid,
    occurredAt: instant,
    recordedAt: instant,
    recordedBy: uuid,
    method,
    referenceC: z.number(),
    measuredC: z.number(),
    errorC: z.number().meta({ description: 'Measured less reference' }),
    toleranceC: z.number(),
    result: result.meta({ description: 'The service decides: passed when the error is within the tolerance' }),
    nextDueOn: date.meta({ description: 'The last day on which it counts; after a failed one the day itself' }),
    correctiveAction: z.string().nullable(),
    documentHref: z.string().nullable(),
    note: z.string().nullable(),
    supersedes: uuid.nullable().meta({ description: 'The calibration in whose place it stands' }),
    correctionReason: z.string().nullable(),
    supersededBy: uuid
      .nullable()
      .meta({ description: 'The one that stands in its place: this one counts for nothing' }),
    basis: z.object({
      reference: z.string().meta({ description: 'Where the reference comes from, in words' }),
      referenceSource: source.nullable(),
      tolerance: source,
      interval: source,
    }),
    cautions: z.array(z.string()),
  })
  .meta({ id: 'Calibration' });

const doubt = z
  .object({
    since: instant
      .nullable()
      .meta({ description: 'The last good one by this method or a laboratory; null: there is none' }),
    until: instant.nullable().meta({ description: 'The next good one; null: the probe is still in doubt' }),
    checks: z.int().meta({ description: 'Taken with it in between, and standing' }),
  })
  .nullable()
  .meta({ description: 'null when it passed, or when another one stands in its place' });

const SuspectCheck = z
  .object({
    checkId: uuid,
    siteId: uuid,
    stage: z.enum(STAGES),
    kind: z.enum(CHECK_KINDS),
    controlPoint: z.string().nullable(),
    occurredAt: instant,
    value: z.number().nullable().meta({ description: 'As measured, when it is one value' }),
    result,
    batchId: uuid.nullable(),
    packingRunId: uuid.nullable(),
    placeId: uuid.nullable(),
    signedFor: z.boolean().meta({ description: 'A control factor that somebody signed rests on it' }),
    lots: z
      .array(
        z.object({
          lotId: uuid,
          code: lotCode,
          itemName: z.string(),
          unit,
          awaitingRelease: z.boolean(),
          heldBy: z.array(z.string()).meta({ description: 'Kinds of the open holds that reach it' }),
          where: z
            .array(
              z.object({
                siteId: uuid,
                placeId: uuid.nullable(),
                placeName: z.string().nullable(),
                dispatchId: uuid.nullable().meta({ description: 'On the road with this dispatch' }),
                quantity: quantityOrZero,
              }),
            )
            .meta({ description: 'At your sites' }),
          elsewhereQuantity: quantityOrZero.meta({ description: 'At other sites of the group' }),
        }),
      )
      .meta({ description: 'What it is about and everything made from it; at most 200' }),
    moreLots: z.int().meta({ description: 'Lots beyond those' }),
  })
  .meta({ id: 'SuspectCheck' });

export const NewCalibration = z
  .strictObject({
    id: factId,
    occurredAt: instant,
    method,
    measuredC: celsius
      .optional()
      .meta({ description: 'What the probe read; in °C or in °F, one of the two', example: 0.3 }),
    measuredF: fahrenheit.optional(),
    referenceC: celsius.optional().meta({ description: 'reference-thermometer, laboratory: what the reference read' }),
    referenceF: fahrenheit.optional(),
    altitudeM: z.number().min(-430).max(5000).optional().meta({ description: 'boiling-point: height above the sea' }),
    airPressureHpa: z
      .number()
      .min(500)
      .max(1100)
      .optional()
      .meta({ description: 'boiling-point: in place of the height' }),
    toleranceC: z.number().min(0.05).max(1).optional().meta({ description: 'Tighter than the usual one' }),
    nextDueOn: date.optional(),
    correctiveAction: text(500).optional().meta({ description: 'What was done with a probe that failed' }),
    documentHref: z
      .string()
      .max(500)
      .regex(/^https:\/\/[^\s]+$/, 'an https link')
      .optional()
      .meta({ description: 'Certificate or picture' }),
    note: text(500).optional(),
  })
  .meta({ id: 'NewCalibration' });

export const CalibrationMade = Calibration.extend({ doubt }).meta({ id: 'CalibrationMade' });

export const createCalibration = defineOperation({
  id: 'createCalibration',
  method: 'post',
  path: '/v1/equipment/{equipmentId}/calibrations',
  tag,
  summary: 'Record that a thermometer was held against ice, boiling water, a better one, or a laboratory',
  description:
    'The service decides whether it passed. A probe that failed stays failed until a later good calibration by the same method, or by a ' +
    'laboratory: ice says nothing about how it measures at 75 °C. A failed one is a finding (calibration-failed), and puts every check since ' +
    'the last good one in doubt; nothing is held by itself, the quality lead decides. Water boils at 100 °C only at the pressure of the ' +
    "sea's level: give airPressureHpa where the probe is (not reduced to the sea's level), or altitudeM.",
  permission: 'calibrations.write',
  naming: 'fact',
  mode: 'write',
  params: ofEquipment,
  body: NewCalibration,
  answers: {
    201: {
      description: 'Recorded',
      schema: CalibrationMade,
      headers: ['Location'],
    },
  },
  errors: ['not-found', 'time-in-future', 'rule-broken'],
  example: {
    status: 201,
    params: { equipmentId: exampleId('equipment/probe-1') },
    body: {
      id: exampleId('new/calibration'),
      occurredAt: '2026-11-25T11:50:00+00:00',
      method: 'ice-point',
      measuredC: 0.3,
    },
  },
});

export const listCalibrations = defineOperation({
  id: 'listCalibrations',
  method: 'get',
  path: '/v1/equipment/{equipmentId}/calibrations',
  tag,
  summary: 'Calibrations of a thermometer that stand, newest last',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
  params: ofEquipment,
  query: z.strictObject({ ...pageQuery }),
  answers: { 200: { description: 'A page', schema: pageSchema(Calibration), headers: ['Link'] } },
  errors: ['not-found', 'bad-cursor'],
  example: { status: 200, params: { equipmentId: exampleId('equipment/probe-1') } },
});

export const getCalibration = defineOperation({
  id: 'getCalibration',
  method: 'get',
  path: '/v1/calibrations/{calibrationId}',
  tag,
  summary: 'One calibration; of a failed one, every check since the last good one',
  description:
    'suspectChecks are the first 50 of them in time order, with the lots they speak of, what was made from those, and where it is now; the ' +
    'rest by listSuspectChecks. It is worked out on reading: a good calibration that is entered late makes the list shorter.',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
  params: ofCalibration,
  answers: {
    200: {
      description: 'The calibration',
      schema: Calibration.extend({ doubt, suspectChecks: z.array(SuspectCheck) }).meta({ id: 'CalibrationInFull' }),
    },
  },
  errors: ['not-found'],
  example: { status: 200, params: { calibrationId: exampleId('calibration/probe-1') } },
});

export const listSuspectChecks = defineOperation({
  id: 'listSuspectChecks',
  method: 'get',
  path: '/v1/calibrations/{calibrationId}/suspect-checks',
  tag,
  summary: 'Checks that a failed calibration puts in doubt, oldest first',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
  params: ofCalibration,
  query: z.strictObject({ ...pageQuery }),
  answers: {
    200: {
      description: 'A page; empty when it passed or does not stand',
      schema: pageSchema(SuspectCheck),
      headers: ['Link'],
    },
  },
  errors: ['not-found', 'bad-cursor'],
  example: { status: 200, params: { calibrationId: exampleId('calibration/probe-1') } },
});

const Probe = z
  .object({
    equipmentId: uuid,
    siteId: uuid,
    code: z.string(),
    name: z.string(),
    kind: z.string(),
    state: z.enum(['good', 'failed', 'overdue', 'never']).meta({
      description: 'failed: not put right since. overdue: the last calibration has lapsed. never: there is none',
    }),
    decidedBy: uuid.nullable().meta({ description: 'The calibration that says so' }),
    last: z
      .object({ calibrationId: uuid, occurredAt: instant, method, errorC: z.number(), result, nextDueOn: date })
      .nullable(),
  })
  .meta({ id: 'Probe' });

export const listProbes = defineOperation({
  id: 'listProbes',
  method: 'get',
  path: '/v1/probes',
  tag,
  summary: 'Probes in use by code, and whatever else was calibrated: what each is worth now, and when it is due',
  permission: 'process-checks.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({
    ...pageQuery,
    siteId: uuid.optional(),
    dueBefore: date.optional().meta({ description: 'Only those due before this day, failed, or never calibrated' }),
  }),
  answers: { 200: { description: 'A page', schema: pageSchema(Probe), headers: ['Link'] } },
  errors: ['bad-cursor', 'rule-broken'],
  example: { status: 200, query: { siteId: exampleId('site/ck') } },
});
