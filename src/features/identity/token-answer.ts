/**
 * The token that a person's sign-in is answered with: what they may do themselves, and what they hold as a deputy now. A deputy's right
 * is looked up here and nowhere else, so it begins with the next sign-in after its start; and the token ends with it, if not before.
 */
import type { Actor, Grant } from '../../platform/auth/actor.ts';
import { TOKEN_LIFE_S, type Tokens } from '../../platform/auth/tokens.ts';
import type { Tx } from '../../platform/db/db.ts';
import { listDeputiesNow } from './deputies-store.ts';
import { findPeople } from './store.ts';

export interface PersonToken {
  readonly accessToken: string;
  readonly tokenType: 'Bearer';
  readonly expiresInS: number;
  readonly person: { readonly personId: string; readonly name: string; readonly grants: readonly Grant[] };
}

/** What is left of the grants at one site; one for every site becomes one for that site. */
function cutToSite(grants: readonly Grant[], siteId: string): Grant[] {
  const here = grants.filter((grant) => grant.siteId === null || grant.siteId === siteId);
  const seen = new Map(here.map((grant) => [`${grant.role} ${grant.deputyId ?? ''}`, { ...grant, siteId }]));
  return [...seen.values()];
}

/** `tablet`: where the person signed in; null anywhere else. */
export async function tokenOf(
  tx: Tx,
  tokens: Tokens,
  person: { readonly personId: string; readonly name: string },
  nowMs: number,
  tablet: { readonly deviceId: string; readonly siteId: string } | null,
): Promise<PersonToken> {
  const { personId, name } = person;
  const own = (await findPeople(tx, [personId])).get(personId)?.grants ?? [];
  const nowS = Math.floor(nowMs / 1000);
  // A token counts whole seconds; an appointment that ends within this one gives nothing any more.
  const endS = (to: Date) => Math.floor(to.getTime() / 1000);
  const deputies = (await listDeputiesNow(tx, personId, nowMs)).filter(({ to }) => endS(to) > nowS);
  const held = deputies.map(({ deputyId, role, siteId }): Grant => ({ role, siteId, deputyId }));
  const all = [...own, ...held];
  const grants = tablet ? cutToSite(all, tablet.siteId) : all;
  const lives = deputies
    .filter(({ deputyId }) => grants.some((grant) => grant.deputyId === deputyId))
    .map(({ to }) => endS(to) - nowS);
  const expiresInS = Math.min(TOKEN_LIFE_S, ...lives);
  const actor: Actor = {
    groupId: tx.groupId,
    kind: 'person',
    actorId: personId,
    grants,
    ...(tablet && { deviceId: tablet.deviceId }),
  };
  const accessToken = tokens.sign(actor, nowMs, expiresInS);
  return { accessToken, tokenType: 'Bearer', expiresInS, person: { personId, name, grants } };
}
