/** Boxes that come back. Refusals: `not-found`, `rule-broken`, `code-taken`. */
import { boxBalance, type BoxCount, type BoxFlow } from '../../../domain/box-balances.ts';
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant } from '../../../domain/time.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { findSites, findSuppliers } from '../../catalogue/index.ts';
import { findCratesByCode } from '../crates/store.ts';
import { withOuterCrates } from '../store-carried.ts';
import { findDispatches } from '../store.ts';
import type * as contract from './contract.ts';
import * as store from './store.ts';

export async function addBoxType(context: Context<typeof contract.createBoxType>): Promise<Reply> {
  const { tx, body, factId } = context;
  const row = { boxTypeId: factId, code: body.code, name: body.name };
  // From here on only success.
  await store.insertBoxType(tx, row);
  return { status: 201, body: row, siteId: null, headers: { Location: '/v1/box-types' } };
}

export async function readBoxTypes({ tx, query, path }: Context<typeof contract.listBoxTypes>): Promise<Reply> {
  const page = pageOf(query, ['text']);
  return pageReply(path, query, page, await store.listBoxTypeRows(tx, page), (row) => [row.code]);
}

export async function countBoxes(context: Context<typeof contract.createBoxCount>): Promise<Reply> {
  const { tx, body, scope, factId, nowMs, actor } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  const boxType = (await store.findBoxTypes(tx, [body.boxTypeId])).get(body.boxTypeId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  if (!boxType) throw notFound('box type');
  const row = { countId: factId, siteId: site.siteId, boxTypeId: boxType.boxTypeId, quantity: body.quantity };
  const occurredAtMs = fromInstant(body.occurredAt);
  // From here on only success.
  await store.insertBoxCount(tx, { ...row, occurredAtMs, recordedBy: actor.actorId }, nowMs);
  return {
    status: 201,
    body: { ...row, occurredAt: new Date(occurredAtMs).toISOString() },
    siteId: site.siteId,
    headers: { Location: `/v1/box-balances?siteId=${site.siteId}` },
  };
}

export async function moveBoxes(context: Context<typeof contract.createBoxMovement>): Promise<Reply> {
  const { tx, body, scope, factId, nowMs, actor } = context;
  const { fromSiteId = null, toSiteId = null, supplierId = null, dispatchId = null } = body;
  const named = [fromSiteId, toSiteId].flatMap((siteId) => siteId ?? []);
  const sites = await findSites(tx, named);
  const boxType = (await store.findBoxTypes(tx, [body.boxTypeId])).get(body.boxTypeId);
  const suppliers = await findSuppliers(tx, supplierId ? [supplierId] : []);
  const dispatch = (await findDispatches(tx, dispatchId ? [dispatchId] : [])).get(dispatchId ?? '');
  const mine = named.find((siteId) => scope.includes(siteId));
  const broken = (detail: string) =>
    new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/toSiteId' }] });
  if (named.length === 0) throw broken('Name the site that they left, or the one that they came to.');
  if (named.some((siteId) => !sites.has(siteId)) || mine === undefined) throw notFound('site');
  if (fromSiteId === toSiteId) throw broken('Within a site boxes are counted, not moved.');
  if (supplierId !== null && named.length === 2) throw broken('A supplier is outside the group: name one site only.');
  if (!boxType) throw notFound('box type');
  if (supplierId !== null && !suppliers.has(supplierId)) throw notFound('supplier');
  if (dispatchId !== null && !(dispatch && [dispatch.fromSiteId, dispatch.toSiteId].some((id) => scope.includes(id))))
    throw notFound('dispatch');
  const occurredAtMs = fromInstant(body.occurredAt);
  const { quantity, note = null } = body;
  const row = {
    movementId: factId,
    boxTypeId: body.boxTypeId,
    fromSiteId,
    toSiteId,
    supplierId,
    dispatchId,
    quantity,
    note,
  };
  // From here on only success.
  await store.insertBoxMovement(tx, { ...row, occurredAtMs, recordedBy: actor.actorId }, nowMs);
  return {
    status: 201,
    body: { ...row, occurredAt: new Date(occurredAtMs).toISOString() },
    siteId: mine,
    headers: { Location: `/v1/box-balances?siteId=${mine}` },
  };
}

interface Heap {
  readonly siteId: string;
  readonly boxTypeId: string;
  readonly counts: BoxCount[];
  readonly flows: BoxFlow[];
  onTheRoad: number;
}

/** Counts and flows by site and kind of box. A crate's box goes with every dispatch that the crate, or one in it, is on. */
async function loadHeaps(tx: Tx, siteIds: readonly string[] | null): Promise<Heap[]> {
  const heaps = new Map<string, Heap>();
  const heap = (siteId: string, boxTypeId: string): Heap => {
    const key = `${siteId}|${boxTypeId}`;
    const found = heaps.get(key) ?? { siteId, boxTypeId, counts: [], flows: [], onTheRoad: 0 };
    heaps.set(key, found);
    return found;
  };
  for (const count of await store.listLatestCounts(tx, siteIds)) heap(count.siteId, count.boxTypeId).counts.push(count);
  for (const { boxTypeId, fromSiteId, toSiteId, quantity, occurredAtMs } of await store.listMovements(tx, siteIds)) {
    if (fromSiteId) heap(fromSiteId, boxTypeId).flows.push({ occurredAtMs, quantity: -quantity });
    if (toSiteId) heap(toSiteId, boxTypeId).flows.push({ occurredAtMs, quantity });
  }
  const journeys = await withOuterCrates(tx, await store.listCrateJourneys(tx, siteIds));
  const crates = await findCratesByCode(tx, [...new Set(journeys.flatMap((journey) => journey.crateCodes))]);
  const gone = new Set<string>();
  for (const { dispatchId, fromSiteId, toSiteId, atMs, cameAtMs, crateCodes } of journeys) {
    for (const code of crateCodes) {
      const boxTypeId = crates.get(code)?.boxTypeId;
      if (!boxTypeId || gone.has(`${dispatchId}|${code}`)) continue;
      gone.add(`${dispatchId}|${code}`);
      heap(fromSiteId, boxTypeId).flows.push({ occurredAtMs: atMs, quantity: -1 });
      if (cameAtMs === null) heap(toSiteId, boxTypeId).onTheRoad += 1;
      else heap(toSiteId, boxTypeId).flows.push({ occurredAtMs: cameAtMs, quantity: 1 });
    }
  }
  return [...heaps.values()];
}

const timeOf = (ms: number | null) => (ms === null ? null : new Date(ms).toISOString());

export async function readBoxBalances(context: Context<typeof contract.listBoxBalances>): Promise<Reply> {
  const { tx, scope, query, path } = context;
  const page = pageOf(query, ['uuid', 'uuid']);
  const asked = query.siteId;
  const everywhere = scope.all ? null : scope.siteIds;
  const heaps = await loadHeaps(tx, asked === undefined ? everywhere : [asked].filter((one) => scope.includes(one)));
  const after = page.after?.join('|') ?? '';
  const keyOf = (one: { siteId: string; boxTypeId: string }) => `${one.siteId}|${one.boxTypeId}`;
  const rows = heaps
    .filter(({ siteId }) => scope.includes(siteId) && (asked === undefined || siteId === asked))
    .filter(({ boxTypeId }) => query.boxTypeId === undefined || boxTypeId === query.boxTypeId)
    .filter((one) => keyOf(one) > after)
    .sort((a, b) => (keyOf(a) < keyOf(b) ? -1 : 1))
    .slice(0, page.limit + 1);
  const sites = await findSites(tx, [...new Set(rows.map((row) => row.siteId))]);
  const boxTypes = await store.findBoxTypes(tx, [...new Set(rows.map((row) => row.boxTypeId))]);
  const items = rows.map(({ siteId, boxTypeId, counts, flows, onTheRoad }) => {
    const { lastCount, lastCameAtMs, lastLeftAtMs, ...balance } = boxBalance(counts, flows);
    const counted = lastCount && {
      countId: lastCount.countId,
      occurredAt: new Date(lastCount.occurredAtMs).toISOString(),
      quantity: lastCount.quantity,
      shouldHaveBeen: lastCount.shouldHaveBeen,
      difference: lastCount.difference,
    };
    return {
      siteId,
      siteName: sites.get(siteId)?.name ?? '',
      boxTypeId,
      boxTypeCode: boxTypes.get(boxTypeId)?.code ?? '',
      ...balance,
      onTheRoad,
      lastCount: counted,
      lastCameAt: timeOf(lastCameAtMs),
      lastLeftAt: timeOf(lastLeftAtMs),
    };
  });
  return pageReply(path, query, page, items, (row) => [row.siteId, row.boxTypeId]);
}
