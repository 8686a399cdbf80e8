/**
 * Accounts follow from what they stand for, so that finding one needs no look-up: a place or dispatch is its own account,
 * its shortfall twin and a site's outside accounts have derived ids.
 */
import { derivedId } from '../../platform/ids.ts';

export type OutsideKind = 'supplier' | 'consumed' | 'produced' | 'served' | 'waste' | 'variance';

export interface PhysicalRef {
  readonly accountId: string;
  readonly kind: 'place' | 'transit';
  readonly siteId: string;
  /** transit only */
  readonly toSiteId: string | null;
}

export const placeAccount = (placeId: string, siteId: string): PhysicalRef => ({
  accountId: placeId,
  kind: 'place',
  siteId,
  toSiteId: null,
});

export const transitAccount = (dispatchId: string, fromSiteId: string, toSiteId: string): PhysicalRef => ({
  accountId: dispatchId,
  kind: 'transit',
  siteId: fromSiteId,
  toSiteId,
});

export const shortfallOf = (accountId: string): string => derivedId('shortfall', accountId);

export const outside = (kind: OutsideKind, siteId: string): string => derivedId(`account-${kind}`, siteId);

const OUTSIDE: readonly OutsideKind[] = ['supplier', 'consumed', 'produced', 'served', 'waste', 'variance'];

export interface AccountRow {
  readonly account_id: string;
  readonly kind: string;
  readonly site_id: string;
  readonly to_site_id: string | null;
  readonly twin_of: string | null;
  readonly sign: number;
}

/** The account rows that stand behind physical accounts: themselves, their twins, and their sites' outside accounts. */
export function accountRows(refs: readonly PhysicalRef[], siteIds: readonly string[]): AccountRow[] {
  const rows = new Map<string, AccountRow>();
  const add = (row: AccountRow) => rows.set(row.account_id, row);
  for (const ref of refs) {
    const base = { site_id: ref.siteId, to_site_id: ref.toSiteId };
    add({ ...base, account_id: ref.accountId, kind: ref.kind, twin_of: null, sign: 1 });
    add({
      ...base,
      account_id: shortfallOf(ref.accountId),
      kind: `${ref.kind}-shortfall`,
      twin_of: ref.accountId,
      sign: -1,
    });
  }
  for (const siteId of new Set([...siteIds, ...refs.map((ref) => ref.siteId)])) {
    for (const kind of OUTSIDE) {
      add({ account_id: outside(kind, siteId), kind, site_id: siteId, to_site_id: null, twin_of: null, sign: 0 });
    }
  }
  return [...rows.values()].sort((a, b) => (a.account_id < b.account_id ? -1 : 1));
}
