/**
 * Capture of a partner's document. Refusals: `epcis-document-invalid` (the document as a whole; an event that is not valid is in the job),
 * `body-too-large`, `malformed-json`, `id-used-with-other-content`, `not-found`.
 */
import { createHash } from 'node:crypto';
import { readAnnouncements, type CapturedEvent, type Unused } from '../../../domain/epcis/announced.ts';
import { checkDigitFaults, eventsOf, unfitText, type Fault } from '../../../domain/epcis/capture-checks.ts';
import { eventFaults } from '../../../domain/epcis/capture-rules.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { utc } from '../../../domain/time.ts';
import { parseJson } from '../../../platform/http/body.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { contentHashOf } from '../../../platform/http/facts.ts';
import type { RawBody } from '../../../platform/http/raw-body.ts';
import { derivedId } from '../../../platform/ids.ts';
import { standardHeaderValues } from '../epcis-headers.ts';
import { CAPTURE_LIMIT_KB, MOST_EVENTS, type captureEpcis, type getEpcisCapture } from './contract-capture.ts';
import * as store from './store-capture.ts';

interface Received {
  readonly bytes: Buffer;
  readonly contentHash: Buffer;
  readonly events: readonly unknown[];
  readonly faults: readonly Fault[];
  /** to the list of events in the document */
  readonly pointer: string;
}

function invalid(detail: string, pointer: string): Refused {
  return new Refused('epcis-document-invalid', detail, { errors: [{ detail, pointer }] });
}

export async function receiveDocument(body: RawBody): Promise<Received> {
  const chunks: Buffer[] = [];
  for await (const chunk of body.chunks) chunks.push(chunk);
  const bytes = Buffer.concat(chunks);
  const document = parseJson(bytes);
  const unfit = unfitText(document);
  if (unfit !== null) throw invalid('It holds control characters, or is nested deeper than 20.', unfit);
  const found = eventsOf(document);
  if (!found)
    throw invalid(
      'It is no EPCISDocument or EPCISQueryDocument: type, @context, schemaVersion, creationDate and a list of events are wanted.',
      '#',
    );
  const { events, pointer } = found;
  if (events.length === 0) throw invalid('It holds no event.', pointer);
  if (events.length > MOST_EVENTS) {
    throw new Refused('body-too-large', `It holds ${events.length} events; the limit here is ${MOST_EVENTS}.`);
  }
  return { bytes, events, pointer, faults: faultsOf(events), contentHash: createHash('sha256').update(bytes).digest() };
}

/** An event that breaks the rules is not looked at for more. */
function faultsOf(events: readonly unknown[]): Fault[] {
  return events.flatMap((event, at) => {
    const faults = eventFaults(event, at);
    return faults.length > 0 ? faults : checkDigitFaults(event as CapturedEvent, at);
  });
}

/** The name of an event that came without one: the same event again is the same name. */
function nameOf(event: CapturedEvent): string {
  return `urn:uuid:${derivedId('captured-event', contentHashOf(event).toString('hex'))}`;
}

export async function captureDocument(context: Context<typeof captureEpcis>, received: Received): Promise<Reply> {
  const { tx, actor, scope, factId, headers, nowMs } = context;
  const { events, contentHash } = received;
  await store.lockCaptures(tx);
  const known = await store.findCapture(tx, factId);
  if (known) {
    if (!maySee(scope, known) || !Buffer.from(known.contentHash).equals(contentHash)) {
      throw new Refused('id-used-with-other-content', 'Another document was captured under that Idempotency-Key.');
    }
    return accepted(known);
  }
  const errorBehaviour = headers['gs1-capture-error-behaviour'] ?? 'rollback';
  const wrong = new Set(received.faults.map(({ at }) => at));
  const none = wrong.size > 0 && errorBehaviour === 'rollback';
  const read = readAnnouncements(
    none ? [] : events.map((event, at) => (wrong.has(at) ? null : (event as CapturedEvent))),
  );
  const named = read.announcements.map((one) => ({
    ...one,
    eventId: one.eventId ?? nameOf(events[one.at] as CapturedEvent),
  }));
  const sites = await store.findSitesByGln(
    tx,
    named.flatMap(({ toGln }) => (toGln === null ? [] : [toGln])),
  );
  const before = await store.findByEventIds(
    tx,
    [...named, ...read.withdrawals].map(({ eventId }) => eventId),
  );
  const glnsBefore = [...before.values()].flatMap(({ toGln }) => (toGln === null ? [] : [toGln]));
  const sitesBefore = await store.findSitesByGln(tx, glnsBefore);

  const unused: Unused[] = [...read.unused];
  const leave = (at: number, eventId: string, why: string): void => {
    const event = events[at] as CapturedEvent;
    unused.push({
      at,
      eventId,
      type: String(event.type),
      bizStep: typeof event.bizStep === 'string' ? event.bizStep : null,
      why,
    });
  };
  const mine = (siteId: string | undefined) => scope.all || (siteId !== undefined && scope.includes(siteId));
  const fresh = new Map<string, store.NewDelivery>();
  for (const one of named) {
    const earlier = before.get(one.eventId);
    if (!mine(sites.get(one.toGln ?? '')))
      leave(one.at, one.eventId, 'it is not shipped to a site at which you may act');
    else if (earlier) leave(one.at, one.eventId, 'it was announced before');
    else if (fresh.has(one.eventId)) leave(one.at, one.eventId, 'the document says it twice');
    else fresh.set(one.eventId, { ...one, announcedDeliveryId: derivedId(`announced-delivery-${one.at}`, factId) });
  }
  const withdrawn: store.NewWithdrawal[] = [];
  for (const { at, eventId, declaredAtMs, reason } of read.withdrawals) {
    const earlier = before.get(eventId);
    const visible = earlier && mine(sitesBefore.get(earlier.toGln ?? '')) ? earlier : fresh.get(eventId);
    if (!visible) leave(at, eventId, store.NOTHING_ANNOUNCED);
    else if (earlier?.withdrawn) leave(at, eventId, 'it was taken back before');
    else withdrawn.push({ announcedDeliveryId: visible.announcedDeliveryId, declaredAtMs, reason });
  }
  const deliveries = [...fresh.values()];
  withdrawn.push(...(await declaredBefore(tx, deliveries, sites)));
  const row: store.CaptureRow = {
    captureId: factId,
    recordedAtMs: nowMs,
    capturedBy: actor.actorId,
    siteIds: scope.all ? null : scope.siteIds,
    errorBehaviour,
    contentHash,
    eventCount: events.length,
    errors: received.faults.map(({ at, pointer, detail }) => ({
      type: 'epcisException:ValidationException',
      title: 'The event is not valid',
      status: 400,
      detail,
      pointer: `${received.pointer}/${at}${pointer}`,
    })),
    unused: unused.sort((a, b) => a.at - b.at),
    announcedDeliveryIds: deliveries.map(({ announcedDeliveryId }) => announcedDeliveryId),
  };
  // From here on only success.
  await store.insertCapture(tx, row, received.bytes);
  if (deliveries.length > 0) await store.insertDeliveries(tx, factId, deliveries, nowMs);
  if (deliveries.length > 0) await store.insertDeliveryLines(tx, deliveries);
  if (withdrawn.length > 0) await store.insertWithdrawals(tx, factId, withdrawn);
  return accepted(row);
}

/** Deliveries whose shipping was declared an error before it came here, by one who could act where they go. */
async function declaredBefore(
  tx: Context<typeof captureEpcis>['tx'],
  deliveries: readonly store.NewDelivery[],
  sites: ReadonlyMap<string, string>,
): Promise<store.NewWithdrawal[]> {
  const byEvent = new Map(deliveries.map((delivery) => [delivery.eventId, delivery]));
  const early = byEvent.size === 0 ? [] : await store.findEarlyDeclarations(tx, [...byEvent.keys()]);
  return early.flatMap(({ eventId, at, document, siteIds }) => {
    const delivery = byEvent.get(eventId);
    if (!delivery || !(siteIds === null || siteIds.includes(sites.get(delivery.toGln ?? '') ?? ''))) return [];
    const said = eventsOf(parseJson(document))?.events[at];
    const [found] = said === undefined ? [] : readAnnouncements([said as CapturedEvent]).withdrawals;
    return found ? [{ ...found, announcedDeliveryId: delivery.announcedDeliveryId }] : [];
  });
}

/** Whoever may act at all the sites that its sender could. */
function maySee(scope: SiteScope, { siteIds }: store.CaptureRow): boolean {
  return siteIds === null ? scope.all : siteIds.every((siteId) => scope.includes(siteId));
}

export async function readCapture({ tx, scope, params }: Context<typeof getEpcisCapture>): Promise<Reply> {
  const row = await store.findCapture(tx, params.captureID);
  if (!row || !maySee(scope, row)) throw notFound('capture');
  return { status: 200, body: jobOf(row), headers: standardHeaderValues };
}

const accepted = (row: store.CaptureRow): Reply => ({
  status: 202,
  body: jobOf(row),
  headers: {
    ...standardHeaderValues,
    Location: `/v1/epcis/capture/${row.captureId}`,
    'GS1-EPCIS-Capture-Limit': String(MOST_EVENTS),
    'GS1-EPCIS-Capture-File-Size-Limit': String(CAPTURE_LIMIT_KB * 1024),
    'GS1-Capture-Error-Behaviour': row.errorBehaviour,
  },
});

function jobOf(row: store.CaptureRow): object {
  return {
    captureID: row.captureId,
    createdAt: utc(row.recordedAtMs),
    finishedAt: utc(row.recordedAtMs),
    running: false,
    success: row.errors.length === 0,
    captureErrorBehaviour: row.errorBehaviour,
    errors: row.errors,
    eventCount: row.eventCount,
    announcedDeliveryIds: row.announcedDeliveryIds,
    unused: row.unused,
  };
}
