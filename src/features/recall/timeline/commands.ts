/** Reading the timeline. Refusal: `not-found`. */
import table from '../../../../shared/recalls.json' with { type: 'json' };
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { getCase } from '../case-rows.ts';
import type { getRecallTimeline } from './contract.ts';
import { listEvents, type EventRow } from './queries.ts';

const MOST_EVENTS = 2_000;

const lots = (count: number): string => (count === 1 ? '1 lot' : `${count} lots`);
const noted = (text: string, note: string | null): string => (note === null ? text : `${text} (${note})`);

/** `class II, action recall` */
function saidText(said: Readonly<Record<string, unknown>>): string {
  return Object.entries(said)
    .map(([name, value]) => `${name} ${String(value)}`)
    .join(', ');
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

export async function readTimeline(context: Context<typeof getRecallTimeline>): Promise<Reply> {
  const found = await getCase(context, context.params.recallId);
  const rows = await listEvents(context.tx, found.recallId, MOST_EVENTS);
  const events = rows.slice(0, MOST_EVENTS).map((event) => ({
    at: event.at.toISOString(),
    recordedAt: event.recordedAt.toISOString(),
    kind: event.kind,
    siteId: event.siteId,
    siteName: event.siteName,
    who: event.actorName,
    text: textOf(event),
    factId: event.factId,
  }));
  return { status: 200, body: { recallId: found.recallId, events, more: rows.length > MOST_EVENTS } };
}
