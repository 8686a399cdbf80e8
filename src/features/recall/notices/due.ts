/** Telling sites: one notice for each that has or had any of the food, and a further one when there is more. Refusals: none. */
import { noticeText, noticeWords } from '../../../domain/recall/notice.ts';
import { siteClock } from '../../../domain/time.ts';
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import { derivedId } from '../../../platform/ids.ts';
import { outbox, type Job } from '../../../platform/jobs.ts';
import { listOpenCases } from '../open-cases.ts';
import { findRecall } from '../queries.ts';
import { readInForce } from '../statements/store.ts';
import { insertNotices, listDueSites } from './store.ts';

/** With more lots than that the gate would stay closed for seconds over words: the sweep tells the sites within a minute. */
const MOST_AT_ONCE = 10_000;

const EVERYWHERE = { all: true, siteIds: [], includes: () => true };

/**
 * May be called at any time, also twice at once: what was told is not told again.
 * @param options.again tells every site anew, because there is something else to say
 * @returns how many sites were told
 */
export async function sendDueNotices(
  tx: Tx,
  recallId: string,
  actorId: string,
  nowMs: number,
  options: { readonly again?: boolean } = {},
): Promise<number> {
  const found = await findRecall(tx, EVERYWHERE, recallId);
  if (!found) return 0;
  const due = await listDueSites(tx, recallId, found.holdId, options.again ?? false);
  if (due.length === 0) return 0;
  const said = await readInForce(tx, recallId);
  const drafts = due.map((site) => {
    const facts = { caseCode: found.code, drill: found.drill, title: found.title, ...said, ...site };
    const bodyText = noticeText(noticeWords({ ...facts, sentAtText: siteClock(nowMs, site.timeZone) }));
    return { noticeId: derivedId(`recall-notice-${site.noticeNo}-${site.siteId}`, recallId), ...site, bodyText };
  });
  const noticeIds = await insertNotices(tx, recallId, drafts, actorId, nowMs);
  if (noticeIds.length > 0) await outbox(tx, 'recall-notice', { recallId, noticeIds }, nowMs);
  return noticeIds.length;
}

/** As part of opening a case or adding to it. */
export async function tellSites(
  tx: Tx,
  recall: { readonly recallId: string; readonly lotCount: number },
  actorId: string,
  nowMs: number,
): Promise<void> {
  if (recall.lotCount <= MOST_AT_ONCE) await sendDueNotices(tx, recall.recallId, actorId, nowMs);
}

/** Each minute: food of an open case may have reached a further site, or a further lot may be in it. */
export function noticeSites({ db, clock }: { db: Db; clock: Clock }): Job {
  return {
    name: 'notice-sites',
    sweep: '* * * * *',
    async run({ groupId }) {
      const open = await db.inGroup(groupId, 'read', listOpenCases);
      for (const { recallId, openedBy } of open) {
        await db.inGroup(groupId, 'write', (tx) => sendDueNotices(tx, recallId, openedBy, clock.nowMs()));
      }
    },
  };
}
