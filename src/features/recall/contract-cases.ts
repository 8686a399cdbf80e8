/** Recall cases: opening, reading, more starting points, drills. */
import { z } from 'zod';
import { defineOperation } from '../../platform/http/contract.ts';
import { pageSchema } from '../../platform/http/paging.ts';
import { factId, instant, line, pageQuery, quantityOrZero, text, uuid } from '../../platform/http/scalars.ts';
import { exampleId } from '../../platform/ids.ts';
import recalls from '../../../shared/recalls.json' with { type: 'json' };
import { StartErrors, Starts } from './contract-starts.ts';
import { OnTheRoad, recallParams, RecallTotals } from './shapes.ts';

const tag = 'recall';
const codes = (of: { readonly list: readonly { readonly code: string }[] }) => z.enum(of.list.map((one) => one.code));

/** What can be said of a case; each of it may be left out. */
export const statementFields = {
  class: codes(recalls.classes).optional().meta({ description: 'Of shared/recalls.json, as in 21 CFR 7.3(m)' }),
  depth: codes(recalls.depths)
    .optional()
    .meta({ description: 'How far down the chain it goes, as in 21 CFR 7.42(b)(1)' }),
  action: codes(recalls.actions)
    .optional()
    .meta({ description: 'Withdrawal or recall as in Regulation (EC) 178/2002 Art. 19' }),
  reason: codes(recalls.reasons).optional(),
  text: text(2000).optional(),
  checkLevel: codes(recalls.checkLevels).optional().meta({ description: 'As in 21 CFR 7.42(b)(3)' }),
  checkPercent: z.int().min(1).max(100).optional().meta({ description: 'Of the sites, for level B' }),
  leadName: line(120).optional(),
  contact: line(200).optional(),
};

/** The newest value of each; what was never said is missing. */
export const StatementInForce = z.object(statementFields).meta({ id: 'RecallCaseStatement' });

const state = z.enum(['open', 'closed']);

const RecallBrief = z
  .object({
    recallId: uuid,
    code: z.string().meta({ example: 'RC-0001' }),
    drill: z.boolean(),
    title: z.string(),
    state,
    openedAt: instant,
    openedBy: uuid,
    lotCount: quantityOrZero,
  })
  .meta({ id: 'RecallBrief' });

const Recall = RecallBrief.extend({
  holdId: uuid.meta({ description: 'The hold that reaches every lot in scope; the hold of a drill blocks nothing' }),
  scopeMs: z.int().meta({ description: 'How long it took to find the scope and put it on hold, in milliseconds' }),
  drawnWith: z.string().nullable().meta({ description: 'Of a drill on a lot drawn by chance: what it was drawn with' }),
  statement: StatementInForce,
  starts: z.array(
    z.object({
      startId: uuid,
      position: z.int(),
      kind: z.string(),
      said: z.record(z.string(), z.unknown()).meta({ description: 'As it was said, with the ids that it named' }),
      addedAt: instant,
      lotCount: quantityOrZero.meta({ description: 'Lots that it names by itself' }),
    }),
  ),
  revision: z.int().meta({ description: '1 is the opening' }),
  sites: z.array(z.object({ siteId: uuid, siteName: z.string(), lotCount: quantityOrZero })),
  onTheRoad: z.array(OnTheRoad),
  totals: z.array(RecallTotals),
}).meta({ id: 'Recall' });

const opened = { 201: { description: 'The case', schema: Recall, headers: ['Location'] as const } };

export const openRecall = defineOperation({
  id: 'openRecall',
  method: 'post',
  path: '/v1/recalls',
  tag,
  summary: 'Open a recall, and put everything in its scope on hold',
  description:
    'One transaction finds the scope and places the hold, while nothing else is written in the group: all of it is on hold or ' +
    'none. What is on the road arrives into the hold. A drill walks and counts the same and blocks nothing. Sites are told at once; with more than 10,000 lots, within a minute. Only for those who may at ' +
    'every site.',
  permission: 'recalls.write',
  naming: 'fact',
  mode: 'exclusive',
  body: z
    .strictObject({
      id: factId,
      title: line(160),
      drill: z.boolean().optional(),
      starts: Starts,
      besides: z.boolean().optional().meta({ description: 'Also when a case with the same starting points is open' }),
      statement: z.strictObject(statementFields).optional(),
    })
    .meta({ id: 'NewRecall' }),
  answers: opened,
  errors: [...StartErrors, 'recall-open-already'],
  example: {
    status: 201,
    role: 'quality',
    body: {
      id: exampleId('new/recall'),
      title: 'Brook Farm called: metal in carrots BRK-7741',
      drill: true,
      starts: [{ kind: 'supplier-lot', supplier: 'Brook Farm', supplierLotCode: 'BRK-7741' }],
      statement: { class: 'II', depth: 'consumer', action: 'recall', reason: 'foreign-body', checkLevel: 'A' },
    },
  },
});

export const addRecallStarts = defineOperation({
  id: 'addRecallStarts',
  method: 'post',
  path: '/v1/recalls/{recallId}/starts',
  tag,
  summary: 'Add starting points to an open case; what they reach is its next revision',
  permission: 'recalls.write',
  naming: 'fact',
  mode: 'exclusive',
  params: recallParams,
  body: z.strictObject({ id: factId, starts: Starts, note: text(1000) }).meta({ id: 'NewRecallStarts' }),
  answers: opened,
  errors: [...StartErrors, 'not-found', 'wrong-state'],
  example: {
    status: 201,
    role: 'quality',
    params: { recallId: exampleId('recall/drill-milk') },
    body: {
      id: exampleId('new/recall-starts'),
      note: 'The dairy names a second code',
      starts: [{ kind: 'lot', lotId: exampleId('lot/cream-0') }],
    },
  },
});

export const startRecallDrill = defineOperation({
  id: 'startRecallDrill',
  method: 'post',
  path: '/v1/recall-drills',
  tag,
  summary: 'Open a drill on a lot of the past, drawn by chance',
  description:
    'Drawn among lots that came from a supplier or out of a batch, and of which there is something left or something was made. The ' +
    'draw follows from the id of this request, so that it can be checked afterwards.',
  permission: 'recalls.write',
  naming: 'fact',
  mode: 'exclusive',
  body: z
    .strictObject({
      id: factId,
      days: z.int().min(1).max(800).optional().meta({ description: 'How far back lots may be born; 90 if left out' }),
      title: line(160).optional(),
    })
    .meta({ id: 'NewRecallDrill' }),
  answers: opened,
  errors: ['starts-match-nothing', 'scope-too-large', 'rule-broken'],
  example: { status: 201, role: 'quality', body: { id: exampleId('new/recall-drill'), days: 30 } },
});

export const listRecalls = defineOperation({
  id: 'listRecalls',
  method: 'get',
  path: '/v1/recalls',
  tag,
  summary: 'List cases, the newest first',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  query: z.strictObject({ ...pageQuery, state: state.optional(), drill: z.enum(['true', 'false']).optional() }),
  answers: {
    200: { description: 'Cases that reach your sites', schema: pageSchema(RecallBrief), headers: ['Link'] },
  },
  errors: ['bad-cursor'],
  example: { status: 200, query: { state: 'open' } },
});

export const getRecall = defineOperation({
  id: 'getRecall',
  method: 'get',
  path: '/v1/recalls/{recallId}',
  tag,
  summary: 'Read a case: what it began with, what it reaches, where that is',
  permission: 'recalls.read',
  naming: 'none',
  mode: 'read',
  params: recallParams,
  answers: { 200: { description: 'The case', schema: Recall } },
  errors: ['not-found'],
  example: { status: 200, params: { recallId: exampleId('recall/parsley') } },
});
