/**
 * One lot becomes another at a site. An observation: it always posts. A pack with a serial number ends by its path, as a scan of its own,
 * so that whatever else was scanned of it keeps its meaning in any order of arrival; what came of it is an entry beside that.
 * Refusals: those of source.ts, `portions-do-not-divide`, `code-taken`.
 */
import { bornAllergens } from '../../../domain/birth.ts';
import { amountsOf, type Amounts } from '../../../domain/conversion-amounts.ts';
import { convert, leftWhenFrozen, lessLeft, type Anchors, type Converted } from '../../../domain/conversions.ts';
import { withoutReaderEnd } from '../../../domain/gs1/index.ts';
import { post, type Move } from '../../../domain/ledger/book.ts';
import { placeEnded } from '../../../domain/ledger/serials.ts';
import { makeLotCode } from '../../../domain/lot-codes.ts';
import { fromInstant, localDate, utc } from '../../../domain/time.ts';
import type { Reply } from '../../../platform/http/contract.ts';
import { derivedId } from '../../../platform/ids.ts';
import { outbox } from '../../../platform/jobs.ts';
import { findPlaces, presumedPlaceId, type PlaceRow } from '../../catalogue/index.ts';
import { lockDispatches } from '../../distribution/index.ts';
import {
  addEdges,
  findHoldsReaching,
  inPlace,
  insertHolds,
  insertLots,
  judgeBorn,
  loadBook,
  outside,
  placeAccount,
  requireFreeLots,
  shortfallNow,
  writeBook,
  type LotDraft,
} from '../../ledger/index.ts';
import { clearGone, partsOf, pathFinding, postRework, shownBy } from '../post.ts';
import { rework, seenBy, stopIds, type PathScan, type Rework } from '../serials.ts';
import { insertScans, listSerialScans, lockPaths, type ScanRow } from '../store.ts';
import { NO_TOTALS } from '../totals.ts';
import { answerOf } from './answer.ts';
import { loadMoved, postMoved } from './follow.ts';
import { findingsAt, holdsOf } from './shown.ts';
import { loadAsked, whither, type Asked, type Convert } from './source.ts';
import { findFrozenFrom, insertConversion } from './store.ts';

const NO_CHANGE: Rework = { undo: [], make: [], found: [], cleared: [], fates: new Map(), stood: [] };

export async function convertFood(context: Convert): Promise<Reply> {
  const { body, tx, factId, nowMs, ids, actor, contentHash } = context;
  const named = await loadAsked(context);
  const { site } = named;
  const occurredAtMs = fromInstant(body.occurredAt);
  const { lotId } = named.lot;
  const scan = scanOf(context, named, occurredAtMs);
  if (scan) await lockPaths(tx, [lotId]);
  const history = scan ? await listSerialScans(tx, [{ lotId, serial: scan.serial ?? '' }]) : [];
  const dispatches = await lockDispatches(tx, [...new Set(history.flatMap((one) => one.dispatchId ?? []))]);
  const change = scan ? rework(history, [scan]) : NO_CHANGE;
  const fate = scan && change.fates.get(scan.scanId);
  const stoodId = (fate && placeEnded(fate)) ?? body.placeId ?? presumedPlaceId(site, named.lot.storage);
  const known = seenBy(history, site.siteId, occurredAtMs);
  const to = whither(named, body, stoodId, known);
  const places = new Map([...named.places, ...(await findPlaces(tx, [stoodId, to.toPlaceId]))]);
  const stood = places.get(stoodId) as PlaceRow;
  const toPlace = places.get(to.toPlaceId) as PlaceRow;
  const before = await findHoldsReaching(tx, [lotId], Math.min(occurredAtMs, nowMs));
  // What comes of it has the date that is in force where it stood.
  const asked = { ...named, lot: inPlace(named.lot, stoodId, before) };
  const { lot } = asked;
  const anchors = await anchorsNow(context, asked);
  const { amounts, converted } = decide(context, asked, anchors, occurredAtMs);
  const draft = newLot(context, asked, amounts, converted, occurredAtMs);
  await requireFreeLots(tx, [draft]);
  const moved = await loadMoved(tx, change.stood);
  const stops = [...change.undo, ...change.make].flatMap(({ scan: one, fate: leg }) =>
    [leg.from, leg.to].map((stop) => ({ lotId: one.lotId ?? '', ...stopIds(stop) })),
  );
  // From here on only success.
  await insertLots(tx, [draft], nowMs);
  const book = await loadBook(
    tx,
    [
      ...(await partsOf({ tx }, { places, dispatches }, stops)),
      ...moved.parts,
      { lotId: lot.lotId, account: placeAccount(stoodId, site.siteId) },
      { lotId: draft.lotId, account: placeAccount(to.toPlaceId, site.siteId) },
    ],
    [site.siteId],
  );
  const work = { tx, ids, nowMs, site };
  postRework(work, book, change, new Set(scan ? [scan.scanId] : []));
  postMoved(work, book, moved);
  const basis = lot.unit === 'piece' ? 'counted' : 'weighed';
  const consumed: Move = {
    lotId: lot.lotId,
    fromAccountId: stoodId,
    toAccountId: outside('consumed', site.siteId),
    quantity: asked.quantity,
    basis,
  };
  const produced: Move = {
    lotId: draft.lotId,
    fromAccountId: outside('produced', site.siteId),
    toAccountId: to.toPlaceId,
    quantity: amounts.quantity,
    basis: draft.unit === 'piece' ? 'counted' : 'weighed',
  };
  post(book, {
    entryId: factId,
    kind: 'conversion',
    factId,
    siteId: site.siteId,
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, site.timeZone),
    contentHash,
    note: {
      conversion: body.kind,
      fromLotId: lot.lotId,
      coreTemperatureC: body.coreTemperatureC,
      ...(to.presumed && { presumed: [{ lotId: draft.lotId, placeId: to.toPlaceId }] }),
    },
    moves: scan ? [produced] : [consumed, produced],
  });
  const seen = {
    kind: body.kind,
    factId,
    lot,
    stood,
    occurredAtMs,
    refrozen: converted.refrozen,
    newLotId: draft.lotId,
  };
  const own = findingsAt(seen, before, nowMs);
  const others = change.make.flatMap(({ scan: one }) =>
    one.scanId === scan?.scanId ? [] : shownBy(work, { places }, one, lot, before),
  );
  const ofPath = change.found.map(({ scan: one, finding }) => pathFinding(one, finding));
  if (scan) await insertScans(tx, [scan], nowMs);
  await clearGone(work, change, NO_TOTALS);
  const writer = { tx, ids, actorId: actor.actorId, nowMs };
  await writeBook(writer, book, [], [...own, ...others, ...ofPath]);
  await insertConversion(tx, {
    conversionId: factId,
    kind: body.kind,
    siteId: site.siteId,
    fromLotId: lot.lotId,
    fromQuantity: asked.quantity,
    toLotId: draft.lotId,
    scanId: scan?.scanId ?? null,
    stays: to.stays,
  });
  const edge = { parentLotId: lot.lotId, childLotId: draft.lotId, processId: factId, capsUseBy: converted.capsUseBy };
  await addEdges(tx, [edge], nowMs);
  await insertHolds(tx, holdsOf({ ...seen, sampleFor: body.sampleFor ?? 'retained' }, before), actor.actorId, nowMs);
  const undeclared = await judgeBorn(writer, [draft], new Map([[asked.toItem.itemId, asked.toItem]]));
  await outbox(tx, 'lots-born', { lotIds: [draft.lotId] }, nowMs);
  const after = await findHoldsReaching(tx, [draft.lotId], nowMs);
  const shown = [
    ...own,
    ...ofPath.filter((finding) => finding.subject === scan?.scanId),
    ...shortfallNow(book, lot, stood, occurredAtMs, factId),
    ...undeclared,
  ];
  const parts = { asked, converted, amounts, draft, stood, to, toPlace, occurredAtMs, before, after, shown };
  const answer = answerOf({ context, ...parts });
  return { status: 201, body: answer, siteId: site.siteId, headers: { Location: `/v1/entries/${factId}` } };
}

/** What was left when it was frozen, or less: the date of what was frozen may have come forward since. */
async function anchorsNow({ body, tx }: Convert, { lot, site }: Asked): Promise<Anchors> {
  const { frozenAt } = lot.anchors;
  if (body.kind !== 'thaw' || frozenAt === undefined) return lot.anchors;
  const from = await findFrozenFrom(tx, lot.lotId);
  if (!from || from.useByAtMs === null) return lot.anchors;
  const now = { endsAtMs: from.useByAtMs, isDate: from.isDate };
  return lessLeft(lot.anchors, leftWhenFrozen(frozenAt, now, site.timeZone));
}

function decide(
  { body }: Convert,
  { lot, item, toItem, quantity, site }: Asked,
  anchors: Anchors,
  occurredAtMs: number,
): { amounts: Amounts; converted: Converted } {
  const amounts = amountsOf({
    kind: body.kind,
    quantity,
    source: {
      itemId: item.itemId,
      unit: lot.unit,
      lotQuantity: lot.quantity,
      lotMassMg: lot.massMg,
      portionsPerUnit: item.portionsPerUnit,
    },
    target: toItem,
    toQuantity: body.toQuantity,
  });
  const converted = convert({
    kind: body.kind,
    occurredAtMs,
    zone: site.timeZone,
    source: { useByAtMs: lot.useByAtMs, anchors, handling: lot.handling },
    lives: item,
    coreTemperatureC: body.coreTemperatureC,
    disposeAfter: body.disposeAfter,
  });
  return { amounts, converted };
}

function newLot(
  context: Convert,
  { site, lot, toItem }: Asked,
  amounts: Amounts,
  converted: Converted,
  occurredAtMs: number,
): LotDraft {
  const { body, factId } = context;
  const lotId = derivedId('converted-lot', factId);
  const asItWas = body.kind === 'freeze' || body.kind === 'thaw' ? lot.serialised : false;
  return {
    lotId,
    code: body.toLotCode ?? makeLotCode(site.code, localDate(occurredAtMs, site.timeZone), lotId),
    itemId: toItem.itemId,
    unit: toItem.unit,
    quantity: amounts.quantity,
    massMg: amounts.massMg,
    origin: 'converted',
    siteId: site.siteId,
    serialised: toItem.unit === 'piece' && (body.serialised ?? asItWas),
    bornAtMs: occurredAtMs,
    handling: converted.handling,
    storageInstruction: storageOf(body.kind, toItem),
    useBy: converted.useBy,
    useByBasis: {
      conversion: body.kind,
      why: converted.limits[0]?.why ?? 'none',
      limits: converted.limits.map(({ why, endsAtMs, date }) => ({ why, endsAt: utc(endsAtMs), date })),
      assumed: converted.assumed,
    },
    anchors: converted.anchors,
    ...bornAllergens(toItem, [lot]),
  };
}

/** An instruction for chilled food would be wrong on a frozen label. -18 °C: common practice for frozen food. */
function storageOf(kind: Convert['body']['kind'], toItem: Asked['toItem']): string {
  if (kind === 'freeze' && toItem.storage !== 'frozen') return 'Keep frozen at -18 °C or below';
  if (kind === 'thaw' && toItem.storage === 'frozen') return 'Keep chilled. Thawed: do not refreeze';
  return toItem.storageInstruction;
}

/** The scan that ends a pack with a serial number. */
function scanOf(context: Convert, { site, lot, serial }: Asked, occurredAtMs: number): PathScan | null {
  if (serial === null) return null;
  const { body, factId, actor, contentHash } = context;
  const row: ScanRow = {
    scanId: derivedId('conversion-scan', factId),
    siteId: site.siteId,
    kind: 'conversion',
    code: withoutReaderEnd(body.code ?? ''),
    named: null,
    lotId: lot.lotId,
    serial,
    dispatchId: null,
    // a pack that nobody scanned before is where such food is put
    placeId: body.placeId ?? presumedPlaceId(site, lot.storage),
    presumedPlaceId: null,
    totalId: null,
    quantity: 1,
    condition: null,
    reason: null,
    destination: null,
    note: { conversion: body.kind, conversionId: factId },
    occurredAtMs,
    occurredOn: localDate(occurredAtMs, site.timeZone),
    clockOffsetMs: null,
    actorId: actor.actorId,
    contentHash,
    outcome: 'recorded',
  };
  return { ...row, receivingPlaceId: site.receivingPlaceId, entryId: null };
}
