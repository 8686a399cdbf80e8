/** What a scan says and what it is here. Refusals: `not-found`, `rule-broken`, `scan-unreadable`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import { interpretScan, ScanUnreadable, type ScanReading } from '../../../domain/gs1/index.ts';
import { fromInstant, localDate } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findPlaces, findSites, type PlaceRow, type SiteRow } from '../../catalogue/index.ts';
import { findCratesByCode, findVisibleCrates, listCrateLoads, type CrateLoadRow } from '../../distribution/index.ts';
import { findSupersededPrints } from '../../labels/index.ts';
import { findHoldsReaching, findLots, inPlace, verdict, type LotRow } from '../../ledger/index.ts';
import { matchReadings, unreadable, type CodeMatch } from '../codes.ts';
import { findArticle, findSiteByGln } from '../store-codes.ts';
import type { createScanInterpretation } from './contract.ts';
import { againstSymbol, lotWarnings, supersededWarnings, type Warning } from './warnings.ts';

type Asked = Context<typeof createScanInterpretation>;

async function siteOf({ tx, body, scope }: Asked): Promise<SiteRow | null> {
  const siteId = body.siteId ?? (scope.all || scope.siteIds.length !== 1 ? undefined : scope.siteIds[0]);
  if (siteId === undefined) {
    if (body.placeId !== undefined) throw new Refused('rule-broken', 'A place goes with its siteId.');
    return null;
  }
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  return site;
}

async function placeOf({ tx, body }: Asked, site: SiteRow | null): Promise<PlaceRow | null> {
  if (!site) return null;
  const placeId = body.placeId ?? site.receivingPlaceId;
  const place = (await findPlaces(tx, [placeId])).get(placeId);
  if (place?.siteId !== site.siteId) throw notFound('place');
  return place;
}

function readingOf(scan: string, readOn: string): ScanReading {
  try {
    return interpretScan(scan, readOn);
  } catch (error) {
    throw error instanceof ScanUnreadable ? unreadable(error) : error;
  }
}

/** The crate and what carries it, as far as the asker's sites have to do with it. */
async function crateOf({ tx, scope }: Asked, code: string | null) {
  if (code === null) return { crate: null, dispatches: [], lotIds: [] };
  const known = (await findCratesByCode(tx, [code])).get(code);
  const crate = known ? ((await findVisibleCrates(tx, scope, [known.crateId])).get(known.crateId) ?? null) : null;
  const loads = (await listCrateLoads(tx, [code])).filter(
    (load) => scope.includes(load.fromSiteId) || scope.includes(load.toSiteId),
  );
  const dispatches = new Map(
    loads.map(({ dispatchId, dispatchCode, toSiteId }) => [dispatchId, { dispatchId, code: dispatchCode, toSiteId }]),
  );
  return {
    crate: crate && { crateId: crate.crateId, code: crate.code, kind: crate.kind },
    lotIds: inNewest(loads),
    dispatches: [...dispatches.values()].slice(0, 50),
  };
}

/** What the dispatch that carried it last says is in it. */
function inNewest(loads: readonly CrateLoadRow[]): string[] {
  const newest = loads.reduce<CrateLoadRow | null>(
    (best, load) => (best && best.atMs >= load.atMs ? best : load),
    null,
  );
  return [...new Set(loads.flatMap((load) => (load.dispatchId === newest?.dispatchId ? load.lotId : [])))];
}

function unknownWarnings({ reading, lots, otherArticle }: CodeMatch): Warning[] {
  if (otherArticle) {
    const text = `Lot ${otherArticle.code} is ${otherArticle.itemName}; the symbol names another article. It may be a supplier's lot with the same code.`;
    return [{ code: 'article-differs', ai: '01', text }];
  }
  if (lots.length > 1) {
    const text = `${lots.length} deliveries here have the supplier's lot code ${reading.lotCode ?? ''}: look at the delivery.`;
    return [{ code: 'lot-ambiguous', ai: '10', text }];
  }
  if (lots.length === 1 || reading.lotCode === null) return [];
  return [{ code: 'lot-unknown', ai: '10', text: `No lot ${reading.lotCode} is known here.` }];
}

export async function interpret(context: Asked): Promise<Reply> {
  const { tx, body, scope } = context;
  const site = await siteOf(context);
  const place = await placeOf(context, site);
  const readAtMs = fromInstant(body.readAt);
  const readOn = localDate(readAtMs, site?.timeZone ?? 'UTC');
  const first = readingOf(body.scan, readOn);
  const match = (await matchReadings(tx, site?.siteId ?? null, [first], readOn))[0] as CodeMatch;
  const { reading, lots } = match;
  const lot: LotRow | null = lots.length === 1 ? (lots[0]?.lot ?? null) : null;
  // a plain text may be the code of a crate of ours
  const plainCrate = reading.form === 'lot-code' && lot === null && reading.serial === null ? reading.lotCode : null;
  const crateCode = reading.sscc ?? plainCrate;
  const { crate, dispatches, lotIds } = await crateOf(context, crateCode);
  const gtin = reading.gtin ?? reading.contentGtin;
  const article = gtin === null ? null : await findArticle(tx, gtin);
  const gln = reading.gln ?? reading.shipToGln;
  const glnSite = gln === null ? null : await findSiteByGln(tx, gln);
  const judged = lot ? [lot] : [...(await findLots(tx, place ? lotIds : [])).values()];
  const judgedIds = judged.map((one) => one.lotId);
  const holds = judged.length > 0 ? await findHoldsReaching(tx, judgedIds, context.nowMs) : [];
  const packs = lot && lots[0]?.how === 'lot-code' ? [{ lotId: lot.lotId, serial: reading.serial }] : [];
  const superseded = await findSupersededPrints(tx, packs);
  const isCrate = crate !== null || dispatches.length > 0;
  const warnings: Warning[] = [
    ...reading.warnings.map(({ code, ai, text }) => ({ code, ai: ai ?? null, text })),
    ...(plainCrate !== null && isCrate ? [] : unknownWarnings(match)),
    ...(gtin !== null && !article
      ? [{ code: 'article-unknown', ai: '01', text: `No item here has the GTIN ${gtin}.` }]
      : []),
    ...(reading.sscc !== null && !isCrate
      ? [{ code: 'crate-unknown', ai: '00', text: `No crate ${reading.sscc} is known here.` }]
      : []),
    ...(lot
      ? lotWarnings(reading, lot, lots[0]?.how ?? 'lot-code', place ? inPlace(lot, place.placeId, holds) : lot)
      : []),
    ...(lot ? supersededWarnings(reading, lot, superseded) : []),
  ];
  const judgedAt = place && judged.length > 0 ? { siteId: place.siteId, placeId: place.placeId } : null;
  const verdicts = judged.flatMap((one) =>
    place
      ? [verdict({ factId: context.factId, lot: one, place, occurredAtMs: context.nowMs, serving: true }, holds)]
      : [],
  );
  // of a crate: the first lot in it that may not be used
  const known = verdicts.find(({ mayUse }) => !mayUse) ?? verdicts[0] ?? { mayUse: null, whyNot: null };
  const against = againstSymbol(reading, warnings, Math.max(context.nowMs, readAtMs), site?.timeZone ?? 'UTC');
  const told = known.mayUse !== false && against !== null ? { mayUse: false, whyNot: against } : known;
  const { useBy, warnings: _read, ...said } = reading;
  const answer = {
    ...said,
    useBy: useBy?.date ?? null,
    useByTime: useBy?.time ?? null,
    warnings,
    matches: {
      lots: lots.map(({ lot: one, how }) => ({
        lotId: one.lotId,
        lotCode: one.code,
        itemId: one.itemId,
        itemName: one.itemName,
        how,
        useBy: one.useByDate,
      })),
      item: article && { itemId: article.itemId, code: article.code, name: article.name },
      crate,
      dispatches,
      site: glnSite && scope.includes(glnSite.siteId) ? glnSite : null,
    },
    judgedAt,
    ...told,
  };
  return { status: 200, body: answer };
}
