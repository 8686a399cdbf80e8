/** Refusals: `not-found`, `code-taken`, `version-mismatch`. */
import { notFound } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { findSites } from '../sites/store.ts';
import { insertVersions } from '../store.ts';
import type { changePlace, createPlace, getPlace, listPlaces } from './contract.ts';
import * as store from './store.ts';

function answerOf({ timeZone: _timeZone, ...place }: store.PlaceRow): store.NewPlace {
  return place;
}

export async function createPlaceCommand(context: Context<typeof createPlace>): Promise<Reply> {
  const { tx, body, factId, scope } = context;
  const site = (await findSites(tx, [body.siteId])).get(body.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const { siteId, code, name, kind } = body;
  const place: store.NewPlace = {
    placeId: factId,
    siteId,
    code,
    name,
    kind,
    quarantine: body.quarantine ?? false,
    usedByCount: body.usedByCount ?? false,
    bin: body.bin ?? false,
    version: 1,
  };
  // From here on only success.
  await store.insertPlaces(tx, [place]);
  await insertVersions(context, [{ kind: 'place', objectId: factId, content: place }]);
  return createdReply(`/v1/places/${factId}`, place, siteId);
}

export async function listPlacesQuery({ tx, query, scope, path }: Context<typeof listPlaces>): Promise<Reply> {
  const page = pageOf(query, ['text', 'uuid']);
  const rows = await store.listPlaces(tx, scope, query.siteId ?? null, page);
  return pageReply(path, query, page, rows.map(answerOf), (row) => [row.code, row.placeId]);
}

export async function getPlaceQuery({ tx, params, scope }: Context<typeof getPlace>): Promise<Reply> {
  const place = (await store.findPlaces(tx, [params.placeId])).get(params.placeId);
  if (!place || !scope.includes(place.siteId)) throw notFound('place');
  return stateReply(answerOf(place));
}

export async function changePlaceCommand(context: Context<typeof changePlace>): Promise<Reply> {
  const { tx, params, body, scope, ifMatch } = context;
  const place = await store.lockPlace(tx, params.placeId);
  if (!place || !scope.includes(place.siteId)) throw notFound('place');
  requireVersion(ifMatch, place.version);
  const changed: store.NewPlace = {
    ...answerOf(place),
    name: body.name ?? place.name,
    kind: body.kind ?? place.kind,
    usedByCount: body.usedByCount ?? place.usedByCount,
    bin: body.bin ?? place.bin,
    version: place.version + 1,
  };
  // From here on only success.
  await store.updatePlace(tx, changed);
  await insertVersions(context, [{ kind: 'place', objectId: place.placeId, content: changed }]);
  return stateReply(changed);
}
