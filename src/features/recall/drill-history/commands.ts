/** Reading the history of drills. Refusal: `bad-cursor`. */
import type { Share } from '../../../domain/recall/account.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { loadAccount } from '../account/load.ts';
import type { listRecallDrills } from './contract.ts';
import { listDrills, listFirstAcknowledgements, type DrillRow, type FirstAcknowledgementRow } from './queries.ts';

/** Open drills are counted anew, each over its whole scope: a page holds few. */
const MOST_DRILLS = 20;

const minutesBetween = (from: Date, to: Date): number =>
  Math.max(0, Math.floor((to.getTime() - from.getTime()) / 60_000));

/** `supplier-lot CK-261124-YT51S BRK-7741`: the kind, a lot of it, and what was said that a person can read. */
export function startText(said: Readonly<Record<string, unknown>>): string {
  const words = [
    ...(typeof said['lotCode'] === 'string' ? [] : ['firstLotCode']),
    'lotCode',
    'supplier',
    'supplierLotCode',
    'batchCode',
    'dispatchCode',
    'allergen',
    'from',
    'to',
  ];
  const named = words.flatMap((name) => (typeof said[name] === 'string' ? [said[name]] : []));
  const kind = typeof said['kind'] === 'string' ? said['kind'] : 'start';
  return [kind, ...named].join(' ');
}

async function sharesOf(tx: Tx, drill: DrillRow): Promise<{ answeredShare: Share; accountedShare: Share }> {
  if (drill.figures) return drill.figures;
  const { recallId, holdId } = drill;
  return (await loadAccount(tx, { recallId, holdId, drill: true })).figures;
}

async function drillAnswer(tx: Tx, drill: DrillRow, first: readonly FirstAcknowledgementRow[]) {
  const acknowledgements = first
    .filter((row) => row.recallId === drill.recallId)
    .map(({ siteId, siteName, acknowledgedAt }) => ({
      siteId,
      siteName,
      minutes: acknowledgedAt && minutesBetween(drill.openedAt, acknowledgedAt),
    }));
  const minutes = acknowledgements.flatMap((row) => row.minutes ?? []);
  const all = minutes.length > 0 && minutes.length === acknowledgements.length;
  const { answeredShare, accountedShare } = await sharesOf(tx, drill);
  return {
    recallId: drill.recallId,
    code: drill.code,
    title: drill.title,
    openedAt: drill.openedAt.toISOString(),
    closedAt: drill.closedAt?.toISOString() ?? null,
    startText: drill.starts.map(startText).join('; '),
    lotCount: drill.lotCount,
    sites: acknowledgements.length,
    scopeMs: drill.scopeMs,
    acknowledgements,
    slowestAcknowledgementMinutes: all ? Math.max(...minutes) : null,
    answeredShare,
    accountedShare,
    minutesToClose: drill.closedAt && minutesBetween(drill.openedAt, drill.closedAt),
  };
}

export async function readDrills(context: Context<typeof listRecallDrills>): Promise<Reply> {
  const { tx, scope, query, path } = context;
  const asked = pageOf(query, ['time', 'uuid']);
  const page = { ...asked, limit: Math.min(asked.limit, MOST_DRILLS) };
  const rows = await listDrills(tx, scope, page);
  const shown = rows.slice(0, page.limit);
  const first = await listFirstAcknowledgements(
    tx,
    shown.map((row) => row.recallId),
  );
  const drills = [];
  for (const row of shown) drills.push(await drillAnswer(tx, row, first));
  const { headers, body } = pageReply(path, query, page, rows, (row) => [row.openedAt.toISOString(), row.recallId]);
  const { nextCursor } = body as { nextCursor: string | null };
  return { status: 200, body: { drills, nextCursor }, ...(headers && { headers }) };
}
