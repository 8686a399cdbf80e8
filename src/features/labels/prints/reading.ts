/** Reading prints, and drawing them again. Refusals: `not-found`, `rule-broken`, `bad-cursor`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { crateContents } from '../crates/content.ts';
import { crateFileReply, fileReply, formatOf } from '../files.ts';
import { labelsOf } from '../lot-label.ts';
import { answerOf, headAnswer } from './answers.ts';
import type { getLabelPrint, getLabelPrintFile, listLabelPrints } from './contract.ts';
import * as store from './store.ts';

export async function readPrints({ tx, scope, query, path }: Context<typeof listLabelPrints>): Promise<Reply> {
  const page = pageOf(query, ['int']);
  const filter = {
    siteId: query.siteId ?? null,
    lotId: query.lotId ?? null,
    serial: query.serial ?? null,
    reason: query.reason ?? null,
  };
  const rows = await store.listPrints(tx, scope, filter, page);
  const reply = pageReply(path, query, page, rows, (row) => [String(row.printNo)]);
  const { items, nextCursor } = reply.body as { items: typeof rows; nextCursor: string | null };
  return { ...reply, body: { items: items.map(headAnswer), nextCursor } };
}

export async function readPrint({ tx, scope, params }: Context<typeof getLabelPrint>): Promise<Reply> {
  const found = await store.findPrint(tx, scope, params.printId);
  if (!found) throw notFound('label print');
  return { status: 200, body: await answerOf(tx, found) };
}

export async function readFile(context: Context<typeof getLabelPrintFile>): Promise<Reply> {
  const { tx, scope, params, query, accept } = context;
  const found = await store.findPrint(tx, scope, params.printId);
  if (!found) throw notFound('label print');
  const format = formatOf(query, accept);
  const wanted = query.label ?? (format === 'pdf' ? undefined : '1');
  if (Number(wanted ?? 1) > found.labels) {
    const detail = `The print has ${found.labels} labels.`;
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/label' }] });
  }
  const name = `labels-${found.printId.slice(0, 8)}${wanted === undefined ? '' : `-${wanted}`}`;
  const file = { name, format, layout: found.layout, madeAt: found.printedAt };
  const { content, copies } = found;
  return content.crates.length > 0
    ? crateFileReply({ ...file, labels: nth(crateContents(content.crates, copies), wanted) }, query)
    : fileReply({ ...file, labels: nth(labelsOf(content.packs, copies), wanted) }, query);
}

function nth<Label>(labels: Iterable<Label>, wanted: string | undefined): Iterable<Label> {
  if (wanted === undefined) return labels;
  return [...labels].slice(Number(wanted) - 1, Number(wanted));
}
