/** Who acts, in which group, with which roles at which sites. Read from the token; no look-up. */
import permissionTable from '../../../shared/permissions.json' with { type: 'json' };

/** What an operation asks for; "public" is typed out. */
export type Permission = keyof (typeof permissionTable)['permissions'] | 'public';

/** Where the actor may use the permission of this operation. */
export interface SiteScope {
  readonly all: boolean;
  readonly siteIds: readonly string[];
  includes(siteId: string): boolean;
}

export interface Grant {
  readonly role: string;
  /** null: every site of the group */
  readonly siteId: string | null;
  /** held as a deputy, by that appointment; left out: the person's own */
  readonly deputyId?: string;
}

export interface Actor {
  readonly groupId: string;
  readonly kind: 'person' | 'device';
  readonly actorId: string;
  readonly grants: readonly Grant[];
  /** the tablet that a person signed in on; left out everywhere else, for a device as well */
  readonly deviceId?: string;
}

const permissions: Readonly<Record<string, readonly string[]>> = permissionTable.permissions;

export const roles: readonly string[] = permissionTable.roles;

export function rolesOf(permission: Permission): readonly string[] {
  return permission === 'public' ? roles : (permissions[permission] ?? []);
}

/** Null when no role of the actor has the permission anywhere. */
export function scopeOf(actor: Actor, permission: Permission): SiteScope | null {
  const allowed = rolesOf(permission);
  const grants = actor.grants.filter((grant) => allowed.includes(grant.role));
  if (grants.length === 0) return null;
  const all = grants.some((grant) => grant.siteId === null);
  const siteIds = all ? [] : [...new Set(grants.flatMap((grant) => (grant.siteId === null ? [] : [grant.siteId])))];
  return { all, siteIds, includes: (siteId) => all || siteIds.includes(siteId) };
}

/** As scopeOf, without what the actor holds as a deputy. */
export function ownScopeOf(actor: Actor, permission: Permission): SiteScope | null {
  return scopeOf({ ...actor, grants: actor.grants.filter((grant) => grant.deputyId === undefined) }, permission);
}

/**
 * The appointment without which the actor could not do this at that site (null: for the whole group); null when their own roles
 * suffice.
 */
export function deputyOf(actor: Actor, permission: Permission, siteId: string | null): string | null {
  const own = ownScopeOf(actor, permission);
  if (own && (siteId === null ? own.all : own.includes(siteId))) return null;
  const allowed = rolesOf(permission);
  const held = actor.grants.filter((grant) => grant.deputyId !== undefined && allowed.includes(grant.role));
  // What belongs to the whole group may be done from any one site, unless it needed all of them.
  const reaching = held.find((grant) => grant.siteId === null || grant.siteId === siteId);
  return (reaching ?? (own ? undefined : held[0]))?.deputyId ?? null;
}
