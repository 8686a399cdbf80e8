/** Tokens for trying the service out: one of each role in the demo group. Development only; production signs people in. */
import { roles, type Actor } from '../platform/auth/actor.ts';
import type { Tokens } from '../platform/auth/tokens.ts';
import { exampleId, groupIdOf } from '../platform/ids.ts';

export const DEMO_GROUP = 'ostermere';

/** Where a role works in the demo scenario; the others work at every site. */
const SITES: Readonly<Record<string, string>> = { kitchen: 'site/ck', receiver: 'site/w3', device: 'site/w3' };

export interface TryOutToken {
  readonly role: string;
  /** the site's example name without `site/`; null: every site */
  readonly site: string | null;
  readonly token: string;
}

/** `siteId` null: every site. `groupCode` other than the demo's: the actor is nobody whom that group knows. */
export function tryOutActor(role: string, siteId: string | null, groupCode = DEMO_GROUP): Actor {
  return {
    groupId: groupIdOf(groupCode),
    kind: role === 'device' ? 'device' : 'person',
    actorId: exampleId(role === 'device' ? 'device/w3-scanner' : `person/${role}`),
    grants: [{ role, siteId }],
  };
}

/** One of each role. `lifeH`: hours. */
export function tryOutTokens(tokens: Tokens, nowMs: number, lifeH: number): readonly TryOutToken[] {
  return roles.map((role) => {
    const site = SITES[role] ?? null;
    const actor = tryOutActor(role, site === null ? null : exampleId(site));
    return { role, site: site?.replace('site/', '') ?? null, token: tokens.sign(actor, nowMs, lifeH * 3600) };
  });
}
