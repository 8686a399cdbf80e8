/** Refusals: `forbidden` (a new site belongs to nobody's scope yet), `rule-broken`, `code-taken`, `not-found`, `version-mismatch`. */
import { IANAZone } from 'luxon';
import { notFound, Refused } from '../../../domain/errors.ts';
import { isValidGln } from '../../../domain/gs1/index.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { derivedId } from '../../../platform/ids.ts';
import { findPlaces, insertPlaces, type NewPlace } from '../places/store.ts';
import { brokenRule, insertVersions } from '../store.ts';
import type { changeSite, createSite, getSite, listSites } from './contract.ts';
import * as store from './store.ts';

function requireGln(gln: string | null): void {
  if (gln !== null && !isValidGln(gln)) throw brokenRule('#/gln', 'The check digit of the GLN is not right.');
}

/** Default places are of the site, and not where food waits for a decision. */
async function requireOwnPlaces(context: Context, site: store.SiteRow, placeIds: readonly string[]): Promise<void> {
  const places = await findPlaces(context.tx, placeIds);
  for (const placeId of placeIds) {
    const place = places.get(placeId);
    if (place?.siteId !== site.siteId) throw notFound('place');
    if (place.quarantine) throw brokenRule('#', 'What arrives does not go into quarantine by itself.');
  }
}

/** The two places that every site has from the first day. */
function placesOf(site: store.SiteRow): NewPlace[] {
  const { siteId } = site;
  const made = { siteId, kind: 'chiller' as const, usedByCount: false, bin: false, version: 1 };
  return [
    { ...made, placeId: site.receivingPlaceId, code: 'REC', name: 'Receiving', quarantine: false },
    { ...made, placeId: site.quarantinePlaceId, code: 'QUA', name: 'Quarantine', quarantine: true },
  ];
}

export async function createSiteCommand(context: Context<typeof createSite>): Promise<Reply> {
  const { tx, body, factId, scope } = context;
  if (!scope.all) throw new Refused('forbidden', 'Sites are added by those who act for every site.');
  if (!IANAZone.isValidZone(body.timeZone)) throw brokenRule('#/timeZone', 'No IANA time zone has that name.');
  requireGln(body.gln ?? null);
  const site: store.SiteRow = {
    siteId: factId,
    code: body.code,
    name: body.name,
    kind: body.kind,
    timeZone: body.timeZone,
    jurisdiction: body.jurisdiction,
    gln: body.gln ?? null,
    address: body.address ?? null,
    receivingPlaceId: derivedId('receiving-place', factId),
    quarantinePlaceId: derivedId('quarantine-place', factId),
    putAway: { chilled: null, frozen: null, ambient: null },
    foodWasteStage: body.foodWasteStage ?? null,
    version: 1,
  };
  const places = placesOf(site);
  // From here on only success.
  await store.insertSite(tx, site);
  await insertPlaces(tx, places);
  await insertVersions(context, [
    { kind: 'site', objectId: factId, content: site },
    ...places.map((place) => ({ kind: 'place' as const, objectId: place.placeId, content: place })),
  ]);
  return createdReply(`/v1/sites/${factId}`, site, factId);
}

export async function listSitesQuery({ tx, query, scope, path }: Context<typeof listSites>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listSites(tx, scope, page);
  return pageReply(path, query, page, rows, (row) => [row.code, row.siteId]);
}

export async function getSiteQuery({ tx, params, scope }: Context<typeof getSite>): Promise<Reply> {
  const site = (await store.findSites(tx, [params.siteId])).get(params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  return stateReply(site);
}

export async function changeSiteCommand(context: Context<typeof changeSite>): Promise<Reply> {
  const { tx, params, body, scope, ifMatch } = context;
  const site = await store.lockSite(tx, params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  requireVersion(ifMatch, site.version);
  if (body.gln !== undefined) requireGln(body.gln);
  const wanted = [body.receivingPlaceId, ...Object.values(body.putAway ?? {})];
  await requireOwnPlaces(
    context,
    site,
    wanted.flatMap((placeId) => placeId ?? []),
  );
  const changed: store.SiteRow = {
    ...site,
    name: body.name ?? site.name,
    gln: body.gln === undefined ? site.gln : body.gln,
    address: body.address === undefined ? site.address : body.address,
    jurisdiction: body.jurisdiction ?? site.jurisdiction,
    receivingPlaceId: body.receivingPlaceId ?? site.receivingPlaceId,
    putAway: body.putAway ?? site.putAway,
    foodWasteStage: body.foodWasteStage === undefined ? site.foodWasteStage : body.foodWasteStage,
    version: site.version + 1,
  };
  // From here on only success.
  await store.updateSite(tx, changed);
  await insertVersions(context, [{ kind: 'site', objectId: site.siteId, content: changed }]);
  return stateReply(changed);
}
