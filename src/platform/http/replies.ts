/** The two replies that every resource with a version gives. */
import type { Reply } from './contract.ts';
import { etagOf } from './etags.ts';

/** 201 with where it is and its version. `siteId`: the site that the fact belongs to, null for the whole group. */
export function createdReply(location: string, body: { readonly version: number }, siteId: string | null): Reply {
  return { status: 201, body, headers: { Location: location, ETag: etagOf(body.version) }, siteId };
}

/** 200 with the state and its version. */
export function stateReply(body: { readonly version: number }): Reply {
  return { status: 200, body, headers: { ETag: etagOf(body.version) } };
}
