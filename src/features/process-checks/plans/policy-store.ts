/** SQL on site_process_policy. */
import type { AllergenChangeover, RawOnPacker } from '../../../domain/process-checks/defaults.ts';
import type { SiteLimit } from '../../../domain/process-checks/plans.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface PolicyRow {
  readonly policyId: string;
  readonly siteId: string;
  readonly version: number;
  readonly content: {
    readonly rawOnPacker: RawOnPacker;
    readonly allergenChangeover: AllergenChangeover;
    readonly twoPeople: boolean;
    readonly limits: readonly SiteLimit[];
  };
  readonly confirmedBy: string;
  readonly note: string | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/** What holds now; null: the site never said. */
export async function findPolicy(tx: Tx, siteId: string): Promise<PolicyRow | null> {
  const rows = await tx.query<PolicyRow>(
    `select p.policy_id as "policyId", p.site_id as "siteId", p.version, p.content, p.confirmed_by as "confirmedBy", p.note,
            p.recorded_at as "recordedAt", p.recorded_by as "recordedBy"
       from site_process_policy p
      where p.group_id = $1::uuid and p.site_id = $2::uuid
      order by p.version desc limit 1`,
    [tx.groupId, siteId],
  );
  return rows[0] ?? null;
}

export async function insertPolicy(tx: Tx, row: PolicyRow): Promise<void> {
  await tx.query(
    `insert into site_process_policy (group_id, policy_id, site_id, version, content, confirmed_by, note, recorded_at, recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int, $5::jsonb, $6::text, $7::text, $8::timestamptz, $9::uuid)`,
    [
      tx.groupId,
      row.policyId,
      row.siteId,
      row.version,
      JSON.stringify(row.content),
      row.confirmedBy,
      row.note,
      row.recordedAt,
      row.recordedBy,
    ],
  );
}
