/** A paper night: what was written down while the network was away, entered in one call. */
import { z } from 'zod';
import { bind, defineOperation, type BoundOperation } from '../../../platform/http/contract.ts';
import { Problem } from '../../../platform/http/problem.ts';
import { uuid } from '../../../platform/http/scalars.ts';
import { exampleId } from '../../../platform/ids.ts';
import { distributionOperations } from '../../distribution/index.ts';
import { goodsInOperations } from '../../goods-in/index.ts';
import { ledgerOperations } from '../../ledger/index.ts';
import { productionOperations } from '../../production/index.ts';
import { convertFood } from '../conversions/commands.ts';
import { createConversion } from '../conversions/contract.ts';

/** What can be written on paper and entered afterwards; each is an operation of its own as well. */
const ON_PAPER: ReadonlySet<string> = new Set([
  'createGoodsReceipt',
  'createBatch',
  'createRecordedBatchInput',
  'createBatchOutputs',
  'createRecordedPackingRun',
  'createBatchCompletion',
  'createProcessCheck',
  'createRecordedDeparture',
  'createReceipt',
  'createRefusal',
  'createBorrowing',
  'createDropTimes',
  'createRecordedMove',
  'createUse',
  'createDiscard',
  'createReturn',
  'createStockCount',
  'createConversion',
]);

const bound: readonly BoundOperation[] = [
  ...goodsInOperations,
  ...productionOperations,
  ...distributionOperations,
  ...ledgerOperations,
  bind(createConversion, convertFood),
].filter(({ operation }) => ON_PAPER.has(operation.id));

export const paperOperations: ReadonlyMap<string, BoundOperation> = new Map(
  bound.map((one) => [one.operation.id, one]),
);

/** One line: which operation, what its path names, and its body; the body's id names the fact. */
const Line = z
  .discriminatedUnion(
    'operation',
    bound.map(({ operation }) =>
      z.strictObject({
        operation: z.literal(operation.id),
        ...(operation.params && { params: operation.params }),
        body: operation.body ?? z.strictObject({}),
      }),
    ) as unknown as [z.ZodObject<{ operation: z.ZodLiteral<string> }>],
  )
  .meta({ id: 'PaperLine' });

export interface PaperLine {
  readonly operation: string;
  readonly params?: Readonly<Record<string, string>>;
  readonly body: Readonly<Record<string, unknown>> & { readonly id?: string };
}

const PaperResult = z
  .object({
    index: z.int(),
    id: uuid.nullable(),
    operation: z.string(),
    status: z.enum(['recorded', 'refused']),
    replayed: z.boolean().meta({ description: 'true: it was recorded before; this is the first answer' }),
    answer: z.unknown().meta({ description: 'What the operation answers by itself' }),
    problem: Problem.nullable(),
  })
  .meta({ id: 'PaperResult' });

const night = (name: string): string => exampleId(`new/paper-${name}`);

export const createPaperEntries = defineOperation({
  id: 'createPaperEntries',
  method: 'post',
  path: '/v1/paper-entries',
  tag: 'scanning',
  summary: 'Enter what was written on paper, in one call',
  description:
    'Lines are carried out in the order given, as the operation that each names would: give them as they happened. Up to 1,000. Each has ' +
    'its own id and answer; what is refused leaves the others recorded, or with atomic=true nothing is. Sent again, it changes nothing. ' +
    'The food has been eaten or moved already: use the recorded-afterwards operations, which always post, and settle the findings.',
  permission: 'stock.write',
  naming: 'none',
  mode: 'exclusive',
  bodyLimitKb: 2048,
  body: z
    .strictObject({
      atomic: z.boolean().optional(),
      lines: z.array(Line).min(1).max(1000),
    })
    .meta({ id: 'NewPaperEntries' }),
  answers: {
    207: {
      description: 'One result per line',
      schema: z
        .object({ recorded: z.int(), refused: z.int(), results: z.array(PaperResult) })
        .meta({ id: 'PaperResults' }),
    },
  },
  errors: ['atomic-refused', 'rule-broken', 'code-taken'],
  example: {
    status: 207,
    body: {
      lines: [
        {
          operation: 'createUse',
          body: {
            id: night('use'),
            lotId: exampleId('lot/beef-stew-packs-1'),
            placeId: exampleId('place/ck-chiller'),
            quantity: 1,
            unit: 'piece',
            occurredAt: '2026-11-24T23:10:00+00:00',
          },
        },
      ],
    },
  },
});
