/** The lists of targets and rules as they are answered. */
import { z } from 'zod';

const basis = z.enum(['published', 'second-hand', 'recomputed', 'common-practice', 'from-memory']).meta({
  description:
    "published: read in the source's text; second-hand: in a copy or quotation; recomputed: worked out from what was read; common-practice: no source found; from-memory: a lead, not evidence",
});
export const sourced = { source: z.string(), edition: z.string(), basis };

export const SourcedNumber = z
  .object({ number: z.string(), value: z.number(), unit: z.string(), ...sourced })
  .meta({ id: 'SourcedNumber' });

const standing = z.enum(['default', 'stricter', 'looser']).meta({ description: 'than `comparedWith`' });
const beside = { standing, comparedWith: z.string().nullable(), ...sourced, note: z.string() };

export const LethalityTargets = z
  .object({
    note: z.string(),
    confirmBy: z.string(),
    method: z.object({ text: z.string(), ...sourced }),
    targets: z.array(
      z.object({
        code: z.string(),
        label: z.string(),
        organism: z.string(),
        referenceTemperatureC: z.number(),
        zBelowC: z.number(),
        zAboveC: z.number(),
        targetMinutes: z.number(),
        logReduction: z.number(),
        ...beside,
        numbers: z.array(SourcedNumber),
        leastShown: z
          .object({ temperatureC: z.number(), why: z.string() })
          .nullable()
          .meta({ description: 'Below it an experiment needed longer than this target says' }),
      }),
    ),
    equivalents: z
      .array(
        z.object({
          code: z.string(),
          label: z.string(),
          rows: z.array(z.object({ temperatureC: z.number(), minutes: z.number() })),
          ...beside,
        }),
      )
      .meta({ description: 'Tables as published, to compare with' }),
    coreTemperatures: z.array(
      z.object({
        code: z.string(),
        label: z.string(),
        purpose: z.enum(['cook', 'regenerate', 'hot-hold']),
        temperatureC: z.number(),
        minutes: z.number().nullable().meta({ description: 'null: reached, not held' }),
        jurisdictions: z.array(z.string()),
        ...beside,
      }),
    ),
    combined: z
      .array(
        z.object({
          code: z.string(),
          label: z.string(),
          temperatureC: z.number(),
          minutes: z.number(),
          belowC: z.number(),
          mostDays: z.number(),
          ...beside,
        }),
      )
      .meta({ description: 'Less heat, bound to a storage temperature and a life' }),
  })
  .meta({ id: 'LethalityTargets' });

export const CoolingRules = z
  .object({
    note: z.string(),
    confirmBy: z.string(),
    rules: z.array(
      z.object({
        code: z.string(),
        label: z.string(),
        jurisdictions: z.array(z.string()),
        defaultFor: z
          .array(z.string())
          .meta({ description: 'Jurisdictions in which it is taken when nothing else is named' }),
        byChoice: z.boolean().meta({ description: 'It binds only where a site says that it works by it' }),
        points: z.array(
          z.object({
            code: z.string(),
            label: z.string(),
            fromC: z.number().nullable().meta({ description: 'null: from the first point of the series' }),
            toC: z.number(),
            withinMinutes: z.number(),
          }),
        ),
        begins: z
          .object({ withinMinutes: z.number(), text: z.string(), ...sourced })
          .nullable()
          .meta({ description: 'When chilling has to begin after cooking' }),
        heated: z.boolean().meta({
          description: 'For hot food: where it names no start, a series has to be at 63 °C or above somewhere',
        }),
        scope: z.string(),
        note: z.string(),
        ...sourced,
        numbers: z.array(SourcedNumber),
      }),
    ),
  })
  .meta({ id: 'CoolingRules' });
