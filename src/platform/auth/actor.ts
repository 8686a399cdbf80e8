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
}

export interface Actor {
  readonly groupId: string;
  readonly kind: 'person' | 'device';
  readonly actorId: string;
  readonly grants: readonly Grant[];
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
