/** Reading the timeline. Refusal: `not-found`. */
import table from '../../../../shared/recalls.json' with { type: 'json' };
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findPeopleNames } from '../../identity/index.ts';
import { getVisibleRecall } from '../answer.ts';
import type { RecallRow } from '../queries.ts';
import { listExceptions } from '../scope.ts';
import type { getRecallTimeline } from './contract.ts';
import { listEvents, type EventRow } from './queries.ts';

const MOST_EVENTS = 2_000;
const MOST_EXCEPTIONS = 500;

const lots = (count: number): string => (count === 1 ? '1 lot' : `${count} lots`);
const noted = (text: string, note: string | null): string => (note === null ? text : `${text} (${note})`);

const SAID = [
  ['class', 'class'],
  ['depth', 'depth'],
  ['action', 'action'],
  ['reason', 'reason'],
  ['checkLevel', 'checks at level'],
  ['checkPercent', 'per cent'],
  ['leadName', 'led by'],
  ['contact', 'reached at'],
] as const;

/** `class II, action recall. What is wrong` */
function saidText(said: Readonly<Record<string, unknown>>): string {
  const named = SAID.filter(([name]) => name in said).map(([name, word]) => `${word} ${String(said[name])}`);
  const [text, note] = [said['text'], said['note']].map((one) => (typeof one === 'string' ? one : null));
  const words = [named.join(', '), text ?? ''].filter((part) => part !== '').join('. ');
  return noted(words, note ?? null);
}

function textOf(event: EventRow): string {
  switch (event.kind) {
    case 'opened':
      return `${event.detail.title}: ${lots(event.detail.lots)} in scope`;
    case 'revision':
      return `${lots(event.detail.lots)} came into the scope${event.detail.operation === null ? '' : ` by ${event.detail.operation}`}`;
    case 'statement':
      return `Said: ${saidText(event.detail)}`;
    case 'notice':
      return `Notice ${event.detail.no} sent, ${lots(event.detail.lots)}`;
    case 'acknowledgement':
      return noted(`Notice ${event.detail.no} read by ${event.detail.name}`, event.detail.note);
    case 'response': {
      const outcomes = Object.entries(event.detail.outcomes).map(([outcome, count]) => `${count} x ${outcome}`);
      return noted(`Answer signed by ${event.detail.signedBy}: ${outcomes.join(', ')}`, event.detail.note);
    }
    case 'check': {
      const method =
        table.checkMethods.list.find((one) => one.code === event.detail.method)?.label ?? event.detail.method;
      return noted(`${method}: ${event.detail.effective ? 'done as asked' : 'not done as asked'}`, event.detail.note);
    }
    case 'closed':
      return `Closed: ${event.detail.note}`;
    case 'reopened':
      return `Opened again: ${event.detail.note}`;
  }
}

function eventAnswer(event: EventRow) {
  const { kind, siteId, siteName, factId } = event;
  const times = { at: event.at.toISOString(), recordedAt: event.recordedAt.toISOString() };
  return { ...times, kind, siteId, siteName, who: event.actorName, text: textOf(event), factId };
}

/** What happened in spite of the hold. */
async function exceptionAnswers(tx: Tx, { holdId, openedSeq }: RecallRow) {
  const rows = await listExceptions(tx, holdId, openedSeq, { limit: MOST_EXCEPTIONS, after: null });
  const names = await findPeopleNames(
    tx,
    rows.map((row) => row.actorId),
  );
  return rows.map((row) => ({
    at: row.occurredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    kind: 'exception' as const,
    siteId: row.siteId,
    siteName: row.siteName,
    who: names.get(row.actorId) ?? null,
    text: `In spite of the hold: ${row.kind} of ${row.quantity} ${row.unit} of lot ${row.lotCode}`,
    factId: row.factId,
  }));
}

export async function timelineOf(tx: Tx, found: RecallRow) {
  const rows = await listEvents(tx, found.recallId, MOST_EVENTS);
  const exceptions = await exceptionAnswers(tx, found);
  // The sort is stable: events of one moment stay in the order in which they follow from each other.
  const all = [...rows.map(eventAnswer), ...exceptions].sort((a, b) =>
    a.recordedAt < b.recordedAt ? -1 : a.recordedAt > b.recordedAt ? 1 : 0,
  );
  const more = rows.length > MOST_EVENTS || exceptions.length > MOST_EXCEPTIONS;
  return { recallId: found.recallId, events: all.slice(0, MOST_EVENTS), more: more || all.length > MOST_EVENTS };
}

export async function readTimeline(context: Context<typeof getRecallTimeline>): Promise<Reply> {
  const { tx, scope, params } = context;
  return { status: 200, body: await timelineOf(tx, await getVisibleRecall(tx, scope, params.recallId)) };
}
