/** Reading and acknowledging notices. Refusals: `not-found`, `bad-cursor`, `wrong-state` (it was acknowledged before). */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { outbox } from '../../../platform/jobs.ts';
import type * as contract from './contract.ts';
import { printNotice } from './print.ts';
import { findNotice, insertAcknowledgement, listNotices, type NoticeRow } from './store.ts';

function briefOf(row: NoticeRow) {
  const { noticeId, recallId, recallCode, drill, title, siteId, siteName, noticeNo, lotCount, answered } = row;
  return {
    ...{ noticeId, recallId, recallCode, drill, title, siteId, siteName, noticeNo, lotCount, answered },
    sentAt: row.sentAt.toISOString(),
    acknowledgedAt: row.acknowledgedAt?.toISOString() ?? null,
    acknowledgedBy: row.acknowledgedBy,
  };
}

export async function readNotices(context: Context<typeof contract.listRecallNotices>): Promise<Reply> {
  const { tx, scope, query, path } = context;
  const page = pageOf(query, ['time', 'uuid']);
  const filter = {
    siteId: query.siteId ?? null,
    recallId: query.recallId ?? null,
    unanswered: query.unanswered === undefined ? null : query.unanswered === 'true',
  };
  const rows = await listNotices(tx, scope, filter, page);
  return pageReply(path, query, page, rows.map(briefOf), (row) => [row.sentAt, row.noticeId]);
}

const TYPES = ['application/json', 'text/plain', 'application/pdf'] as const;
const FORMATS: Readonly<Record<string, 'json' | 'text' | 'pdf'>> = {
  'application/json': 'json',
  'text/plain': 'text',
  'application/pdf': 'pdf',
};

export async function readNotice(context: Context<typeof contract.getRecallNotice>): Promise<Reply> {
  const { tx, scope, params, query } = context;
  const notice = await findNotice(tx, scope, params.noticeId);
  if (!notice) throw notFound('notice');
  const format = query.format ?? FORMATS[context.accept(TYPES)] ?? 'json';
  if (format === 'json') return { status: 200, body: { ...briefOf(notice), text: notice.text, lots: notice.lots } };
  if (format === 'text') return { status: 200, raw: { contentType: 'text/plain; charset=utf-8', data: notice.text } };
  const name = `notice-${notice.recallCode}-${notice.noticeNo}.pdf`;
  return {
    status: 200,
    raw: { contentType: 'application/pdf', data: await printNotice(notice) },
    headers: { 'Content-Disposition': `inline; filename="${name}"` },
  };
}

export async function acknowledge(context: Context<typeof contract.acknowledgeRecallNotice>): Promise<Reply> {
  const { tx, scope, params, body, factId, actor, nowMs } = context;
  const notice = await findNotice(tx, scope, params.noticeId);
  if (!notice) throw notFound('notice');
  const again = new Refused('wrong-state', 'Somebody has acknowledged this notice already.');
  if (notice.acknowledgedAt) throw again;
  const acknowledgedAtMs = body.acknowledgedAt === undefined ? nowMs : fromInstant(body.acknowledgedAt);
  const row = {
    acknowledgementId: factId,
    noticeId: notice.noticeId,
    acknowledgedAtMs,
    recordedBy: actor.actorId,
    name: body.name,
    note: body.note ?? null,
  };
  // From here on only success, but for somebody who was quicker.
  if (!(await insertAcknowledgement(tx, row, nowMs))) throw again;
  const { recallId, siteId, noticeId } = notice;
  await outbox(tx, 'recall-acknowledged', { recallId, siteId, noticeId }, nowMs);
  const minutesSinceSent = Math.max(0, Math.floor((acknowledgedAtMs - notice.sentAt.getTime()) / 60_000));
  const times = { acknowledgedAt: new Date(acknowledgedAtMs).toISOString(), recordedAt: new Date(nowMs).toISOString() };
  const answer = { acknowledgementId: factId, noticeId, recallId, siteId, name: body.name, ...times, minutesSinceSent };
  return { status: 201, body: answer, siteId };
}
