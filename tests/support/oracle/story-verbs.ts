/** What can happen next in a random story. Each verb falls back to an earlier one when it has nothing to act on. */
import type { Desk, StoryLot } from './story.ts';
import type { CountedScanFact, DispatchFact, DispatchLine, Fill, HoldScope, LotAtPlace, OracleFact } from './types.ts';

const HOLD_KINDS = ['awaiting-release', 'awaiting-laboratory', 'safety', 'recall'] as const;

const countedLots = (desk: Desk): StoryLot[] => desk.lots.filter((l) => l.form !== 'serialised-packs');

function told(desk: Desk): { id: string; occurredAt: number } {
  return { id: desk.newId(), occurredAt: desk.when() };
}

/** Sometimes a place is named, sometimes it is left to the default. */
function maybePlace(desk: Desk, siteId: string): { placeId?: string } {
  return desk.dice.chance(35) ? { placeId: desk.dice.pick(desk.placesOf(siteId)).id } : {};
}

/** A quantity that is usually there, and sometimes a little more than is there. */
function taking(desk: Desk, there: number): number {
  return desk.dice.between(1, Math.max(2, Math.floor(there * (desk.dice.chance(25) ? 1.3 : 0.8))));
}

/** A part of one of these lots, at one of these places when that can be had; now and then a part that is not there. */
function somePart(desk: Desk, lots: readonly StoryLot[], siteId?: string): LotAtPlace {
  const lot = desk.dice.pick(lots);
  const wanted = (placeId: string): boolean =>
    siteId === undefined || desk.placesOf(siteId).some((p) => p.id === placeId);
  const there = desk.parts().filter((p) => lots.some((l) => l.lotId === p.lotId) && wanted(p.placeId));
  if (there.length > 0 && !desk.dice.chance(10)) return desk.dice.pick(there);
  const places = desk.world.places.filter((p) => wanted(p.id));
  return { lotId: lot.lotId, placeId: desk.dice.pick(places).id, quantity: 0 };
}

function receive(desk: Desk): void {
  const siteId = desk.dice.chance(80) ? desk.kitchenId : desk.dice.pick(desk.world.sites).id;
  const lotId = desk.newId();
  const placeId = desk.dice.pick(desk.placesOf(siteId)).id;
  desk.lots.push({ lotId, form: 'bulk', packs: 0 });
  desk.tell({ kind: 'receive', ...told(desk), lotId, placeId, quantity: desk.dice.between(10, 900) });
}

function putIn(desk: Desk, batchId: string, lots: readonly StoryLot[]): void {
  const fit = lots.filter((l) => !desk.wouldLoop(l.lotId, batchId));
  if (fit.length === 0) return receive(desk);
  const { lotId, placeId, quantity } = somePart(desk, fit, desk.kitchenId);
  desk.tell({ kind: 'batch-input', ...told(desk), batchId, lotId, placeId, quantity: taking(desk, quantity) });
}

function takeOut(desk: Desk, batchId: string): void {
  const lotId = desk.newId();
  const placeId = desk.dice.pick(desk.placesOf(desk.kitchenId)).id;
  desk.lots.push({ lotId, form: 'bulk', packs: 0 });
  desk.tell({ kind: 'batch-output', ...told(desk), batchId, lotId, placeId, quantity: desk.dice.between(5, 500) });
}

function batch(desk: Desk): void {
  if (countedLots(desk).length === 0) return receive(desk);
  const batchId = desk.newId();
  putIn(desk, batchId, countedLots(desk));
  if (desk.dice.chance(50)) putIn(desk, batchId, countedLots(desk));
  takeOut(desk, batchId);
}

function batchAgain(desk: Desk, what: 'late-input' | 'extra-output'): void {
  const batchIds = desk.facts.flatMap((f) => (f.kind === 'batch-output' ? [f.batchId] : []));
  if (batchIds.length === 0) return batch(desk);
  const batchId = desk.dice.pick(batchIds);
  if (what === 'late-input') putIn(desk, batchId, countedLots(desk));
  else takeOut(desk, batchId);
}

function pack(desk: Desk, serialised: boolean): void {
  const bulk = desk.lots.filter((l) => l.form === 'bulk');
  if (bulk.length === 0) return receive(desk);
  const fills: Fill[] = [];
  for (let n = desk.dice.between(1, 2); n > 0; n -= 1) {
    const { lotId, placeId, quantity } = somePart(desk, bulk, desk.kitchenId);
    const packLotId = desk.newId();
    const packs = serialised ? desk.dice.between(2, 5) : desk.dice.between(4, 60);
    const toPlaceId = desk.dice.pick(desk.placesOf(desk.kitchenId)).id;
    desk.lots.push({ lotId: packLotId, form: serialised ? 'serialised-packs' : 'counted-packs', packs });
    fills.push({ fromLotId: lotId, placeId, usedQuantity: taking(desk, quantity), packLotId, packs, toPlaceId });
  }
  desk.tell({ kind: 'packing', ...told(desk), runId: desk.newId(), fills, serialised });
}

function move(desk: Desk): void {
  const lots = countedLots(desk);
  if (lots.length === 0) return receive(desk);
  const { lotId, placeId, quantity } = somePart(desk, lots);
  const siteId = desk.world.places.find((p) => p.id === placeId)?.siteId ?? desk.kitchenId;
  const toPlaceId = desk.dice.pick(desk.placesOf(siteId).filter((p) => p.id !== placeId)).id;
  const asked = taking(desk, quantity);
  desk.tell({ kind: 'move', ...told(desk), lotId, fromPlaceId: placeId, toPlaceId, quantity: asked });
}

function dispatch(desk: Desk): void {
  if (desk.lots.length === 0) return receive(desk);
  const first = somePart(desk, desk.lots);
  const fromSiteId = desk.world.places.find((p) => p.id === first.placeId)?.siteId ?? desk.kitchenId;
  const second = somePart(desk, desk.lots, fromSiteId);
  const lines = [first, second]
    .filter((part, index, both) => both.findIndex((p) => p.lotId === part.lotId) === index)
    .map((part): DispatchLine => {
      const { lotId, placeId } = part;
      const lot = desk.lots.find((l) => l.lotId === lotId);
      if (lot?.form !== 'serialised-packs') return { lotId, placeId, quantity: taking(desk, part.quantity) };
      const from = desk.dice.between(1, lot.packs);
      const to = desk.dice.between(from, lot.packs);
      const serials = Array.from({ length: to - from + 1 }, (_, i) => String(from + i));
      return { lotId, placeId, quantity: serials.length, serials };
    });
  const toSiteId = desk.dice.pick(desk.world.sites.filter((s) => s.id !== fromSiteId)).id;
  desk.tell({ kind: 'dispatch', ...told(desk), dispatchId: desk.newId(), toSiteId, lines });
}

/** Every dispatch line of one form, beside its dispatch. */
function linesSent(desk: Desk, serialised: boolean): { sent: DispatchFact; line: DispatchLine }[] {
  return desk.facts.flatMap((f) =>
    f.kind === 'dispatch'
      ? f.lines.filter((l) => (l.serials !== undefined) === serialised).map((line) => ({ sent: f, line }))
      : [],
  );
}

/** A line of a receipt; several of one lot and dispatch add up. */
function arriveCounted(desk: Desk): void {
  const waiting = linesSent(desk, false);
  if (waiting.length === 0) return dispatch(desk);
  const { sent, line } = desk.dice.pick(waiting);
  const { dispatchId, toSiteId } = sent;
  const quantity = desk.dice.chance(65) ? line.quantity : desk.dice.between(1, line.quantity + 3);
  const where = maybePlace(desk, toSiteId);
  desk.tell({ kind: 'arrival-counted', ...told(desk), dispatchId, lotId: line.lotId, quantity, ...where });
}

/** A label without a serial: every other time it speaks of what a scan before it spoke of, an hour or so earlier or later. */
function scanCounted(desk: Desk): void {
  const before = desk.facts.filter((f): f is CountedScanFact => f.kind === 'scan-counted');
  if (before.length > 0 && desk.dice.chance(60)) {
    const first = desk.dice.pick(before);
    const aside = desk.dice.chance(20) ? 0 : desk.dice.between(-3_600_000, 3_600_000);
    const occurredAt = Math.max(desk.startMs, Math.min(first.occurredAt + aside, desk.endMs - 1));
    const quantity = desk.dice.between(1, first.quantity + 2);
    desk.tell({ ...first, id: desk.newId(), occurredAt, quantity });
    return;
  }
  const lots = countedLots(desk);
  if (lots.length === 0) return receive(desk);
  const what = desk.dice.pick(['arrival', 'put-away', 'use', 'discard'] as const);
  if (what === 'arrival') {
    const sentLines = linesSent(desk, false);
    if (sentLines.length === 0) return dispatch(desk);
    const { sent, line } = desk.dice.pick(sentLines);
    const { dispatchId, toSiteId: siteId } = sent;
    const quantity = desk.dice.between(1, line.quantity + 2);
    const where = maybePlace(desk, siteId);
    desk.tell({ kind: 'scan-counted', what, ...told(desk), siteId, lotId: line.lotId, quantity, dispatchId, ...where });
    return;
  }
  const part = somePart(desk, lots);
  const siteId = desk.world.places.find((p) => p.id === part.placeId)?.siteId ?? desk.kitchenId;
  const placeId = what === 'put-away' ? desk.dice.pick(desk.placesOf(siteId)).id : part.placeId;
  const where = what === 'put-away' || desk.dice.chance(75) ? { placeId } : {};
  const meal = what === 'use' && desk.dice.chance(60) ? { meal: desk.dice.pick(['lunch', 'dinner']) } : {};
  const quantity = taking(desk, part.quantity);
  desk.tell({ kind: 'scan-counted', what, ...told(desk), siteId, lotId: part.lotId, quantity, ...where, ...meal });
}

function scanArrival(desk: Desk): void {
  const sentLines = linesSent(desk, true);
  if (sentLines.length === 0) return packAndSend(desk);
  const { sent, line } = desk.dice.pick(sentLines);
  const { dispatchId, toSiteId } = sent;
  const { lotId } = line;
  const packs = desk.lots.find((l) => l.lotId === lotId)?.packs ?? 1;
  for (let n = desk.dice.between(1, 3); n > 0; n -= 1) {
    const serial = desk.dice.chance(10) ? String(desk.dice.between(1, packs)) : desk.dice.pick(line.serials ?? ['1']);
    desk.tell({ kind: 'scan-arrival', ...told(desk), dispatchId, lotId, serial, ...maybePlace(desk, toSiteId) });
  }
}

function packAndSend(desk: Desk): void {
  const packed = desk.lots.filter((l) => l.form === 'serialised-packs');
  if (packed.length === 0) return pack(desk, true);
  const { lotId, placeId } = somePart(desk, packed, desk.kitchenId);
  const packs = desk.lots.find((l) => l.lotId === lotId)?.packs ?? 1;
  const serials = Array.from({ length: packs }, (_, i) => String(i + 1));
  const toSiteId = desk.dice.pick(desk.world.sites.filter((s) => s.id !== desk.kitchenId)).id;
  const lines = [{ lotId, placeId, quantity: packs, serials }];
  desk.tell({ kind: 'dispatch', ...told(desk), dispatchId: desk.newId(), toSiteId, lines });
}

/** A pack that was sent, or scanned before, and a site: mostly the one it went to. */
function somePack(desk: Desk): { lotId: string; serial: string; siteId: string } | undefined {
  const sent = linesSent(desk, true).flatMap(({ sent: d, line }) =>
    (line.serials ?? []).slice(0, 2).map((serial) => ({ lotId: line.lotId, serial, siteId: d.toSiteId })),
  );
  if (sent.length === 0) return undefined;
  const pack = desk.dice.pick(sent);
  return desk.dice.chance(15) ? { ...pack, siteId: desk.dice.pick(desk.world.sites).id } : pack;
}

function putAway(desk: Desk): void {
  const pack = somePack(desk);
  if (pack === undefined) return packAndSend(desk);
  const placeId = desk.dice.pick(desk.placesOf(pack.siteId)).id;
  desk.tell({ kind: 'scan-put-away', ...told(desk), ...pack, placeId });
}

function endScan(desk: Desk): void {
  const pack = somePack(desk);
  if (pack === undefined) return packAndSend(desk);
  for (let n = desk.dice.chance(25) ? 2 : 1; n > 0; n -= 1) {
    const kind = desk.dice.chance(70) ? 'scan-use' : 'scan-discard';
    desk.tell({ kind, ...told(desk), ...pack, ...maybePlace(desk, pack.siteId) });
  }
}

function useOrDiscard(desk: Desk, kind: 'use' | 'discard'): void {
  const lots = countedLots(desk);
  if (lots.length === 0) return receive(desk);
  const { lotId, placeId, quantity } = somePart(desk, lots);
  desk.tell({ kind, ...told(desk), lotId, placeId, quantity: taking(desk, quantity) });
}

function comeBack(desk: Desk): void {
  const served = desk.facts.filter((f) => f.kind === 'use');
  if (served.length === 0) return useOrDiscard(desk, 'use');
  const { lotId, placeId, quantity } = desk.dice.pick(served);
  const siteId = desk.world.places.find((p) => p.id === placeId)?.siteId ?? desk.kitchenId;
  desk.tell({ kind: 'return-from-service', ...told(desk), lotId, siteId, quantity: desk.dice.between(1, quantity) });
}

function count(desk: Desk): void {
  if (desk.lots.length === 0) return receive(desk);
  const { placeId } = somePart(desk, desk.lots);
  const here = desk.parts().filter((p) => p.placeId === placeId);
  const lotIds = new Set([here.at(0)?.lotId ?? desk.dice.pick(desk.lots).lotId]);
  if (desk.dice.chance(50)) lotIds.add(desk.dice.pick(desk.lots).lotId);
  const lines = [...lotIds].map((lotId) => {
    const quantity = here.find((p) => p.lotId === lotId)?.quantity ?? 0;
    return { lotId, counted: desk.dice.chance(30) ? quantity : desk.dice.between(0, quantity + 5) };
  });
  desk.tell({ kind: 'count', ...told(desk), placeId, lines, ...(desk.dice.chance(35) && { complete: true }) });
}

function hold(desk: Desk): void {
  if (desk.lots.length === 0) return receive(desk);
  const place = desk.dice.pick(desk.world.places);
  const scopes: HoldScope[] = [
    'everywhere',
    'everywhere',
    'everywhere',
    { siteId: place.siteId },
    { placeId: place.id },
  ];
  const scope = desk.dice.pick(scopes);
  const propagates = scope === 'everywhere' && desk.dice.chance(80);
  const { lotId } = desk.dice.pick(desk.lots);
  const holdKind = desk.dice.pick(HOLD_KINDS);
  desk.tell({ kind: 'hold', ...told(desk), holdId: desk.newId(), lotId, holdKind, scope, propagates });
}

function lift(desk: Desk): void {
  const standing = desk.facts.flatMap((f) =>
    f.kind === 'hold' && !desk.facts.some((l) => l.kind === 'lift' && l.holdId === f.holdId) ? [f.holdId] : [],
  );
  if (standing.length === 0) return hold(desk);
  desk.tell({ kind: 'lift', ...told(desk), holdId: desk.dice.pick(standing) });
}

function reverse(desk: Desk): void {
  const never: OracleFact['kind'][] = ['reversal', 'hold', 'lift'];
  const open = desk.facts.filter(
    (f) => !never.includes(f.kind) && !desk.facts.some((r) => r.kind === 'reversal' && r.ofFactId === f.id),
  );
  if (open.length === 0) return receive(desk);
  const target = desk.dice.pick(open);
  desk.tell({ kind: 'reversal', id: desk.newId(), occurredAt: target.occurredAt, ofFactId: target.id });
}

const PERFORM = {
  receive,
  batch,
  'late-input': (desk: Desk) => batchAgain(desk, 'late-input'),
  'extra-output': (desk: Desk) => batchAgain(desk, 'extra-output'),
  'pack-counted': (desk: Desk) => pack(desk, false),
  'pack-serialised': (desk: Desk) => pack(desk, true),
  move,
  dispatch,
  'arrive-counted': arriveCounted,
  'scan-counted': scanCounted,
  'scan-arrival': scanArrival,
  'put-away': putAway,
  'end-scan': endScan,
  use: (desk: Desk) => useOrDiscard(desk, 'use'),
  discard: (desk: Desk) => useOrDiscard(desk, 'discard'),
  return: comeBack,
  count,
  hold,
  lift,
  reverse,
};

export type Verb = keyof typeof PERFORM;
export const VERBS = Object.keys(PERFORM) as Verb[];

export function perform(verb: Verb, desk: Desk): void {
  PERFORM[verb](desk);
}
