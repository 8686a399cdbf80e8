/** Reading what a recall would cost. Refusals: `not-found` (the site), `scope-too-large`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import { foodGraph, rankExposure, spreadOf, type Candidate, type RankedCandidate } from '../../../domain/exposure.ts';
import { localDate, utc } from '../../../domain/time.ts';
import type { Context, Reply, SiteScope } from '../../../platform/http/contract.ts';
import { findSites } from '../../catalogue/index.ts';
import { loadFlow, type Flow, type FlowLot } from '../flows.ts';
import { getCurrency } from '../../identity/index.ts';
import { listMovedWithAncestors } from '../store-flows.ts';
import { VALUE_ASSUMPTIONS } from '../value.ts';
import type { ExposureAnswer, ExposureLineAnswer, getRecallExposure } from './contract.ts';
import { dispersionOf, exposedLot, figuresOf, indexFlow } from './figures.ts';
import { listProcesses } from './store.ts';
import { whyText } from './words.ts';

/** Some weeks of a group of many kitchens, stock included (common practice). */
const MOST_LOTS = 50_000;
const DAY_MS = 86_400_000;
const SHOWN_LOTS = 50;

const tooLarge = (detail: string) =>
  new Refused('scope-too-large', `${detail} Ask for fewer days.`, { errors: [{ detail, pointer: '#/query/days' }] });

export async function readExposure(context: Context<typeof getRecallExposure>): Promise<Reply> {
  const { tx, scope, query, nowMs } = context;
  const kind = query.kind ?? 'supplier-lot';
  const by = query.by ?? 'packs';
  const days = Number(query.days ?? 30);
  const siteId = query.siteId ?? null;
  if (siteId !== null && (!scope.includes(siteId) || !(await findSites(tx, [siteId])).has(siteId))) {
    throw notFound('site');
  }
  // A day of the sites' own calendars, and no later than theirs anywhere.
  const sinceDay = localDate(nowMs - days * DAY_MS, 'Etc/GMT+12');
  const lotIds = await listMovedWithAncestors(tx, sinceDay, MOST_LOTS + 1);
  if (lotIds.length > MOST_LOTS) throw tooLarge(`More than ${MOST_LOTS} lots moved or are in stock.`);
  const flow = await loadFlow(tx, lotIds, new Set(lotIds));
  const graph = foodGraph([...flow.lots.values()].map(exposedLot), flow.edges);
  const candidates = candidatesOf(flow, kind, scope, siteId);
  const ranked = rankExposure(graph, [...candidates.values()], by, Number(query.limit ?? 20));
  if (ranked === 'too-many-steps') throw tooLarge('There are too many ways through that much food.');
  const spreads = ranked.map(({ key, lotIds: reached }) =>
    spreadOf(graph, candidates.get(key)?.lotIds ?? [], reached, kind === 'batch' ? key : null),
  );
  const processes = await listProcesses(
    tx,
    spreads.flatMap(({ spread }) =>
      spread ? [{ processId: spread.processId, lotIds: spread.reachedInputIds.slice(0, SHOWN_LOTS) }] : [],
    ),
  );
  const batches = await listProcesses(
    tx,
    kind === 'batch' ? ranked.map(({ key }) => ({ processId: key, lotIds: [] })) : [],
  );
  const sites = await findSites(tx, siteIdsOf(flow, ranked));
  const nameOf = (id: string) => sites.get(id)?.name ?? '';
  const index = indexFlow(flow);
  const lots = (ids: readonly string[]) => ids.flatMap((lotId) => flow.lots.get(lotId) ?? []);
  const lines = ranked.map((one, at): ExposureLineAnswer => {
    const roots = lots(candidates.get(one.key)?.lotIds ?? []);
    const reached = lots(one.lotIds);
    const first = roots[0] as FlowLot;
    const { spread = null, straightInto = 0 } = spreads[at] ?? {};
    const process = spread && processes.get(spread.processId);
    const finished = (lot: FlowLot) =>
      lot.itemKind === 'packed' || (lot.origin === 'converted' && lot.itemKind !== 'ingredient');
    const line = {
      rank: at + 1,
      kind,
      lots: roots.slice(0, SHOWN_LOTS).map(({ lotId, code }) => ({ lotId, lotCode: code })),
      batchId: kind === 'batch' ? one.key : null,
      batchCode: batches.get(one.key)?.code ?? null,
      itemId: first.itemId,
      itemName: first.itemName,
      supplierName: first.supplierName,
      supplierLotCode: first.supplierLotCode,
      siteId: first.siteId,
      siteName: nameOf(first.siteId),
      bornAt: utc(Math.min(...roots.map((lot) => lot.bornAt.getTime()))),
      lotCount: reached.length,
      ...figuresOf(reached),
      sites: sitesOf(reached).map((id) => ({ siteId: id, siteName: nameOf(id) })),
      straightInto,
      spread:
        spread && process
          ? {
              processId: spread.processId,
              kind: process.kind,
              code: process.code,
              siteName: process.siteName,
              bins: [...process.bins],
              rework: process.kind === 'batch' && lots(spread.reachedInputIds).some(finished),
              inputLots: spread.inputLots,
              outputLots: spread.outputLots,
              packsThrough: spread.packsThrough,
            }
          : null,
      dispersion: dispersionOf(index, kind === 'batch' ? roots : deliveriesLike(flow, first)),
    };
    return { ...line, whyText: whyText(line) };
  });
  const body: ExposureAnswer = {
    at: utc(nowMs),
    kind,
    by,
    days,
    siteId,
    currency: await getCurrency(tx),
    candidateCount: candidates.size,
    lines,
    assumptions: [`What was gone before ${sinceDay} is not counted.`, ...VALUE_ASSUMPTIONS],
  };
  return { status: 200, body };
}

/** Supplier lots by supplier and code, as a warning would name them; batches with all their loads. */
function candidatesOf(
  flow: Flow,
  kind: ExposureAnswer['kind'],
  scope: SiteScope,
  siteId: string | null,
): Map<string, Candidate> {
  const groups = new Map<string, string[]>();
  for (const lot of flow.lots.values()) {
    if (lot.origin !== (kind === 'batch' ? 'produced' : 'supplied')) continue;
    if (siteId === null ? !scope.includes(lot.siteId) : lot.siteId !== siteId) continue;
    const named = lot.supplierName !== null && lot.supplierLotCode !== null;
    const bought = named ? `${lot.supplierName}|${lot.supplierLotCode}|${lot.itemId}` : lot.lotId;
    const key = kind === 'batch' ? (lot.batchId ?? lot.lotId) : bought;
    groups.set(key, [...(groups.get(key) ?? []), lot.lotId]);
  }
  return new Map([...groups].map(([key, lotIds]) => [key, { key, lotIds }]));
}

function deliveriesLike(flow: Flow, lot: FlowLot): FlowLot[] {
  return [...flow.lots.values()].filter(
    (other) => other.origin === 'supplied' && other.itemId === lot.itemId && other.siteId === lot.siteId,
  );
}

function sitesOf(lots: readonly FlowLot[]): string[] {
  return [...new Set(lots.flatMap((lot) => exposedLot(lot).siteIds))];
}

function siteIdsOf(flow: Flow, ranked: readonly RankedCandidate[]): string[] {
  const lots = ranked.flatMap((one) => one.lotIds.flatMap((lotId) => flow.lots.get(lotId) ?? []));
  return [...new Set(lots.flatMap((lot) => [lot.siteId, ...exposedLot(lot).siteIds]))];
}
