/** SQL of packs without a readable label. */
import type { Tx } from '../../platform/db/db.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';

export interface UnidentifiedRow {
  readonly unidentifiedPackId: string;
  readonly siteId: string;
  readonly placeId: string | null;
  readonly quarantinePlaceId: string;
  readonly description: string;
  readonly quantity: number;
  readonly foundAt: Date;
  readonly recordedAt: Date;
  readonly foundBy: string;
  readonly state: 'open' | 'identified' | 'discarded';
  readonly decidedAt: Date | null;
  readonly decidedBy: string | null;
  readonly lotId: string | null;
  readonly lotCode: string | null;
  readonly serial: string | null;
  readonly reason: string | null;
  readonly destination: string | null;
  readonly note: string | null;
}

const COLUMNS = `u.unidentified_pack_id as "unidentifiedPackId", u.site_id as "siteId", u.place_id as "placeId",
  si.quarantine_place_id as "quarantinePlaceId", u.description, u.quantity, u.found_at as "foundAt",
  u.recorded_at as "recordedAt", u.found_by as "foundBy", u.state, u.decided_at as "decidedAt", u.decided_by as "decidedBy",
  u.lot_id as "lotId", l.code as "lotCode", u.serial, u.reason, u.destination, u.note`;
const FROM = `unidentified_pack u
  join site si on si.group_id = u.group_id and si.site_id = u.site_id
  left join lot l on l.group_id = u.group_id and l.lot_id = u.lot_id`;

export async function insertUnidentified(
  tx: Tx,
  pack: {
    unidentifiedPackId: string;
    siteId: string;
    placeId: string | null;
    description: string;
    quantity: number;
    foundAtMs: number;
    foundBy: string;
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into unidentified_pack (group_id, unidentified_pack_id, site_id, place_id, description, quantity, found_at,
            recorded_at, found_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::text, $6::int8, to_timestamp($7::float8 / 1000),
            to_timestamp($8::float8 / 1000), $9::uuid)`,
    [
      tx.groupId,
      pack.unidentifiedPackId,
      pack.siteId,
      pack.placeId,
      pack.description,
      pack.quantity,
      pack.foundAtMs,
      nowMs,
      pack.foundBy,
    ],
  );
}

export async function findUnidentified(tx: Tx, unidentifiedPackId: string): Promise<UnidentifiedRow | null> {
  const rows = await tx.query<UnidentifiedRow>(
    `select ${COLUMNS} from ${FROM} where u.group_id = $1::uuid and u.unidentified_pack_id = $2::uuid`,
    [tx.groupId, unidentifiedPackId],
  );
  return rows[0] ?? null;
}

export async function lockUnidentified(tx: Tx, unidentifiedPackId: string): Promise<UnidentifiedRow | null> {
  const rows = await tx.query<UnidentifiedRow>(
    `select ${COLUMNS} from ${FROM} where u.group_id = $1::uuid and u.unidentified_pack_id = $2::uuid for update of u`,
    [tx.groupId, unidentifiedPackId],
  );
  return rows[0] ?? null;
}

export async function listUnidentified(
  tx: Tx,
  scope: SiteScope,
  filter: { siteId: string | null; state: string | null },
  page: Page,
): Promise<UnidentifiedRow[]> {
  return tx.query<UnidentifiedRow>(
    `select ${COLUMNS} from ${FROM}
      where u.group_id = $1::uuid and ($2::boolean or u.site_id = any($3::uuid[]))
        and ($4::uuid is null or u.site_id = $4::uuid)
        and ($5::text is null or u.state = $5::text)
        and ($6::uuid is null or u.unidentified_pack_id > $6::uuid)
      order by u.unidentified_pack_id
      limit $7::int`,
    [tx.groupId, scope.all, scope.siteIds, filter.siteId, filter.state, page.after?.[0] ?? null, page.limit + 1],
  );
}

/** What a person decided, once. */
export async function decideUnidentified(
  tx: Tx,
  decision: {
    unidentifiedPackId: string;
    decisionId: string;
    state: 'identified' | 'discarded';
    decidedBy: string;
    lotId?: string;
    serial?: string | undefined;
    reason?: string;
    destination?: string;
    note?: string | undefined;
  },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `update unidentified_pack u
        set state = $3::text, decision_id = $4::uuid, decided_at = to_timestamp($5::float8 / 1000), decided_by = $6::uuid,
            lot_id = $7::uuid, serial = $8::text, reason = $9::text, destination = $10::text, note = $11::text
      where u.group_id = $1::uuid and u.unidentified_pack_id = $2::uuid`,
    [
      tx.groupId,
      decision.unidentifiedPackId,
      decision.state,
      decision.decisionId,
      nowMs,
      decision.decidedBy,
      decision.lotId ?? null,
      decision.serial ?? null,
      decision.reason ?? null,
      decision.destination ?? null,
      decision.note ?? null,
    ],
  );
}
