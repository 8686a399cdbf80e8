/** Announced deliveries. Refusals: `not-found`, `rule-broken`, `bad-cursor`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { deliveryAnswer } from './answer.ts';
import type * as contract from './contract.ts';
import {
  findDelivery,
  findReceiptHead,
  findReceivedLines,
  insertReceiptLink,
  listDeliveries,
  type DeliveryRow,
} from './store.ts';

const answerOf = async (tx: Tx, row: DeliveryRow) =>
  deliveryAnswer(row, row.receiptIds.length === 0 ? [] : await findReceivedLines(tx, row.receiptIds));

export async function readDelivery(context: Context<typeof contract.getAnnouncedDelivery>): Promise<Reply> {
  const { tx, scope, params } = context;
  const row = await findDelivery(tx, scope, params.announcedDeliveryId);
  if (!row) throw notFound('announced delivery');
  return { status: 200, body: await answerOf(tx, row) };
}

export async function readDeliveries(context: Context<typeof contract.listAnnouncedDeliveries>): Promise<Reply> {
  const { tx, scope, query, path } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const rows = await listDeliveries(tx, scope, { siteId: query.siteId ?? null, state: query.state ?? null }, page);
  const answers = [];
  // A page's receipts one by one: few of a page were received, and each has few lines.
  for (const row of rows) answers.push(await answerOf(tx, row));
  return pageReply(path, query, page, answers, (row) => [row.shippedAt, row.announcedDeliveryId]);
}

export async function linkReceipt(context: Context<typeof contract.receiveAnnouncedDelivery>): Promise<Reply> {
  const { tx, scope, params, body, actor, nowMs } = context;
  const { announcedDeliveryId } = params;
  const { goodsReceiptId } = body;
  const delivery = await findDelivery(tx, scope, announcedDeliveryId);
  const receipt = await findReceiptHead(tx, goodsReceiptId);
  if (!delivery) throw notFound('announced delivery');
  if (!receipt || !scope.includes(receipt.siteId)) throw notFound('goods receipt');
  const broken = (detail: string) =>
    new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/goodsReceiptId' }] });
  // Where the document was not understood, the person who received it says so by this.
  if (delivery.siteId !== null && delivery.siteId !== receipt.siteId) {
    throw broken(`It was announced for ${delivery.siteName}; the receipt is of another site.`);
  }
  if (delivery.supplierId !== null && receipt.supplierId !== null && delivery.supplierId !== receipt.supplierId) {
    throw broken(`It was announced by ${delivery.supplierName}; the receipt is of another supplier.`);
  }
  if (!(await insertReceiptLink(tx, { announcedDeliveryId, goodsReceiptId, actorId: actor.actorId }, nowMs))) {
    throw broken('That receipt was named already for an announced delivery.');
  }
  // From here on only success.
  const row = await findDelivery(tx, scope, announcedDeliveryId);
  if (!row) throw new Error('the announced delivery cannot be read back');
  const location = `/v1/announced-deliveries/${announcedDeliveryId}`;
  return { status: 201, body: await answerOf(tx, row), headers: { Location: location }, siteId: receipt.siteId };
}
