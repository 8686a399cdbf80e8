/** SQL on waste_reason. */
import { reasonsOf, type KnownReason } from '../../../domain/waste-reasons.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface WasteReasonRow {
  readonly wasteReasonId: string;
  readonly siteId: string;
  readonly code: string;
  readonly label: string;
  /** of shared/discard-reasons.json; never changes */
  readonly standardReason: string;
  readonly active: boolean;
  readonly version: number;
}

const COLUMNS = `r.waste_reason_id as "wasteReasonId", r.site_id as "siteId", r.code, r.label, r.standard_reason as "standardReason",
  r.active, r.version`;

/** What sites named themselves, by code. */
export async function listOwnReasons(tx: Tx, siteIds: readonly string[]): Promise<WasteReasonRow[]> {
  return tx.query<WasteReasonRow>(
    `select ${COLUMNS} from waste_reason r
      where r.group_id = $1::uuid and r.site_id = any($2::uuid[])
      order by r.site_id, r.code collate "C"`,
    [tx.groupId, siteIds],
  );
}

async function listStages(tx: Tx, siteIds: readonly string[]): Promise<{ siteId: string; stage: string | null }[]> {
  return tx.query(
    `select s.site_id as "siteId", s.food_waste_stage as stage from site s
      where s.group_id = $1::uuid and s.site_id = any($2::uuid[])`,
    [tx.groupId, siteIds],
  );
}

/**
 * What the codes of these sites mean, standard ones and their own, in use or not any more: by site and code.
 * A site that does not exist has none.
 */
export async function listWasteReasons(
  tx: Tx,
  siteIds: readonly string[],
): Promise<Map<string, ReadonlyMap<string, KnownReason>>> {
  const own = await listOwnReasons(tx, siteIds);
  const sites = await listStages(tx, siteIds);
  return new Map(
    sites.map(({ siteId, stage }) => [
      siteId,
      reasonsOf(
        stage,
        own.filter((reason) => reason.siteId === siteId),
      ),
    ]),
  );
}

export async function lockReason(tx: Tx, siteId: string, code: string): Promise<WasteReasonRow | null> {
  const rows = await tx.query<WasteReasonRow>(
    `select ${COLUMNS} from waste_reason r
      where r.group_id = $1::uuid and r.site_id = $2::uuid and r.code = $3::text for update`,
    [tx.groupId, siteId, code],
  );
  return rows[0] ?? null;
}

export async function insertReason(tx: Tx, reason: WasteReasonRow): Promise<void> {
  await tx.query(
    `insert into waste_reason (group_id, waste_reason_id, site_id, code, label, standard_reason, active, version)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::text, $6::text, $7::boolean, $8::int)`,
    [
      tx.groupId,
      reason.wasteReasonId,
      reason.siteId,
      reason.code,
      reason.label,
      reason.standardReason,
      reason.active,
      reason.version,
    ],
  );
}

export async function updateReason(tx: Tx, reason: WasteReasonRow): Promise<void> {
  await tx.query(
    `update waste_reason set label = $3::text, active = $4::boolean, version = $5::int
      where group_id = $1::uuid and waste_reason_id = $2::uuid`,
    [tx.groupId, reason.wasteReasonId, reason.label, reason.active, reason.version],
  );
}
