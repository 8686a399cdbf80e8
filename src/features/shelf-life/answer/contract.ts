/** What is left of the life of each part of a lot, why, and what a quality lead decides about it. */
import { z } from 'zod';
import { defineOperation } from '../../../platform/http/contract.ts';
import { factId, instant, text, uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { holdIdOf } from '../limits/hold-id.ts';

const hours = z.number().min(0).meta({ description: 'Hours' });

const Limit = z
  .object({
    code: z.string(),
    policySet: z.string().nullable().meta({ description: 'The rules that it is of; null: it holds everywhere' }),
    label: z.string(),
    tier: z.enum(['everyday', 'model']),
    endsAt: instant.nullable().meta({ description: 'null: it sets no end as things stand' }),
    since: instant.nullable().meta({ description: 'What happened, happened then; null: it was so from birth on' }),
    forbids: z.boolean().meta({ description: 'By this limit the food must not be eaten' }),
    drives: z.boolean().meta({ description: 'It may bring a date forward or hold food' }),
    whySilent: z.string().nullable().meta({ description: 'Why it drives nothing' }),
    basis: z.enum(['published', 'second-hand', 'common-practice', 'from-memory', 'validated', 'recorded']).meta({
      description:
        'How sure its numbers are. validated: by a named person for the item; recorded: it stands in the record',
    }),
    source: z.string(),
    assumption: z.string(),
    explanation: z.string(),
    unmonitoredH: hours,
    usedFraction: z.number().min(0).nullable().meta({ description: 'Models: share of the life that is used' }),
  })
  .meta({ id: 'ShelfLifeLimit' });

const StayAnswer = z.object({
  placeId: uuid.nullable(),
  dispatchId: uuid.nullable(),
  where: z.string().meta({ description: 'In words; "not known" where nobody booked it' }),
  from: instant,
  to: instant,
});

const Part = z
  .object({
    partId: uuid,
    placeId: uuid.nullable(),
    dispatchId: uuid.nullable(),
    where: z.string(),
    siteId: uuid,
    quantity: z.int(),
    useByAt: instant.nullable().meta({ description: 'In force for this part; it only tightens by itself' }),
    computedAt: instant.nullable().meta({ description: 'Computed from what is recorded now; may move either way' }),
    ruling: z.string().nullable().meta({ description: 'The limit that gives the computed end' }),
    forbiddenBy: z.string().nullable(),
    remainingH: hours
      .nullable()
      .meta({ description: 'Until the use-by in force, or the computed end if that is earlier' }),
    usedFraction: z.number().min(0).nullable().meta({ description: "By the item's validated model" }),
    unmonitoredH: hours.meta({ description: 'Time in which nobody looked; of several ways the longest' }),
    presumed: z.boolean().meta({ description: 'Nobody has seen it there' }),
    policySets: z.array(z.string()),
    limits: z.array(Limit).meta({ description: 'Each by itself, the earliest end first' }),
    ways: z
      .array(z.array(StayAnswer))
      .meta({ description: 'Where it has been; several where food of different histories lies together' }),
    holds: z.array(z.object({ holdId: uuid, kind: z.string() })),
  })
  .meta({ id: 'ShelfLifePart' });

const Result = z.object({
  resultId: uuid,
  partId: uuid,
  computedAt: instant,
  ruleVersion: z.int(),
  effectiveAt: instant.nullable(),
  ruling: z.string().nullable(),
  forbiddenBy: z.string().nullable(),
  holdId: uuid.nullable(),
  inputsHash: z.string().meta({ description: 'sha256 of the facts and exposures that it was computed from' }),
});

const Decision = z
  .object({
    decisionId: uuid,
    partId: uuid,
    kind: z.enum(['accept-computed', 'lift-hold']),
    effectiveAt: instant.nullable(),
    holdId: uuid.nullable(),
    limit: z.string().nullable().meta({ description: 'The limit that is overruled for the part' }),
    reason: z.string(),
    decidedAt: instant,
    decidedBy: uuid,
    deputyId: uuid.nullable(),
  })
  .meta({ id: 'ShelfLifeDecision' });

const ShelfLife = z
  .object({
    lotId: uuid,
    lotCode: z.string(),
    itemName: z.string(),
    unit: z.string(),
    printedUseByAt: instant.nullable(),
    useByAt: instant.nullable().meta({ description: 'In force for the whole lot' }),
    asOf: instant,
    parts: z.array(Part),
    history: z
      .array(Result)
      .meta({ description: 'Results that were kept, the latest first: one whenever something that matters changed' }),
    decisions: z.array(Decision),
    cautions: z.array(z.object({ code: z.string(), sentence: z.string() })),
  })
  .meta({ id: 'ShelfLife' });

const params = z.strictObject({ lotId: uuid });
const tag = 'shelf-life';

/** The demo's: packs that the hotel got from a van without cooling. */
const warmLot = exampleId('lot/chicken-d-packs-1');
const hotel = exampleId('place/hot-chiller');
const leftAt = { code: 'cook-chill-10-c', endsAtMs: Date.UTC(2026, 10, 25, 6, 25) };

export const getLotShelfLife = defineOperation({
  id: 'getLotShelfLife',
  method: 'get',
  path: '/v1/lots/{lotId}/shelf-life',
  tag,
  summary: 'What is left of the life of each part of a lot, and why',
  description:
    'Computed from what is recorded now. Decision support for trained staff: each limit says its source, what was assumed, and whether it drives ' +
    'anything; the quality lead decides. With format=svg (or Accept: image/svg+xml) one part as a picture for a report.',
  permission: 'shelf-life.read',
  naming: 'none',
  mode: 'read',
  params,
  query: z.strictObject({
    format: z.enum(['json', 'svg']).optional().meta({ description: 'As Accept says if left out' }),
    placeId: uuid.optional().meta({ description: 'Only the part in this place' }),
    dispatchId: uuid.optional().meta({ description: 'Only the part on this dispatch' }),
  }),
  answers: {
    200: [
      { description: 'Limits, which one rules, where it has been', schema: ShelfLife },
      {
        description: 'Of one part: temperature with places, limits and excursions; life left',
        contentType: 'image/svg+xml',
      },
    ],
  },
  errors: ['not-found'],
  example: { status: 200, params: { lotId: warmLot }, query: { format: 'json' } },
});

export const decideShelfLife = defineOperation({
  id: 'decideShelfLife',
  method: 'post',
  path: '/v1/lots/{lotId}/shelf-life-decisions',
  tag,
  summary: 'Accept a later computed end for a part, or lift a hold that its temperature history led to',
  description:
    'Nothing is lengthened without this. The use-by in force becomes what is computed now, never later than the printed one. Lifting a hold ' +
    'overrules the limit that led to it, for this part and as long as it comes to the same end; worse readings hold it again.',
  permission: 'shelf-life.decide',
  naming: 'fact',
  mode: 'write',
  params,
  body: z
    .strictObject({
      id: factId,
      placeId: uuid.optional(),
      dispatchId: uuid.optional(),
      accept: z.literal('computed').optional(),
      liftHoldId: uuid.optional(),
      reason: text(1000).meta({ description: 'What was looked at, and why it is safe' }),
    })
    .meta({ id: 'NewShelfLifeDecision', description: 'One of placeId and dispatchId; one of accept and liftHoldId' }),
  answers: { 201: { description: 'Decided', schema: Decision, headers: ['Location'] } },
  errors: ['not-found', 'rule-broken', 'wrong-state'],
  example: {
    status: 201,
    role: 'quality',
    params: { lotId: warmLot },
    body: {
      id: exampleId('new/shelf-life-decision'),
      placeId: hotel,
      liftHoldId: holdIdOf(warmLot, hotel, leftAt),
      reason: 'A core probe in three packs read 4 °C when the van was opened.',
    },
  },
});
