/** Schemas of control points, limits and sources, as they are answered. */
import { z } from 'zod';
import { CHECK_KINDS, STAGES } from '../../../domain/process-checks/shapes.ts';

export const stage = z.enum(STAGES).meta({ description: 'Where in the work it is checked' });
export const checkKind = z.enum(CHECK_KINDS).meta({
  description:
    'core-temperature, temperature, ph, salt-in-water, water-activity: one value. elapsed-time: minutes. lethality, cooling: a series. ' +
    'seal-test, metal-detection: a sample. yes-no: an answer.',
});
export const sourceBasis = z.enum(['published', 'second-hand', 'recomputed', 'common-practice', 'from-memory']).meta({
  description:
    "published: read in the source's text; second-hand: in a copy of it; recomputed: worked out from published inputs; common-practice: no source " +
    'found; from-memory: a lead, not evidence',
});

export const Source = z
  .object({ source: z.string(), edition: z.string(), basis: sourceBasis })
  .meta({ id: 'ProcessSource' });

const LethalityTarget = z
  .object({
    code: z.string(),
    label: z.string(),
    referenceTemperatureC: z.number(),
    zBelowC: z.number(),
    zAboveC: z.number(),
    targetMinutes: z.number(),
    logReduction: z.number().meta({ description: 'Decimal reductions that the target stands for' }),
    source: Source,
  })
  .meta({ id: 'LimitTarget' });

const CoolingRule = z
  .object({
    code: z.string(),
    label: z.string(),
    points: z.array(
      z.object({
        code: z.string(),
        label: z.string(),
        fromC: z.number().nullable().meta({ description: 'null: from the first point of the series' }),
        toC: z.number(),
        withinMinutes: z.number(),
      }),
    ),
    source: Source,
  })
  .meta({ id: 'LimitCooling' });

const bound = z.number().nullable();
const value = z.object({ form: z.literal('value'), atLeast: bound, atMost: bound });
const lethality = z.object({ form: z.literal('lethality'), target: LethalityTarget });
const cooling = z.object({ form: z.literal('cooling'), rule: CoolingRule });
const sample = z.object({ form: z.literal('sample'), leastTested: z.int(), mostFailed: z.int() });
const answer = z.object({ form: z.literal('answer') });
const byDefault = z.object({ form: z.literal('default') });

/** What a check is held against. */
export const Limit = z
  .discriminatedUnion('form', [value, lethality, cooling, sample, answer])
  .meta({ id: 'CheckLimit', description: 'What a check is held against; temperatures in °C, times in minutes' });
const StoredLimit = z
  .discriminatedUnion('form', [value, lethality, cooling, sample, answer, byDefault])
  .meta({ id: 'PlanLimit', description: "default: the site's or its jurisdiction's, when a batch is opened" });

export const pointFields = {
  code: z
    .string()
    .regex(/^[a-z0-9][a-z0-9-]{0,39}$/, 'lower case letters, digits and dashes')
    .meta({ description: 'Of the plan', example: 'chill' }),
  stage,
  kind: checkKind,
  per: z.enum(['batch', 'load', 'packing-run']).meta({ description: 'What each needs one of its own of' }),
  requiredFor: z.enum(['release', 'packing']).nullable().meta({
    description: 'release: before food may leave; packing: before it may be packed as well; null: it holds nothing up',
  }),
  critical: z.boolean().meta({ description: 'Cannot be accepted when it failed or is missing' }),
  repeatable: z
    .boolean()
    .meta({ description: 'A later check may pass what an earlier one failed: cooked on, sealed again' }),
};
const confirmed = z.boolean().meta({
  description:
    'A person has confirmed a number that is from memory, or a limit of heat or cold that asks less than the default of the jurisdiction',
});

const looser = z
  .literal(true)
  .optional()
  .meta({ description: "Asks less than the default of the site's jurisdiction did when the batch was opened" });

export const ControlPoint = z
  .object({ ...pointFields, code: z.string(), label: z.string(), limit: Limit, source: Source, confirmed, looser })
  .meta({ id: 'ControlPoint' });

export const StoredPoint = z
  .object({
    ...pointFields,
    code: z.string(),
    label: z.string(),
    limit: StoredLimit,
    source: Source.nullable().meta({ description: 'null where the limit is the default' }),
    confirmed,
  })
  .meta({ id: 'PlanPoint' });

export const release = z
  .enum(['automatic', 'by-hand'])
  .meta({ description: 'automatic: as soon as every required point has passed and no deviation is open' });
export const twoPeople = z.boolean().meta({ description: 'Whoever had a hand in the batch does not release it' });
export const cautions = z.array(z.string()).meta({ description: 'What to know before relying on it' });
